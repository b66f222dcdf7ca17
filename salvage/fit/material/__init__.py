"""The cloth as material: what lies there, its stretches, how much it holds and what is left over."""

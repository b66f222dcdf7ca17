"""On the plane: outline, seams, closures, pockets, worn places -> pieces and what is usable."""

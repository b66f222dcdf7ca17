"""Question -> layout or proof -> verdict; and the checker that trusts nobody."""

"""Finders of what blocks cloth: seams, closures, pockets, worn places, other cloth."""

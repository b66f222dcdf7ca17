"""Finders of reference squares: printed, plain, and cut by the frame."""

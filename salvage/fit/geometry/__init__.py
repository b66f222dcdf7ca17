"""Shapes made exact and ready to compute with, for search and proofs alike: tasks, convex parts, no-fit tables."""

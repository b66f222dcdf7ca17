"""The garment record: reading and writing it, and keeping what a person changed in it."""

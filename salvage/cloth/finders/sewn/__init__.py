"""Finders of what is sewn on: closures, pockets, tabs, zips."""

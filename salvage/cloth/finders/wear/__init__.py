"""Finders of worn and spoilt places, and what such a place must show."""

"""Finders of lines: seams, hems, borders of colour, and what the look at the whole garment gives."""

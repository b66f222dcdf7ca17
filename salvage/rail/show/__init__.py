"""Garments as people see them: cards, tables, a page."""

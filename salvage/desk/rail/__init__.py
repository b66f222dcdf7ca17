"""The rail on the page: many garments at once."""

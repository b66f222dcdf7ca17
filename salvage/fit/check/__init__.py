"""Is this layout really one? Asked of the garments and the project alone, by code that no search shares."""

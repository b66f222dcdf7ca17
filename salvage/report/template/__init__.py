"""Full-size templates: of each panel, tiled or on one sheet, and of a whole layout."""

"""How the garment is cut: the points of its outline that a sewer names, and the seams such a cut must have."""

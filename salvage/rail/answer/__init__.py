"""Which projects can be cut from which garments, the cheap ways first."""

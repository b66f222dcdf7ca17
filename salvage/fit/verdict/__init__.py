"""From what was found and proved to the answer: what was asked, the searches in order, and each verdict's own work."""

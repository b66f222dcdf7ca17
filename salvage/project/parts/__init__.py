"""Parts: finished measures in, panels and strips out."""

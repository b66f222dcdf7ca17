"""From what was seen to one camera: beliefs, observations, least squares."""

"""Lines of the floor, and when they help to find the camera."""

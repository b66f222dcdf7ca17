"""Find the reference squares, solve the camera, give the plane with its uncertainty."""

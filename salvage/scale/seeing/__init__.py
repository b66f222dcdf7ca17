"""What a picture shows to a fraction of a pixel: edges, corners, regions, surfaces."""

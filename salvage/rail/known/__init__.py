"""What the rail knows of a garment without looking at it again, and by what it is known."""

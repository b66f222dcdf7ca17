"""The second processes for what takes long, and what they are told to do."""

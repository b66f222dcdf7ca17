"""The commands: read, ask, print. No measuring or geometry here."""

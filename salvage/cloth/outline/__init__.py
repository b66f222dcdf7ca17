"""Where the cloth lies in a photograph."""

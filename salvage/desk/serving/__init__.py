"""The page over HTTP: who is let in, which tab works, and the thin handlers."""

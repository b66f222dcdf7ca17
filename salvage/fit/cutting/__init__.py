"""Ways to cut what the project asks for: joins in a panel, strips from lengths, other sizes."""

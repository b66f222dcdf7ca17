"""What a person does to a garment: actions, what they changed, undo and redo, and everything that has a number."""

"""The page: what a person does with a garment and a project, as functions that a server and a command both call."""

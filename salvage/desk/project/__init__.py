"""A project as a table that somebody types, and as the page draws it."""

"""What would make a project fit that doesn't: changes of it, each shown by a layout."""

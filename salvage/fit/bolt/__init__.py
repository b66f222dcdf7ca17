"""The same panels on plain cloth off the bolt: how they are laid there, and how much of it that takes."""

"""The rail: many garments and many projects. What each holds, where it is kept, and what to make of the pile."""

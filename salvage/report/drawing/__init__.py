"""What is drawn: photographs with the layout on them, plans, legends."""

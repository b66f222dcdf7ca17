"""The compiled search for a layout: laying, moving, fitting edge to edge, in rounds until the time is up."""

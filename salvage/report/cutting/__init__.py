"""The cutting chart: every shape to cut in its order, and the tape lengths to where it lies. No drawing."""

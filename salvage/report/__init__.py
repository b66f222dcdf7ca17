"""What people look at: marked photo, fit report, cutting chart."""

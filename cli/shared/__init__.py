"""What several commands share: options, how their values are read, progress, standard output."""

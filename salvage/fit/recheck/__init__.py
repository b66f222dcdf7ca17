"""A second look at every no: from the proof's own facts, with no code of the search or of the prover."""

"""From searches and proofs to a layout a person wants: which garments, with which joins, how tidy, how much spare."""

"""A garment measured anew: what a person drew, set, wrote or took out is never lost."""

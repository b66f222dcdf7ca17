"""The sentences of an answer, in the person's own unit: one wording for terminal, page and paper."""

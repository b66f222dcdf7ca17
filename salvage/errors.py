"""What goes wrong, in words for the person who has to put it right."""


class SalvageError(Exception):
    """An input that can't be used. The message says which file, what is wrong and what to do."""


class UsageError(SalvageError):
    """The command was asked for something that makes no sense (exit status 2)."""

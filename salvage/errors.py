"""What goes wrong, in words for the person who has to put it right."""


class SalvageError(Exception):
    """An input that can't be used. The message says which file, what is wrong and what to do."""


class UsageError(SalvageError):
    """The command was asked for something that makes no sense (exit status 2)."""


_MOST_SHOWN = 80  # letters; more of a name or a value than this helps nobody to find it
_BEGIN = 30  # of them from its beginning, the others from its end


def shown(value: object) -> str:
    """A value of somebody's file as a message may hold it: on one line and no longer than a line."""
    try:
        text = value if isinstance(value, str) else str(value)
    except ValueError:  # a whole number of more digits than Python writes
        text = "a number of thousands of digits"
    if len(text) > _MOST_SHOWN:  # a path's last part, the file's own name, matters most
        text = f"{text[:_BEGIN]} ... {text[-(_MOST_SHOWN - _BEGIN) :]}"
    return "".join(letter if letter.isprintable() else "?" for letter in text)

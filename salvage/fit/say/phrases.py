"""Parts of sentences: lists, fine lengths, full stops."""

from __future__ import annotations

import math
from collections.abc import Sequence

from salvage.units import Unit, format_length


def fine(length: float, unit: Unit, *, up: bool = False) -> str:
    """A short length: to 0.1 mm under 10 mm, so that 3.4 and 3.9 don't both read 3 or 4.

    Rounded the cautious way: spare down, plus-minus up.
    """
    if unit is Unit.MM and length < 10:
        tenths = math.ceil(length * 10 - 1e-9) if up else math.floor(length * 10 + 1e-9)
        return f"{tenths / 10:.1f} mm"
    return format_length(length, unit)


def listed(names: Sequence[str], word: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {word} {names[-1]}"


def sentence(text: str) -> str:
    """The text with a full stop, if it ends without one."""
    text = text.strip()
    return text if not text or text[-1] in ".!?" else f"{text}."

"""Parts of sentences: lists, fine lengths, full stops."""

from __future__ import annotations

import math
from collections.abc import Sequence

from salvage.units import MM_PER_INCH, MM_PER_UNIT, Unit, parse_length

_APART = 0.001  # mm; lengths nearer than this are the same


def small_length(length: float, unit: Unit, *, up: bool) -> str:
    """A small length, finer than a tape reads, rounded up or down so that it never flatters.

    Millimetres to 0.1, centimetres to 0.01, inches to 1/32.
    """
    rounded = math.ceil if up else math.floor
    nudge = -1e-9 if up else 1e-9
    if unit is Unit.INCH:
        parts = rounded(length / MM_PER_INCH * 32 + nudge)
        whole, rest = divmod(parts, 32)
        if rest == 0:
            return f"{whole} in"
        common = math.gcd(rest, 32)
        fraction = f"{rest // common}/{32 // common} in"
        return f"{whole} {fraction}" if whole else fraction
    tenths = rounded(length * 10 + nudge) / 10
    return f"{tenths:.1f} mm" if unit is Unit.MM else f"{tenths / 10:.2f} cm"


def against(spare: float, plus_minus: float, unit: Unit) -> tuple[str, str]:
    """Spare and plus-minus, rounded the cautious way, spare down and plus-minus up, with digits enough.

    A spare that is more than the plus-minus never reads as less, nor as the same.
    """
    told = small_length(spare, unit, up=False), small_length(plus_minus, unit, up=True)
    shown = [parse_length(text) for text in told]
    digits = 1
    apart = abs(spare - plus_minus) > _APART
    while ((apart and shown[0] == shown[1]) or (shown[0] < shown[1]) != (spare < plus_minus)) and digits < 6:
        digits += 1
        step = MM_PER_UNIT[unit] / 10**digits
        low, high = math.floor(spare / step + 1e-9), math.ceil(plus_minus / step - 1e-9)
        told = f"{low / 10**digits:.{digits}f} {unit}", f"{high / 10**digits:.{digits}f} {unit}"
        shown = [float(low), float(high)]
    return told


def listed(names: Sequence[str], word: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {word} {names[-1]}"


def sentence(text: str) -> str:
    """The text with a full stop, if it ends without one."""
    text = text.strip()
    return text if not text or text[-1] in ".!?" else f"{text}."

"""Lengths as people write them: mm, cm or inches, with fractions such as 3/8 and 1 1/4.

Everything inside salvage is millimetres; this module is where other units end.
"""

from __future__ import annotations

import re
from enum import StrEnum
from fractions import Fraction

from salvage.errors import UsageError, shown

MM_PER_INCH = 25.4  # exact: international yard and pound agreement of 1959


class Unit(StrEnum):
    """A unit of length that a person may write and see."""

    MM = "mm"
    CM = "cm"
    INCH = "in"


MM_PER_UNIT = {Unit.MM: 1.0, Unit.CM: 10.0, Unit.INCH: MM_PER_INCH}

_ON_THE_MARK = 0.05  # mm; a length nearer to a mark of the ruler lies on it

_NUMBER = r"(?:(?P<whole>\d+)[ \-]+(?P<num>\d+)/(?P<den>\d+)|(?P<fnum>\d+)/(?P<fden>\d+)|(?P<dec>\d+(?:[.,]\d+)?|[.,]\d+))"
_LENGTH = re.compile(rf"^\s*{_NUMBER}\s*(?P<unit>mm|cm|in|inch|inches|\"|″)?\s*$", re.IGNORECASE)
_FARTHEST, _LONGEST = 1e12, 60  # no length is as much, or as long to write
_UNIT_NAMES = {
    "mm": Unit.MM,
    "cm": Unit.CM,
    "in": Unit.INCH,
    "inch": Unit.INCH,
    "inches": Unit.INCH,
    '"': Unit.INCH,
    "″": Unit.INCH,
}


def parse_length(text: str | float | int, unit: Unit = Unit.MM) -> float:
    """Read a length, in mm, from `150`, `150mm`, `15 cm`, `6in`, `3/8`, `1 1/4 in`.

    unit: what a bare number means. Raises UsageError for anything else, and for values that are
    not finite.
    """
    wrong = UsageError(
        f"{shown(text)!r} is not a length. Write a number such as 150mm, 15cm, 6in or 1 1/4in."
    )
    if isinstance(text, bool) or not isinstance(text, (int, float, str)):
        raise wrong
    if not isinstance(text, str):
        if not abs(text) < _FARTHEST:
            raise wrong
        return float(text) * MM_PER_UNIT[unit]
    match = _LENGTH.match(text) if len(text) < _LONGEST else None
    if match is None:
        raise wrong
    if match["dec"]:
        value = float(match["dec"].replace(",", "."))
    else:
        numerator, denominator = int(match["num"] or match["fnum"]), int(match["den"] or match["fden"])
        if denominator == 0:
            raise UsageError(f"{shown(text)!r} divides by zero. Write a fraction such as 3/8.")
        value = int(match["whole"] or 0) + numerator / denominator
    used = _UNIT_NAMES[match["unit"].lower()] if match["unit"] else unit
    return value * MM_PER_UNIT[used]


def format_length(length: float, unit: Unit = Unit.MM, *, with_unit: bool = True) -> str:
    """Write a length in mm the way a person with a ruler of that unit reads it.

    Millimetres to the whole mm, centimetres to 0.1, inches to the nearest 1/16.
    """
    if unit is Unit.MM:
        text = f"{length:.0f}"
    elif unit is Unit.CM:
        text = f"{length / 10:.1f}"
    else:
        text = _sixteenths(length / MM_PER_INCH)
    return f"{text} {unit}" if with_unit else text


def format_exact(length: float, unit: Unit = Unit.MM, *, with_unit: bool = True) -> str:
    """Write a length that is known, not measured: a fraction of an inch only where it lies on that mark.

    150 mm is `5.91 in`, not `5 7/8 in`, which would be 149.2 mm. Millimetres to 0.1, centimetres to 0.01.
    """
    sixteenths = length / MM_PER_INCH * 16
    if unit is Unit.INCH and abs(sixteenths - round(sixteenths)) * MM_PER_INCH / 16 < _ON_THE_MARK:
        text = _sixteenths(length / MM_PER_INCH)
    else:
        text = _decimal(length, unit, 1 if unit is Unit.MM else 2).rstrip("0").rstrip(".")
    return f"{text} {unit}" if with_unit else text


def format_size(size: tuple[float, float], unit: Unit = Unit.MM) -> str:
    """`273 × 346 mm`, width first, as format_length writes lengths."""
    width, length = size
    return f"{format_length(width, unit, with_unit=False)} × {format_length(length, unit)}"


def format_exact_size(size: tuple[float, float], unit: Unit = Unit.MM) -> str:
    """`273 × 346 mm` of what is known, not measured, as format_exact writes lengths."""
    width, length = (format_exact(each, unit, with_unit=False) for each in size)
    if unit is Unit.INCH and ("." in width) != ("." in length):  # fractions and decimals don't mix
        width, length = (f"{each / MM_PER_INCH:.2f}" for each in size)
    return f"{width} × {length} {unit}"


def format_apart(first: float, second: float, unit: Unit = Unit.MM) -> tuple[str, str]:
    """Two lengths as format_length writes them, or with as many digits as it takes to tell them apart."""
    told = format_length(first, unit), format_length(second, unit)
    for digits in range(1, 5):
        if told[0] != told[1] or first == second:
            break
        told = f"{_decimal(first, unit, digits)} {unit}", f"{_decimal(second, unit, digits)} {unit}"
    return told


def _decimal(length: float, unit: Unit, digits: int) -> str:
    return f"{length / MM_PER_UNIT[unit]:.{digits}f}"


def format_area(area: float, unit: Unit = Unit.MM) -> str:
    """Write an area given in mm^2: square centimetres for metric people, square inches for others."""
    if unit is Unit.INCH:
        return f"{area / MM_PER_INCH**2:,.0f} sq in"
    return f"{area / 100:,.0f} cm²"


def _sixteenths(inches: float) -> str:
    sign = "-" if inches < 0 else ""
    total = Fraction(round(abs(inches) * 16), 16)
    whole, rest = divmod(total, 1)
    if rest == 0:
        return f"{sign}{whole}"
    fraction = f"{rest.numerator}/{rest.denominator}"
    return f"{sign}{whole} {fraction}" if whole else f"{sign}{fraction}"

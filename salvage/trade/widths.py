"""Widths that cloth is sold in, and how finely it is cut off the bolt. Common practice of cloth shops."""

from __future__ import annotations

from salvage.units import MM_PER_INCH, Unit

USUAL_WIDTH = {Unit.MM: 1400.0, Unit.CM: 1400.0, Unit.INCH: 54.0 * MM_PER_INCH}  # of cloth for bags and coats
METRIC_WIDTHS = (900.0, 1120.0, 1400.0, 1500.0)
INCH_WIDTHS = tuple(each * MM_PER_INCH for each in (36.0, 45.0, 54.0, 60.0))

# Off the bolt by 5 cm, or by the eighth of a yard (4 1/2 in).
CUT_OFF = {Unit.MM: 50.0, Unit.CM: 50.0, Unit.INCH: 4.5 * MM_PER_INCH}

SELVEDGES = 20.0  # mm of the width that both selvedges take


def widths(unit: Unit) -> tuple[float, ...]:
    """Usual widths for people of that unit, mm."""
    return INCH_WIDTHS if unit is Unit.INCH else METRIC_WIDTHS

"""How much other cloth a project takes, in the widths that cloth is sold in: enough for certain, not the least."""

from __future__ import annotations

import math
from collections.abc import Sequence

from salvage.fit.bolt.plan import LayPlan
from salvage.fit.bolt.rows import cloth_length
from salvage.project.project import Project
from salvage.report.say.table import Table
from salvage.report.say.words import items_of
from salvage.trade.widths import CUT_OFF, widths
from salvage.units import Unit, format_exact

ENOUGH_CLOTH = (
    "What is enough where the panels above are cut from cloth off the bolt, each laid as a rectangle; curved panels laid "
    "into each other may take less, as a lay plan shows."
)


def other_cloth(project: Project, unit: Unit, plans: Sequence[LayPlan] = ()) -> Table:
    """For each fabric and each usual width, the length to buy. plans: layouts that were found, whose lengths hold."""
    usual = widths(unit)
    found = {(plan.fabric, plan.width): plan.length for plan in plans if plan.length is not None}
    rows = []
    for fabric in dict.fromkeys(item.fabric for item in items_of(project)):
        items = [item for item in items_of(project) if item.fabric == fabric]
        lengths = [cloth_length(items, width, project.cutting_gap) for width in usual]
        lengths = [
            min((each for each in (length, found.get((fabric, width))) if each is not None), default=None)
            for length, width in zip(lengths, usual, strict=True)
        ]
        rows.append((fabric, *(to_buy(length, unit) for length in lengths)))
    columns = ("Fabric", *(f"{wide_words(width, unit)} wide" for width in usual))
    return Table(columns, (1.4, *[1.2] * len(usual)), tuple(rows))


def wide_words(width: float, unit: Unit) -> str:
    """`140 cm`: as the width of cloth is told in shops."""
    return format_exact(width, Unit.CM if unit is Unit.MM else unit)


def to_buy(length: float | None, unit: Unit) -> str:
    """As it is cut off the bolt: `1.05 m`, `1 1/8 yd`; a length up to the next mark."""
    if length is None:
        return "too narrow"
    step = CUT_OFF[unit]
    bought = math.ceil(length / step - 1e-6) * step
    if unit is not Unit.INCH:
        return f"{bought / 1000:.2f} m"
    eighths = round(bought / step)
    whole, rest = divmod(eighths, 8)
    part = {0: "", 2: "1/4", 4: "1/2", 6: "3/4"}.get(rest, f"{rest}/8")
    return f"{' '.join(each for each in (str(whole) if whole else '', part) if each)} yd"

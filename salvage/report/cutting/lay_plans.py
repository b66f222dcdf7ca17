"""What is said of a lay plan on other cloth: how much to buy, how the cloth lies, and what is cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from shapely.geometry import mapping

from salvage.fit.bolt.plan import LayPlan
from salvage.project.project import Strip
from salvage.report.cutting.chart import CutShape, cut_size, in_cutting_order, item_size
from salvage.report.say.other_cloth import to_buy, wide_words
from salvage.report.say.table import Table
from salvage.report.say.words import grain_words, items_of, listed
from salvage.trade.widths import CUT_OFF
from salvage.units import Unit, format_exact_size

TITLE = "Laid on other cloth"
BUY_MORE = (
    "Cloth that was never washed shrinks, cotton and linen by some 5 % along (common practice): buy that much more, and "
    "wash it before you cut. A print or check to be matched takes one repeat more for each panel that has to meet."
)


def plan_title(plan: LayPlan, unit: Unit) -> str:
    """`shell: 0.35 m of cloth 140 cm wide`."""
    wide = f"cloth {wide_words(plan.width, unit)} wide"
    if plan.length is None:
        return f"{plan.fabric}, {wide}: no lay plan"
    return f"{plan.fabric}: {to_buy(plan.length, unit)} of {wide}"


def plan_words(plan: LayPlan, unit: Unit) -> str:
    """How the cloth lies there, and how sure the length is."""
    if plan.length is None:
        return f"There is no lay plan: {plan.reason}."
    if not plan.folded:
        lies = "The cloth lies open, in a single layer, right side up."
    elif not plan.fold:
        lies = "Nothing here is cut in pairs that folded cloth would give: it lies open, in a single layer, right side up."
    else:
        lies = "The cloth is folded in half lengthwise, right sides together, the fold at the right"
        rest = any(each.shape.bounds[1] >= plan.fold for each in plan.shown)
        lies += "; above the folded part it is opened out to a single layer." if rest else "."
        lies += " What lies on the folded part is cut once through both layers."
    nap = (
        "It has a nap or a one-way print: every panel lies with its top up."
        if plan.one_way
        else "Warp up; without nap or one-way print, so that a panel may lie upside down."
    )
    step = CUT_OFF[unit]
    shorter = to_buy(plan.length - step, unit) if plan.length > step + 1e-6 else ""
    if not shorter:
        sure = ""
    elif plan.shorter_refuted is not None:
        sure = f" {shorter} is proved to be too little."
    else:
        sure = f" No layout was found on {shorter}; that there is none isn't proved."
    edges = "Nothing lies on the selvedges."
    return f"{lies} {nap} {edges}{sure}"


def plan_cuts(plan: LayPlan) -> tuple[CutShape, ...]:
    """The shapes that are drawn, numbered in the order of cutting."""
    items = {item.name: item for item in items_of(plan.project)}
    looks = {name: index for index, name in enumerate(items)}
    found = []
    for number, each in enumerate(in_cutting_order(plan.shown), start=1):
        item = items[each.panel]
        size = item_size(item) if each.part is None or not isinstance(item, Strip) else cut_size(each)
        twice = ", through both" if plan.fold and each.shape.bounds[3] <= plan.fold + 1e-6 else ""
        found.append(
            CutShape(number, f"{each.panel}{twice}", size, looks[each.panel], each, item, each.shape, ())
        )
    return tuple(found)


def plan_table(plan: LayPlan, unit: Unit) -> Table:
    """What is cut, and how many times it is drawn."""
    cuts = plan_cuts(plan)
    rows = []
    for item in items_of(plan.project):
        numbers = [str(cut.number) for cut in cuts if cut.placement.panel == item.name]
        lengths = Counter(each.panel for each in plan.placements)[item.name]
        size = format_exact_size(item_size(item), unit)
        size += f" in {lengths} lengths" if isinstance(item, Strip) and lengths > item.cut else ""
        rows.append((item.name, str(item.cut), size, grain_words(item), ", ".join(numbers) or "–"))
    return Table(("Panel", "How many", "Cut size", "Grain", "No."), (2.2, 1.0, 2.6, 1.2, 1.6), tuple(rows))


def plan_alt(plan: LayPlan) -> str:
    names = [f"{cut.number} {cut.name}" for cut in plan_cuts(plan)[:12]]
    return f"Lay plan to scale on plain cloth of {plan.fabric}: {listed(names)}."


def plans_data(plans: Sequence[LayPlan]) -> list[dict[str, Any]]:
    """For `--json`: lengths in mm."""
    return [
        {
            "fabric": plan.fabric,
            "width": plan.width,
            "folded": plan.folded,
            "one_way": plan.one_way,
            "length": plan.length,
            "used": round(plan.used, 1),
            "shorter_refuted": plan.shorter_refuted,
            "reason": plan.reason,
            "placements": [
                {
                    "panel": each.panel,
                    "copy": each.copy,
                    "part": each.part,
                    "angle": each.angle,
                    "flipped": each.flipped,
                    "shape": mapping(each.shape),
                }
                for each in plan.placements
            ],
        }
        for plan in plans
    ]

"""What of a garment a panel keeps (the keys `around`, `at`, `tolerance`, `edge`, `edge_side`), and where its joins lie."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shapely.geometry import Polygon, box

from salvage.errors import SalvageError, shown
from salvage.project.keys import length_of, pair_of, text_of
from salvage.project.outlines import rectangle, ring_of
from salvage.project.project import Around, Edge, Point
from salvage.project.sides import SIDES
from salvage.units import Unit

TOLERANCE = 10.0  # mm; where a pocket sits on a bag, nobody sees less (common practice)
_MEANS = {"around": ("at", "tolerance"), "edge": ("edge_side",)}
# What goes with a panel that is cut as often as there is cloth, or from the wrong side, can't be told of one thing.
_NOT_WITH = ("flip", "rotations", "off_grain")


def kept_of(
    entry: Mapping[str, Any], unit: Unit, allowance: float, outline: Sequence[Point], where: str
) -> tuple[Around | None, Edge | None]:
    """What the panel keeps. allowance: by which the outline's frame begins before what `at` is measured from."""
    for key, others in _MEANS.items():
        for other in others:
            if other in entry and key not in entry:
                raise SalvageError(f"{where}: {other} says more about {key}, and there is no {key}. Add it.")
    if "around" in entry and "edge" in entry:
        raise SalvageError(f"{where}: give around or edge, not both.")
    for key in ("around", "edge"):
        wrong = next((each for each in _NOT_WITH if key in entry and entry.get(each)), None)
        wrong = 'cut = "many"' if key in entry and entry.get("cut") == "many" else wrong
        if wrong is not None:
            raise SalvageError(f"{where}: {key} and {wrong} don't go together. Take one of them out.")
    around = _around(entry, unit, allowance, outline, where) if "around" in entry else None
    return around, _edge(entry, where) if "edge" in entry else None


def _around(
    entry: Mapping[str, Any], unit: Unit, allowance: float, outline: Sequence[Point], where: str
) -> Around:
    what = entry["around"]
    if isinstance(what, int) and not isinstance(what, bool) and what > 0:
        what = str(what)
    elif not isinstance(what, str) or not what.strip():
        raise SalvageError(
            f'{where}: around must be a text such as "pocket" or "zip", or a number of the marked picture.'
        )
    at = None
    if "at" in entry:
        x, y = pair_of(entry["at"], unit, f"{where}: at", signed=True)
        left, bottom, _, _ = Polygon(outline).bounds
        at = (left + allowance + x, bottom + allowance + y)
        if not box(*Polygon(outline).bounds).contains(_point(at)):
            raise SalvageError(
                f"{where}: at = {shown(entry['at'])} lies outside of the panel; it is measured from its lower left corner."
            )
    tolerance = length_of(entry, "tolerance", unit, where, default=TOLERANCE)
    return Around(what.strip(), at, tolerance)


def _point(at: Point) -> Any:
    from shapely.geometry import Point as AsShape

    return AsShape(at)


def _edge(entry: Mapping[str, Any], where: str) -> Edge:
    side = text_of(entry, "edge_side", where, default="bottom").lower()
    if side not in SIDES:
        raise SalvageError(f"{where}: edge_side = {shown(side)!r} is none of {', '.join(SIDES)}.")
    if entry.get("mirrored") and side in ("left", "right"):
        raise SalvageError(
            f"{where}: a mirrored panel has its edge at the top or the bottom, not at the {side}."
        )
    return Edge(text_of(entry, "edge", where), side)


def joins_where(entry: Mapping[str, Any], where: str) -> str:
    """In which half of the panel its joins lie; "" for anywhere."""
    if "joins_where" not in entry:
        return ""
    side = text_of(entry, "joins_where", where).lower()
    if side not in SIDES:
        raise SalvageError(f"{where}: joins_where = {shown(side)!r} is none of {', '.join(SIDES)}.")
    if not entry.get("joins"):
        raise SalvageError(
            f"{where}: joins_where says where joins lie, and it allows none. Add joins = 1, or more."
        )
    return side


def without_allowance(
    finished: tuple[float, float], allowance: float, side: str
) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """Cut outline and stitching line of a rectangle that has no allowance on one side; its corner stays at (0, 0)."""
    own = {each: 0.0 if each == side else allowance for each in SIDES}
    width, length = finished
    cut = Polygon(rectangle(width, length, own["left"], own["bottom"], own["right"], own["top"]))
    left, bottom, right, top = cut.bounds
    outline = box(0.0, 0.0, right - left, top - bottom)
    sewn = box(own["left"], own["bottom"], own["left"] + width, own["bottom"] + length)
    return ring_of(outline), ring_of(sewn)

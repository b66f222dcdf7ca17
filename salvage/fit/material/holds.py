"""How much sound cloth there is, by fabric: area, the largest rectangles, and how much strip."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from shapely.geometry import Polygon, mapping

from salvage.cloth.garment import Garment
from salvage.fit.material.amount import fabrics_of, usable_area
from salvage.fit.material.lay import Lay, Where, lay_of
from salvage.fit.material.rectangles import (
    ClearRectangle,
    largest_of_ratio,
    largest_rectangle,
    longest_run,
    runs,
)
from salvage.units import MM_PER_INCH, Unit

FORMAT = "salvage holds 1"
RATIOS = (0.5, 1.0, 1.5, 2.0, 3.0)  # length along the grain over width
_METRIC_WIDTHS = (25.0, 40.0, 60.0, 80.0, 100.0)
STRIP_WIDTHS = {  # mm, cut; widths that a ruler of that unit has a mark for
    Unit.MM: _METRIC_WIDTHS,
    Unit.CM: _METRIC_WIDTHS,
    Unit.INCH: tuple(inches * MM_PER_INCH for inches in (1.0, 1.5, 2.5, 3.0, 4.0)),
}
SHORTEST = 100.0  # mm; a shorter length isn't counted as strip
_CUT_APART = 1.0  # mm between strips cut side by side


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A clear rectangle, width across and length along the grain, mm. garment: its index; piece: its name; layer: from 1."""

    width: float
    length: float
    garment: int
    piece: str
    layer: int
    shape: Polygon


@dataclass(frozen=True, slots=True)
class StripHold:
    """Strip of one cut width. longest, longest_bias: one length along the grain, and at 45 degrees to it.

    total: mm of lengths along or across the grain of at least SHORTEST that were found side by side.
    """

    width: float
    longest: float
    longest_bias: float
    total: float


@dataclass(frozen=True, slots=True)
class FabricHolds:
    """What there is of one fabric. area: mm^2; largest: clear rectangle; by_ratio: for each ratio of RATIOS that there is.

    uncounted: stretches, the smallest ones, whose strips there was no time to count; they are in no strip's total.
    """

    fabric: str
    area: float
    pieces: int
    stretches: int
    largest: Rectangle | None
    by_ratio: tuple[tuple[float, Rectangle], ...]
    strips: tuple[StripHold, ...]
    uncounted: int = 0


@dataclass(frozen=True, slots=True)
class Holds:
    """What the garments hold, the fabric with most cloth first."""

    fabrics: tuple[FabricHolds, ...]


def holds(garments: Sequence[Garment], unit: Unit = Unit.MM, *, seconds: float = 6.0) -> Holds:
    """Measure out all usable cloth of the garments. Every rectangle named lies within the cloth.

    unit: for whose rulers the strips are cut. seconds: that counting strips may take; a rail of garments has more
    stretches than anybody waits for.
    """
    ends = time.monotonic() + seconds
    lay = lay_of(garments)
    spelled = fabrics_of(garments)
    # As the record has it: the lay is thinned for the search and leaves scraps out.
    area = {fabric: usable_area(garments, fabric) for fabric in lay.fabrics()}
    found = [
        _of_fabric(lay, fabric, spelled[fabric], area[fabric], STRIP_WIDTHS[unit], ends) for fabric in area
    ]
    return Holds(tuple(sorted(found, key=lambda each: -each.area)))


def _of_fabric(
    lay: Lay, fabric: str, name: str, area: float, strip_widths: Sequence[float], ends: float
) -> FabricHolds:
    of_it = lay.only(index for index, cloth in enumerate(lay.cloths) if cloth.fabric == fabric)
    by_ratio = []
    for ratio in RATIOS:
        rectangle = _best(of_it, partial(_of_ratio, ratio))
        if rectangle is not None:
            by_ratio.append((ratio, rectangle))
    strips, uncounted = _strips(of_it, strip_widths, ends)
    return FabricHolds(
        fabric=name,
        area=area,
        pieces=len({(place.garment, place.piece, place.layer) for place in of_it.where}),
        stretches=len(of_it.cloths),
        largest=_best(of_it, largest_rectangle),
        by_ratio=tuple(by_ratio),
        strips=strips,
        uncounted=uncounted,
    )


def _of_ratio(ratio: float, polygon: Polygon, grain: float) -> ClearRectangle | None:
    return largest_of_ratio(polygon, ratio, grain)


def _best(lay: Lay, rectangle_in: Callable[[Polygon, float], ClearRectangle | None]) -> Rectangle | None:
    """The largest of all stretches. None is looked at that has less cloth than a rectangle already found."""
    best: tuple[ClearRectangle, Where] | None = None
    for cloth, place in sorted(
        zip(lay.cloths, lay.where, strict=True), key=lambda each: -each[0].polygon.area
    ):
        if best is not None and cloth.polygon.area <= best[0].area:
            break
        found = rectangle_in(cloth.polygon, cloth.grain)
        if found is not None and (best is None or found.area > best[0].area):
            best = found, place
    if best is None:
        return None
    stretch, place = best
    return Rectangle(stretch.width, stretch.length, place.garment, place.piece, place.layer, stretch.polygon)


def _strips(lay: Lay, widths: Sequence[float], ends: float) -> tuple[tuple[StripHold, ...], int]:
    """Strip of each width, and how many stretches are not counted in, the time being up. The largest come first."""
    held = [[0.0, 0.0, 0.0] for _ in widths]
    cloths = sorted(lay.cloths, key=lambda cloth: -cloth.polygon.area)
    for done, cloth in enumerate(cloths):
        if done and time.monotonic() > ends:
            return _told(widths, held), len(cloths) - done
        for width, so_far in zip(widths, held, strict=True):
            longest, bias, total = _in_stretch(cloth.polygon, cloth.grain, width)
            so_far[:] = max(so_far[0], longest), max(so_far[1], bias), so_far[2] + total
    return _told(widths, held), 0


def _told(widths: Sequence[float], held: Sequence[Sequence[float]]) -> tuple[StripHold, ...]:
    return tuple(StripHold(width, *each) for width, each in zip(widths, held, strict=True))


def _in_stretch(polygon: Polygon, grain: float, width: float) -> tuple[float, float, float]:
    """Of one stretch: the longest strip along the grain, the longest on the bias, and how much side by side."""
    side_by_side = [
        runs(polygon, width, grain + turn, shortest=SHORTEST, gap=_CUT_APART) for turn in (0.0, 90.0)
    ]
    along = longest_run(polygon, width, grain)
    on_bias = [longest_run(polygon, width, grain + turn) for turn in (45.0, 135.0)]
    return (
        along.length if along else 0.0,
        max((run.length for run in on_bias if run), default=0.0),
        max(sum(run.length for run in way) for way in side_by_side),
    )


def holds_to_json(found: Holds) -> dict[str, Any]:
    """What `salvage holds --json` prints: lengths in mm, areas in mm^2."""
    return {
        "format": FORMAT,
        "units": "mm",
        "fabrics": {
            each.fabric: {
                "area": round(each.area, 1),
                "pieces": each.pieces,
                "stretches": each.stretches,
                "largest": None if each.largest is None else _rectangle(each.largest),
                "by_ratio": [{"ratio": ratio, **_rectangle(rect)} for ratio, rect in each.by_ratio],
                "strips": [
                    {
                        "width": strip.width,
                        "longest": round(strip.longest, 1),
                        "longest_bias": round(strip.longest_bias, 1),
                        "total": round(strip.total, 1),
                    }
                    for strip in each.strips
                ],
                "uncounted": each.uncounted,
            }
            for each in found.fabrics
        },
    }


def _rectangle(rectangle: Rectangle) -> dict[str, Any]:
    shape = mapping(rectangle.shape)
    return {
        "width": round(rectangle.width, 1),
        "length": round(rectangle.length, 1),
        "garment": rectangle.garment,
        "piece": rectangle.piece,
        "layer": rectangle.layer,
        "shape": {
            "type": shape["type"],
            "coordinates": [[list(p) for p in ring] for ring in shape["coordinates"]],
        },
    }

"""Which pieces are of the main cloth and which of another, by colour."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.colour import difference
from salvage.cloth.flat.picture import Flat
from salvage.trade.cuts import WIDEST_FACING

_OTHER = 9.0  # CIEDE2000 (kL = 2, as textile mills use it: light and shade count half)
_SMALLEST_OTHER = 2500.0  # mm^2; less is a trimming whose colour says little
_FRAMED = 0.4  # share of the outline that facings of the other cloth take when a garment lies inside out


def fabrics_of(pieces: list[Polygon], cloth: Polygon, flat: Flat, main: str) -> list[str]:
    """`main` or "lining" for each piece; where the main cloth is itself called "lining", the other is "shell".

    The cloth of most of the area is the main one, unless the other frames it along the edges: then the
    garment lies inside out, its lining showing and its facings of the main cloth round it.
    """
    second = "shell" if main == "lining" else "lining"
    lab = flat.lab
    colours = np.array([_colour(piece, lab, flat) for piece in pieces])
    areas = np.array([piece.area for piece in pieces])
    groups = _groups(colours, areas)
    if groups.max(initial=0) == 0:
        return [main] * len(pieces)
    first = int(np.argmax([areas[groups == g].sum() for g in range(groups.max() + 1)]))
    others = [p for p, g in zip(pieces, groups, strict=True) if g != first]
    # who calls the lining by its name means the cloth of most of the area
    inside_out = main != "lining" and _frame_share(others, cloth) > _FRAMED
    result = []
    for piece, group in zip(pieces, groups, strict=True):
        other = group != first and piece.area >= _SMALLEST_OTHER
        if inside_out:
            result.append(main if other else second)
        else:
            result.append(second if other else main)
    return result


def _colour(piece: Polygon, lab: NDArray[np.float32], flat: Flat) -> NDArray[np.float64]:
    inside = flat.raster(piece.buffer(-6.0))
    if np.count_nonzero(inside) < 50:
        inside = flat.raster(piece)
    seen = lab[inside]
    return np.median(seen, axis=0).astype(float) if len(seen) else np.array([50.0, 0.0, 0.0])


def _groups(colours: NDArray[np.float64], areas: NDArray[np.float64]) -> NDArray[np.int64]:
    """Pieces put together by colour, starting from the largest."""
    groups = np.full(len(colours), -1)
    leaders: list[int] = []
    for index in np.argsort(-areas):
        away = [difference(colours[index], colours[each]) for each in leaders]
        if away and min(away) < _OTHER:
            groups[index] = int(np.argmin(away))
        else:
            groups[index] = len(leaders)
            leaders.append(int(index))
    return groups


def _frame_share(others: list[Polygon], cloth: Polygon) -> float:
    """Share of the outline along which narrow pieces of the other cloth lie."""
    narrow = [each for each in others if sides(each)[1] < WIDEST_FACING and each.area >= _SMALLEST_OTHER]
    reached = sum(cloth.exterior.intersection(each.buffer(3.0)).length for each in narrow)
    return float(reached / cloth.exterior.length)

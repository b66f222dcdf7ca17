"""A line that runs along the edge of a pocket or a zip, or over it, is what it is sewn on with: no seam of the cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from salvage.cloth.finders.found import Found, Seam, Spot
from salvage.cloth.finders.lines.confidence import spot_worth
from salvage.cloth.finders.sewn.fittings import ZIP_OR_BAND
from salvage.cloth.finders.sight import Sight
from salvage.cloth.garment import DOUBTFUL, BlockedKind

_BESIDE = 6.0  # mm from its edge: stitching lies 1 to 6 mm from a pocket's edge (common practice), in it or, at a welt, round it
_SHARE = 0.7  # share of a line that lies so; of less the rest is a seam that runs by


def find(sight: Sight, found: Found) -> Found:
    """Without the stitching of what is sewn on."""
    return replace(found, seams=tuple(without_stitching(found.seams, found.fittings)))


def without_stitching(seams: Sequence[Seam], fittings: Sequence[Spot]) -> list[Seam]:
    """The lines that no pocket or zip has for its own. One that is asked about keeps them: should it be none, they may be
    seams."""
    sure = [each.shape for each in fittings if _is_sewn_on(each) and spot_worth(each).confidence >= DOUBTFUL]
    if not sure:
        return list(seams)
    zone = shapely.union_all([each.buffer(_BESIDE) for each in sure])
    return [
        each
        for each in seams
        if each.on_outline or each.line.intersection(zone).length < _SHARE * each.line.length
    ]


def _is_sewn_on(each: Spot) -> bool:
    return each.kind is BlockedKind.POCKET or (each.kind is BlockedKind.CLOSURE and each.what == ZIP_OR_BAND)

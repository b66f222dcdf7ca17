"""Panels that keep something of the garment: round it, or with a side on its hem.

A hem is known by its stitching or as the area of what is turned up; the side has to lie along the edge of the cloth.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Garment, Piece
from salvage.fit.answer import Placement
from salvage.fit.check.cloth import usable, within
from salvage.fit.check.panels import stacking_faults
from salvage.fit.check.placed import JOIN_TOL, TOL, as_drawn, piece_of
from salvage.project.project import Panel

KEPT_MARGIN = 0.5  # mm: between the margin of what is kept and usable cloth, which is rounded
KEPT_NEAR = 2.5  # mm round what is kept within which something else lies on it, for
KEPT_SHARE = 0.94  # this share of it at least
HEM_DEPTH = 60.0  # mm between the stitching of a hem and its edge, at most
HEM_TOL = 5.0  # mm that a hem may stand over the side on it
HEM_ASKEW = 3.01  # degrees that it may lead off the grain


def kept_faults(garments: Sequence[Garment], panel: Panel, placed: list[Placement]) -> list[str]:
    """Copies that keep nothing, or not where the project wants it."""
    if not panel.keeps:
        return []
    faults = []
    for copy in sorted({each.copy for each in placed}):
        parts = sorted((each for each in placed if each.copy == copy), key=lambda each: each.part or 0)
        if not any(_holds(garments, panel, parts, number) for number in range(len(parts))):
            where = "round" if panel.around else f"with its {panel.edge.side if panel.edge else ''} on"
            faults.append(
                f"{panel.name} {copy}: does not lie {where} a {panel.keeps} as the project wants it"
            )
    return faults


def _holds(garments: Sequence[Garment], panel: Panel, parts: list[Placement], number: int) -> bool:
    """Whether this part (or the whole) lies round a thing that is wanted, or with its side on a hem."""
    mine = parts[number]
    piece = piece_of(garments, mine)
    if piece is None or mine.layer != 1:
        return False
    if panel.edge is not None:
        side = _side(mine, panel.edge.side)
        return any(_hem_edge(piece, each).buffer(HEM_TOL).covers(side) for each in _wanted(piece, panel))
    assert panel.around is not None
    sewn = (
        mine.shape.buffer(-panel.seam_allowance, join_style="mitre") if panel.seam_allowance else mine.shape
    )
    return any(
        sewn.buffer(TOL).covers(each.shape) and _is_where_wanted(panel, parts, number, each)
        for each in _wanted(piece, panel)
    )


def _is_where_wanted(panel: Panel, parts: list[Placement], number: int, kept: Blocked) -> bool:
    if panel.around is None or panel.around.at is None:
        return True
    mine = parts[number]
    back = affinity.rotate(kept.shape, -mine.angle, origin=(0, 0))
    back = affinity.scale(back, xfact=-1.0, origin=(0, 0)) if mine.flipped else back
    drawn = [as_drawn(each) for each in parts]
    left, bottom, _, _ = Polygon(panel.outline).bounds
    across = not stacking_faults(panel, Polygon(panel.outline), drawn) if len(parts) > 1 else True
    sizes = [
        (each.bounds[3] - each.bounds[1]) if across else (each.bounds[2] - each.bounds[0]) for each in drawn
    ]
    before = sum(size - 2 * panel.seam_allowance for size in sizes[:number])
    x = left + (0.0 if across else before) - drawn[number].bounds[0]
    y = bottom + (before if across else 0.0) - drawn[number].bounds[1]
    x0, y0, x1, y1 = back.bounds
    off_x = abs((x0 + x1) / 2 + x - panel.around.at[0])
    off_y = abs((y0 + y1) / 2 + y - panel.around.at[1])
    return max(off_x, off_y) <= panel.around.tolerance + JOIN_TOL


def _side(placement: Placement, side: str) -> BaseGeometry:
    """The edges of the placed shape that look to this side of the panel, where it is furthest out."""
    drawn = as_drawn(placement)
    left, bottom, right, top = drawn.bounds
    window = {
        "bottom": box(left, bottom, right, bottom + TOL),
        "top": box(left, top - TOL, right, top),
        "left": box(left, bottom, left + TOL, top),
        "right": box(right - TOL, bottom, right, top),
    }[side]
    line = drawn.exterior.intersection(window)
    line = affinity.scale(line, xfact=-1.0, origin=(0, 0)) if placement.flipped else line
    return affinity.rotate(line, placement.angle, origin=(0, 0))


def _hem_edge(piece: Piece, hem: Blocked) -> BaseGeometry:
    """The edge of the piece along a hem; of one drawn as the line of its stitching, what runs beside that."""
    if hem.shape.area > 0:
        near = hem.shape.buffer(hem.margin + 2 * HEM_TOL)
    else:
        near = hem.shape.buffer(HEM_DEPTH + HEM_TOL, cap_style="flat")
    return piece.outline.exterior.intersection(near)


def _wanted(piece: Piece, panel: Panel) -> list[Blocked]:
    """What of a piece the panel may be cut round, or lie on with a side."""
    word = panel.keeps.strip().casefold()
    closures = ("zip", "button", "buckle")
    found = []
    for each in piece.blocked:
        named = each.what.strip().casefold()
        by_number = word.isdigit() and each.number == int(word)
        by_name = not word.isdigit() and (word == str(each.kind) or word in named)
        if by_number or by_name or (not named and str(each.kind) == "closure" and word in closures):
            found.append(each)
    return found


def keeps(piece: Piece, panel: Panel, placement: Placement, shrunk_by: float) -> bool:
    """Whether it lies on usable cloth and what it keeps, all else clear; then the first layer only, which shows it."""
    return placement.layer == 1 and any(
        within(_with_it(piece, kept, panel, shrunk_by), placement.shape) for kept in _wanted(piece, panel)
    )


def _with_it(piece: Piece, kept: Blocked, panel: Panel, shrunk_by: float) -> MultiPolygon:
    """Usable cloth, and what is kept with all that lies on it. Along a hem the cloth ends where it ended before."""
    own: list[Blocked] = []
    others: list[Blocked] = []
    near = kept.shape.buffer(KEPT_NEAR)
    for each in piece.blocked:
        inside = each.shape.intersection(near)
        part = inside.area / each.shape.area if each.shape.area > 0 else inside.length / each.shape.length
        (own if part >= KEPT_SHARE else others).append(each)
    freed = shapely.union_all([each.shape.buffer(each.margin + KEPT_MARGIN, quad_segs=64) for each in own])
    taken = shapely.union_all([each.shape.buffer(each.margin, quad_segs=64) for each in others])
    cloth = usable(piece).union(freed.intersection(piece.outline).difference(taken))
    if shrunk_by:
        by_edge = cloth.buffer(-shrunk_by, quad_segs=64)
        if panel.edge is not None:
            at_hem = _hem_edge(piece, kept).buffer(shrunk_by + HEM_TOL)
            by_edge = by_edge.union(cloth.intersection(at_hem))
        cloth = by_edge
    return MultiPolygon([part for part in shapely.get_parts(cloth) if isinstance(part, Polygon)])

"""Where shapes lie: on usable cloth or on what they keep, clear of one another, on the grain, on the cloth asked for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import combinations

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment
from salvage.fit.answer import Placement
from salvage.fit.check.cloth import usable, within
from salvage.fit.check.kept import HEM_ASKEW, keeps
from salvage.fit.check.placed import TOL, label, piece_of
from salvage.project.project import Grain, Panel, Project, Strip

ANGLE_TOL = 1e-6  # degrees that a turn may be off for its arithmetic

# Degrees from the grain that a panel may be turned by, by grain and whether the cloth is one-way; None: any
_GRAIN_TURNS: dict[tuple[Grain, bool], tuple[float, ...] | None] = {
    (Grain.ALONG, False): (0, 180),
    (Grain.ALONG, True): (0,),
    (Grain.ACROSS, False): (90, 270),
    (Grain.ACROSS, True): (90, 270),
    (Grain.EITHER, False): (0, 90, 180, 270),
    (Grain.EITHER, True): (0, 90, 270),
    (Grain.BIAS, False): (45, 135, 225, 315),
    (Grain.BIAS, True): (45, 315),
    (Grain.ANY, False): None,
    (Grain.ANY, True): None,
}


def cloth_faults(
    garments: Sequence[Garment], project: Project, placements: Sequence[Placement], shrunk_by: float
) -> list[str]:
    """Shapes on no piece or layer that is there, with no outline, or off usable cloth taken in by shrunk_by mm."""
    faults = []
    keeping = {each.name: each for each in project.panels if each.keeps}
    cloth_of: dict[tuple[int, str], BaseGeometry] = {}
    for each in placements:
        piece = piece_of(garments, each)
        if piece is None:
            faults.append(f"{label(each)}: there is no one piece called {each.piece} in that garment")
            continue
        if not 1 <= each.layer <= piece.layers:
            faults.append(f"{label(each)}: {piece.name} has no layer {each.layer}")
        if not each.shape.is_valid or each.shape.area <= 0:
            faults.append(f"{label(each)}: its outline crosses itself or has no area")
            continue
        key = (each.garment, each.piece)
        if key not in cloth_of:
            cloth = usable(piece)
            cloth_of[key] = cloth.buffer(-shrunk_by, quad_segs=64) if shrunk_by else cloth
        if not within(cloth_of[key], each.shape) and not (
            each.panel in keeping and keeps(piece, keeping[each.panel], each, shrunk_by)
        ):
            faults.append(f"{label(each)}: leaves the usable cloth of {piece.name}")
    return faults


def gap_faults(placements: Sequence[Placement], gap: float) -> list[str]:
    """Shapes on one layer of a piece that overlap, or lie nearer to one another than the cutting gap, mm."""
    faults = []
    lays: dict[tuple[int, str, int], list[Placement]] = {}
    for each in placements:
        lays.setdefault((each.garment, each.piece, each.layer), []).append(each)
    for together in lays.values():
        for a, b in combinations(together, 2):
            if not _boxes_near(a.shape, b.shape, gap):
                continue
            pulled_in = a.shape.buffer(-TOL, join_style="mitre", mitre_limit=10.0)
            if pulled_in.intersects(b.shape):
                faults.append(f"{label(a)} and {label(b)} overlap on {a.piece}")
            elif gap > 0 and a.shape.distance(b.shape) < gap - TOL:
                distance = a.shape.distance(b.shape)
                faults.append(f"{label(a)} and {label(b)} lie {distance:.3f} mm apart, asked are {gap:g} mm")
    return faults


def _boxes_near(a: Polygon, b: Polygon, gap: float) -> bool:
    (l1, b1, r1, t1), (l2, b2, r2, t2) = a.bounds, b.bounds
    return l1 <= r2 + gap and l2 <= r1 + gap and b1 <= t2 + gap and b2 <= t1 + gap


def lie_faults(garments: Sequence[Garment], item: Panel | Strip, placed: list[Placement]) -> list[str]:
    """Copies of one panel or strip that lie off the grain, on another cloth or on a piece they must not come from."""
    rotations, off_grain = None, 0.0
    if isinstance(item, Panel):
        rotations, off_grain = item.rotations, item.off_grain + (HEM_ASKEW if item.edge is not None else 0.0)
    faults = _from_faults(item, placed)
    for each in placed:
        piece = piece_of(garments, each)
        one_way = piece is not None and piece.one_way
        turns = rotations if rotations is not None else _GRAIN_TURNS[item.grain, one_way]
        faults += _grain_fault(garments, each, turns, off_grain)
        faults += _fabric_fault(garments, each, item.fabric)
    return faults


def _grain_fault(
    garments: Sequence[Garment], placement: Placement, turns: tuple[float, ...] | None, off_grain: float
) -> list[str]:
    piece = piece_of(garments, placement)
    if piece is None or turns is None:
        return []
    turn = 90.0 + placement.angle - piece.grain
    off = min(abs((turn - each + 180.0) % 360.0 - 180.0) for each in turns)
    if off <= off_grain + ANGLE_TOL:
        return []
    told = abs((turn + 180.0) % 360.0 - 180.0)
    return [f"{label(placement)}: turned {told:.2f} degrees from the grain of {piece.name}"]


def _fabric_fault(garments: Sequence[Garment], placement: Placement, fabric: str) -> list[str]:
    piece = piece_of(garments, placement)
    if piece is None or piece.fabric.strip().casefold() == fabric.strip().casefold():
        return []
    return [f"{label(placement)}: must be cut from {fabric}, lies on {piece.fabric}"]


def _from_faults(item: Panel | Strip, placed: Sequence[Placement]) -> list[str]:
    """Shapes on pieces that the project doesn't let them be cut from."""
    wanted = {name.strip().casefold() for name in item.pieces}
    # "left front" means "left front 2" too
    wrong = [
        each
        for each in placed
        if wanted and not wanted & {name := each.piece.strip().casefold(), re.sub(r" \d+$", "", name)}
    ]
    return [
        f"{label(each)}: may be cut from {', '.join(item.pieces)} only, lies on {each.piece}"
        for each in wrong
    ]

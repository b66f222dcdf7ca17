"""The checker that trusts nobody: is this layout really one for this project on this cloth?

It works from the garments, the project and the placements alone, with shapely, and shares no code with
the search or with what puts the question to it. Every fault is a sentence; no faults, no words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, pairwise

import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, Garment, Piece
from salvage.fit.answer import Placement
from salvage.project.project import Grain, Join, Panel, Project, Strip

TOL = 1e-6  # mm: how far cut lines may cross an edge or each other
ANGLE_TOL = 1e-6  # degrees
SIZE_TOL = 1e-5  # mm: how far the corners of a cut shape may be from what the project asks
KEPT_MARGIN = 0.5  # mm: between the margin of what is kept and usable cloth, which is rounded
KEPT_NEAR, KEPT_SHARE = 2.5, 0.94  # mm, and share of something else that lies on what is kept
HEM_DEPTH = 60.0  # mm between the stitching of a hem and its edge, at most
HEM_TOL, HEM_ASKEW = (
    5.0,
    3.01,
)  # mm that a hem may stand over the side on it, degrees that it may lead off the grain
JOIN_TOL = 0.02  # mm: the same for parts and lengths, which are rounded when they are planned

_ANY_TURN = None
_GRAIN_TURNS: dict[tuple[Grain, bool], tuple[float, ...] | None] = {
    (Grain.ALONG, False): (0, 180),
    (Grain.ALONG, True): (0,),
    (Grain.ACROSS, False): (90, 270),
    (Grain.ACROSS, True): (90, 270),
    (Grain.EITHER, False): (0, 90, 180, 270),
    (Grain.EITHER, True): (0, 90, 270),
    (Grain.BIAS, False): (45, 135, 225, 315),
    (Grain.BIAS, True): (45, 315),
    (Grain.ANY, False): _ANY_TURN,
    (Grain.ANY, True): _ANY_TURN,
}


def check(
    garments: Sequence[Garment],
    project: Project,
    placements: Sequence[Placement],
    *,
    shrunk_by: float = 0.0,
    partial: bool = False,
) -> tuple[str, ...]:
    """The faults of a layout, as sentences; empty when it is right.

    shrunk_by: mm to take in all usable cloth first, to check a spare. partial: True for a layout that
    leaves something out; then how many there are, and whether parts make their panel, isn't asked.
    """
    faults = _on_cloth(garments, project, placements, shrunk_by)
    faults += _apart(placements, project.cutting_gap)
    known = {each.name for each in project.panels} | {each.name for each in project.strips}
    faults += [
        f"{each.panel}: the project has no such panel" for each in placements if each.panel not in known
    ]
    for panel in project.panels:
        of_panel = [each for each in placements if each.panel == panel.name]
        faults += _panel_lie_faults(garments, panel, of_panel)
        faults += [] if partial else _panel_faults(panel, of_panel)
        faults += _kept_faults(garments, panel, of_panel)
    for strip in project.strips:
        of_strip = [each for each in placements if each.panel == strip.name]
        faults += _strip_lie_faults(garments, strip, of_strip)
        faults += [] if partial else _strip_faults(strip, of_strip)
    return tuple(faults)


def _label(placement: Placement) -> str:
    part = "" if placement.part is None else f", part {placement.part}"
    return f"{placement.panel} {placement.copy}{part}"


# --- on the cloth ------------------------------------------------------------------------------------


def _piece(garments: Sequence[Garment], placement: Placement) -> Piece | None:
    if not 0 <= placement.garment < len(garments):
        return None
    named = [each for each in garments[placement.garment].pieces if each.name == placement.piece]
    return named[0] if len(named) == 1 else None


def _usable(piece: Piece) -> MultiPolygon:
    unblocked = _unblocked(piece.outline, tuple((each.shape, each.margin) for each in piece.blocked))
    cloth = unblocked if piece.usable is None else unblocked.intersection(piece.usable)
    # Where the two only touch, a line or a point is part of what they share; nothing lies on it.
    return MultiPolygon([part for part in shapely.get_parts(cloth) if isinstance(part, Polygon)])


@lru_cache(maxsize=128)  # the same cloth is asked about for one layout after the other
def _unblocked(outline: Polygon, blocked: tuple[tuple[BaseGeometry, float], ...]) -> BaseGeometry:
    taken = [shape.buffer(margin, quad_segs=64) for shape, margin in blocked]
    return outline.difference(shapely.union_all(taken))


def _on_cloth(
    garments: Sequence[Garment], project: Project, placements: Sequence[Placement], shrunk_by: float
) -> list[str]:
    faults = []
    keeping = {each.name: each for each in project.panels if each.keeps}
    cloth_of: dict[tuple[int, str], object] = {}
    for each in placements:
        piece = _piece(garments, each)
        if piece is None:
            faults.append(f"{_label(each)}: there is no one piece called {each.piece} in that garment")
            continue
        if not 1 <= each.layer <= piece.layers:
            faults.append(f"{_label(each)}: {piece.name} has no layer {each.layer}")
        if not each.shape.is_valid or each.shape.area <= 0:
            faults.append(f"{_label(each)}: its outline crosses itself or has no area")
            continue
        key = (each.garment, each.piece)
        if key not in cloth_of:
            cloth = _usable(piece)
            cloth_of[key] = cloth.buffer(-shrunk_by, quad_segs=64) if shrunk_by else cloth
        if not _within(cloth_of[key], each.shape) and not (
            each.panel in keeping and _keeps(piece, keeping[each.panel], each, shrunk_by)
        ):
            faults.append(f"{_label(each)}: leaves the usable cloth of {piece.name}")
    return faults


def _keeps(piece: Piece, panel: Panel, placement: Placement, shrunk_by: float) -> bool:
    """Whether it lies on usable cloth and what it keeps, all else clear; then the first layer only, which shows it."""
    return placement.layer == 1 and any(
        _within(_with_it(piece, kept, panel, shrunk_by), placement.shape) for kept in _wanted(piece, panel)
    )


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
    cloth = _usable(piece).union(freed.intersection(piece.outline).difference(taken))
    if shrunk_by:
        by_edge = cloth.buffer(-shrunk_by, quad_segs=64)
        if panel.edge is not None:
            at_hem = _hem_edge(piece, kept).buffer(shrunk_by + HEM_TOL)
            by_edge = by_edge.union(cloth.intersection(at_hem))
        cloth = by_edge
    return MultiPolygon([part for part in shapely.get_parts(cloth) if isinstance(part, Polygon)])


def _within(cloth: object, shape: Polygon) -> bool:
    assert isinstance(cloth, Polygon | MultiPolygon)
    if cloth.covers(shape):
        return True
    inner = shape.buffer(-TOL, join_style="mitre", mitre_limit=10.0)
    return not inner.is_empty and cloth.covers(inner)


def _apart(placements: Sequence[Placement], gap: float) -> list[str]:
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
                faults.append(f"{_label(a)} and {_label(b)} overlap on {a.piece}")
            elif gap > 0 and a.shape.distance(b.shape) < gap - TOL:
                distance = a.shape.distance(b.shape)
                faults.append(
                    f"{_label(a)} and {_label(b)} lie {distance:.3f} mm apart, asked are {gap:g} mm"
                )
    return faults


def _boxes_near(a: Polygon, b: Polygon, gap: float) -> bool:
    (l1, b1, r1, t1), (l2, b2, r2, t2) = a.bounds, b.bounds
    return l1 <= r2 + gap and l2 <= r1 + gap and b1 <= t2 + gap and b2 <= t1 + gap


# --- grain -------------------------------------------------------------------------------------------


def _grain_fault(
    garments: Sequence[Garment], placement: Placement, turns: tuple[float, ...] | None, off_grain: float
) -> list[str]:
    piece = _piece(garments, placement)
    if piece is None or turns is None:
        return []
    turn = 90.0 + placement.angle - piece.grain
    off = min(abs((turn - each + 180.0) % 360.0 - 180.0) for each in turns)
    if off <= off_grain + ANGLE_TOL:
        return []
    told = abs((turn + 180.0) % 360.0 - 180.0)
    return [f"{_label(placement)}: turned {told:.2f} degrees from the grain of {piece.name}"]


def _fabric_fault(garments: Sequence[Garment], placement: Placement, fabric: str) -> list[str]:
    piece = _piece(garments, placement)
    if piece is None or piece.fabric.strip().casefold() == fabric.strip().casefold():
        return []
    return [f"{_label(placement)}: must be cut from {fabric}, lies on {piece.fabric}"]


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
        f"{_label(each)}: may be cut from {', '.join(item.pieces)} only, lies on {each.piece}"
        for each in wrong
    ]


# --- panels ------------------------------------------------------------------------------------------


def _panel_lie_faults(garments: Sequence[Garment], panel: Panel, placed: list[Placement]) -> list[str]:
    faults = _from_faults(panel, placed)
    for each in placed:
        piece = _piece(garments, each)
        one_way = piece is not None and piece.one_way
        turns = panel.rotations if panel.rotations is not None else _GRAIN_TURNS[panel.grain, one_way]
        askew = HEM_ASKEW if panel.edge is not None else 0.0
        faults += _grain_fault(garments, each, turns, panel.off_grain + askew)
        faults += _fabric_fault(garments, each, panel.fabric)
    return faults


def _panel_faults(panel: Panel, placed: list[Placement]) -> list[str]:
    faults = _copies_fault(panel.name, panel.cut, placed)
    flipped = 0
    for copy in sorted({each.copy for each in placed}):
        parts = sorted((each for each in placed if each.copy == copy), key=lambda each: each.part or 0)
        faults += _copy_faults(panel, parts)
        flipped += parts[0].flipped
    if not panel.flip:
        wanted = panel.cut // 2 if panel.mirrored else 0
        if flipped != wanted:
            faults.append(f"{panel.name}: {flipped} copies are mirrored, {wanted} should be")
    return faults


def _kept_faults(garments: Sequence[Garment], panel: Panel, placed: list[Placement]) -> list[str]:
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
    piece = _piece(garments, mine)
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


def _hem_edge(piece: Piece, hem: Blocked) -> BaseGeometry:
    """The edge of the piece along a hem; of one drawn as the line of its stitching, what runs beside that."""
    if hem.shape.area > 0:
        near = hem.shape.buffer(hem.margin + 2 * HEM_TOL)
    else:
        near = hem.shape.buffer(HEM_DEPTH + HEM_TOL, cap_style="flat")
    return piece.outline.exterior.intersection(near)


def _is_where_wanted(panel: Panel, parts: list[Placement], number: int, kept: Blocked) -> bool:
    if panel.around is None or panel.around.at is None:
        return True
    mine = parts[number]
    back = affinity.rotate(kept.shape, -mine.angle, origin=(0, 0))
    back = affinity.scale(back, xfact=-1.0, origin=(0, 0)) if mine.flipped else back
    drawn = [_as_drawn(each) for each in parts]
    left, bottom, _, _ = Polygon(panel.outline).bounds
    across = not _stacking_faults(panel, Polygon(panel.outline), drawn) if len(parts) > 1 else True
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
    drawn = _as_drawn(placement)
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


def _copies_fault(name: str, wanted: int, placed: list[Placement]) -> list[str]:
    copies = {each.copy for each in placed}
    if copies == set(range(1, wanted + 1)):
        return []
    return [f"{name}: copies {sorted(copies)} are there, 1 to {wanted} are asked for"]


def _copy_faults(panel: Panel, parts: list[Placement]) -> list[str]:
    """Faults of one copy, whole or in parts."""
    label = f"{panel.name} {parts[0].copy}"
    if len({each.flipped for each in parts}) > 1:
        return [f"{label}: some of its parts are mirrored and some are not"]
    drawn = [_as_drawn(each) for each in parts]
    outline = Polygon(panel.outline)
    if len(parts) == 1:
        if parts[0].part is not None:
            return [f"{label}: has one part only, which isn't the whole"]
        return [] if _same_shape(drawn[0], outline, SIZE_TOL) else [f"{label}: not of the size asked for"]
    if [each.part for each in parts] != list(range(1, len(parts) + 1)):
        return [f"{label}: its parts are not numbered from 1"]
    if len(parts) - 1 > panel.joins:
        return [f"{label}: has {len(parts) - 1} joins, {panel.joins} are allowed"]
    across = _stacking_faults(panel, outline, drawn) or _where_faults(panel, drawn, across=True)
    quarter = [affinity.rotate(each, 90, origin=(0, 0)) for each in (outline, *drawn)]
    along = _stacking_faults(panel, quarter[0], quarter[1:]) or _where_faults(panel, drawn, across=False)
    if across and along:
        return [f"{label}: {across[0]}"]
    return []


def _as_drawn(placement: Placement) -> Polygon:
    """The placed shape turned and mirrored back to how the project draws it (but not moved back)."""
    back = affinity.rotate(placement.shape, -placement.angle, origin=(0, 0))
    return affinity.scale(back, xfact=-1.0, origin=(0, 0)) if placement.flipped else back


def _same_shape(shape: Polygon, wanted: Polygon, tolerance: float) -> bool:
    """True if shape is wanted, moved, to within the tolerance."""
    moved = _on_corner(shape, wanted.bounds[0], wanted.bounds[1])
    if moved.hausdorff_distance(wanted) > tolerance:
        return False
    # Shapely measures that distance at corners only, so the same corners in another order pass; not here.
    return bool(moved.symmetric_difference(wanted).area <= tolerance * (moved.length + wanted.length))


def _on_corner(shape: Polygon, left: float, bottom: float) -> Polygon:
    return affinity.translate(shape, left - shape.bounds[0], bottom - shape.bounds[1])


def _stacking_faults(panel: Panel, outline: Polygon, drawn: list[Polygon]) -> list[str]:
    """Do these parts, first at the bottom, make the outline when joined straight across?"""
    left, bottom, right, top = outline.bounds
    low = bottom
    for number, part in enumerate(drawn, 1):
        height = part.bounds[3] - part.bounds[1]
        high = low + height
        want = outline.intersection(box(left - 1, low, right + 1, high))
        if not isinstance(want, Polygon) or not _same_shape(part, want, JOIN_TOL):
            return [f"part {number} is not the panel between two straight joins"]
        sewn_low = low + (panel.seam_allowance if number > 1 else 0.0)
        sewn_high = high - (panel.seam_allowance if number < len(drawn) else 0.0)
        sewn = outline.intersection(box(left - 1, sewn_low, right + 1, sewn_high))
        if (
            min(sewn_high - sewn_low, _breadth(sewn))
            < min(panel.narrowest_part, _breadth(outline)) - JOIN_TOL
        ):
            return [f"part {number} is narrower than {panel.narrowest_part:g} mm"]
        low = high - 2 * panel.seam_allowance
    if abs(high - top) > JOIN_TOL:
        return [f"its parts joined come to {high - bottom:.2f} mm, the panel has {top - bottom:.2f} mm"]
    return []


def _where_faults(panel: Panel, drawn: list[Polygon], *, across: bool) -> list[str]:
    """Joins that are not in the half of the panel where the project wants them."""
    if not panel.joins_where:
        return []
    if across != (panel.joins_where in ("bottom", "top")):
        return [f"its joins run the other way than along its {panel.joins_where}"]
    x0, y0, x1, y1 = Polygon(panel.outline).bounds
    size, at = (y1 - y0 if across else x1 - x0), 0.0
    for number, part in enumerate(drawn[:-1]):
        left, bottom, right, top = part.bounds
        at += (top - bottom if across else right - left) - panel.seam_allowance * (1 if number == 0 else 2)
        low = panel.joins_where in ("bottom", "left")
        if (at > size / 2 + JOIN_TOL) if low else (at < size / 2 - JOIN_TOL):
            return [f"a join lies at {at:.1f} mm, not in the half towards its {panel.joins_where}"]
    return []


def _breadth(shape: BaseGeometry) -> float:
    """How narrow a slot the shape goes through straight: least extent over the directions of its hull's sides."""
    corners = list(shape.convex_hull.exterior.coords)
    least = math.inf
    for (x0, y0), (x1, y1) in pairwise(corners):
        length = math.hypot(x1 - x0, y1 - y0)
        if length > 0:
            across = [((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / length for x, y in corners]
            least = min(least, max(across) - min(across))
    return least


# --- strips ------------------------------------------------------------------------------------------


def _strip_lie_faults(garments: Sequence[Garment], strip: Strip, placed: list[Placement]) -> list[str]:
    faults = _from_faults(strip, placed)
    for each in placed:
        piece = _piece(garments, each)
        one_way = piece is not None and piece.one_way
        faults += _grain_fault(garments, each, _GRAIN_TURNS[strip.grain, one_way], 0.0)
        faults += _fabric_fault(garments, each, strip.fabric)
    return faults


def _strip_faults(strip: Strip, placed: list[Placement]) -> list[str]:
    faults = _copies_fault(strip.name, strip.cut, placed)
    for copy in sorted({each.copy for each in placed}):
        faults += _lengths_faults(strip, [each for each in placed if each.copy == copy])
    return faults


def _lengths_faults(strip: Strip, lengths: list[Placement]) -> list[str]:
    label = f"{strip.name} {lengths[0].copy}"
    if len(lengths) > 1 and strip.join is Join.NONE:
        return [f"{label}: is in {len(lengths)} lengths and may not be joined"]
    numbers = sorted(each.part or 0 for each in lengths)
    if numbers != (list(range(1, len(lengths) + 1)) if len(lengths) > 1 else [0]):
        return [f"{label}: its lengths are not numbered from 1"]
    total = 0.0
    for each in lengths:
        left, bottom, right, top = _as_drawn(each).bounds
        if not _same_shape(_as_drawn(each), box(0, 0, right - left, top - bottom), SIZE_TOL):
            return [f"{label}: a length is not a rectangle with its long side along"]
        if abs(right - left - strip.cut_width) > SIZE_TOL:
            return [f"{label}: a length is {right - left:.2f} mm wide, asked are {strip.cut_width:.2f} mm"]
        if len(lengths) > 1 and top - bottom < strip.shortest - JOIN_TOL:
            return [f"{label}: a length of {top - bottom:.1f} mm is shorter than {strip.shortest:g} mm"]
        total += top - bottom
    cost = strip.cut_width if strip.join is Join.BIAS else 2 * strip.seam_allowance
    sewn = total - (len(lengths) - 1) * cost
    if not math.isclose(sewn, strip.length, abs_tol=JOIN_TOL):
        return [f"{label}: comes to {sewn:.1f} mm when joined, asked are {strip.length:.1f} mm"]
    return []

"""Seams that such a cut must have and that were not seen: laid where they run, as wide as the doubt is.

What runs where is known in salvage.trade.cuts; this lays it on the garment's own points. A seam that was seen
along most of its run isn't laid again; of one that was seen in part, the rest is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import split, substring

from salvage.cloth.cut.points import SIDES, Place, distance
from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.lines.beside import joined_lines, running_along
from salvage.cloth.flat.axis import Axis
from salvage.cloth.garment import BlockedKind, FoundBy
from salvage.shapes import polygons_of
from salvage.trade.cuts import BANDS, RUNS, Band, Run, Side
from salvage.trade.cuts import SIDES as ON_OUTLINE

CONFIDENCE = 0.5  # such a cut has it, yet nobody saw it here
_SEEN = 0.6  # share of a run that must be seen, so that nothing is laid
_BESIDE = 30.0  # mm beyond the doubt that a line may lie and be the seam that must be there
_ASIDE = 60.0  # mm to either side of a seam, where the cloth is surely that of one and of the other part
_SHORTEST = 35.0  # mm of a rest that is laid
_ON_EDGE = 12.0  # mm from a line seen, within which an edge is known
_POINTS = 24
_OTHER = {"left": "right", "right": "left"}
_FAR = 5000.0  # mm, beyond any garment


def assumed_seams(
    cloth: Polygon,
    axis: Axis,
    points: Mapping[str, Place],
    garment: tuple[str, str],
    seen: Iterable[LineString],
    parts: Sequence[Polygon],
    *,
    sharp: bool,
    sure: frozenset[str] = frozenset(),
    perhaps: frozenset[str] = frozenset(),
) -> list[Seam]:
    """The seams and hems that a garment of this kind must have and of which no line was seen.

    points: as cut.points names them. garment: its kind and face, as in trade.cuts. seen: all lines that were
    found; parts: what the cloth falls into along them. sharp: stitches would be seen in the photograph, so that
    an edge without them has no hem. sure: parts of the garment that are seen for sure, as trade.cuts names them.
    perhaps: kinds that it may well be, beside its own.
    """
    kind, face = garment
    lines = [line for line in seen if line.length > 0]
    laid: list[Seam] = []
    for run in RUNS:
        seen_for_sure = not any(run.between) or sure.issuperset(run.between)
        if kind in run.kinds and face in run.faces and seen_for_sure:
            for name, line, off in _runs(run, axis, points):
                if not _parted(line, parts):
                    laid += unseen(line.intersection(cloth), off, lines, name, BlockedKind.SEAM)
    for band in BANDS:
        likely = kind in band.kinds or (band.perhaps and not band.kinds.isdisjoint(perhaps))
        if likely and band.instead not in sure and not (sharp and band.hem):
            middle, off = sum(band.depth) / 2, (band.depth[1] - band.depth[0]) / 2
            what = BlockedKind.HEM if band.hem else BlockedKind.SEAM
            for line in _edges(band, cloth, axis, points, middle):
                laid += unseen(line, off, lines, band.name, what)
    for side in ON_OUTLINE:
        if kind in side.kinds:
            laid += _on_outline(side, cloth, points, lines)
    return laid


def _on_outline(
    side: Side, cloth: Polygon, points: Mapping[str, Place], seen: list[LineString]
) -> Iterable[Seam]:
    """What of the garment's edges is a seam by its cut, and wasn't seen to be one."""
    for name in SIDES:
        start, end = (points.get(each.format(side=name)) for each in (side.start, side.end))
        if start is None or end is None:
            continue
        edge = _between(cloth, start, end)
        known = shapely.union_all([each.buffer(_ON_EDGE) for each in seen]) if seen else Polygon()
        for part in joined_lines(edge.difference(known)):
            if part.length >= _SHORTEST:
                yield Seam(
                    part,
                    side.usual,
                    on_outline=True,
                    what=f"{name} {side.name}, assumed",
                    found_by=FoundBy.TRADE,
                    wide=side.off,
                )


def _runs(run: Run, axis: Axis, points: Mapping[str, Place]) -> Iterable[tuple[str, LineString, float]]:
    """Name, line and doubt of a seam between two points, for each side that has both."""
    sides = SIDES if "{side}" in run.start + run.end else {"": 0.0}
    for side in sides:
        ends = _ends(run, points, side) or _mirrored(_ends(run, points, _OTHER.get(side, "")), axis)
        if ends is None:
            continue
        start, end = ends
        own = axis.own(np.array([[start.x, start.y], [end.x, end.y]]))
        length = float(np.linalg.norm(own[1] - own[0]))
        # A curve of the second degree: its middle lies half as far off the chord as its control point.
        control = own.mean(axis=0) - [np.sign(own[:, 0].mean()) * 2 * run.bow * length, 0.0]
        t = np.linspace(0.0, 1.0, _POINTS)[:, None]
        curve = (1 - t) ** 2 * own[0] + 2 * t * (1 - t) * control + t**2 * own[1]
        off = math.hypot(run.off, (start.off + end.off) / 2)
        yield f"{side} {run.name}".strip(), LineString(axis.on_plane(curve)), off


def _ends(run: Run, points: Mapping[str, Place], side: str) -> tuple[Place, Place] | None:
    """Where a seam starts and ends; None where that isn't known, or one of the two was mistaken."""
    start, end = (points.get(name.format(side=side)) for name in (run.start, run.end))
    if start is None or end is None or not run.long[0] <= distance(start, end) <= run.long[1]:
        return None
    return start, end


def _mirrored(ends: tuple[Place, Place] | None, axis: Axis) -> tuple[Place, Place] | None:
    """The same on the garment's other half, whose own lie hidden, say under a sleeve that lies over the body."""
    if ends is None or not axis.compares:
        return None
    start, end = (_like(place, axis) for place in ends)
    return start, end


def _like(place: Place, axis: Axis) -> Place:
    own = axis.own(np.array([[place.x, place.y]]))[0]
    x, y = axis.on_plane(np.array([[-own[0], own[1]]]))[0]
    turned = math.radians(axis.plus_minus) * float(np.linalg.norm(own))
    return Place(float(x), float(y), math.hypot(place.off, 2 * turned))


def _parted(line: LineString, parts: Sequence[Polygon]) -> bool:
    """Whether what lies on the two sides of a line hangs together no more: a seam was seen somewhere there."""
    points = [
        line.parallel_offset(_ASIDE, side).interpolate(0.5, normalized=True) for side in ("left", "right")
    ]
    homes = [next((k for k, part in enumerate(parts) if part.covers(point)), None) for point in points]
    return None not in homes and homes[0] != homes[1]


def _edges(
    band: Band, cloth: Polygon, axis: Axis, points: Mapping[str, Place], depth: float
) -> Iterable[LineString]:
    """Lines that lie `depth` mm inside the edge that a band runs along."""
    together = (
        band.edge == "leg end" and "crotch" not in points
    )  # one leg lies over or close beside the other
    if band.edge in ("hem", "waist") or together:
        left, right = (points.get(f"{'hem' if together else band.edge} {side}") for side in SIDES)
        if left and right and (band.edge == "waist" or "crotch" not in points):
            yield from _inside(cloth, _between(cloth, left, right), depth)
        return
    for part, root in _limbs(band.edge, cloth, axis, points):
        if not band.long[0] <= root.hausdorff_distance(part) < band.long[1]:
            continue
        if (line := _across_end(part, root, depth)) is not None:
            yield line


def _between(cloth: Polygon, one: Place, two: Place) -> LineString:
    """The outline from one corner to another, the shorter way."""
    ring = LineString(cloth.exterior.coords)
    start, end = sorted(ring.project(Point(place.x, place.y)) for place in (one, two))
    inner = substring(ring, start, end)
    if inner.length <= ring.length / 2:
        return LineString(inner.coords)
    outer = np.vstack([substring(ring, end, ring.length).coords, substring(ring, 0.0, start).coords])
    return LineString(outer)


def _inside(cloth: Polygon, edge: LineString, depth: float) -> list[LineString]:
    """The line `depth` mm inside an edge of the cloth."""
    found = [
        part.exterior.intersection(edge.buffer(1.15 * depth)) for part in polygons_of(cloth.buffer(-depth))
    ]
    return [line for each in found for line in joined_lines(each) if line.length >= _SHORTEST]


def _limbs(
    edge: str, cloth: Polygon, axis: Axis, points: Mapping[str, Place]
) -> Iterable[tuple[Polygon, Point]]:
    """Sleeves or legs, each with the middle of where it hangs."""
    if edge == "sleeve end":
        for side in SIDES:
            under, top = points.get(f"underarm {side}"), points.get(f"shoulder {side}")
            if under is None or top is None:
                continue
            way = np.array([top.x - under.x, top.y - under.y])
            ends = np.array([[under.x, under.y], [top.x, top.y]]) + np.outer([-0.15, 0.15], way)
            parts = polygons_of(split(cloth, LineString(ends)))
            outer = [p for p in parts if not p.covers(Point(axis.at)) and p.area < 0.5 * cloth.area]
            if outer:
                yield (
                    max(outer, key=lambda each: each.area),
                    Point(under.x + way[0] / 2, under.y + way[1] / 2),
                )
    elif "crotch" in points:
        at = points["crotch"]
        x, y = axis.own(np.array([[at.x, at.y]]))[0]
        for out in SIDES.values():
            box = shapely.box(min(x, x + out * _FAR), y - _FAR, max(x, x + out * _FAR), y)
            region = shapely.transform(box, axis.on_plane)
            legs = polygons_of(cloth.intersection(region))
            if legs:
                leg = legs[0]
                top = axis.own(np.array([leg.centroid.coords[0]]))[0]
                yield leg, Point(axis.on_plane(np.array([[top[0], y]]))[0])


def _across_end(part: Polygon, root: Point, depth: float) -> LineString | None:
    """A line across a sleeve or a leg, `depth` mm from the end that is farthest from its root."""
    ring = np.asarray(shapely.segmentize(part.exterior, 5.0).coords)[:, :2]
    away = np.linalg.norm(ring - [root.x, root.y], axis=1)
    far = ring[int(away.argmax())]
    near = part.intersection(Point(far).buffer(max(120.0, 0.35 * float(away.max()))))
    way = far - np.array([near.centroid.x, near.centroid.y])
    if np.linalg.norm(way) < 1.0:
        return None
    box = shapely.minimum_rotated_rectangle(near)
    corners = np.asarray(box.exterior.coords)[:3] if isinstance(box, Polygon) else ring[:3]
    edges = np.diff(corners, axis=0)
    edges = edges / np.maximum(np.linalg.norm(edges, axis=1, keepdims=True), 1e-9)
    best = edges[int(np.abs(edges @ way).argmax())]
    best = best * np.sign(best @ way)
    reach = float((ring @ best).max()) - depth
    normal = np.array([-best[1], best[0]])
    middle = best * reach + normal * float(far @ normal)
    across = LineString([middle - 400 * normal, middle + 400 * normal]).intersection(part)
    parts = [line for line in joined_lines(across) if line.distance(Point(far)) < 3 * depth + 60]
    return max(parts, key=lambda each: each.length) if parts else None


def unseen(
    line: BaseGeometry,
    off: float,
    seen: list[LineString],
    name: str,
    kind: BlockedKind,
    *,
    beside: float = _BESIDE,
) -> list[Seam]:
    """What of a line wasn't seen, as assumed seams. beside: mm beyond the doubt that a line may lie and be this one."""
    rest: list[Seam] = []
    for each in joined_lines(line):
        if each.length < _SHORTEST:
            continue
        near = [zone for other in seen if not (zone := running_along(other, each, off + beside)).is_empty]
        left = each.difference(shapely.union_all(near)) if near else each
        if left.length < (1 - _SEEN) * each.length:
            continue
        rest += [
            Seam(
                part,
                CONFIDENCE,
                hem=kind is BlockedKind.HEM,
                what=f"{name}, assumed",
                found_by=FoundBy.TRADE,
                wide=off,
            )
            for part in joined_lines(left)
            if part.length >= _SHORTEST
        ]
    return rest

"""Points of a garment's outline that a sewer names: underarm, shoulder, crotch, corners of waist and hem.

Read from the outline alone, in the garment's own frame (x to the right of the picture with collar or waist up, y
towards them). Each has a plus-minus.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import Whole
from salvage.shapes import polygons_of

SIDES = {"left": -1.0, "right": 1.0}
_STEP = 3.0  # mm between points of the outline
_DEEP = 0.045  # of the garment's height, a hollow at least as deep parts sleeve and body, or two legs
_HOLLOW_OFF = 8.0  # mm, of the bottom of a hollow
_SHOULDER_REACH, _SHOULDER_OFF = (
    75.0,
    20.0,
)  # mm, along the shoulder from above the underarm; and how far it is off
_BEND = 5.0  # mm, that the outline's bend at the shoulder stands out of its chord at least
_BEND_OFF = 14.0  # mm, of a shoulder found by its bend
_MIDDLE = 0.25  # of the garment's half width: so near the axis lie crotch and neck
_CORNER_OFF = 10.0
# mm of outline to either side, degrees, mm above and mm out, of an underarm above a waist
_CORNER_ARM, _CORNER_TURN, _CORNER_AWAY, _CORNER_ASIDE = 36.0, 50.0, 60.0, 100.0
# mm along the side above and below a waist; share of that by which the side bends out there, and how much wider what
# hangs below is at least.
_WAIST_ARM, _WAIST_BEND, _WAIST_FLARE = 60.0, 0.45, 1.35
_AGREE = 60.0  # mm, between a landmark and the outline's point of that name, to be the same
_LANDMARK_OFF, _SURE = 12.0, 0.5  # mm, of a landmark of the whole look; and its least chance


@dataclass(frozen=True, slots=True)
class Place:
    """A named point in plane mm, and how far it may be off (half of a 95 % interval, mm)."""

    x: float
    y: float
    off: float


def points_of(cloth: Polygon, axis: Axis) -> dict[str, Place]:
    """The named points that the outline shows; those that it doesn't show are left out."""
    ring = _ring(cloth, axis)
    height = float(np.ptp(ring[:, 1]))
    hollows = _hollows(ring, _DEEP * height)
    found = _crotch(ring, hollows) if axis.legs else _sleeves(ring, hollows) | _middle(ring)
    found |= _corners(ring, found)
    if not axis.legs:
        found |= _narrow_waist(ring, found)
    return {name: _on_plane(place, axis) for name, place in found.items()}


def _ring(cloth: Polygon, axis: Axis) -> NDArray[np.float64]:
    """(n, 2) points of the outline in its own frame, counter-clockwise."""
    line = shapely.segmentize(shapely.geometry.polygon.orient(cloth).exterior, _STEP)
    return axis.own(np.asarray(line.coords)[:-1, :2])


def _hollows(
    ring: NDArray[np.float64], deep: float
) -> list[tuple[float, NDArray[np.float64], NDArray[np.float64]]]:
    """Hollows of the outline: depth, deepest point, and the way out of it; deepest first."""
    hull = Polygon(ring).convex_hull
    found = []
    for gap in polygons_of(hull.difference(Polygon(ring).buffer(0))):
        edge = hull.exterior.intersection(gap.buffer(0.01))
        mouth = max(getattr(edge, "geoms", [edge]), key=lambda each: each.length)
        if mouth.length == 0:
            continue
        ends = np.asarray(mouth.coords)[[0, -1], :2]
        way = ends[1] - ends[0]
        out = np.array([way[1], -way[0]]) / max(float(np.linalg.norm(way)), 1e-9)
        corners = np.asarray(gap.exterior.coords)[:, :2]
        depth = (ends[0] - corners) @ out
        if abs(depth.min()) > depth.max():
            depth, out = -depth, -out
        if depth.max() >= deep:
            found.append((float(depth.max()), corners[int(depth.argmax())], out))
    return sorted(found, key=lambda each: -each[0])


def _crotch(ring: NDArray[np.float64], hollows: list) -> dict[str, Place]:
    half = float(np.abs(ring[:, 0]).max())
    for _, at, out in hollows:
        if abs(at[0]) < 2 * _MIDDLE * half and out[1] < -0.7:
            return {"crotch": Place(at[0], at[1], _HOLLOW_OFF)}
    return {}


def _sleeves(ring: NDArray[np.float64], hollows: list) -> dict[str, Place]:
    half = float(np.abs(ring[:, 0]).max())
    found: dict[str, Place] = {}
    for name, side in SIDES.items():
        for _, at, out in hollows:
            if side * at[0] > _MIDDLE * half and out[1] < 0.5 and side * out[0] - out[1] > 0.5:
                at = _corner_above(ring, at)
                found[f"underarm {name}"] = Place(at[0], at[1], _HOLLOW_OFF)
                if (shoulder := _shoulder(ring, at)) is not None:
                    found[f"shoulder {name}"] = shoulder
                break
    return found


def _corner_above(ring: NDArray[np.float64], deepest: NDArray[np.float64]) -> NDArray[np.float64]:
    """The underarm in a hollow: its deepest point, or where a waist is that, the sharp corner above it between sleeve
    and body."""
    arm, count = round(_CORNER_ARM / _STEP), len(ring)
    start = int(np.linalg.norm(ring - deepest, axis=1).argmin())
    best, sharpest = deepest, _CORNER_TURN
    for way in (1, -1):
        for step in range(arm, count // 3):
            k = (start + way * step) % count
            if ring[k, 1] < deepest[1] - _CORNER_ARM or abs(ring[k, 0]) > abs(deepest[0]) + _CORNER_ASIDE:
                break
            one, two = ring[k] - ring[(k - arm) % count], ring[(k + arm) % count] - ring[k]
            turn = float(np.degrees(np.arctan2(two[0] * one[1] - two[1] * one[0], one @ two)))  # + is hollow
            if turn > sharpest and ring[k, 1] > deepest[1] + _CORNER_AWAY:
                best, sharpest = ring[k], turn
    return best


def _shoulder(ring: NDArray[np.float64], underarm: NDArray[np.float64]) -> Place | None:
    """Where the armhole begins above an underarm: the bend of the upper outline if it has one there, else
    straight above (in a basic block the two lie within a few cm of one vertical)."""
    columns = np.arange(-_SHOULDER_REACH, _SHOULDER_REACH + 1, _STEP)
    low, high = float(ring[:, 1].min()), float(ring[:, 1].max())
    shape = Polygon(ring).buffer(0)
    upper = []
    for column in columns:
        x = underarm[0] + column
        met = shape.intersection(shapely.LineString([(x, low - 1), (x, high + 1)]))
        upper.append(met.bounds[3] if not met.is_empty else np.nan)
    top = np.array(upper)
    middle = len(columns) // 2
    if np.isnan(top[middle]) or top[middle] - underarm[1] < 40.0:
        return None
    seen = ~np.isnan(top)
    chord = np.interp(columns, [columns[seen][0], columns[seen][-1]], [top[seen][0], top[seen][-1]])
    stands = np.where(seen, top - chord, -np.inf)
    best = int(stands.argmax())
    if stands[best] >= _BEND and 0 < best < len(columns) - 1:
        column = 0.5 * columns[best]  # the bend is soft: half way between it and straight above
        return Place(underarm[0] + column, float(np.interp(column, columns[seen], top[seen])), _BEND_OFF)
    return Place(underarm[0], float(top[middle]), _SHOULDER_OFF)


def _corners(ring: NDArray[np.float64], found: Mapping[str, Place]) -> dict[str, Place]:
    """Corners of the hem and the waist: the outermost points of the body on its diagonals."""
    body = ring
    under = [found[name] for name in ("underarm left", "underarm right") if name in found]
    if under:
        below = min(place.y for place in under)
        reach = 60.0 + max(abs(place.x) for place in under)
        inside = (ring[:, 1] < below) & (np.abs(ring[:, 0]) < 1.6 * reach)
        parts = polygons_of(Polygon(ring).buffer(0).intersection(shapely.box(-1e5, -1e5, 1e5, below)))
        if not parts or not inside.any():
            return {}
        middle = max(parts, key=lambda each: each.area)
        body = np.asarray(middle.exterior.coords)[:, :2]
    corners = {}
    for name, side in SIDES.items():
        at = body[int((side * body[:, 0] - body[:, 1]).argmax())]
        corners[f"hem {name}"] = Place(at[0], at[1], _CORNER_OFF)
        if "crotch" in found:
            crotch = found["crotch"]
            leg = body[(side * (body[:, 0] - crotch.x) > 0) & (body[:, 1] < crotch.y)]
            if len(leg):
                at = leg[int((-side * leg[:, 0] - leg[:, 1]).argmax())]
                corners[f"leg end {name}"] = Place(at[0], at[1], _CORNER_OFF)
            at = body[int((0.5 * side * body[:, 0] + body[:, 1]).argmax())]
            corners[f"waist {name}"] = Place(at[0], at[1], _CORNER_OFF)
    if {"waist left", "waist right"} <= corners.keys():
        left, right = corners["waist left"], corners["waist right"]
        x = (left.x + right.x) / 2
        met = (
            Polygon(ring)
            .buffer(0)
            .intersection(shapely.LineString([(x, ring[:, 1].min()), (x, ring[:, 1].max() + 1)]))
        )
        if not met.is_empty:
            corners["waist"] = Place(x, met.bounds[3], 1.5 * _CORNER_OFF)
    return corners


def _narrow_waist(ring: NDArray[np.float64], found: Mapping[str, Place]) -> dict[str, Place]:
    """Where the body is narrowest between underarm and hem, if both sides have a corner there: what hangs below is
    wider by gathers or flare. A side cut in one piece can't bend so sharply."""
    under = [found[name] for name in ("underarm left", "underarm right") if name in found]
    if len(under) < 2:
        return {}
    shape = Polygon(ring).buffer(0)
    low, high = float(ring[:, 1].min()), min(place.y for place in under)
    rows = np.arange(low + _STEP, high - 2 * _STEP, _STEP)
    sides = np.array([_side_at(shape, row) for row in rows])
    if len(rows) < 3 * _WAIST_ARM / _STEP or np.isnan(sides).any():
        return {}
    arm = round(_WAIST_ARM / _STEP)
    wide = sides[:, 1] - sides[:, 0]
    narrow = arm + int(wide[arm:-arm].argmin())
    out = sides * [-1.0, 1.0]
    bends = out[narrow - arm] - 2 * out[narrow] + out[narrow + arm]
    if bends.min() < _WAIST_BEND * _WAIST_ARM or wide[:narrow].max() < _WAIST_FLARE * wide[narrow]:
        return {}
    return {
        f"waist {name}": Place(float(sides[narrow, k]), float(rows[narrow]), _CORNER_OFF)
        for k, name in enumerate(SIDES)
    }


def _side_at(shape: Polygon, row: float) -> tuple[float, float]:
    """Left and right side of the body at a height; sleeves that hang beside it are left out."""
    met = shape.intersection(shapely.LineString([(-1e5, row), (1e5, row)]))
    parts = [each.bounds for each in getattr(met, "geoms", [met]) if each.length > 0]
    middle = [(each[0], each[2]) for each in parts if each[0] < 0.0 < each[2]]
    return middle[0] if middle else (np.nan, np.nan)


def _middle(ring: NDArray[np.float64]) -> dict[str, Place]:
    """Where the garment's middle line ends above (the neck) and below (the hem)."""
    low, high = float(ring[:, 1].min()), float(ring[:, 1].max())
    met = Polygon(ring).buffer(0).intersection(shapely.LineString([(0.0, low - 1), (0.0, high + 1)]))
    if met.is_empty:
        return {}
    longest = max(getattr(met, "geoms", [met]), key=lambda each: each.length)
    _, low, _, high = longest.bounds
    return {"neck": Place(0.0, high, _CORNER_OFF), "hem": Place(0.0, low, _CORNER_OFF)}


def _on_plane(place: Place, axis: Axis) -> Place:
    x, y = axis.on_plane(np.array([[place.x, place.y]]))[0]
    return Place(float(x), float(y), place.off)


def distance(one: Place, two: Place) -> float:
    return float(Point(one.x, one.y).distance(Point(two.x, two.y)))


def with_landmarks(points: Mapping[str, Place], whole: Whole) -> dict[str, Place]:
    """The outline's points with those that the look at the whole garment is sure of. Where the two are far
    apart, the outline's word holds: it was measured."""
    joined = dict(points)
    for name, each in whole.landmarks.items():
        place = Place(each.x, each.y, _LANDMARK_OFF)
        name = name.replace("_", " ")
        if each.chance >= _SURE and (name not in points or distance(place, points[name]) <= _AGREE):
            joined[name] = place
    return joined


def garment_kind(points: Mapping[str, Place]) -> str:
    """A kind of garment that has these points, the plainest; "" where they say nothing."""
    if "crotch" in points:
        return "trousers"
    return "t-shirt" if {"underarm left", "underarm right"} <= points.keys() else ""

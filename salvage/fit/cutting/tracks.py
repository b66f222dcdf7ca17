"""Clear columns of a strip's width in a bit of cloth: where lengths of it could be cut, exactly.

A *track* is a rectangle of the strip's width that lies on the cloth and can't be made longer. Seen with the
strip's length upward, tracks are looked for where they touch a corner of the cloth, and beside those, one
width after the other: side by side is how strips are cut.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.project.project import Strip
from salvage.shapes import polygons_of

_HAIR = 1e-7  # mm by which a track is taken in, so that rounding never puts it over the edge
_TOUCHING = 1e-9  # mm
_DIGITS = 9  # of a place in mm; what they leave off is far less than the hair
_MOST_CORNERS = 14  # of a bit of cloth, from which tracks are lined up; those of the longest edges
_MOST = 400  # left sides of one width looked at on one bit of cloth
_MOST_KEPT = (
    250  # tracks of one width on one bit of cloth, the longest; fewer of each angle if there are more
)
_FEW = 4


@dataclass(frozen=True, slots=True)
class Track:
    """cloth: index of the cloth. left, low, high: mm in the cloth turned so that the length runs up.

    angle: at which a strip lies there; the cloth was turned by as much the other way round.
    bit: number of the bit of cloth, so that tracks of different bits never touch.
    strips: those that may be cut from it.
    """

    cloth: int
    bit: int
    angle: float
    width: float
    left: float
    low: float
    high: float
    strips: frozenset[Strip] = frozenset()

    @property
    def length(self) -> float:
        return self.high - self.low

    def serves(self, strip: Strip) -> bool:
        """Whether lengths of the strip may be cut from it, as far as its width and direction go."""
        return strip in self.strips

    def corner(self, above: float) -> tuple[float, float]:
        """On the plane, where the lower left corner of a length lies that begins so far up the track."""
        point = affinity.rotate(shapely.Point(self.left, self.low + above), self.angle, origin=(0, 0))
        return point.x, point.y

    def near(self, other: Track, gap: float) -> bool:
        """Whether the two can't both be cut."""
        if self.bit != other.bit:
            return False
        if self.angle != other.angle:
            return bool(self._polygon().distance(other._polygon()) < max(gap, _TOUCHING))
        return (
            self.left < other.left + other.width + gap - _TOUCHING
            and other.left < self.left + self.width + gap - _TOUCHING
            and self.low < other.high + gap - _TOUCHING
            and other.low < self.high + gap - _TOUCHING
        )

    def _polygon(self) -> Polygon:
        upright = box(self.left, self.low, self.left + self.width, self.high)
        return affinity.rotate(upright, self.angle, origin=(0, 0))


def near_each_other(tracks: Sequence[Track], gap: float) -> NDArray[np.bool_]:
    """Which two can't both be cut, (n, n); no track is near itself."""
    bit, angle, left, low, high, width = (
        np.array([getattr(each, name) for each in tracks])
        for name in ("bit", "angle", "left", "low", "high", "width")
    )
    beside = left[:, None] < left + width + gap - _TOUCHING
    above = low[:, None] < high + gap - _TOUCHING
    alike = (bit[:, None] == bit) & (angle[:, None] == angle)
    near: NDArray[np.bool_] = alike & beside & beside.T & above & above.T
    if len(set(angle.tolist())) > 1:
        shapes = np.array([each._polygon() for each in tracks])
        apart = max(gap - _TOUCHING, _TOUCHING)
        a, b = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=apart)
        near[a, b] |= (bit[a] == bit[b]) & (angle[a] != angle[b])
    np.fill_diagonal(near, val=False)
    return near


def tracks_of(
    cloth: int,
    bit: int,
    polygon: Polygon,
    angle: float,
    strips: Iterable[Strip],
    gap: float,
    *,
    angles: int = 1,
) -> list[Track]:
    """Tracks for these strips, all of which may lie at this angle. angles: how many there are on this cloth."""
    by_width: dict[float, list[Strip]] = {}
    for strip in strips:
        by_width.setdefault(strip.cut_width, []).append(strip)
    turned = affinity.rotate(polygon, -angle, origin=(0, 0))
    x0, _, x1, _ = turned.bounds
    found = []
    for width, mine in by_width.items():
        shortest = min(min(each.shortest, each.length) for each in mine)
        if x1 - x0 < width - 1e-9 or polygon.area < width * shortest * (1 - 1e-9):
            continue
        tracks = [
            Track(cloth, bit, angle, width, float(left), low, high, frozenset(mine))
            for left in _lefts(turned, width, tuple(by_width), gap)
            for low, high in _clear(turned, float(left), width)
            if high - low >= shortest - 1e-6
        ]
        found += _worth_while(tracks, gap, alone=len(by_width) == angles == 1)[: _MOST_KEPT // angles]
    return found


def _worth_while(tracks: list[Track], gap: float, *, alone: bool) -> list[Track]:
    """The longest first; only a few where just one can be cut and nothing else."""
    tracks = sorted(tracks, key=lambda each: (-each.length, each.left))
    lefts = [each.left for each in tracks]
    if alone and tracks and max(lefts) - min(lefts) < tracks[0].width + gap - 1e-9:
        longest = tracks[0]
        return [longest, *(t for t in tracks[1:] if not t.near(longest, gap) and t.bit == longest.bit)][:_FEW]
    return tracks


def _lefts(turned: Polygon, width: float, widths: Sequence[float], gap: float) -> np.ndarray:
    """Left sides to try: at corners of the cloth, and any number of strips beside those."""
    x0, _, x1, _ = turned.bounds
    corners = _corners(turned)
    steps = [each + gap for each in widths]
    rightward, leftward = set(np.round(corners, _DIGITS)), set(np.round(corners, _DIGITS))
    for known, sign in ((rightward, 1.0), (leftward, -1.0)):
        todo = sorted(known)
        while todo and len(known) < _MOST:
            x = todo.pop(0)
            for step in steps:
                new = round(x + sign * step, _DIGITS)
                if x0 <= new <= x1 and new not in known:
                    known.add(new)
                    todo.append(new)
    lefts = np.array(sorted({*rightward, *(round(x - width, _DIGITS) for x in leftward)}))
    lefts = np.clip(lefts, x0, max(x0, x1 - width)) if abs(x1 - x0 - width) < 1e-6 else lefts
    inside = np.unique(lefts[(lefts >= x0 - 1e-6) & (lefts + width <= x1 + 1e-6)])
    if len(inside) <= _MOST:
        return inside
    return inside[np.linspace(0, len(inside) - 1, _MOST).astype(int)]


def _corners(turned: Polygon) -> np.ndarray:
    """x of the corners that matter most: the outermost, then the ends of the longest edges."""
    rings = [np.asarray(ring.coords)[:, :2] for ring in (turned.exterior, *turned.interiors)]
    starts = np.concatenate([ring[:-1] for ring in rings])
    ends = np.concatenate([ring[1:] for ring in rings])
    order = np.argsort(-np.hypot(*(ends - starts).T), kind="stable")
    x = np.column_stack([starts[order, 0], ends[order, 0]]).ravel()
    x0, _, x1, _ = turned.bounds
    return np.array(list(dict.fromkeys([x0, x1, *np.round(x, _DIGITS)]))[:_MOST_CORNERS])


def _clear(turned: Polygon, left: float, width: float) -> list[tuple[float, float]]:
    """From where to where the column lies on the cloth."""
    _, y0, _, y1 = turned.bounds
    column = box(left + _HAIR, y0, left + width - _HAIR, y1)
    blocked = sorted(
        (each.bounds[1], each.bounds[3]) for each in polygons_of(column.difference(turned)) if each.area > 0
    )
    clear, low = [], y0
    for begin, end in blocked:
        if begin > low:
            clear.append((low + _HAIR, begin - _HAIR))
        low = max(low, end)
    if y1 > low:
        clear.append((low + _HAIR, y1 - _HAIR))
    return clear

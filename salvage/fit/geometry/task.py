"""A question made ready for the search: one task per fabric, every cloth turned so that its grain is up.

Words: a *kind* is a shape with a fixed way of flipping (a mirrored pair gives two kinds); an *item* is one
copy of a kind; an *orientation* is a shape turned and perhaps flipped, moved so that the middle of its
bounding box is at (0, 0). Outlines of many points are made simpler for the search: shapes only grow by
that and cloths only shrink, so what fits here fits there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.fit.geometry.convex import Ring, convex_parts, ring_of
from salvage.fit.geometry.ground import MANY_POINTS, Ground, ground_of, upright
from salvage.fit.geometry.plainer import simpler
from salvage.fit.geometry.turning import trig, turned
from salvage.fit.question import Cloth, Placed, Question, Shape, allowed_turns

_MANY_POINTS_SHAPE = 40
_MANY_POINTS_FEW = 500  # where few shapes are asked for: then each hair's breadth may count, and time doesn't
_FEW = 6
_MAX_ORIENTATIONS = 420  # of one fabric; the tables grow with the square
_MOST_CORNERS = 6_000_000  # in the tables of one fabric, some 50 bytes each; many curved shapes have to do with fewer ways to lie
_FAR_TOO_LARGE = 24_000_000  # likewise; from here on as with _FAR_TOO_MANY
_FAN = 24  # angles tried where every angle is allowed
_FANS = (_FAN, 12, 8, 6, 4, 3, 2)  # and where there are too many
_SAME_TURN = 0.01  # degrees; turns nearer than this count as one
_FAR_TOO_MANY = 600  # from here on each kind is tried one way only, and the smallest that are more not at all


@dataclass(frozen=True, slots=True)
class Orientation:
    """shape: index in the question. middle: what was taken off after turning, mm."""

    shape: int
    turn: float
    flipped: bool
    ring: Ring
    parts: tuple[Ring, ...]
    middle: tuple[float, float]
    half: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Kind:
    """orientations: for each cloth of the task, indices of the orientations allowed on it."""

    shape: int
    flips: tuple[bool, ...]
    area: float
    count: int
    orientations: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Task:
    """All cloths and items of one fabric.

    grains: of the grounds. outlines: by shape. by_turn: orientation by shape, turn and whether flipped;
    one orientation may serve for several turns.
    """

    fabric: str
    gap: float
    grounds: tuple[Ground, ...]
    orientations: tuple[Orientation, ...]
    kinds: tuple[Kind, ...]
    grains: tuple[float, ...]
    outlines: Mapping[int, Polygon]
    by_turn: Mapping[tuple[int, float, bool], int]

    @cached_property
    def kind_of(self) -> NDArray[np.int64]:
        """(n,) kind of each item."""
        return np.repeat(np.arange(len(self.kinds)), [kind.count for kind in self.kinds])

    @cached_property
    def size(self) -> int:
        """How many corners the tables have: of every part with every part, and with every obstacle."""
        parts, corners = _count(part for o in self.orientations for part in o.parts)
        walls, wall_corners = _count(wall for ground in self.grounds for wall in ground.obstacles)
        return 2 * parts * corners + parts * wall_corners + walls * corners

    def placed(self, ground: int, orientation: int, x: float, y: float) -> Placed:
        """The placement in the question's own plane of an orientation whose middle lies at (x, y)."""
        o = self.orientations[orientation]
        tilt = self.grains[ground] - 90.0
        cos, sin = trig(tilt)
        px, py = x - o.middle[0], y - o.middle[1]
        return Placed(
            o.shape, self.grounds[ground].cloth, (o.turn + tilt) % 360, o.flipped,
            cos * px - sin * py, sin * px + cos * py,
        )  # fmt: skip

    def position(self, kind: int, placed: Placed) -> tuple[int, int, float, float] | None:
        """The other way round: ground, orientation, and where its middle lies; None if it isn't allowed."""
        g = next((n for n, ground in enumerate(self.grounds) if ground.cloth == placed.cloth), None)
        if g is None or self.kinds[kind].shape != placed.shape:
            return None
        turn = (placed.angle - self.grains[g] + 90.0) % 360
        o = self.by_turn.get((placed.shape, round(turn, 6) % 360, placed.flipped), -1)
        if o not in self.kinds[kind].orientations[g]:
            return None
        cos, sin = trig(90.0 - self.grains[g])
        x0, y0, x1, y1 = turned(self.outlines[placed.shape], turn, placed.flipped).bounds
        x = cos * placed.x - sin * placed.y + (x0 + x1) / 2
        y = sin * placed.x + cos * placed.y + (y0 + y1) / 2
        return g, o, x, y


def _count(rings: Iterable[Ring]) -> tuple[int, int]:
    """How many rings, and how many corners in all."""
    sizes = [len(ring) for ring in rings]
    return len(sizes), sum(sizes)


def turns_to_try(shape: Shape, cloth: Cloth, fan: int = _FAN) -> list[float]:
    """Turns tried by the search. Where every angle, or a tolerance, is allowed: a sample, and those that lay
    an edge of the shape along an edge of the cloth."""
    turns = allowed_turns(shape, cloth)
    if turns is None:
        return [*(360.0 * k / fan for k in range(fan)), *_along_edges(shape, cloth, fan // 2)]
    if shape.off_grain > 0 and shape.angles is None:
        spread = (0.0, -shape.off_grain, shape.off_grain)
        near = [
            turn
            for turn in _along_edges(shape, cloth, 10 * fan)
            if any(abs((turn - each + 180.0) % 360.0 - 180.0) <= shape.off_grain for each in turns)
        ]
        return [*((turn + off) % 360 for turn in turns for off in spread), *near[: fan // 2]]
    return list(turns)


def _along_edges(shape: Shape, cloth: Cloth, most: int) -> list[float]:
    """Turns that lay an edge along an edge of the cloth, those first at which the longest edges meet."""
    outline = ring_of(Polygon(shape.outline).convex_hull)
    edges = np.roll(outline, -1, axis=0) - outline
    rings = upright(cloth.polygon, cloth.grain, MANY_POINTS)[1]
    sides = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings])
    worth = np.minimum(np.hypot(*edges.T)[:, None], np.hypot(*sides.T)[None]).ravel()
    found: dict[int, tuple[float, float]] = {}
    directions = np.degrees(np.arctan2(edges[:, 1], edges[:, 0]))
    # a mirrored outline runs the other way round, so its edges have the opposite angles
    for sign in (1.0, -1.0) if shape.may_flip or shape.mirrored_pair else (1.0,):
        turn = np.degrees(np.arctan2(sides[:, 1], sides[:, 0]))[None] - sign * directions[:, None]
        for t, w in zip((turn % 360.0).ravel(), worth, strict=True):
            key = round(t / _SAME_TURN)
            total, best = found.get(key, (0.0, float(t)))
            found[key] = total + float(w), best
    return [turn for _, turn in sorted(found.values(), key=lambda each: -each[0])[:most]]


def make_tasks(question: Question) -> list[Task]:
    """One task for each fabric that shapes ask for. A fabric without cloth gives a task without grounds."""
    tasks = []
    for fabric in dict.fromkeys(shape.fabric for shape in question.shapes if shape.count > 0):
        for fan in _FANS:
            task = _make_task(question, fabric, fan)
            if len(task.orientations) <= _MAX_ORIENTATIONS and task.size <= _MOST_CORNERS:
                break
        too_many = len(task.orientations) > _FAR_TOO_MANY or task.size > _FAR_TOO_LARGE
        tasks.append(_with_few_ways(task) if too_many else task)
    return tasks


def _with_few_ways(task: Task) -> Task:
    """The task with one way to lie for each kind on each ground, and none for the smallest where even those
    are too many: the tables grow with the square, and a part laid in time is better than nothing."""
    by_size = sorted(range(len(task.kinds)), key=lambda k: -task.kinds[k].area)
    used: dict[int, int] = {}
    kinds = list(task.kinds)
    for k in by_size:
        mine = {ways[0] for ways in kinds[k].orientations if ways}
        room = len(used.keys() | mine) <= _FAR_TOO_MANY
        for o in sorted(mine) if room else ():
            used.setdefault(o, len(used))
        allowed = tuple((used[ways[0]],) if ways and room else () for ways in kinds[k].orientations)
        kinds[k] = replace(kinds[k], orientations=allowed)
    by_turn = {key: used[o] for key, o in task.by_turn.items() if o in used}
    orientations = tuple(task.orientations[o] for o in used)
    return replace(task, orientations=orientations, kinds=tuple(kinds), by_turn=by_turn)


def _make_task(question: Question, fabric: str, fan: int) -> Task:
    cloths = [(n, cloth) for n, cloth in enumerate(question.cloths) if cloth.fabric == fabric]
    few = sum(shape.count for shape in question.shapes if shape.fabric == fabric) <= _FEW
    most = _MANY_POINTS_FEW if few else MANY_POINTS
    grounds = tuple(ground_of(n, cloth, most) for n, cloth in cloths)
    orientations: list[Orientation] = []
    kinds: list[Kind] = []
    outlines: dict[int, Polygon] = {}
    by_turn: dict[tuple[int, float, bool], int] = {}
    for s, shape in enumerate(question.shapes):
        if shape.fabric != fabric or shape.count <= 0:
            continue
        outline = _Outlines(s, shape, orientations)
        outlines[s] = outline.polygon
        area = Polygon(shape.outline).area
        for flips, count in _flips(shape):
            allowed = tuple(
                tuple(
                    dict.fromkeys(outline.index(t, f) for t in turns_to_try(shape, cloth, fan) for f in flips)
                )
                for _, cloth in cloths
            )
            kinds.append(Kind(s, flips, area, count, allowed))
        by_turn |= {(s, round(t, 6) % 360, f): o for (t, f), o in outline.by_turn.items()}
    grains = tuple(cloth.grain for _, cloth in cloths)
    return Task(fabric, question.gap, grounds, tuple(orientations), tuple(kinds), grains, outlines, by_turn)


@lru_cache(maxsize=512)  # one answer asks about the same shape many times
def _parts_of(outline: Polygon) -> tuple[Ring, ...]:
    return tuple(convex_parts(outline))


class _Outlines:
    """Adds the orientations of one shape to a list, each once."""

    def __init__(self, index: int, shape: Shape, orientations: list[Orientation]) -> None:
        self.shape, self.orientations = index, orientations
        outline = simpler(Polygon(shape.outline), _MANY_POINTS_SHAPE, grow=True)
        self.polygon = outline
        self.ring = ring_of(outline)
        self.parts = _parts_of(outline)
        self.by_turn: dict[tuple[float, bool], int] = {}
        self.pair = shape.mirrored_pair
        self.by_ground: dict[tuple[bool, bytes], int] = {}

    def index(self, turn: float, flipped: bool) -> int:
        """Where the orientation stands in the list; one that covers the same ground serves as well.

        Unless half of the copies must be mirror images: then a flipped rectangle has to be called flipped.
        """
        if (turn, flipped) not in self.by_turn:
            o = self._orientation(turn, flipped)
            points = np.round(np.concatenate(o.parts), 6) + 0.0
            key = self.pair and flipped, points[np.lexsort(points.T)].tobytes()
            if key not in self.by_ground:
                self.by_ground[key] = len(self.orientations)
                self.orientations.append(o)
            self.by_turn[turn, flipped] = self.by_ground[key]
        return self.by_turn[turn, flipped]

    def _orientation(self, turn: float, flipped: bool) -> Orientation:
        cos, sin = trig(turn)
        sign = -1.0 if flipped else 1.0
        matrix = np.array([[cos * sign, sin * sign], [-sin, cos]])
        ring = self.ring @ matrix
        low, high = ring.min(axis=0), ring.max(axis=0)
        middle, half = (low + high) / 2, (high - low) / 2
        ring = (ring - middle)[:: int(sign)]
        parts = tuple((part @ matrix - middle)[:: int(sign)] for part in self.parts)
        return Orientation(
            self.shape,
            turn,
            flipped,
            ring,
            parts,
            (float(middle[0]), float(middle[1])),
            (float(half[0]), float(half[1])),
        )


def _flips(shape: Shape) -> list[tuple[tuple[bool, ...], int]]:
    if shape.may_flip:
        return [((False, True), shape.count)]
    if shape.mirrored_pair:
        mirrored = shape.count // 2
        return [((False,), shape.count - mirrored), ((True,), mirrored)]
    return [((False,), shape.count)]

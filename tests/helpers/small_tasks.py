"""Small questions made ready for the kernels, and the same told by shapely alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import MultiPoint, Polygon

from salvage.fit.geometry.state import State, new_state
from salvage.fit.geometry.tables import Tables, make_tables
from salvage.fit.geometry.task import Task, make_tasks
from salvage.fit.kernels.packed import SPOTS_FIELDS, Packed
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.search.rings import Rings, make_rings, make_spots

MOST_SPOTS = 12000  # rows of room for the spots of one ground
UP = (0.0,)


@dataclass(frozen=True)
class Small:
    """A task with one orientation of each shape, upright; item i is a copy of shape i."""

    task: Task
    tables: Tables
    state: State

    @property
    def t(self) -> Packed:
        return self.tables.packed

    @property
    def s(self) -> Packed:
        return self.state.packed

    def lying(self, o: int, x: float, y: float) -> Polygon:
        """Orientation o with its middle at (x, y)."""
        return affinity.translate(Polygon(self.task.orientations[o].ring), x, y)

    def item(self, i: int) -> Polygon:
        s = self.state
        return self.lying(int(s.orientation[i]), float(s.x[i]), float(s.y[i]))

    def laid(self, ground: int = 0) -> list[int]:
        return [i for i in range(len(self.state.x)) if self.state.ground[i] == ground]

    def faults(self) -> list[str]:
        """What shapely has against the layout: not on the cloth, nearer than the gap."""
        found = []
        for g, ground in enumerate(self.task.grounds):
            here = {i: self.item(i) for i in self.laid(g)}
            found += [f"{i} leaves {g}" for i, p in here.items() if not ground.polygon.buffer(1e-6).covers(p)]
            for i, one in here.items():
                for j, two in here.items():
                    near = one.distance(two) < self.task.gap - 1e-6 or one.intersection(two).area > 1e-6
                    found += [f"{i} and {j} on {g}"] if i < j and near else []
        return found

    def no_fit(self, a: int, b: int) -> list[Polygon]:
        """Where the middle of orientation b, seen from that of a, makes their convex parts overlap."""
        parts = [
            (one, two) for one in self.task.orientations[a].parts for two in self.task.orientations[b].parts
        ]
        return [differences(one, two) for one, two in parts]

    def within(self, g: int, o: int) -> Polygon:
        """Where the middle of orientation o keeps it in the hull of ground g."""
        hull = Polygon(self.task.grounds[g].hull)
        ring = self.task.orientations[o].ring
        return reduce(shapely.intersection, [affinity.translate(hull, -x, -y) for x, y in ring])


def differences(one: NDArray[np.float64], two: NDArray[np.float64]) -> Polygon:
    """The convex hull of all corners of one less all corners of the other."""
    hull = MultiPoint((one[:, None] - two[None]).reshape(-1, 2)).convex_hull
    assert isinstance(hull, Polygon)
    return hull


def small(
    cloths: Sequence[Polygon], shapes: Sequence[Polygon], gap: float = 0.0, counts: Sequence[int] = ()
) -> Small:
    """counts: of each shape; one, if nothing is said."""
    asked = tuple(
        Shape(f"s{n}", tuple(map(tuple, shapely.get_coordinates(shape.normalize().reverse())[:-1].tolist())), turns=UP,
              count=counts[n] if counts else 1)
        for n, shape in enumerate(shapes)
    )  # fmt: skip
    (task,) = make_tasks(Question(tuple(Cloth(f"c{n}", each) for n, each in enumerate(cloths)), asked, gap))
    area = np.array([kind.area for kind in task.kinds])[task.kind_of]
    return Small(task, make_tables(task), new_state(task.kind_of, area, 7))


@dataclass(frozen=True)
class Spots:
    """The spots of ground 0, with what finds them."""

    rings: Rings
    packed: Packed

    @classmethod
    def of(cls, asked: Small) -> Spots:
        return cls(make_rings(asked.task), make_spots(asked.tables))

    def _at(self, name: str) -> int:
        return int(self.packed._words[3 + SPOTS_FIELDS.index(name)])

    def rows(self) -> list[tuple[int, int, float, float, float]]:
        """Kind, orientation, x, y and contact of each."""
        number = int(self.packed.i[self._at("number")])
        ints = [self.packed.i[self._at(name) :][:number].tolist() for name in ("kind", "orientation")]
        floats = [self.packed.f[self._at(name) :][:number].tolist() for name in ("x", "y", "contact")]
        return list(zip(*ints, *floats, strict=True))

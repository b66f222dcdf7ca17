"""Where names go on a plan or a photograph: on what they name, else beside it at the end of a leader line.

No two of them overlap: each box that is written in is remembered, and the next one keeps off it. A name that finds no
room near its shape goes as far off as it must; only where the whole page is full is one left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from salvage.report.pen.draw import (
    Label,
    Page,
    draw_label,
    fill,
    fit_label,
    middle_of,
    stroke,
    text_box,
    text_width,
)
from salvage.report.pen.palette import INK

_DIRECTIONS = 16
_RINGS = 26  # how far out a place is looked for, in steps of the letters' size
_PAD = 3.0  # points round a text
_GRID = 1.6  # heights of a text from one place to the next, where the whole page is looked through
_LEADER = 1.5  # points; a shorter leader line says nothing
_DOT = 1.2  # points, half the width of the dot at its end

Found = tuple[float, float, Polygon, LineString]


class Labels:
    """The labels of one page. room: what of the page may be written on, page units.

    kept: shapes that a name beside its own shape rather keeps off, such as other panels, or the cloth.
    """

    def __init__(self, page: Page, room: Polygon, kept: Sequence[BaseGeometry] = ()) -> None:
        self._page, self._room = page, room
        self._kept = shapely.union_all([shapely.make_valid(shape) for shape in kept])
        shapely.prepare(self._kept)
        shapely.prepare(self._room)
        self.taken: list[Polygon] = []
        self._bounds: NDArray[np.float64] = np.empty((0, 4))

    def free(self, box: Polygon) -> bool:
        return bool(self._room.covers(box)) and not self._meets(box)

    def take(self, box: Polygon) -> None:
        """Keep what follows off a box that is written in by other means."""
        self.taken.append(box)
        self._bounds = np.vstack([self._bounds, box.bounds])

    def _meets(self, shape: BaseGeometry) -> bool:
        """Whether it touches anything that is written."""
        left, bottom, right, top = shape.bounds
        boxes = self._bounds
        near = (boxes[:, 0] <= right) & (boxes[:, 2] >= left) & (boxes[:, 1] <= top) & (boxes[:, 3] >= bottom)
        return any(shape.intersects(self.taken[index]) for index in np.flatnonzero(near))

    def place(
        self,
        shape: Polygon,
        choices: Sequence[tuple[str, ...]],
        *,
        sizes: Sequence[float] = (9, 8, 7, 6),
        outside: Sequence[tuple[str, ...]] = (),
    ) -> tuple[Label, LineString | None] | None:
        """Find and take a place for the fullest of the choices. None where the page is full.

        outside: what to write beside the shape, at the end of a leader line; else the last of the choices.
        """
        inside = fit_label(self._page, shape, choices, sizes=sizes)
        for label in (inside, *self._fewer(shape, choices, sizes)) if inside.fits else ():
            if label.fits and self.free(label.box):
                self.take(label.box)
                return label, None
        size = sizes[-1]
        said = outside or choices[-1:]
        tries = [(lines, keeping) for keeping in (True, False) for lines in said]
        for lines, keeping in (*tries, (said[-1], None)):
            wide = max(text_width(line, size, bold=True) for line in lines) + _PAD
            tall = size * 1.25 * len(lines) + _PAD
            found = self._beside(shape, wide, tall, size, keeping_off=keeping)
            if found is not None:
                x, y, box, leader = found
                self.take(box)
                return Label(x, y, 0.0, size, lines, box), leader
        return None

    def spot(
        self,
        thing: BaseGeometry,
        wide: float,
        tall: float,
        places: Iterable[tuple[float, float]],
    ) -> tuple[float, float, LineString | None] | None:
        """Find and take room of so many points for what is written on a thing: the first of these places that is free,
        else one beside it, with the leader line to it. None where the page is full."""
        for x, y in places:
            box = text_box(self._page, x, y, wide, tall, 0.0)
            if self.free(box):
                self.take(box)
                return x, y, None
        for keeping in (False, None):
            found = self._beside(thing, wide, tall, 0.7 * tall, keeping_off=keeping)
            if found is not None:
                self.take(found[2])
                return found[0], found[1], found[3]
        return None

    def _fewer(
        self, shape: Polygon, choices: Sequence[tuple[str, ...]], sizes: Sequence[float]
    ) -> Iterator[Label]:
        for k in range(1, len(choices)):
            yield fit_label(self._page, shape, choices[k:], sizes=sizes[-1:])

    def _beside(
        self, shape: BaseGeometry, wide: float, tall: float, step: float, *, keeping_off: bool | None
    ) -> Found | None:
        """The nearest free box beside a shape, and the line from the one to the other.

        keeping_off: keep off the other shapes too, or off nothing but what is written; None: anywhere on the page, and
        the line may then cross what is written.
        """
        x, y = _middle(shape)
        places = self._anywhere(x, y, tall) if keeping_off is None else self._rings(x, y, step)
        for at in places:
            box = text_box(self._page, *at, wide, tall, 0.0)
            if not self.free(box) or box.intersects(shape):
                continue
            if keeping_off and self._kept.intersects(box):
                continue
            leader = LineString([_end_in(shape, box, (x, y)), nearest_points(shape, box)[1]])
            if keeping_off is not None and self._meets(leader):
                continue
            return *at, box, leader
        return None

    def _rings(self, x: float, y: float, step: float) -> Iterator[tuple[float, float]]:
        step /= self._page.points_per_unit
        for ring in range(1, _RINGS):
            for k in range(_DIRECTIONS):
                turn = 2 * math.pi * k / _DIRECTIONS
                yield x + ring * step * math.cos(turn), y + ring * step * math.sin(turn)

    def _anywhere(self, x: float, y: float, tall: float) -> Iterator[tuple[float, float]]:
        """All over the page, the nearest first."""
        left, bottom, right, top = self._room.bounds
        step = _GRID * tall / self._page.points_per_unit
        grid = np.stack(np.meshgrid(np.arange(left, right, step), np.arange(bottom, top, step)), axis=-1)
        points = grid.reshape(-1, 2)
        for k in np.argsort(np.hypot(*(points - (x, y)).T), kind="stable"):
            yield float(points[k, 0]), float(points[k, 1])

    def write(
        self, page: Page, shape: Polygon, choices: Sequence[tuple[str, ...]], *,
        sizes: Sequence[float] = (9, 8, 7, 6), outside: Sequence[tuple[str, ...]] = (), colour: str = INK,
    ) -> Label | None:  # fmt: skip
        """Place a label and draw it with its leader line. Returns it; None where it had no place at all."""
        found = self.place(shape, choices, sizes=sizes, outside=outside)
        if found is None:
            return None
        label, leader = found
        self.lead(page, leader, colour)
        draw_label(page, label, colour=colour)
        return label

    def lead(self, page: Page, leader: LineString | None, colour: str) -> None:
        """Draw a leader line, where it is long enough to say something."""
        if leader is None or leader.length * self._page.points_per_unit <= _LEADER:
            return
        stroke(page, leader, colour, 0.8, zorder=19)
        dot = shapely.Point(leader.coords[0]).buffer(_DOT / self._page.points_per_unit)
        fill(page, dot, facecolor=colour, zorder=19)


def _end_in(shape: BaseGeometry, box: Polygon, middle: tuple[float, float]) -> tuple[float, float]:
    """Where a leader line ends: well inside an area, so that it is plain which is meant; on a line at its nearest."""
    if shape.area > 0:
        return middle
    near = nearest_points(shape, box)[0]
    return float(near.x), float(near.y)


def _middle(shape: BaseGeometry) -> tuple[float, float]:
    if isinstance(shape, Polygon):
        return middle_of(shape)
    point = shape.representative_point()
    return float(point.x), float(point.y)

"""Where names go on a plan or a photograph: inside what they name, else beside it at the end of a leader line.

No two of them overlap: each box that is written in is remembered, and the next one keeps off it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from salvage.report.pen.draw import (
    Label,
    Page,
    draw_label,
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


class Labels:
    """The labels of one page. room: what of the page may be written on, page units.

    kept: shapes that a name beside its own shape rather keeps off, such as other panels, or the cloth.
    """

    def __init__(self, page: Page, room: Polygon, kept: Sequence[BaseGeometry] = ()) -> None:
        self._page, self._room = page, room
        self._kept = shapely.union_all([shapely.make_valid(shape) for shape in kept])
        shapely.prepare(self._kept)
        self.taken: list[Polygon] = []

    def free(self, box: Polygon) -> bool:
        return bool(self._room.covers(box)) and not any(box.intersects(other) for other in self.taken)

    def take(self, box: Polygon) -> None:
        """Keep what follows off a box that is written in by other means."""
        self.taken.append(box)

    def place(
        self,
        shape: Polygon,
        choices: Sequence[tuple[str, ...]],
        *,
        sizes: Sequence[float] = (9, 8, 7, 6),
        outside: Sequence[tuple[str, ...]] = (),
    ) -> tuple[Label, LineString | None] | None:
        """Find and take a place for the fullest of the choices. None where there is none near.

        outside: what to write beside the shape, at the end of a leader line; else the last of the choices.
        """
        inside = fit_label(self._page, shape, choices, sizes=sizes)
        for label in (inside, *self._fewer(shape, choices, sizes)) if inside.fits else ():
            if label.fits and self.free(label.box):
                self.take(label.box)
                return label, None
        size = sizes[-1]
        for keeping_off in (True, False):
            for lines in outside or choices[-1:]:
                found = self._beside(shape, lines, size, keeping_off=keeping_off)
                if found is not None:
                    self.take(found[0].box)
                    return found
        return None

    def _fewer(
        self, shape: Polygon, choices: Sequence[tuple[str, ...]], sizes: Sequence[float]
    ) -> Iterator[Label]:
        for k in range(1, len(choices)):
            yield fit_label(self._page, shape, choices[k:], sizes=sizes[-1:])

    def _beside(
        self, shape: Polygon, lines: tuple[str, ...], size: float, *, keeping_off: bool
    ) -> tuple[Label, LineString] | None:
        x, y = middle_of(shape)
        wide = max(text_width(line, size, bold=True) for line in lines) + _PAD
        tall = size * 1.25 * len(lines) + _PAD
        step = size / self._page.points_per_unit
        for ring in range(1, _RINGS):
            for k in range(_DIRECTIONS):
                turn = 2 * math.pi * k / _DIRECTIONS
                at = x + ring * step * math.cos(turn), y + ring * step * math.sin(turn)
                box = text_box(self._page, *at, wide, tall, 0.0)
                if box.intersects(shape) or not self.free(box):
                    continue
                if keeping_off and self._kept.intersects(box):
                    continue
                start, end = nearest_points(shape, box)
                leader = LineString([start, end])
                if any(leader.intersects(other) for other in self.taken):
                    continue
                return Label(*at, 0.0, size, lines, box), leader
        return None

    def write(
        self, page: Page, shape: Polygon, choices: Sequence[tuple[str, ...]], *,
        sizes: Sequence[float] = (9, 8, 7, 6), outside: Sequence[tuple[str, ...]] = (), colour: str = INK,
    ) -> Label | None:  # fmt: skip
        """Place a label and draw it with its leader line. Returns it; None where it had no place at all."""
        found = self.place(shape, choices, sizes=sizes, outside=outside)
        if found is None:
            return None
        label, leader = found
        if leader is not None and leader.length > 0:
            stroke(page, leader, colour, 0.8, zorder=19)
        draw_label(page, label, colour=colour)
        return label

"""The numbers of what is in the way, on the picture: each on its thing, else beside it with a line that leads there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import BlockedKind, Piece, Question
from salvage.report.drawing.ground import ToPage
from salvage.report.pen.draw import Page, text_width, write
from salvage.report.pen.labels import Labels
from salvage.report.pen.palette import ATTENTION, BLOCKED_LOOK
from salvage.shapes import lines_of, polygons_of

_SIZE, _QUESTION_SIZE, _PAD = 5.5, 7.5, 0.8  # points
_ALONG = (0.5, 0.38, 0.62, 0.26, 0.74, 0.15, 0.85, 0.05, 0.95)  # of a line, in this order


def draw_numbers(
    page: Page,
    pieces: Sequence[Piece],
    questions: Sequence[Question],
    to_page: ToPage,
    labels: Labels,
) -> None:
    """Write the number of each question (Q1) and of each blocked area of these pieces. labels: what is written already."""
    for question in questions:
        text = f"Q{question.number}?"
        _write_free(page, text, _QUESTION_SIZE, to_page(question.shape), labels, ATTENTION, 22.0)
    things = _things(pieces)
    for number in sorted(things, key=lambda n: (things[n][1].area > 0, -things[n][1].length)):
        kind, shape = things[number]
        _write_free(page, str(number), _SIZE, to_page(shape), labels, BLOCKED_LOOK[kind].colour, 21.0)


def _write_free(
    page: Page,
    text: str,
    size: float,
    shape: BaseGeometry,
    labels: Labels,
    colour: str,
    zorder: float,
) -> None:
    """Write on a thing, or beside it, where nothing is written yet."""
    if shape.is_empty:
        return
    wide, tall = text_width(text, size, bold=True) + 2 * _PAD, size + 2 * _PAD
    places = _places(shape, wide / page.points_per_unit, tall / page.points_per_unit)
    found = labels.spot(shape, wide, tall, places)
    if found is None:
        return
    x, y, leader = found
    labels.lead(page, leader, colour)
    write(page, x, y, text, size, color=colour, bold=True, va="center_baseline", zorder=zorder)


def _things(pieces: Sequence[Piece]) -> dict[int, tuple[BlockedKind, BaseGeometry]]:
    """By its number, each thing over all pieces."""
    found: dict[int, tuple[BlockedKind, list[BaseGeometry]]] = {}
    for piece in pieces:
        for each in piece.blocked:
            if each.number:
                found.setdefault(each.number, (each.kind, []))[1].append(each.shape)
    return {number: (kind, shapely.union_all(shapes)) for number, (kind, shapes) in found.items()}


def _places(shape: BaseGeometry, wide: float, tall: float) -> Iterator[tuple[float, float]]:
    """Where the number may stand, the best place first: on a line, in an area or else beside it."""
    for area in polygons_of(shape)[:1]:
        middle = area.centroid if area.contains(area.centroid) else area.representative_point()
        left, bottom, right, top = area.bounds
        if right - left > 1.2 * wide and top - bottom > 1.2 * tall:
            yield middle.x, middle.y
        yield right + wide / 2, middle.y
        yield left - wide / 2, middle.y
        yield middle.x, top + tall / 2
        yield middle.x, bottom - tall / 2
        yield middle.x, middle.y
    runs = lines_of(shapely.line_merge(shapely.union_all(lines_of(shape))))
    for line in sorted(runs, key=lambda each: -each.length)[:2]:
        for share in _ALONG:
            point = line.interpolate(share, normalized=True)
            yield point.x, point.y

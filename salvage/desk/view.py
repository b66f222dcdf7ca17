"""A garment's record as the page draws it: everything in the pixels of its photographs, and in words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from salvage.cloth.doubts import mark_of
from salvage.cloth.garment import BlockedKind, Garment, Piece, Question
from salvage.cloth.usable import usable
from salvage.desk.edit.marks import PIECE, marks
from salvage.errors import SalvageError
from salvage.rail.note import used_of
from salvage.report.records import plane_of
from salvage.report.say.words import BLOCKED_WORDS
from salvage.same import Same
from salvage.scale.plane import Plane
from salvage.shapes import lines_of, polygons_of
from salvage.units import Unit, format_area, format_size

Point = tuple[float, float]
ToPx = Callable[[NDArray[np.float64]], NDArray[np.float64]]
Ring = list[list[float]]

# What a question asks of somebody with the record's file, as it is done on the page.
_SET_GRAIN = ("set grain in the record", "draw it with “Grain”")
_ARROW_SHARE = 0.55  # of the circle that fits into a piece: half the length of its grain arrow
_STEP = 25.0  # mm; lines are broken into runs this long so that they bend with the lens
_AROUND = 40.0  # mm of plain ground round pieces that have no photograph
FINEST = 0.4  # mm; usable cloth is drawn, not reckoned with, no finer than this


def garment_view(garment: Garment, unit: Unit) -> dict[str, Any]:
    """Pieces, marks and questions of a garment, by photograph. Coordinates: pixels (column, row) of the upright one.

    Pieces without a photograph lie on a plain ground of their own, a pixel a millimetre, under the name ""; its origin is
    the place of its pixel (0, 0) in mm.
    """
    grounds = _Grounds(garment)
    return {
        "name": garment.name,
        "kind": garment.kind,
        "used": used.words if (used := used_of(garment)) is not None else "",
        "photos": grounds.told(),
        "pieces": [
            grounds.piece(piece, unit) | {"index": number} for number, piece in enumerate(garment.pieces)
        ],
        "marks": _marks(garment, grounds),
        "questions": [told for each in garment.questions if (told := _question(each, grounds)) is not None],
        "removed": [
            {
                "number": number,
                "name": piece.name,
                **_where(piece),
                "rings": _rings(piece.outline, grounds.to_px(piece)),
            }
            for number, piece in enumerate(garment.removed)
        ],
        "cautions": list(garment.cautions),
        "warnings": list(garment.warnings),
        "usable": format_area(sum(usable(each).area * each.layers for each in garment.pieces), unit),
    }


class _Grounds:
    """How the mm of each piece become pixels of its photograph."""

    def __init__(self, garment: Garment) -> None:
        self.planes: dict[str, Plane] = {}
        self.damaged: dict[str, str] = {}
        for piece in garment.pieces:
            if piece.photo is not None and piece.photo.file not in self.planes:
                try:
                    self.planes[piece.photo.file] = plane_of(piece)
                except SalvageError as error:
                    self.damaged[piece.photo.file] = str(error)
        bare = [piece.outline for piece in garment.pieces if not self._file(piece)]
        self.bounds = shapely.union_all(bare).bounds if bare else None

    def _file(self, piece: Piece) -> str:
        file = piece.photo.file if piece.photo is not None else ""
        return file if file in self.planes else ""

    def to_px(self, piece: Piece) -> ToPx:
        return self.of(self._file(piece))

    def of(self, file: str) -> ToPx:
        plane = self.planes.get(file)
        if plane is not None:
            return plane.to_px
        low_x, _, _, high_y = self.bounds or (0.0, 0.0, 0.0, 0.0)
        return lambda points: np.column_stack(
            [points[:, 0] - low_x + _AROUND, high_y - points[:, 1] + _AROUND]
        )

    def piece(self, piece: Piece, unit: Unit) -> dict[str, Any]:
        """A piece in its pixels and in words."""
        plane = self.planes.get(self._file(piece))
        if plane is not None:
            return _photographed(Same(piece), Same(plane), unit)
        return _piece(piece, self.of(""), unit)

    def mark(self, file: str, shape: BaseGeometry, at: Point) -> dict[str, Any]:
        """A shape with the place of its number, in pixels."""
        plane = self.planes.get(file)
        return _mark(shape, at, self.of("")) if plane is None else _mark_seen(shape, at, Same(plane))

    def told(self) -> list[dict[str, Any]]:
        photos: list[dict[str, Any]] = [
            {"file": file, "size_px": list(plane.size_px), "mm_per_px": round(plane.mm_per_px, 4)}
            for file, plane in self.planes.items()
        ]
        if self.bounds is not None:
            low_x, low_y, high_x, high_y = self.bounds
            size = [math.ceil(high_x - low_x + 2 * _AROUND), math.ceil(high_y - low_y + 2 * _AROUND)]
            photos.append(
                {
                    "file": "", "size_px": size, "mm_per_px": 1.0, "why": list(self.damaged.values()),
                    "origin": [low_x - _AROUND, high_y + _AROUND],
                }
            )  # fmt: skip
        return photos


@lru_cache(maxsize=128)  # after an edit all but a few are as they were
def _photographed(piece: Same[Piece], plane: Same[Plane], unit: Unit) -> dict[str, Any]:
    return _piece(piece.thing, plane.thing.to_px, unit)


@lru_cache(maxsize=1024)
def _mark_seen(shape: BaseGeometry, at: Point, plane: Same[Plane]) -> dict[str, Any]:
    return _mark(shape, at, plane.thing.to_px)


def _mark(shape: BaseGeometry, at: Point, to_px: ToPx) -> dict[str, Any]:
    return {"at_px": _pair(to_px(np.array([at]))[0]), **shape_px(shape, to_px)}


def _piece(piece: Piece, to_px: ToPx, unit: Unit) -> dict[str, Any]:
    sound = usable(piece)
    circle = shapely.maximum_inscribed_circle(
        polygons_of(sound)[0] if polygons_of(sound) else piece.outline, tolerance=2.0
    )
    x, y = circle.coords[0]
    reach = max(10.0, circle.length * _ARROW_SHARE)
    dx, dy = reach * math.cos(math.radians(piece.grain)), reach * math.sin(math.radians(piece.grain))
    ends = to_px(np.array([[x, y], [x - dx, y - dy], [x + dx, y + dy]]))
    low_x, low_y, high_x, high_y = piece.outline.bounds
    return {
        "number": piece.number,
        "name": piece.name,
        "fabric": piece.fabric,
        "layers": piece.layers,
        "one_way": piece.one_way,
        "grain": round(piece.grain, 1),
        **_where(piece),
        "rings": _rings(piece.outline, to_px),
        "usable": [ring for each in polygons_of(sound.simplify(FINEST)) for ring in _rings(each, to_px)],
        "label_px": _pair(ends[0]),
        "grain_px": [_pair(ends[1]), _pair(ends[2])],
        "room_px": round(float(np.hypot(*(ends[2] - ends[1]))), 1),
        "size": format_size((high_x - low_x, high_y - low_y), unit),
        "usable_said": format_area(sound.area * piece.layers, unit),
        "by_person": list(piece.by_person),
        "usable_drawn": piece.usable is not None,
    }


def _where(piece: Piece) -> dict[str, Any]:
    return {"photo": piece.photo.file if piece.photo is not None else ""}


def _marks(garment: Garment, grounds: _Grounds) -> list[dict[str, Any]]:
    """Everything with a number but the pieces, which carry theirs themselves."""
    return [
        {
            "number": mark.number,
            "pieces": sorted({piece for piece, _ in mark.places}),
            "kind": mark.kind,
            "word": BLOCKED_WORDS[BlockedKind(mark.kind)],
            "what": mark.what,
            "found_by": mark.found_by,
            "confidence": round(mark.confidence, 2),
            "photo": mark.photo if mark.photo in grounds.planes else "",
            **grounds.mark(mark.photo, mark.shape, mark.at),
        }
        for mark in marks(garment)
        if mark.kind != PIECE
    ]


def _question(question: Question, grounds: _Grounds) -> dict[str, Any] | None:
    if question.photo and question.photo not in grounds.planes:
        return None
    return {
        "number": question.number,
        "text": question.text.replace(*_SET_GRAIN),
        "answer": str(question.answer),
        "confidence": round(question.confidence, 2),
        "photo": question.photo,
        **grounds.mark(question.photo, question.shape, mark_of(question)),
    }


def shape_px(shape: BaseGeometry, to_px: ToPx) -> dict[str, Any]:
    """The areas (rings) and lines of a shape, in pixels."""
    return {
        "rings": [ring for each in polygons_of(shape) for ring in _rings(each, to_px)],
        "lines": [_points(shapely.segmentize(each, _STEP).coords, to_px) for each in lines_of(shape)],
    }


def _rings(polygon: BaseGeometry, to_px: ToPx) -> list[Ring]:
    """Every ring of the areas of a shape, first point not repeated, the outer one first."""
    return [
        _points(ring.coords, to_px)[:-1]
        for each in polygons_of(polygon)
        for ring in (each.exterior, *each.interiors)
    ]


def _points(coords: Iterable[Any], to_px: ToPx) -> Ring:
    places = to_px(np.asarray(list(coords), dtype=float)[:, :2])
    return [_pair(each) for each in places]


def _pair(point: NDArray[np.float64]) -> list[float]:
    return [round(float(point[0]), 2), round(float(point[1]), 2)]

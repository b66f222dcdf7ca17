"""Everything on the picture that has a number, in one list: pieces, and what is in the way on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.record.numbers import key_of, numbered
from salvage.desk.edit.frames import Frame, frames
from salvage.errors import UsageError
from salvage.shapes import lines_of, polygons_of

PIECE = "piece"


@dataclass(frozen=True, slots=True)
class Mark:
    """A thing with a number.

    places: where it stands in the record, (piece, blocked area); a piece has one, with None for its area.
    kind: "piece" or a BlockedKind. what: a piece's name, or what exactly is in the way. photo: its file, "" for cloth
    typed in. shape: mm on the plane; at: where its number stands there. frame: the photograph's, None without one.
    """

    number: int
    places: tuple[tuple[int, int | None], ...]
    kind: str
    what: str
    found_by: str
    confidence: float
    photo: str
    shape: BaseGeometry
    at: tuple[float, float]
    frame: Frame | None = field(default=None, compare=False)

    @property
    def at_px(self) -> tuple[float, float] | None:
        """Where its number stands in the photograph, pixels."""
        return None if self.frame is None else self.frame.point_px(self.at)

    @property
    def piece(self) -> int:
        """Index of the (first) piece it is or lies on."""
        return self.places[0][0]

    @property
    def blocked(self) -> int | None:
        """Index of the blocked area there; None for a piece."""
        return self.places[0][1]


def marks(garment: Garment) -> tuple[Mark, ...]:
    """All marks of a garment, by number. A thing that lies on several pieces, or in several parts, is one mark."""
    garment = numbered(garment)
    planes = frames(garment)
    found: list[Mark] = []
    groups: dict[tuple[str, ...], list[tuple[int, int]]] = {}
    for index, piece in enumerate(garment.pieces):
        found.append(_of_piece(index, piece, planes.get(_file(piece))))
        for number, each in enumerate(piece.blocked):
            if each.shape.is_empty:  # too small a scrap to have been written
                continue
            groups.setdefault(key_of(piece, each), []).append((index, number))
    for places in groups.values():
        found.append(_of_thing(garment, places, planes))
    return tuple(sorted(found, key=lambda each: each.number))


def mark_numbered(garment: Garment, number: int) -> Mark:
    """The mark of that number. Raises UsageError where there is none."""
    found = next((each for each in marks(garment) if each.number == number), None)
    if found is None:
        raise UsageError(
            f"there is no mark {number} on {garment.name}. Look at the numbers in the marked picture."
        )
    return found


def _of_piece(index: int, piece: Piece, frame: Frame | None) -> Mark:
    return Mark(
        number=piece.number,
        places=((index, None),),
        kind=PIECE,
        what=piece.name,
        found_by="person" if "outline" in piece.by_person or piece.photo is None else "photo",
        confidence=piece.confidence,
        photo=_file(piece),
        shape=piece.outline,
        at=label_point(piece.outline),
        frame=frame,
    )


def _of_thing(garment: Garment, places: Sequence[tuple[int, int]], planes: dict[str, Frame]) -> Mark:
    piece = garment.pieces[places[0][0]]
    areas = [garment.pieces[p].blocked[b] for p, b in places]
    shape, at = _whole_and_label(tuple(each.shape for each in areas))
    first = areas[0]
    return Mark(
        number=first.number,
        places=tuple(places),
        kind=str(first.kind),
        what=first.what or str(first.kind),
        found_by=str(first.found_by),
        confidence=first.confidence,
        photo=_file(piece),
        shape=shape,
        at=at,
        frame=planes.get(_file(piece)),
    )


@lru_cache(maxsize=1024)  # after an edit all but a few are as they were
def _whole_and_label(shapes: tuple[BaseGeometry, ...]) -> tuple[BaseGeometry, tuple[float, float]]:
    shape = whole(shapes)
    return shape, label_point(shape)


def whole(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """One thing of its parts; lines that go on in each other are one line."""
    union = shapely.union_all(list(shapes))
    return shapely.line_merge(union) if union.geom_type == "MultiLineString" else union


def label_point(shape: BaseGeometry) -> tuple[float, float]:
    """A point on the thing itself: halfway along its longest line, or well inside its largest area."""
    areas = polygons_of(shape)
    if areas:
        inside: Polygon = areas[0]
        point = inside.centroid
        if not inside.contains(point):
            point = inside.representative_point()
        return float(point.x), float(point.y)
    lines = lines_of(shape)
    if lines:
        longest: LineString = max(lines, key=lambda each: each.length)
        point = longest.interpolate(0.5, normalized=True)
        return float(point.x), float(point.y)
    x, y = np.asarray(shapely.get_coordinates(shape))[0]
    return float(x), float(y)


def _file(piece: Piece) -> str:
    return "" if piece.photo is None else piece.photo.file

"""What an action says: its fields, read and checked, in words for a person where they are wrong."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment
from salvage.desk.edit.frames import Frame, frame_named
from salvage.desk.edit.marks import Mark, mark_numbered
from salvage.errors import UsageError, shown
from salvage.shapes import polygons_of

Action = Mapping[str, Any]

MOST_POINTS = 20_000
_LEAST_AREA, _LEAST_LENGTH = 1.0, 1.0  # mm^2 and mm; less is a slip of the hand
_FARTHEST = 3.0  # times the picture's size that a point may lie from its corner


@dataclass(frozen=True, slots=True)
class Said:
    """An action's fields, read and checked."""

    garment: Garment
    action: Action

    @property
    def do(self) -> str:
        return str(self.action["do"])

    def text(self, key: str) -> str:
        value = self.action.get(key, "")
        if not isinstance(value, str) or len(value) > 200:
            raise UsageError(f"{key} is a text of 200 letters at most.")
        return value.strip()

    def number(self, key: str) -> float:
        value = self.action.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise UsageError(f"{key} is a number; {shown(value)!r} is none.")
        return float(value)

    def count(self, key: str) -> int:
        value = self.action.get(key)
        if isinstance(value, bool) or not isinstance(value, int):
            raise UsageError(f"{key} is a whole number; {shown(value)!r} is none.")
        return value

    def mark(self) -> Mark:
        return mark_numbered(self.garment, self.count("mark"))

    def piece(self) -> int:
        return piece_told(self.garment, self.action.get("piece"))

    def frame(self) -> Frame | None:
        """The photograph that is drawn on; None where mm of a plane are told."""
        if "mm" in self.action:
            return None
        file = self.action.get("photo")
        if file is None and "piece" in self.action:
            photo = self.garment.pieces[self.piece()].photo
            file = None if photo is None else photo.file
        if file is None and "mark" in self.action:
            file = self.mark().photo or None
        return frame_named(self.garment, file)

    def beside(self) -> list[int]:
        """The pieces that lie on the plane that is drawn on."""
        frame = self.frame()
        if frame is not None:
            return list(frame.pieces)
        if "piece" not in self.action:
            raise UsageError("mm are of the plane of a piece: say which in 'piece'.")
        shot = self.garment.pieces[self.piece()].photo
        if shot is None:
            return [self.piece()]
        return [
            n for n, each in enumerate(self.garment.pieces) if each.photo and each.photo.file == shot.file
        ]

    def points(self, least: int, what: str) -> list[tuple[float, float]]:
        """Of "px" or "mm", as they were told."""
        value = self.action.get("px", self.action.get("mm"))
        if isinstance(value, Sequence) and len(value) == 2 and all(isinstance(v, int | float) for v in value):
            value = [value]
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise UsageError(f"{what} is a list of points [[x, y], ...].")
        if not least <= len(value) <= MOST_POINTS:
            raise UsageError(f"{what} needs {least} points or more; {len(value)} are told.")
        found = [_point(each) for each in value]
        frame = self.frame()
        if frame is not None:
            width, height = frame.size_px
            for x, y in found:
                if not (abs(x) <= _FARTHEST * width and abs(y) <= _FARTHEST * height):
                    raise UsageError(
                        f"{x:g},{y:g} lies far outside {frame.file}, which is {width} x {height} pixels. Pixels count "
                        "from the top left of the upright picture."
                    )
        return found

    def on_plane(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape as it was told, in mm of the plane."""
        frame = self.frame()
        return shape if frame is None else frame.shape_mm(shape)

    def line(self) -> LineString:
        shape = self.on_plane(stroke(self.points(2, "a line")))
        if shape.length < _LEAST_LENGTH:
            raise UsageError("that line has no length. Draw it from one place to another.")
        assert isinstance(shape, LineString)
        return shape

    def area(self) -> Polygon | MultiPolygon:
        """A ring, or a stroke of a brush of so many pixels (mm, where the points are), as an area of the plane."""
        if "brush" in self.action:
            radius = self.number("brush")
            if radius <= 0:
                raise UsageError("the brush's radius is more than 0.")
            drawn = stroke(self.points(1, "a stroke")).buffer(radius, quad_segs=6)
        else:
            drawn = filled(self.points(3, "a ring"))
        found = polygons_of(shapely.make_valid(self.on_plane(drawn)))
        parts = [each for each in found if each.area >= _LEAST_AREA]
        if not parts:
            raise UsageError("that ring encloses nothing. Draw round the place.")
        return parts[0] if len(parts) == 1 else MultiPolygon(parts)

    def ring(self) -> Polygon:
        """A ring that may not cross itself."""
        points = self.points(3, "an outline")
        if len(set(points)) < 3:
            raise UsageError("that outline encloses nothing. Draw it round the piece.")
        drawn = self.on_plane(Polygon(points))
        if not isinstance(drawn, Polygon) or not drawn.is_valid:
            raise UsageError("that outline crosses itself. Draw it without crossing.")
        return drawn


def piece_told(garment: Garment, value: Any) -> int:
    """The index of a piece told by its index, or by its name (capitals don't matter) or its mark's number as a text.
    Raises UsageError."""
    if isinstance(value, str):
        wanted = value.strip().casefold()
        found = [n for n, each in enumerate(garment.pieces) if each.name.strip().casefold() == wanted]
        found = found or [n for n, each in enumerate(garment.pieces) if str(each.number) == wanted]
        if len(found) == 1:
            return found[0]
        names = ", ".join(each.name for each in garment.pieces)
        raise UsageError(f"there is no piece called {shown(value)!r}; {garment.name} has {names}.")
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < len(garment.pieces):
        raise UsageError(
            f"there is no piece {shown(value)}; {garment.name} has {len(garment.pieces)}, from 0."
        )
    return value


def _point(value: Any) -> tuple[float, float]:
    numbers = value if isinstance(value, Sequence) and not isinstance(value, str) else ()
    if len(numbers) != 2 or any(
        isinstance(v, bool) or not isinstance(v, int | float) or not math.isfinite(v) for v in numbers
    ):
        raise UsageError(f"{shown(value)} is no point. Write [x, y].")
    return float(numbers[0]), float(numbers[1])


def stroke(points: Sequence[tuple[float, float]]) -> LineString | Point:
    once = [p for n, p in enumerate(points) if n == 0 or p != points[n - 1]]
    return LineString(once) if len(once) > 1 else Point(once[0])


def filled(points: Sequence[tuple[float, float]]) -> BaseGeometry:
    """All that a hand-drawn ring goes round, where it crosses itself too: what is in the way may only be more."""
    if len(set(points)) < 3:
        raise UsageError("that ring encloses nothing. Draw round the place.")
    ring = shapely.union_all(LineString([*points, points[0]]))
    faces = list(shapely.polygonize([ring]).geoms)
    if not faces:
        raise UsageError("that ring encloses nothing. Draw round the place.")
    return shapely.union_all([Polygon(each.exterior) for each in faces])

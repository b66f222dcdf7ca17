"""The photographs of a garment as frames to draw in: pixels of the upright picture to mm of the plane, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.errors import SalvageError, UsageError
from salvage.report import records
from salvage.scale.plane import Plane

_STEP = 20.0  # mm; a line is broken into runs this long, so that it bends with the lens
_STEP_PX = 40.0
_PLAIN = 0.02  # mm; points that lie so near a straight line of the plane are left out again


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """file: of the photograph, as the record names it. pieces: indices of the pieces in it."""

    file: str
    plane: Plane
    pieces: tuple[int, ...]

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the picture."""
        return self.plane.size_px

    def shape_px(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the plane, mm, in pixels."""
        return shapely.transform(shapely.segmentize(shape, _STEP), self.plane.to_px)

    def shape_mm(self, shape_px: BaseGeometry) -> BaseGeometry:
        """A shape drawn on the picture on the plane, mm. Raises UsageError above the horizon."""
        moved = shapely.transform(shapely.segmentize(shape_px, _STEP_PX), self.plane.to_mm)
        if not np.isfinite(shapely.get_coordinates(moved)).all():
            raise UsageError("a point lies above the horizon of the picture, where there is no floor.")
        return moved.simplify(_PLAIN)

    def point_px(self, at: tuple[float, float]) -> tuple[float, float]:
        """A point of the plane, mm, in pixels."""
        x, y = self.plane.to_px([at])[0]
        return float(x), float(y)

    def points_mm(self, points_px: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
        """(n, 2) pixels on the plane, mm."""
        return np.asarray(shapely.get_coordinates(self.shape_mm(shapely.MultiPoint(list(points_px)))))


def frames(garment: Garment) -> dict[str, Frame]:
    """By its file, each photograph of the garment whose camera the record holds."""
    found: dict[str, Frame] = {}
    for file in dict.fromkeys(each.photo.file for each in garment.pieces if each.photo is not None):
        here = [
            n for n, each in enumerate(garment.pieces) if each.photo is not None and each.photo.file == file
        ]
        planes = (plane_of(garment.pieces[n]) for n in here)
        plane = next((each for each in planes if each is not None), None)
        if plane is not None:
            found[file] = Frame(file, plane, tuple(here))
    return found


def frame_named(garment: Garment, file: str | None) -> Frame:
    """The frame of a photograph; None: of the only one. Raises UsageError where it isn't plain, or not there."""
    found = frames(garment)
    if file is None and len(found) == 1:
        return next(iter(found.values()))
    if file is not None:
        ending = [each for name, each in found.items() if name == file or name.rsplit("/", 1)[-1] == file]
        if len(ending) == 1:
            return ending[0]
    names = ", ".join(found) or "none whose camera it knows"
    told = "names no photograph" if file is None else f"has no photograph {file}"
    raise UsageError(f"that {told}; {garment.name} has {names}. Say which one it is drawn on.")


def plane_of(piece: Piece) -> Plane | None:
    """The plane on which a piece was photographed, as the record has it; None where it has none that can be read."""
    if piece.photo is None or not piece.photo.camera or not piece.photo.mm_to_pixel:
        return None
    try:
        return records.plane_of(piece)
    except SalvageError:
        return None

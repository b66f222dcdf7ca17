"""What lies inside the outline: the cloth's pieces, and what of them is blocked.

find_pieces is the order of the work: lay the photograph flat, look at it, find seams, closures,
pockets and worn places, let the cloth fall into pieces along its seams.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from salvage.cloth.flat import ToPixels, flatten
from salvage.cloth.garment import Blocked, BlockedKind, Piece, PlusMinus
from salvage.cloth.outline import Outline
from salvage.cloth.usable import polygons_of
from salvage.cloth.worn import odd_places
from salvage.photo.photo import Photo
from salvage.trade.kinds import kind_named
from salvage.trade.margins import MARGIN

STEP = 1.0  # mm between pixels of the flat picture: a topstitch is about one wide
_SMALLEST_CLOTH = 2500.0  # mm^2; less than 5 x 5 cm is no piece
_SIMPLER = 0.4  # mm, outlines are thinned out by this


class CameraPlane(ToPixels, Protocol):
    """What this room needs of a Plane."""

    def to_mm(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]: ...


@dataclass(frozen=True, slots=True)
class Inside:
    """What was found. kind: of cloth, told or found, "" if neither."""

    pieces: tuple[Piece, ...]
    cautions: tuple[str, ...] = ()
    kind: str = ""
    confidence: float = 1.0


def find_pieces(
    photo: Photo,
    plane: CameraPlane,
    outline: Outline,
    *,
    kind: str = "",
    fabric: str = "shell",
    layers: int = 1,
) -> Inside:
    """The pieces of cloth in a photograph, with what is blocked on each.

    plane: the cloth's plane. outline: of the cloth, in pixels. kind: of cloth, where told.
    layers: equal layers lying there that can all be cut. Raises UsageError for an unknown kind.
    """
    cloth_kind = kind_named(kind)
    pieces: list[Piece] = []
    for number, cloth in enumerate(_on_plane(outline.shape_px, plane), 1):
        flat = flatten(photo.pixels, plane, cloth, STEP)
        worn = odd_places(flat)
        edge = Blocked(
            BlockedKind.HEM,
            cloth.boundary,
            MARGIN[BlockedKind.HEM] + cloth_kind.extra_margin,
            what="edge of the cloth",
            confidence=0.5,
        )
        blocked = (edge, *worn)
        pieces.append(
            Piece(
                name=f"piece {number}",
                outline=cloth,
                fabric=fabric,
                layers=layers,
                blocked=blocked,
                one_way=cloth_kind.one_way,
                plus_minus=PlusMinus(getattr(plane, "plus_minus_percent", 0.0), 0.0),
                confidence=outline.confidence,
            )
        )
    return Inside(tuple(pieces), cloth_kind.cautions, kind, outline.confidence)


def _on_plane(shape_px: MultiPolygon, plane: CameraPlane) -> list[Polygon]:
    """The outline's polygons in mm, largest first, mended where they cross themselves."""
    found: list[Polygon] = []
    for polygon in shape_px.geoms:
        rings = [plane.to_mm(np.asarray(r.coords)[:, :2]) for r in (polygon.exterior, *polygon.interiors)]
        cloth = Polygon(rings[0], rings[1:]).buffer(0).simplify(_SIMPLER)
        found += [each for each in polygons_of(cloth) if each.area >= _SMALLEST_CLOTH]
    return sorted(found, key=lambda each: -each.area)

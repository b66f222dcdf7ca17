"""A photograph as the ground of a drawing: reduced, cut down, with a way onto it from the cloth plane."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from PIL import Image
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Piece
from salvage.photo.photo import Photo
from salvage.report.pen.draw import PLAIN, Page, Printing, stroke, text_width, write
from salvage.report.pen.labels import Labels
from salvage.report.pen.paint import Painting
from salvage.report.pen.palette import CASING, CHALK, INK
from salvage.units import MM_PER_INCH, Unit, format_length

ACROSS_INCHES = 7.2  # a picture is drawn as if printed this wide, which fixes the size of its letters
_AROUND = 0.07  # of the garment's longer extent: floor shown around it
_FINE, _FINEST = (
    5.0,
    4,
)  # pixels to a point that are painted on at least, and how many for each one of the picture
_BAR_TEXT = 7.5  # points
_STEP = 20.0  # mm; edges are broken into runs this long so that they bend with the lens

ToPage = Callable[[BaseGeometry], BaseGeometry]


class OnPhoto(Protocol):
    """What is needed of a plane: millimetres of the cloth plane to pixels of the upright picture, and back."""

    def to_px(self, points_mm: ArrayLike) -> NDArray[np.float64]: ...

    def to_mm(self, points_px: ArrayLike) -> NDArray[np.float64]: ...


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A reduced photograph, or a part of one, as the ground of a drawing.

    shrink: page units to a photo pixel. corner_px: the photo pixel (column, row) of its top-left pixel. Photo
    pixels are those of the picture in the file.
    """

    pixels: NDArray[np.uint8]
    shrink: float
    corner_px: tuple[float, float] = (0.0, 0.0)

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])

    def from_px(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape in photo pixels, on the page: y up, and the page's origin at the lower-left corner."""
        return shapely.transform(shape, self.points)

    def points(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        scaled = (np.asarray(points_px, dtype=float) - self.corner_px + 0.5) * self.shrink
        return np.column_stack([scaled[:, 0], self.height - scaled[:, 1]])

    def to_px(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Photo pixels of points on the page."""
        flipped = np.column_stack([points[:, 0], self.height - points[:, 1]])
        return flipped / self.shrink - 0.5 + self.corner_px


def ground(photo: Photo, most_px: int, window_px: tuple[int, int, int, int] | None = None) -> Ground:
    """Reduce a photograph so that its longer side is at most most_px.

    window_px: first column, first row, end column, end row of the part to take; all of it if None. Pixels of the
    picture in the file.
    """
    left, top, right, bottom = window_px or (0, 0, *photo.full_px)
    by = photo.reduced_by
    if by != 1.0:
        left, top = (math.floor(each / by) for each in (left, top))
        right, bottom = (math.ceil(each / by) for each in (right, bottom))
    part = photo.pixels[top:bottom, left:right]
    longest = max(right - left, bottom - top)
    corner = (left * by, top * by)
    if longest <= most_px:
        return Ground(part, 1.0 / by, corner)
    shrink = most_px / longest
    size = (max(1, round((right - left) * shrink)), max(1, round((bottom - top) * shrink)))
    reduced = Image.fromarray(part).resize(size, Image.Resampling.BOX)
    return Ground(np.asarray(reduced), shrink / by, corner)


def ground_of(photo: Photo, plane: OnPhoto, pieces: Sequence[Piece], most_px: int) -> Ground:
    """The part of a photograph in which these pieces lie, with some floor around them."""
    rings = [np.asarray(piece.outline.exterior.segmentize(_STEP).coords)[:, :2] for piece in pieces]
    if not rings:
        return ground(photo, most_px)
    points = plane.to_px(np.vstack(rings))
    low, high = points.min(axis=0), points.max(axis=0)
    around = _AROUND * max(high - low)
    left, top = (max(0, int(value)) for value in low - around)
    right, bottom = (min(end, int(value + around)) for end, value in zip(photo.full_px, high, strict=True))
    if right - left < 50 or bottom - top < 50:  # the pieces lie outside this picture
        return ground(photo, most_px)
    return ground(photo, most_px, (left, top, right, bottom))


def warp(ground: Ground, plane: OnPhoto) -> ToPage:
    """A function from a shape on the cloth plane, mm, to the page."""

    def to_page(shape: BaseGeometry) -> BaseGeometry:
        fine = shapely.segmentize(shape, _STEP)
        return shapely.transform(fine, lambda points: ground.points(plane.to_px(points)))

    return to_page


@dataclass(frozen=True, slots=True, eq=False)
class Canvas:
    """A painting of a photograph, the page over it, and one for the strip below it, in points."""

    painting: Painting
    page: Page
    strip: Page


def grey_ground(ground: Ground) -> Ground:
    """The same picture without colours."""
    grey = np.asarray(Image.fromarray(ground.pixels).convert("L"))
    return replace(ground, pixels=np.dstack([grey] * 3))


def canvas(ground: Ground, strip_points: float = 0.0, printing: Printing = PLAIN) -> Canvas:
    """A painting of the picture, with a strip of so many points below it for the legend."""
    px_per_point = max(ground.width, ground.height) / ACROSS_INCHES / 72
    strip_px = round(strip_points * px_per_point)
    finer = min(_FINEST, math.ceil(_FINE / px_per_point))
    painting = Painting(ground.pixels, strip_px, finer)
    over = painting.pen(1.0, px_per_point, ground.height)
    strip = painting.pen(px_per_point, px_per_point, ground.height + strip_px)
    return Canvas(painting, printing.page(over, 1 / px_per_point, CASING), Page(strip, 1.0))


def grain_on_page(piece: Piece, near: Polygon, to_page: ToPage) -> NDArray[np.float64]:
    """The direction of the warp at a shape, as seen on the page."""
    x, y = near.centroid.coords[0]
    radians = np.radians(piece.grain)
    reach = 5.0
    line = LineString([(x, y), (x + reach * np.cos(radians), y + reach * np.sin(radians))])
    ends = np.asarray(to_page(line).coords)
    return ends[-1] - ends[0]


def scale_bar(page: Page, base: Ground, plane: OnPhoto, unit: Unit, labels: Labels | None = None) -> None:
    """A bar of round length lying on the cloth plane at the lower left of the picture. labels: kept off it."""
    per = MM_PER_INCH if unit is Unit.INCH else 1.0
    x, y = plane.to_mm(base.to_px(np.array([[0.04 * base.width, 0.045 * base.height]])))[0]
    for length in (8 * per, 4 * per, 2 * per) if unit is Unit.INCH else (200.0, 100.0, 50.0):
        stops = np.linspace(0, length, 5)
        points = base.points(plane.to_px(np.column_stack([x + stops, np.full(5, y)])))
        if np.ptp(points[:, 0]) < 0.32 * base.width:
            break
    width = 5.5
    for index in range(4):
        colour = CHALK if index % 2 == 0 else INK
        stroke(page, LineString(points[index : index + 2]), colour, width, zorder=10 + index)
    end = points[-1]
    gap = 5 / page.points_per_unit
    if labels is not None:
        wide = text_width(format_length(length, unit), _BAR_TEXT, bold=True) / page.points_per_unit
        high = 0.75 * _BAR_TEXT / page.points_per_unit
        (left, low), (right, top) = points.min(axis=0), points.max(axis=0)
        labels.take(shapely.box(left - gap, low - high, right + 2 * gap + wide, top + high))
    write(
        page,
        end[0] + gap,
        end[1],
        format_length(length, unit),
        _BAR_TEXT,
        color=CHALK,
        ha="left",
        zorder=21,
        bold=True,
    )

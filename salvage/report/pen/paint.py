"""The pen of pictures of pixels: marks are kept until all are there, and painted in their order.

Everything but letters is an area here: a line is what its width covers. OpenCV fills areas with soft edges, straight
into the picture; letters are drawn by Pillow. A photograph of 12 megapixels is so painted in a tenth of a second.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.report.pen.fonts import face, runs_of
from salvage.report.pen.hatching import DOT, RING, dashed, dots, hatching, is_dotted
from salvage.report.pen.leaf import Leaf, Pasted
from salvage.report.pen.marks import (
    ASCENT,
    NO_COLOUR,
    Area,
    Dashes,
    Mark,
    Run,
    Stroke,
    Words,
    line_start,
    rgba,
)
from salvage.shapes import polygons_of

Picture = NDArray[np.uint8]

_SOFT_PX = 0.69  # by so much OpenCV's soft edges lie outside an area
_SHIFT = 4  # bits: areas are given to OpenCV in sixteenths of a pixel
_ROUND = 3  # segments to a quarter of a circle
_HATCH_WIDTH = 1.0  # points
_MANY = 0.1  # of a part of the picture: share from which what lies over it is an area and no line
_QUALITIES = (85, 72, 58, 42)  # of JPEG, in the order in which they are tried


class PaintPen:
    """Keeps marks for a part of a picture. px_per_unit, px_per_point: sizes; low_px: pixels, from the top of the
    picture to the page's y = 0."""

    def __init__(self, px_per_unit: float, px_per_point: float, low_px: float) -> None:
        self.px_per_unit, self.px_per_point, self.low_px = px_per_unit, px_per_point, low_px
        self.marks: list[Mark] = []

    def put(self, mark: Mark) -> None:
        self.marks.append(mark)


class Painting:
    """A picture, and what pens put on it: all of the first pen lies below all of the next."""

    def __init__(self, picture: NDArray[np.uint8], below_px: int = 0, finer: int = 1) -> None:
        """picture: (h, w, 3), left as it is. below_px: rows of white paper added below it. finer: pixels painted on
        for each one across and down, for smoother lines on a small picture."""
        height, width = picture.shape[:2]
        # Four channels, since Pillow writes such a picture as it lies there: a copy takes as long as the painting.
        ground = np.full((height + below_px, width, 4), 255, np.uint8)
        cv2.cvtColor(picture, cv2.COLOR_RGB2RGBA, dst=ground[:height])
        self._finer = finer
        self._ground = (
            ground
            if finer == 1
            else np.asarray(
                cv2.resize(ground, None, fx=finer, fy=finer, interpolation=cv2.INTER_NEAREST), np.uint8
            )
        )
        self.pens: list[PaintPen] = []

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of what is painted on."""
        return self._ground.shape[1], self._ground.shape[0]

    def pen(self, px_per_unit: float, px_per_point: float, low_px: float) -> PaintPen:
        """A pen for a part of the picture; pixels are the picture's own."""
        self.pens.append(PaintPen(*(each * self._finer for each in (px_per_unit, px_per_point, low_px))))
        return self.pens[-1]

    def painted(self) -> Picture:
        """(h, w, 4), the last channel without meaning. What was put is painted once."""
        for pen in self.pens:
            for mark in sorted(pen.marks, key=lambda each: each.order):
                paint(self._ground, pen, mark)
            pen.marks.clear()
        if self._finer == 1:
            return self._ground
        by = 1 / self._finer
        return np.asarray(
            cv2.resize(self._ground, None, fx=by, fy=by, interpolation=cv2.INTER_AREA), np.uint8
        )

    def png(self) -> bytes:
        """The picture as PNG, nothing lost."""
        stream = io.BytesIO()
        Image.fromarray(np.ascontiguousarray(self.painted()[..., :3])).save(stream, "PNG")
        return stream.getvalue()

    def jpeg(self, *, most_bytes: int | None = None) -> bytes:
        """The picture as JPEG, at the best of a few qualities that is no larger than most_bytes."""
        pixels = self.painted()
        picture = Image.frombuffer("RGBX", (pixels.shape[1], pixels.shape[0]), pixels, "raw", "RGBX", 0, 1)
        data = b""
        for quality in _QUALITIES:
            stream = io.BytesIO()
            picture.save(stream, "JPEG", quality=quality)
            data = stream.getvalue()
            if most_bytes is None or len(data) <= most_bytes:
                break
        return data


def painting_of(leaf: Leaf, px_per_point: float) -> Painting:
    """A leaf that one drawing fills, as a picture on white paper, not painted yet."""
    wide, high = (round(each * px_per_point) for each in leaf.size)
    painting = Painting(np.full((high, wide, 3), 255, np.uint8))
    pen = painting.pen(px_per_point, px_per_point, high)
    for mark, _ in leaf.marks():
        assert not isinstance(mark, Pasted)
        pen.put(replace(mark, order=0.0))
    return painting


def paint(ground: Picture, pen: PaintPen, mark: Mark) -> None:
    """Paint one mark. ground: (h, w, 4), written into."""
    if isinstance(mark, Area):
        _paint_area(ground, pen, mark)
    elif isinstance(mark, Stroke):
        _paint_line(ground, pen, mark)
    else:
        _paint_words(ground, pen, mark)


def _paint_area(ground: Picture, pen: PaintPen, area: Area) -> None:
    parts = [_in_px(part, pen) for part in area.parts]
    if area.face != NO_COLOUR:
        inner = [some for part in parts for some in polygons_of(part.buffer(-_SOFT_PX))]
        _cover(ground, inner or parts, area.face, area.alpha)
    if area.edge == NO_COLOUR:
        return
    if area.hatch:
        whole = shapely.union_all([shapely.make_valid(part) for part in parts])
        if is_dotted(area.hatch):
            _cover(ground, _dots(whole, area.hatch, pen.px_per_point), area.edge, area.alpha)
        else:
            lines = hatching(whole, area.hatch, pen.px_per_point, downwards=True)
            _draw(ground, lines, area.edge, _HATCH_WIDTH * pen.px_per_point, (), area.alpha)
    if area.width > 0:
        rings = [np.asarray(ring.coords) for part in parts for ring in (part.exterior, *part.interiors)]
        _draw(ground, rings, area.edge, area.width * pen.px_per_point, area.dashes, area.alpha)


def _dots(shape: BaseGeometry, hatch: str, px_per_point: float) -> list[Polygon]:
    """The dots or rings of a hatching whose middle lies within a shape, pixels."""
    middles = dots(shape, px_per_point)
    if hatch[0] == ".":
        return polygons_of(middles.buffer(DOT * px_per_point, quad_segs=2))
    return polygons_of(middles.buffer(RING * px_per_point).boundary.buffer(_HATCH_WIDTH * px_per_point / 2))


def _paint_line(ground: Picture, pen: PaintPen, line: Stroke) -> None:
    runs = [_points_px(run, pen) for run in line.runs]
    # Dashes are cut once, by the line's own width, so that each lies in the middle of its casing.
    width = line.width * pen.px_per_point
    pieces = list(dashed(runs, line.dashes, width)) if line.dashes else runs
    if line.casing is not None:
        _draw(ground, pieces, line.casing.colour, line.casing.width * pen.px_per_point, (), line.casing.alpha)
    _draw(ground, pieces, line.colour, width, ())


def _draw(
    ground: Picture, runs: Sequence[Run], colour: str, width_px: float, dashes: Dashes, alpha: float = 1.0
) -> None:
    """What lines of this width cover. One that is thinner than a soft edge is fainter instead."""
    if dashes:
        runs = list(dashed(runs, dashes, width_px))
    half = max(width_px / 2 - _SOFT_PX, 0.02)
    faint = min(1.0, width_px / (2 * _SOFT_PX))
    lines = MultiLineString([LineString(run) for run in runs if len(run) > 1])
    covered = lines.buffer(half, quad_segs=_ROUND, cap_style="flat", join_style="mitre", mitre_limit=2.0)
    _cover(ground, polygons_of(covered), colour, alpha * faint)


def _cover(ground: Picture, parts: Sequence[Polygon], colour: str, alpha: float = 1.0) -> None:
    """Lay a colour over areas, pixels, and the soft edge round them."""
    red, green, blue, own = rgba(colour)
    alpha *= own
    rings = [
        np.round(np.asarray(ring.coords)[:, :2] * (1 << _SHIFT)).astype(np.int32)
        for part in parts
        for ring in (part.exterior, *part.interiors)
    ]
    if not rings or alpha <= 0:
        return
    level = np.array([red, green, blue, 1.0]) * 255
    if alpha >= 1.0 - 1e-6:
        cv2.fillPoly(ground, rings, level.tolist(), cv2.LINE_AA, _SHIFT)
        return
    every = np.vstack(rings) / (1 << _SHIFT)
    height, width = ground.shape[:2]
    left, top = (max(0, math.floor(each) - 2) for each in every.min(axis=0))
    right, bottom = (
        min(most, math.ceil(each) + 3) for each, most in zip(every.max(axis=0), (width, height), strict=True)
    )
    if left >= right or top >= bottom:
        return
    mask = np.zeros((bottom - top, right - left), np.uint8)
    corner = np.array([left, top], np.int32) << _SHIFT
    cv2.fillPoly(mask, [ring - corner for ring in rings], 255, cv2.LINE_AA, _SHIFT)
    blend(ground[top:bottom, left:right], mask, level, alpha)


def blend(part: Picture, mask: NDArray[np.uint8], level: NDArray[np.float64], alpha: float) -> None:
    """Lay a colour over a picture, as far as a mask (0 to 255) lets it. level: (4,), 0 to 255."""
    left = mask
    if cv2.countNonZero(mask) > _MANY * mask.size:
        # What is covered whole is looked up in a table, far faster than working out each pixel of an area.
        whole = (mask == 255).view(np.uint8)
        table = np.round(np.arange(256)[:, None] * (1 - alpha) + level * alpha).astype(np.uint8)
        cv2.copyTo(cv2.LUT(part, table[None]), whole, part)
        left = mask * (1 - whole)
    places = cv2.findNonZero(left)
    if places is None:
        return
    columns, rows = places.reshape(-1, 2).T  # of OpenCV 4 and 5
    pixels = part.view(np.uint32)[..., 0]  # each as one number, which is fetched and put back at once
    under = pixels[rows, columns].view(np.uint8).reshape(-1, 4).astype(np.float32)
    share = left[rows, columns, None] * np.float32(alpha / 255)
    mixed = under + share * (level.astype(np.float32) - under) + np.float32(0.5)
    pixels[rows, columns] = mixed.astype(np.uint8).view(np.uint32)[:, 0]


def _paint_words(ground: Picture, pen: PaintPen, words: Words) -> None:
    text = words.text.strip("\n")
    if not text.strip():
        return
    size = words.size * pen.px_per_point
    halo = words.halo_width * pen.px_per_point / 2 if words.halo is not None else 0.0
    runs = [(face(font, size), letters) for font, letters in runs_of(text, words.bold)]
    wide = sum(font.getlength(run) for font, run in runs)
    around = math.ceil(halo + size)
    shape = (
        math.ceil(wide) + 2 * around,
        2 * around + math.ceil(size),
    )  # width, height of the letters' own picture
    start = np.array([around, around + math.ceil(ASCENT * size)], float)  # where in it their line begins
    to_page = _placed(words, pen, start, wide, size)
    for colour, edge in ((words.halo, halo), (words.colour, 0.0)):
        if colour is None:
            continue
        drawn = Image.new("L", shape)
        canvas = ImageDraw.Draw(drawn)
        at = float(start[0])
        for font, run in runs:
            canvas.text((at, start[1]), run, 255, font, "ls", stroke_width=edge)
            at += font.getlength(run)
        _stamp(ground, np.asarray(drawn), to_page, colour)


def _placed(words: Words, pen: PaintPen, start: Run, wide: float, size: float) -> NDArray[np.float64]:
    """(2, 3): from the letters' own picture, whose line begins at start, to the ground."""
    across, above = line_start(words, wide, size)
    begin = np.array([across, -above])
    cos, sin = math.cos(math.radians(words.rotation)), math.sin(math.radians(words.rotation))
    turn = np.array([[cos, sin], [-sin, cos]])  # rows run downwards
    at = _points_px(np.array([[words.x, words.y]]), pen)[0]
    return np.column_stack([turn, at + begin - turn @ start])


def _stamp(ground: Picture, drawn: NDArray[np.uint8], to_page: NDArray[np.float64], colour: str) -> None:
    """Lay a colour over the ground where letters were drawn."""
    height, width = drawn.shape
    corners = np.array([(x, y, 1.0) for x in (0, width) for y in (0, height)]) @ to_page.T
    left, top = (max(0, math.floor(each)) for each in corners.min(axis=0))
    most = ground.shape[1], ground.shape[0]
    right, bottom = (min(end, math.ceil(each)) for end, each in zip(most, corners.max(axis=0), strict=True))
    if left >= right or top >= bottom:
        return
    moved = to_page.copy()
    moved[:, 2] -= left, top
    mask = cv2.warpAffine(drawn, moved, (right - left, bottom - top), flags=cv2.INTER_LINEAR)
    red, green, blue, alpha = rgba(colour)
    blend(
        ground[top:bottom, left:right],
        np.asarray(mask, np.uint8),
        np.array([red, green, blue, 1.0]) * 255,
        alpha,
    )


def _points_px(points: Run, pen: PaintPen) -> Run:
    """Of the page to pixels (column, row), the centre of the first one at (0, 0)."""
    return np.column_stack(
        [points[:, 0] * pen.px_per_unit - 0.5, pen.low_px - points[:, 1] * pen.px_per_unit - 0.5]
    )


def _in_px(shape: Polygon, pen: PaintPen) -> Polygon:
    moved = affinity.affine_transform(
        shape, (pen.px_per_unit, 0.0, 0.0, -pen.px_per_unit, -0.5, pen.low_px - 0.5)
    )
    assert isinstance(moved, Polygon)
    return moved

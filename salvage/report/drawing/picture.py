"""Drawing over a photograph: what was found, and the panels as they will lie on the cloth."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import BlockedKind, Garment, Piece, Reply
from salvage.cloth.usable import usable
from salvage.photo.photo import Photo
from salvage.photo.problem import Level, Problem
from salvage.report.cutting.chart import CutShape, Spread, stitching_of
from salvage.report.drawing.cut import draw_cut
from salvage.report.drawing.ground import (
    Ground,
    OnPhoto,
    ToPage,
    canvas,
    grain_on_page,
    grey_ground,
    ground,
    ground_of,
    scale_bar,
    warp,
)
from salvage.report.drawing.legend import count_squares, draw_strip, found_notes, legend_entries, strip_height
from salvage.report.drawing.numbers import draw_numbers
from salvage.report.pen.draw import (
    PLAIN,
    Page,
    Printing,
    fill,
    grain_line,
    stroke,
    text_box,
    text_width,
    write,
)
from salvage.report.pen.labels import Labels
from salvage.report.pen.paint import Painting
from salvage.report.pen.palette import ATTENTION, BLOCKED_LOOK, CASING, CHALK, USABLE_EDGE
from salvage.scale.known import KnownLength
from salvage.scale.square import Square
from salvage.shapes import lines_of, polygons_of
from salvage.units import Unit, format_exact, format_exact_size

_SIDE_TEXT = 7.5  # points: sides of squares, and lengths that were told
_DOUBT = "look at this edge"
_NAMED_DOUBTS = 6  # more words than this would hide the picture


def on_this_photo(garment: Garment, photo_name: str) -> list[Piece]:
    """The pieces of a garment that lie in this photograph (all that name no photograph too)."""
    return [
        piece
        for piece in garment.pieces
        if piece.photo is None or PurePath(piece.photo.file).name == photo_name
    ]


def marked_painting(
    photo: Photo,
    plane: OnPhoto,
    garment: Garment,
    *,
    squares: Sequence[Square] = (),
    known: Sequence[KnownLength] = (),
    outline_px: MultiPolygon | None = None,
    doubtful_px: BaseGeometry | None = None,
    unit: Unit = Unit.MM,
    most_px: int = 20_000,
) -> Painting:
    """The photograph with everything that was found on it, as large as the photograph: what is where in it is there in
    the photograph too, and the strip with its words lies below.

    outline_px: the cloth's outline, photo pixels (else the pieces' outlines do). doubtful_px: stretches
    of the edge that a person should look at, photo pixels. most_px: longer side of the picture.
    """
    base = ground(photo, most_px)
    to_page = warp(base, plane)
    pieces = on_this_photo(garment, photo.name)
    notes = found_notes(photo, garment, pieces, squares, unit, known)
    doubts = doubtful_px is not None and not doubtful_px.is_empty
    asked = [
        each
        for each in garment.questions
        if each.answer is Reply.OPEN and PurePath(each.photo).name == photo.name
    ]
    entries = legend_entries(pieces, bool(squares), doubts, has_questions=bool(asked))
    sheet = canvas(base, strip_height(base, notes, entries))
    page = sheet.page
    for piece in pieces:
        _draw_piece(page, piece, to_page)
    if outline_px is not None:
        stroke(page, base.from_px(outline_px), CHALK, 1.1, zorder=7)
    cloth = [to_page(piece.outline) for piece in pieces]
    labels = Labels(page, shapely.box(0, 0, base.width, base.height), cloth)
    scale_bar(page, base, plane, unit, labels)
    _draw_squares(page, base, squares, unit, labels)
    _draw_known(page, base, known, unit, labels)
    if doubtful_px is not None:
        _draw_doubts(page, base, doubtful_px, outline_px, labels)
    for piece in sorted(pieces, key=lambda each: -each.outline.area):
        _name_piece(page, piece, to_page, labels)
    for question in asked:  # what is asked about is drawn over once more
        stroke(page, to_page(question.shape), ATTENTION, 1.6, zorder=20)
    draw_numbers(page, pieces, asked, to_page, labels)
    draw_strip(sheet.strip, base, notes, entries)
    return sheet.painting


def marked_check(
    photo: Photo,
    squares: Sequence[Square],
    problems: Sequence[Problem],
    outline_px: MultiPolygon | None = None,
    *,
    plane: OnPhoto | None = None,
    known: Sequence[KnownLength] = (),
    doubtful_px: BaseGeometry | None = None,
    unit: Unit = Unit.MM,
    most_px: int = 2000,
) -> bytes:
    """The photograph as `check` sees it: squares, outline, doubtful edges, and what is wrong, as JPEG."""
    base = ground(photo, most_px)
    notes = [f"{photo.name}: {count_squares(squares, unit, scaled=plane is not None, known=known)}"]
    notes += [
        f"{'Can’t be measured' if p.level is Level.ERROR else 'Note'} ({p.code}): {p.message}"
        for p in problems
    ]
    if not problems:
        notes.append("Nothing found wrong with it.")
    entries = []
    if outline_px is not None and not outline_px.is_empty:
        entries.append("outline")
    if doubtful_px is not None and not doubtful_px.is_empty:
        entries.append("doubt")
    if squares:
        entries.append("square")
    sheet = canvas(base, strip_height(base, notes, entries))
    labels = Labels(sheet.page, shapely.box(0, 0, base.width, base.height))
    if plane is not None:
        scale_bar(sheet.page, base, plane, unit, labels)
    if outline_px is not None:
        stroke(sheet.page, base.from_px(outline_px), CHALK, 1.1, zorder=7)
    _draw_squares(sheet.page, base, squares, unit, labels, scaled=plane is not None)
    _draw_known(sheet.page, base, known, unit, labels)
    if doubtful_px is not None:
        _draw_doubts(sheet.page, base, doubtful_px, outline_px, labels)
    draw_strip(sheet.strip, base, notes, entries)
    return sheet.painting.jpeg()


def layout_on_photo(
    photo: Photo,
    plane: OnPhoto,
    spreads: Sequence[Spread],
    *,
    unit: Unit = Unit.MM,
    most_px: int = 1600,
    pieces: Sequence[Piece] = (),
    most_bytes: int | None = None,
    printing: Printing = PLAIN,
) -> bytes:
    """The panels warped back into the picture, as the person sees the garment lying there, as JPEG.

    spreads: the layers to draw, all of pieces in this photograph (one layer a piece). pieces: every piece
    of the garment in it, to cut the picture down to; the whole picture if none are given.
    most_bytes: the JPEG's quality is lowered, down to a limit, until it is no larger.
    """
    base = ground_of(photo, plane, pieces, most_px)
    base = grey_ground(base) if printing.grey else base
    sheet = canvas(base, printing=printing)
    draw_layout(sheet.page, base, plane, spreads, unit=unit)
    return sheet.painting.jpeg(most_bytes=most_bytes)


def draw_layout(page: Page, base: Ground, plane: OnPhoto, spreads: Sequence[Spread], *, unit: Unit) -> None:
    """Draw spreads over a picture that is already on the page."""
    to_page = warp(base, plane)
    cuts = [to_page(cut.placement.shape) for spread in spreads for cut in spread.cuts]
    labels = Labels(page, shapely.box(0, 0, base.width, base.height), cuts)
    scale_bar(page, base, plane, unit, labels)
    for spread in spreads:
        if spread.cuts:
            stroke(page, to_page(spread.piece.outline), CHALK, 1.0, zorder=3)
        else:  # what is in the way is what there is to see
            _draw_piece(page, spread.piece, to_page)
        for cut in spread.cuts:
            _draw_cut(page, cut, spread.piece, to_page, unit, labels)


def _draw_cut(page: Page, cut: CutShape, piece: Piece, to_page: ToPage, unit: Unit, labels: Labels) -> None:
    shape = to_page(cut.placement.shape)
    assert isinstance(shape, Polygon)
    if not shape.is_valid or shape.is_empty:
        return
    stitched = stitching_of(cut)
    seam = to_page(stitched) if stitched is not None else None
    direction = grain_on_page(piece, cut.placement.shape, to_page)
    chalked = page.cased("#ffffff")  # dark lines edged white show on any cloth
    draw_cut(
        chalked, cut, piece.grain, labels, one_way=piece.one_way, unit=unit, shape=shape, direction=direction,
        seam=seam if isinstance(seam, Polygon) else None,
    )  # fmt: skip


def _draw_piece(page: Page, piece: Piece, to_page: ToPage) -> None:
    fill(page, to_page(piece.outline.difference(usable(piece))), facecolor=CASING, alpha=0.34, zorder=2)
    stroke(page, to_page(usable(piece).simplify(0.3)), USABLE_EDGE, 0.7, zorder=3)
    stroke(page, to_page(piece.outline), CHALK, 0.9, zorder=4)
    for blocked in piece.blocked:
        look = BLOCKED_LOOK[blocked.kind]
        shape = to_page(blocked.shape)
        if blocked.kind in (BlockedKind.SEAM, BlockedKind.HEM) and lines_of(shape):
            stroke(page, shape, look.colour, 1.0, linestyle=(4, 2), zorder=4)
            continue
        fill(page, shape, facecolor=look.colour, alpha=0.35, zorder=4)
        fill(page, shape, facecolor="none", edgecolor=look.colour, hatch=look.hatch, zorder=4.1)
        stroke(page, shape, look.colour, 1.0, zorder=4.2)


def _name_piece(page: Page, piece: Piece, to_page: ToPage, labels: Labels) -> None:
    clear = shapely.union_all([blocked.shape.buffer(blocked.margin) for blocked in piece.blocked])
    parts = polygons_of(to_page(piece.outline.difference(clear)))
    outline = parts[0] if parts else to_page(piece.outline)
    if not isinstance(outline, Polygon) or not outline.is_valid:
        return
    name = f"{piece.number} {piece.name}" if piece.number else piece.name
    both = piece.fabric + (f", {piece.layers} layers" if piece.layers > 1 else "")
    bright = page.cased("#ffffffe0")
    label = labels.write(bright, outline, ((name, both), (name,)), sizes=(8, 7, 6))
    grain_line(bright, outline, grain_on_page(piece, piece.outline, to_page), label, both=not piece.one_way)


def _draw_squares(
    page: Page,
    base: Ground,
    squares: Sequence[Square],
    unit: Unit,
    labels: Labels,
    *,
    scaled: bool = True,
) -> None:
    """scaled: whether their sides are known, and so written. Nothing else is written on a square."""
    for square in squares:
        corners = base.points(square.corners_px)
        shape = Polygon(corners)
        stroke(page, shape, ATTENTION, 1.4, zorder=8)
        labels.take(shape)
        if not scaled:
            continue
        same = abs(square.width - square.length) < 0.05
        side = format_exact(square.width, unit)
        if not same:
            side = format_exact_size((square.width, square.length), unit)
        middle = shape.centroid
        wide = text_width(side, _SIDE_TEXT, bold=True) + 2
        labels.take(text_box(page, middle.x, middle.y, wide, 1.2 * _SIDE_TEXT, 0.0))
        write(page, middle.x, middle.y, side, _SIDE_TEXT, color=ATTENTION, bold=True, zorder=21)


def _draw_known(page: Page, base: Ground, known: Sequence[KnownLength], unit: Unit, labels: Labels) -> None:
    """Each length that was told, from end to end, so that a slip of the hand shows."""
    for one in known:
        ends = base.points(np.array([one.from_px, one.to_px]))
        (x1, y1), (x2, y2) = ends
        stroke(page, shapely.LineString(ends), ATTENTION, 1.4, zorder=8)
        bar = (
            6.0 / page.points_per_unit * np.array([y1 - y2, x2 - x1]) / max(np.hypot(x2 - x1, y2 - y1), 1e-9)
        )
        for end in ends:
            stroke(page, shapely.LineString([end - bar, end + bar]), ATTENTION, 1.4, zorder=8)
        text = format_exact(one.length, unit)
        wide = text_width(text, _SIDE_TEXT, bold=True) + 2
        line = shapely.LineString(ends)
        points = [line.interpolate(part, normalized=True) for part in (0.5, 0.35, 0.65, 0.2, 0.8)]
        found = labels.spot(line, wide, 1.2 * _SIDE_TEXT, [(at.x, at.y) for at in points])
        if found is not None:
            x, y, leader = found
            labels.lead(page, leader, ATTENTION)
            write(page, x, y, text, _SIDE_TEXT, color=ATTENTION, bold=True, zorder=21)


def _draw_doubts(
    page: Page, base: Ground, doubtful_px: BaseGeometry, outline_px: MultiPolygon | None, labels: Labels
) -> None:
    """Dashes along doubtful stretches; the longest few are named, on the floor beside them where there is room."""
    doubts = base.from_px(doubtful_px)
    cloth = None if outline_px is None else base.from_px(outline_px).buffer(0)
    wide, tall = text_width(_DOUBT, 7, bold=True) + 2, 9.0
    width, height = wide / page.points_per_unit, tall / page.points_per_unit
    for index, run in enumerate(sorted(lines_of(doubts), key=lambda run: -run.length)):
        stroke(page, run, ATTENTION, 2.6, linestyle=(1.2, 1.0), zorder=9)
        if index >= _NAMED_DOUBTS or run.length * page.points_per_unit < 12:
            continue
        before, here, after = (
            np.array(run.interpolate(part, normalized=True).coords[0]) for part in (0.45, 0.5, 0.55)
        )
        along = (after - before) / max(float(np.hypot(*(after - before))), 1e-9)
        side = np.array([-along[1], along[0]])
        if cloth is not None and cloth.contains(shapely.Point(*(here + side * height))):
            side = -side
        x, y = here + side * (height + abs(side[0]) * width / 2)
        x = min(max(x, width / 2), base.width - width / 2)
        name = text_box(page, x, y, wide, tall, 0.0)
        if labels.free(name):
            labels.take(name)
            write(page, x, y, _DOUBT, 7, color=ATTENTION, bold=True, zorder=22)

"""The template of one panel or strip: cut line, stitching line, notches, guides, grain line and what to know of it."""

from __future__ import annotations

import math
import textwrap
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.project.outlines import outline_of, stitching_line
from salvage.project.project import Grain, Notch, Panel, Strip
from salvage.report.cutting.chart import item_size
from salvage.report.pen.draw import Label, Page, fit_label, grain_ends
from salvage.report.pen.leaf import POINTS_PER_MM
from salvage.report.pen.marks import NoPen
from salvage.report.say.words import grain_words
from salvage.report.template.drawing import (
    Drawing,
    Layer,
    Line,
    Text,
    Wording,
    arrow_lines,
    box_of,
    shape_lines,
)
from salvage.report.template.kept import kept_marks, kept_words
from salvage.shapes import polygons_of
from salvage.units import Unit, format_exact, format_exact_size

SIZES = (16, 14, 12, 10, 9, 8, 7, 6)  # points
_LEADING = 1.25
_BARE_NOTCH = 4.0  # mm, where there is no allowance to mark in
_NOTCH_SHARE = 0.6  # of the allowance: what is clipped must stay clear of the stitching
_CLEAR = 3.5  # mm on either side of a guide that nothing else is written on
_LONG_NAME = 30  # letters past which a name takes several lines
_NOTCH_TEXT = 3.0  # mm, height of a notch's number

# Degrees from the panel's own +x to the warp, for the grain line.
_WARP = {Grain.ALONG: 90.0, Grain.ACROSS: 0.0, Grain.EITHER: 90.0, Grain.BIAS: 45.0}


def pattern_of(item: Panel | Strip, unit: Unit, thing: BaseGeometry | None = None) -> Drawing:
    """The template of a panel, or of a strip as sewn together, in its own frame.

    thing: what of the garment it is cut round, in that frame, where that is known.
    """
    outline = Polygon(outline_of(item))
    stitching = stitching_line(item)
    lines = [*shape_lines(Layer.CUT, outline), *shape_lines(Layer.STITCH, stitching)]
    texts: list[Text] = []
    for notch in item.notches:
        line, text = notch_lines(notch, item.seam_allowance)
        lines.append(line)
        texts.append(text)
    for guide in item.guides if isinstance(item, Panel) else ():
        lines.append(Line(Layer.GUIDE, guide.points))
        texts.append(_guide_text(guide.what, guide.points))
    room = stitching if stitching is not None and not stitching.is_empty else outline
    marked = [LineString(guide.points).buffer(_CLEAR) for guide in getattr(item, "guides", ())]
    if isinstance(item, Panel):
        kept, words = kept_marks(item, unit, thing)
        lines += kept
        texts += words
        marked += [box_of(text).buffer(1.0) for text in words]
        marked += [LineString([*line.points, line.points[0]]).buffer(1.0) for line in kept]
    room = room.difference(shapely.union_all(marked)) if marked else room
    return Drawing(
        item.name, outline, tuple(lines), tuple(texts), Wording(room, _choices(item, unit), warp_of(item))
    )


def notch_lines(notch: Notch, allowance: float) -> tuple[Line, Text]:
    """The mark in the allowance, and its number beyond it."""
    long = allowance * _NOTCH_SHARE or _BARE_NOTCH
    (x, y), (dx, dy) = notch.at, notch.inward
    beyond = max(long, allowance) + 0.8 * _NOTCH_TEXT
    line = Line(Layer.NOTCH, ((x, y), (x + dx * long, y + dy * long)))
    return line, Text((x + dx * beyond, y + dy * beyond), notch.label, _NOTCH_TEXT)


def _guide_text(what: str, points: tuple[tuple[float, float], ...]) -> Text:
    xs, ys = zip(*points, strict=True)
    return Text((sum(xs) / len(xs), sum(ys) / len(ys) + 2.4), what, 2.8)


def warp_of(item: Panel | Strip) -> float | None:
    """Direction of the warp in the panel's own frame, degrees; None where any will do."""
    rotations = getattr(item, "rotations", None)
    if rotations:
        return 90.0 - float(rotations[0])
    return _WARP.get(item.grain)


def worded(drawing: Drawing, within: BaseGeometry | None = None) -> Drawing:
    """With its words written, at the largest size that fits, and its grain line beside them.

    within: rather write in this part of it, such as a sheet of paper; never elsewhere if any of the room lies there.
    """
    wording = drawing.wording
    if wording is None:
        return drawing
    rooms = polygons_of(wording.room.intersection(within) if within is not None else wording.room)
    rooms = rooms or polygons_of(wording.room)
    room = max(rooms, key=lambda part: part.area) if rooms else Polygon()
    if room.is_empty:
        return replace(drawing, wording=None)
    texts, arrow = _words_and_grain(room, wording)
    return replace(drawing, lines=(*drawing.lines, *arrow), texts=(*drawing.texts, *texts), wording=None)


def _words_and_grain(room: Polygon, wording: Wording) -> tuple[tuple[Text, ...], tuple[Line, ...]]:
    """Fewer words rather than no grain line."""
    page = Page(NoPen(), POINTS_PER_MM)
    first = fit_label(page, room, wording.choices, sizes=SIZES)
    if wording.warp is None:
        return _texts_of(first), ()
    radians = math.radians(wording.warp)
    along = np.array([math.cos(radians), math.sin(radians)])
    for k in range(len(wording.choices)):
        label = first if k == 0 else fit_label(page, room, wording.choices[k:], sizes=SIZES)
        ends = grain_ends(page, room, along, label)
        if ends is not None:
            (x0, y0), (x1, y1) = (tuple(map(float, end)) for end in ends)
            return _texts_of(label), arrow_lines((x0, y0), (x1, y1), both=wording.both)
    return _texts_of(first), ()


def _texts_of(label: Label) -> tuple[Text, ...]:
    step = label.size * _LEADING / POINTS_PER_MM
    up = math.radians(label.rotation + 90)
    middle = (len(label.lines) - 1) / 2
    return tuple(
        Text(
            (
                label.x + math.cos(up) * step * (middle - k),
                label.y + math.sin(up) * step * (middle - k),
            ),
            text,
            label.size / POINTS_PER_MM,
            label.rotation,
            bold=k == 0,
        )
        for k, text in enumerate(label.lines)
    )


def _choices(item: Panel | Strip, unit: Unit) -> tuple[tuple[str, ...], ...]:
    """What a template says, from all of it to its name."""
    what = (copies_words(item), f"fabric: {item.fabric}", f"grain: {grain_words(item)}")
    cut = f"cut size {format_exact_size(item_size(item), unit)}"
    allowance = allowance_line(item, unit)
    kept = kept_words(item) if isinstance(item, Panel) else ()
    name = textwrap.wrap(item.name, _LONG_NAME) or [item.name]
    shortest = [(textwrap.shorten(item.name, _LONG_NAME, placeholder=" …"),)] if len(name) > 1 else []
    return (
        (*name, *what, cut, *kept, *allowance),
        (*name, *what, cut, *kept),
        (*name, *what, cut),
        (*name, *what),
        (*name, f"{copies_words(item)}, {item.fabric}"),
        (*name, copies_words(item)),
        tuple(name),
        *shortest,
    )


def copies_words(item: Panel | Strip) -> str:
    """`cut 2`, `cut 4: 2 as drawn, 2 with the paper turned over`."""
    if item.many:
        return "cut as many as there is cloth for"
    if isinstance(item, Panel) and item.mirrored and item.cut > 1:
        return f"cut {item.cut}: {item.cut // 2} as drawn, {item.cut // 2} with the paper turned over"
    return f"cut {item.cut}"


def allowance_line(item: Panel | Strip, unit: Unit) -> tuple[str, ...]:
    if isinstance(item, Strip):
        return ()
    if stitching_line(item) is None:
        return ("no seam allowance: the line is the edge as cut",)
    hem = ", more where the dashes lie deeper" if item.stitching and _uneven(item) else ""
    hem = f", none on the {item.edge.what}" if item.edge is not None else hem
    return (
        f"allowance {format_exact(item.seam_allowance, unit)} included{hem}",
        "solid: cut; dashed: stitch",
    )


def _uneven(item: Panel) -> bool:
    even = Polygon(item.stitching).buffer(item.seam_allowance + 0.5, join_style="mitre", mitre_limit=10.0)
    return not even.covers(Polygon(item.outline))

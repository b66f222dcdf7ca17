"""A whole layout at full size: each piece with what is cut from it, grain-up, one below the other."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer
from salvage.fit.say.open import as_cut
from salvage.project.project import Panel, Project
from salvage.report.cutting.chart import CutShape, Spread, spreads
from salvage.report.template.drawing import (
    Drawing,
    Layer,
    Text,
    Wording,
    moved,
    shape_lines,
    together,
    turned,
)
from salvage.report.template.kept import kept_on
from salvage.report.template.pattern import allowance_line, pattern_of, worded
from salvage.shapes import part_within
from salvage.units import Unit, format_exact_size

_APART = 30.0  # mm between two pieces
_NAME = 10.0  # mm, height of a piece's name above it
_EDGE = 5.0


def layout_sheet(answer: Answer, garments: Sequence[Garment], project: Project, unit: Unit) -> Drawing | None:
    """All pieces that something is cut from on one sheet, lower left corner at (0, 0); None where nothing is laid."""
    project = as_cut(project, answer)
    drawn = []
    y = _EDGE
    for spread in reversed(spreads(answer, garments, project)):
        upright = [turned(each, 90 - spread.piece.grain) for each in _drawings(spread, unit)]
        piece = together(spread.piece.name, [worded(each) for each in upright])
        low_x, low_y, _, high_y = piece.bounds
        name = f"{garments[spread.garment].name}: {spread.piece.name}"
        name += f", layer {spread.layer}" if spread.piece.layers > 1 else ""
        placed = moved(piece, _EDGE - low_x, y - low_y)
        top = y + high_y - low_y
        # a text is known by its middle; letters are about half as wide as they are high
        half = 0.3 * _NAME * 0.6 * len(name)
        drawn += [placed, Drawing(name, Polygon(), (), (Text((_EDGE + half, top + 4.0), name, 0.6 * _NAME),))]
        y = top + _NAME + _APART
    return together(project.name, drawn) if drawn else None


def _drawings(spread: Spread, unit: Unit) -> list[Drawing]:
    """The cloth, and each shape to cut from it, on the plane of the piece."""
    piece = spread.piece
    lines = [*shape_lines(Layer.CLOTH, piece.outline), *shape_lines(Layer.CLOTH, usable(piece))]
    reach = piece.outline.buffer(0.5)
    for blocked in piece.blocked:
        lines += shape_lines(Layer.BLOCKED, part_within(blocked.shape, reach))
    cloth = Drawing(piece.name, piece.outline, tuple(lines))
    return [cloth, *(_cut(cut, piece, unit) for cut in spread.cuts)]


def _cut(cut: CutShape, piece: Piece, unit: Unit) -> Drawing:
    """One shape where it lies; the outline is the placement's own, whatever else is drawn on it."""
    shape = cut.placement.shape
    stitching = None
    marks: Drawing | None = None
    if isinstance(cut.item, Panel) and cut.placement.part is None:
        pattern = turned(pattern_of(cut.item, unit), cut.placement.angle, mirrored=cut.placement.flipped)
        low, at = Polygon(next(x.points for x in pattern.lines if x.layer is Layer.CUT)).bounds, shape.bounds
        marks = moved(pattern, at[0] - low[0], at[1] - low[1])
        rings = [Polygon(line.points) for line in marks.lines if line.layer is Layer.STITCH]
        stitching = rings[0] if rings else None
    elif isinstance(cut.item, Panel) and cut.item.seam_allowance > 0:
        inner = shape.buffer(-cut.item.seam_allowance, join_style="mitre")
        stitching = inner if isinstance(inner, Polygon) and not inner.is_empty else None
    size = format_exact_size(cut.size, unit)
    words = (f"{cut.number}  {cut.name}", size)
    allowance = allowance_line(cut.item, unit) if cut.item is not None else ()
    choices = ((*words, *allowance), words, (words[0],), (str(cut.number),))
    carried = (Layer.NOTCH, Layer.GUIDE, Layer.KEPT, Layer.EDGE)
    room: BaseGeometry = stitching if stitching is not None else shape
    if marks is not None and marks.wording is not None:  # which keeps off what is marked there
        room = marks.wording.room
    kept = kept_on(cut.item, shape, piece) if isinstance(cut.item, Panel) else ()
    for line in kept:
        room = room.difference(LineString([*line.points, line.points[0]]).buffer(1.0))
    return Drawing(
        cut.name,
        shape,
        (
            *shape_lines(Layer.CUT, shape),
            *shape_lines(Layer.STITCH, stitching),
            *(line for line in (marks.lines if marks else ()) if line.layer in carried),
            *kept,
        ),
        marks.texts if marks else (),
        Wording(room, choices, piece.grain, both=not piece.one_way),
    )

"""What of a garment a panel keeps, as its template shows it: where the thing shall lie, and the finished edge."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.fit.geometry.task import turns_to_try
from salvage.fit.keep.places import as_drawn, places_round
from salvage.fit.keep.things import is_called, things_for
from salvage.fit.material.lay import cloth_of
from salvage.fit.proof.refuse import panel_shape
from salvage.fit.question import angle_of_turn
from salvage.project.project import Around, Edge, Panel
from salvage.project.sides import SIDES, run_of
from salvage.report.template.drawing import Layer, Line, Point, Text, shape_lines
from salvage.units import Unit, format_exact

_CROSS = 4.0  # mm, half a cross where the middle of a thing shall lie
_TEXT = 2.8  # mm
_OFF = 3.4  # mm from the finished edge to its words
_AGAIN = 150.0  # mm of it after which they are said again, for it may run over several sheets
_WITHIN = 0.5  # mm that a thing may stand over the panel that holds it


def kept_marks(panel: Panel, unit: Unit, thing: BaseGeometry | None = None) -> tuple[list[Line], list[Text]]:
    """Lines and words for what the panel keeps, in its own frame. thing: what it is cut round, there, where known."""
    if panel.around is not None:
        return _around(panel.around, unit, thing)
    if panel.edge is not None:
        return _edge(panel, panel.edge)
    return [], []


def kept_words(panel: Panel) -> tuple[str, ...]:
    """What the template says of it; nothing where the panel keeps nothing."""
    if panel.around is not None:
        what = _the(panel.around.what)
        if panel.around.at is None:
            return (f"cut round {what}: whole inside the stitching, anywhere",)
        return (f"cut round {what}: its middle in the dotted square",)
    if panel.edge is not None:
        return (f"lay the {panel.edge.side} on the {panel.edge.what}: no allowance there",)
    return ()


def thing_in(panel: Panel, garments: Sequence[Garment]) -> BaseGeometry | None:
    """The surest thing of the garments that the panel may be cut round, where it comes to lie in the panel's frame.

    Where the panel has a place round it, the place nearest to the one wanted is shown; else, such as where the panel
    has to be pieced, the thing with its middle where it is wanted. None where there is no such thing.
    """
    if panel.around is None:
        return None
    things = things_for(garments, panel)
    for thing in things:
        outline = Polygon(panel.outline)
        place = next(places_round(panel, outline, panel.around, thing, flipped=False), None)
        if place is not None:
            seen = as_drawn(thing.shape, place.placed.angle, flipped=False)
            laid = as_drawn(place.shape, place.placed.angle, flipped=False)
            dx, dy = (outline.bounds[k] - laid.bounds[k] for k in (0, 1))
            return affinity.translate(seen, dx, dy)
    if not things or panel.around.at is None:
        return None
    cloth = cloth_of(things[0].piece, 1, things[0].ground)
    turns = turns_to_try(panel_shape(panel), cloth)
    if not turns:
        return None
    seen = as_drawn(things[0].shape, angle_of_turn(turns[0], cloth), flipped=False)
    left, bottom, right, top = seen.bounds
    at = panel.around.at
    return affinity.translate(seen, at[0] - (left + right) / 2, at[1] - (bottom + top) / 2)


def kept_on(panel: Panel, shape: Polygon, piece: Piece) -> tuple[Line, ...]:
    """The outline of what lies in a shape that is laid on a piece, if it is what the panel keeps."""
    if panel.around is None:
        return ()
    reach = shape.buffer(_WITHIN)
    found = [
        each.shape for each in piece.blocked if is_called(each, panel.keeps) and reach.covers(each.shape)
    ]
    return tuple(line for each in found for line in shape_lines(Layer.KEPT, each))


def _around(around: Around, unit: Unit, thing: BaseGeometry | None) -> tuple[list[Line], list[Text]]:
    lines = list(shape_lines(Layer.KEPT, thing))
    texts: list[Text] = []
    if around.at is not None:
        (x, y), off = around.at, around.tolerance
        if off > 0:
            lines += shape_lines(Layer.KEPT, box(x - off, y - off, x + off, y + off))
        for way in ((_CROSS, 0.0), (0.0, _CROSS)):
            lines.append(Line(Layer.KEPT, ((x - way[0], y - way[1]), (x + way[0], y + way[1]))))
        words = f"middle of {_the(around.what)}, {format_exact(off, unit)} off at most"
        texts.append(Text((x, y - max(off, _CROSS) - _TEXT), words, _TEXT))
    return lines, texts


def _edge(panel: Panel, edge: Edge) -> tuple[list[Line], list[Text]]:
    run = edge_run(panel)
    if run.is_empty:
        return [], []
    points: tuple[Point, ...] = tuple((float(x), float(y)) for x, y in np.asarray(run.coords)[:, :2])
    way = math.radians(SIDES[edge.side] + 180.0)
    turn = 90.0 if edge.side in ("left", "right") else 0.0
    count = max(1, round(run.length / _AGAIN))
    texts = []
    for k in range(count):
        here = run.interpolate((k + 0.5) / count, normalized=True)
        at = (here.x + math.cos(way) * _OFF, here.y + math.sin(way) * _OFF)
        texts.append(Text(at, f"lay on the {edge.what}, no allowance", _TEXT, turn))
    return [Line(Layer.EDGE, points)], texts


def edge_run(panel: Panel) -> LineString:
    """The side of a panel's cut outline that lies on a finished edge; empty where none does."""
    return run_of(Polygon(panel.outline), panel.edge.side) if panel.edge is not None else LineString()


def _the(what: str) -> str:
    return f"number {what}" if what.isdigit() else f"the {what}"

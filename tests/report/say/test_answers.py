"""Answers about a photograph as plain data, and the squares in words."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from shapely.geometry import MultiPolygon, box

from salvage.cloth.outline.find import Outline
from salvage.job import Look
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.report.say.answers import check_data, tape_data
from salvage.report.say.summary import squares_words
from salvage.scale.square import Square, SquareKind
from salvage.units import Unit

PHOTO = Photo(Path("coat.jpg"), np.zeros((30, 40, 3), np.uint8), reduced_by=2.0)
CORNERS = np.array([[0.0, 0.0], [0.0, 9.0], [9.0, 9.0], [9.0, 0.0]])


def square(width: float, length: float, kind: SquareKind = SquareKind.PLAIN) -> Square:
    return Square(kind, width, length, CORNERS, np.full(4, 0.1))


def test_without_squares_and_outline_there_is_nothing_and_the_form_is_the_same() -> None:
    dark = Problem(Code.TOO_DARK, Level.ERROR, "It is too dark.")
    told = json.loads(json.dumps(check_data(Look(PHOTO, (), None, None, (dark,)))))
    assert told["format"] == "salvage check 1"
    assert told["size_px"] == [80, 60]  # of the file, not of what was read of it
    assert told["ok"] is False
    assert told["problems"] == [{"code": "too-dark", "level": "error", "message": "It is too dark."}]
    assert told["outline_px"] == {"type": "MultiPolygon", "coordinates": []}
    assert told["outline_confidence"] == 0.0
    assert told["scale"] is None


def test_an_outline_and_squares_without_a_scale() -> None:
    outline = Outline(MultiPolygon([box(1, 2, 30, 20)]), 0.93456)
    told = json.loads(json.dumps(check_data(Look(PHOTO, (square(150, 150),), None, outline, ()))))
    assert told["ok"] is True
    assert told["outline_confidence"] == 0.9346
    [[ring]] = told["outline_px"]["coordinates"]
    assert {tuple(point) for point in ring} == {(1.0, 2.0), (30.0, 2.0), (30.0, 20.0), (1.0, 20.0)}
    assert told["squares"] == [{"kind": "plain", "side": None, "corners_px": CORNERS.tolist()}]


def test_distances() -> None:
    [told] = tape_data([((1.0, 2.0), (3.0, 4.0), 412.6049, 2.1049)])["distances"]
    assert told == {"from_px": (1.0, 2.0), "to_px": (3.0, 4.0), "length": 412.6, "plus_minus": 2.1}


def test_a_square_has_one_side_and_a_sheet_two() -> None:
    assert squares_words((square(150, 150.01),), Unit.MM) == "1 found: plain square 150 mm"
    assert squares_words((square(152.4, 152.4),), Unit.INCH) == "1 found: plain square 6 in"
    words = squares_words((square(210, 297, SquareKind.PAPER),), Unit.MM)
    assert "210" in words
    assert "297" in words
    assert squares_words((), Unit.MM) == "none found"
    assert "mm" not in squares_words((square(1, 1),), Unit.MM, scaled=False)

"""What is left of a cut: nothing laid on it later touches what was cut before, gap and layers counted."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rail_garments import cloth, garment, rectangle
from shapely.geometry import box

from salvage.cloth.garment import Garment, PiecePhoto
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer
from salvage.fit.fit import fit_project
from salvage.project.project import Project
from salvage.rail.note import RestOf, mark_used, note_measured, rest_named, told_of, used_of
from salvage.rail.rest import rest_of
from salvage.telling import Telling


def asked(width: float, length: float, cut: int = 1, gap: float = 5.0) -> Project:
    return Project("Pouch", (rectangle("body", width, length, cut=cut),), cutting_gap=gap)


def fit(made: Garment, project: Project) -> Answer:
    return fit_project([made], project, steps=300, brief=True)


@settings(max_examples=12)
@given(st.integers(0, 3000), st.floats(60, 160), st.floats(80, 220), st.floats(0, 12))
def test_a_later_layout_never_meets_the_first(number: int, width: float, length: float, gap: float) -> None:
    whole = replace(garment(number), kind="")
    project = asked(width, length, cut=2, gap=gap)
    first = fit(whole, project)
    if first.spare is None:
        return
    rest = rest_of(whole, first.placements, 0, gap=gap, purpose="Pouch")
    if rest is None:
        return
    rest = garment_from_json(garment_to_json(rest))  # as it is read again
    second = fit(rest, asked(70, 70, cut=1, gap=0.0))
    names = {piece.name for piece in whole.pieces}
    for later in second.placements:
        # of a piece whose layers were cut differently the rest has several, told apart by a number
        origin = later.piece if later.piece in names else later.piece.rpartition(" ")[0]
        layers = next(piece.layers for piece in whole.pieces if piece.name == origin)
        apart = [
            min((later.shape.distance(e.shape) for e in first.placements if (e.piece, e.layer) == (origin, layer)), default=1e9)
            for layer in range(1, layers + 1)
        ]  # fmt: skip
        assert max(apart) >= gap - 1e-6
    if not any(piece.layers > 1 for piece in whole.pieces):
        cut = sum(each.shape.area for each in first.placements)
        assert sum(usable(p).area for p in rest.pieces) <= sum(usable(p).area for p in whole.pieces) - cut


def test_layers_that_were_cut_differently_part() -> None:
    sheet = cloth("sheet", box(0, 0, 300, 300), layers=3)
    answer = fit(sheet, asked(250, 250, cut=1))
    rest = rest_of(sheet, answer.placements, 0, gap=5, purpose="Pouch")
    assert rest is not None
    assert {(p.name, p.layers) for p in rest.pieces} == {("back", 2), ("back 2", 1)}
    whole, cut = rest.pieces
    assert usable(whole).area == pytest.approx(90_000)
    assert usable(cut).area <= 90_000 - 255**2 + 50  # from a corner, with its gap on two sides
    assert "layers" in whole.by_person


def test_nothing_worth_keeping() -> None:
    sheet = cloth("sheet", box(0, 0, 200, 200))
    answer = fit(sheet, asked(195, 195))
    assert rest_of(sheet, answer.placements, 0, gap=5, purpose="Pouch") is None


def test_what_the_rest_says_of_itself() -> None:
    sheet = cloth("sheet", box(0, 0, 300, 300), photo=PiecePhoto("sheet.jpg", 150.0, content="c"))
    sheet = note_measured(mark_used(sheet), Telling(side=150.0), "2026-11-20")
    answer = fit(sheet, asked(100, 100))
    rest = rest_of(sheet, answer.placements, 0, gap=5, purpose="Pouch", file="sheet.json")
    assert rest is not None
    assert rest.name == "sheet, rest"
    assert rest_named(rest) == RestOf("sheet", "sheet.json", "Pouch")
    assert used_of(rest) is None
    assert told_of(rest) is None  # so that the rail doesn't measure it again, as if nothing had been cut
    assert told_of(sheet) is not None

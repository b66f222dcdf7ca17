"""Panels and strips limited to some pieces: honoured by search, proofs, checker and suggestions."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.fit.claim import ProofKind
from salvage.fit.fit import fit_project
from salvage.project.project import Join, Panel, Project, Strip
from salvage.project.read import project_from

SECONDS = 10.0


def piece(name: str, width: float, length: float, fabric: str = "shell") -> Piece:
    cloth = box(0, 0, width, length)
    return Piece(name, cloth, fabric, usable=MultiPolygon([cloth]))


def panel(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


COAT = Garment("coat", (piece("back", 500, 600), piece("Left sleeve", 210, 400), piece("hem", 60, 900)))


def test_every_copy_lies_on_a_piece_it_may_come_from() -> None:
    """Four pockets of 100 x 200 fill the sleeve; the free one lies on the back."""
    project = Project(
        "pockets", (panel("pocket", 100, 200, cut=4, pieces=("left sleeve",)), panel("body", 400, 500))
    )
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert {each.piece for each in answer.placements if each.panel == "pocket"} == {"Left sleeve"}
    assert {each.piece for each in answer.placements if each.panel == "body"} == {"back"}


def test_a_panel_too_large_for_its_pieces_is_a_no_that_says_so_and_what_would_help() -> None:
    project = Project("body", (panel("body", 300, 300, pieces=("left sleeve", "hem")),))
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert answer.proof.kind is ProofKind.NO_PLACE
    assert answer.reasons[0].startswith("body, 300 × 300 mm cut, fits nowhere on left sleeve or hem")
    assert "It fits if body may also be cut from other pieces than left sleeve and hem." in answer.suggestions


def test_more_copies_than_their_pieces_take_is_a_no() -> None:
    """Five of 100 x 200 have 100 000 mm2, the sleeve 84 000; the back has room for all of them."""
    limited = panel("pocket", 100, 200, cut=5, pieces=("left sleeve",))
    answer = fit_project([COAT], Project("pockets", (limited,)), seconds=SECONDS)
    assert answer.verdict is Verdict.NO
    free = fit_project([COAT], Project("pockets", (replace(limited, pieces=()),)), seconds=SECONDS)
    assert free.verdict is Verdict.YES


def test_a_strip_is_joined_from_its_pieces_only() -> None:
    strip = Strip("tie", 50, 1500, join=Join.STRAIGHT, shortest=150, pieces=("left sleeve",))
    project = Project("tie", (), (strip,))
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.verdict is Verdict.YES_WITH_JOINS
    assert {each.piece for each in answer.placements} == {"Left sleeve"}
    assert len(answer.placements) == 4


def test_the_checker_rejects_a_layout_from_another_piece() -> None:
    free = Project("pocket", (panel("pocket", 100, 200, pieces=("back",)),))
    answer = fit_project([COAT], free, seconds=SECONDS)
    limited = Project("pocket", (panel("pocket", 100, 200, pieces=("hem", "left sleeve")),))
    faults = check([COAT], limited, answer.placements)
    assert faults == ("pocket 1: may be cut from hem, left sleeve only, lies on back",)


@pytest.mark.parametrize(
    ("pieces", "fabric", "says"),
    [
        (
            ("left sleve",),
            "shell",
            "Did you mean 'Left sleeve'? The pieces there are: back, Left sleeve, hem, lining.",
        ),
        (("lining",), "shell", "'p' is of shell, and what it is to be cut from (lining) is satin."),
    ],
)
def test_a_piece_that_is_not_there_is_an_error_that_lists_those_that_are(
    pieces: tuple[str, ...], fabric: str, says: str
) -> None:
    coat = replace(COAT, pieces=(*COAT.pieces, piece("lining", 300, 300, "satin")))
    project = Project("p", (panel("p", 50, 50, fabric=fabric, pieces=pieces),))
    with pytest.raises(SalvageError) as error:
        fit_project([coat], project, seconds=1)
    assert says in str(error.value)


def test_the_file_says_from() -> None:
    data: dict[str, Any] = {
        "panel": [
            {"name": "a", "size": [10, 30], "from": ["back", " hem "]},
            {"name": "b", "size": [10, 30]},
        ],
        "strip": [{"name": "c", "cut_width": 10, "length": 90, "from": "hem"}],
    }
    project = project_from(data, folder=Path())
    assert [each.pieces for each in project.panels] == [("back", "hem"), ()]
    assert project.strips[0].pieces == ("hem",)
    data["panel"][0]["from"] = []
    with pytest.raises(SalvageError, match="from must be a list of names of pieces"):
        project_from(data, folder=Path())


def test_a_name_means_the_pieces_numbered_under_it_too() -> None:
    fronts = [piece(f"Left front {n}", 210, 400) for n in (1, 2)]
    coat = Garment("coat", (piece("back", 500, 600), *fronts, piece("left frontal", 500, 600)))
    pockets = Project("pockets", (panel("pocket", 200, 390, cut=2, pieces=("left front",)),))
    answer = fit_project([coat], pockets, seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert {each.piece for each in answer.placements} == {"Left front 1", "Left front 2"}
    assert not check([coat], pockets, answer.placements)
    moved = [replace(each, piece="back") for each in answer.placements]
    assert any("may be cut from left front only" in fault for fault in check([coat], pockets, moved))
    three = Project("pockets", (replace(pockets.panels[0], cut=3),))
    no = fit_project([coat], three, seconds=SECONDS)
    assert no.verdict is Verdict.NO
    assert not no.doubts
    with pytest.raises(SalvageError, match="Left front 1, Left front 2, left frontal"):
        fit_project([coat], Project("p", (replace(pockets.panels[0], pieces=("front",)),)), seconds=SECONDS)

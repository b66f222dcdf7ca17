"""What can't be asked is refused in the words of the project and the record, before anything is searched."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.errors import SalvageError
from salvage.fit.require import pieces_called, require_usable, with_pieces_named
from salvage.project.project import Panel, Project, Strip

OUTLINE = ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0))
BODY = Panel("body", OUTLINE)
TIE = Strip("tie", 30.0, 400.0)
COAT = Garment(
    "coat",
    (
        Piece("left front", box(0, 0, 300, 500)),
        Piece("Left Front 2", box(400, 0, 500, 500)),
        Piece("left frontal", box(600, 0, 700, 500)),
        Piece("lining back", box(0, 600, 300, 900), fabric="Lining"),
    ),
)


def project(*panels: Panel, strips: tuple[Strip, ...] = ()) -> Project:
    return Project("pouch", panels, strips)


def test_what_can_be_asked_passes() -> None:
    require_usable([COAT], project(BODY, replace(BODY, name="back", pieces=("LEFT front",)), strips=(TIE,)))


@pytest.mark.parametrize(
    ("garments", "asked", "said"),
    [
        ([], project(BODY), "No garment was given"),
        ([COAT], project(), "nothing to cut"),
        ([COAT], project(BODY, BODY), "two panels called 'body'"),
        ([COAT], project(BODY, strips=(replace(TIE, name="body"),)), "two panels called 'body'"),
        (
            [replace(COAT, pieces=COAT.pieces[:1] * 2)],
            project(BODY),
            "'coat' has two pieces called 'left front'",
        ),
        (
            [COAT],
            project(replace(BODY, pieces=("left frnt",))),
            r"no piece of that name\. Did you mean 'left front'",
        ),
        ([COAT], project(strips=(replace(TIE, pieces=("sleeve",)),)), "'tie' is to be cut from 'sleeve'"),
        ([COAT], project(replace(BODY, pieces=("lining back",))), "'body' is of shell, and .* is Lining"),
    ],
)
def test_what_cannot_be_asked_is_told(garments: list[Garment], asked: Project, said: str) -> None:
    with pytest.raises(SalvageError, match=said):
        require_usable(garments, asked)


def test_a_lining_panel_may_come_from_a_lining_piece() -> None:
    require_usable([COAT], project(replace(BODY, fabric="lining ", pieces=("Lining Back",))))


def test_a_name_means_its_numbered_pieces_too_and_no_longer_names() -> None:
    assert [p.name for p in pieces_called(" Left front", COAT.pieces)] == ["left front", "Left Front 2"]
    assert [p.name for p in pieces_called("left front 2", COAT.pieces)] == ["Left Front 2"]


def test_the_project_names_every_piece_in_full_each_once() -> None:
    asked = project(replace(BODY, pieces=("LEFT FRONT", "Left Front 2")), strips=(TIE,))
    named = with_pieces_named(asked, [COAT])
    assert named.panels[0].pieces == ("LEFT FRONT", "Left Front 2")
    assert named.strips[0].pieces == ()

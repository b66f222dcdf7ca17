"""Words of joins and of changes, against numbers worked out by hand from the change."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Edit, HelpKind
from salvage.fit.ask import Plan
from salvage.fit.cutting.joins import JoinWay, Piecing
from salvage.fit.help.find import Change
from salvage.fit.help.items import items_of
from salvage.fit.layout.found import Layout, nothing_laid
from salvage.fit.material.lay import lay_of
from salvage.fit.say.changes import join_plan, of_change, panel_sentence
from salvage.project.project import Join, Panel, Project, Seam, Strip
from salvage.units import Unit


def panel(name: str, w: float = 200.0, h: float = 300.0, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), **more)


def garment(name: str, side: float) -> Garment:
    return Garment(
        name, (Piece("back", box(0, 0, side, side), usable=MultiPolygon([box(0, 0, side, side)])),)
    )


COATS = [garment("shirt", 200), garment("coat", 400)]
BAG = Project(
    "bag",
    (panel("back"), panel("flap", 100, 80), panel("gore", 100, 50, cut=4)),
    (Strip("tie", 40.0, 900.0),),
)


def told(
    kind: HelpKind,
    *edits: Edit,
    project: Project = BAG,
    layouts: tuple[Layout, ...] = (),
    garments: int = 1,
    percent: float | None = None,
    alone: bool = False,
) -> str:
    names = {edit.item for edit in edits}
    items = tuple(each for each in items_of(project) if each.name in names)
    change = Change(kind, items, edits, project, layouts, garments, percent)
    return of_change(change, project, COATS, alone=alone).text


LAID = (nothing_laid(lay_of(COATS), BAG, Plan.whole(BAG)),)


@pytest.mark.parametrize(
    ("kind", "edit", "says"),
    [
        (HelpKind.TURN, Edit("back", "grain", "along", "either"), "back may also be cut across the grain"),
        (HelpKind.TURN, Edit("back", "grain", "across", "either"), "back may also be cut along the grain"),
        (HelpKind.TURN, Edit("back", "grain", "along", "any"), "back may lie at any angle to the grain"),
        (HelpKind.JOIN, Edit("tie", "join", "none", "bias"), "tie may be joined from shorter lengths"),
        (HelpKind.JOIN, Edit("tie", "shortest", 300.0, 120.0), "tie may have lengths as short as 120 mm"),
        (HelpKind.JOIN, Edit("back", "joins", 0, 1), "back is pieced"),
        (HelpKind.FABRIC, Edit("flap", "fabric", "shell", "lining"), "flap is cut from lining"),
        (
            HelpKind.ANYWHERE,
            Edit("flap", "from", ("yoke", "cuff"), ()),
            "from other pieces than yoke and cuff",
        ),
        (HelpKind.SHRINK, Edit("tie", "length", 900.0, 850.0), "tie is 850 mm long instead of 900 mm"),
        (
            HelpKind.SHRINK,
            Edit("back", "finished", (180.0, 280.0), (180.0, 250.5)),
            "back is finished 180 × 250.5 mm instead of 180 × 280 mm (29.5 mm shorter)",
        ),
        (
            HelpKind.SHRINK,
            Edit("back", "size", (200.0, 300.0), (190.0, 280.0)),
            "back is cut 190 × 280 mm instead of 200 × 300 mm (10 mm narrower and 20 mm shorter)",
        ),
    ],
)
def test_each_change_is_told_with_what_it_was_and_what_it_is(kind: HelpKind, edit: Edit, says: str) -> None:
    text = told(kind, edit)
    assert text.startswith("It fits if ")
    assert says in text


def test_changes_of_several_are_listed_and_a_fabric_with_its_pieces_is_told_once() -> None:
    text = told(
        HelpKind.MIXED,
        Edit("back", "joins", 0, 1),
        Edit("flap", "fabric", "shell", "lining"),
        Edit("flap", "from", ("yoke",), ()),
    )
    assert text == "It fits if back is pieced and flap is cut from lining."


def test_what_is_sewn_to_what_shrinks_is_said_to_change_too() -> None:
    shrink = Edit("back", "size", (200.0, 300.0), (200.0, 290.0))
    sewn = replace(BAG, seams=(Seam("back", "top", "flap", "bottom"),))
    assert "What is sewn to it changes with it." in told(HelpKind.SHRINK, shrink, project=sewn)
    assert "sewn to it" not in told(HelpKind.SHRINK, shrink)
    own = replace(BAG, seams=(Seam("back", "left", "back", "right"),))
    assert "sewn to it" not in told(HelpKind.SHRINK, shrink, project=own)
    assert "sewn to it" not in told(HelpKind.TURN, Edit("back", "grain", "along", "any"), project=sewn)


def test_more_garments_are_like_the_one_with_the_most_cloth() -> None:
    assert told(HelpKind.GARMENT, garments=2) == "It fits with a second garment like coat."
    assert told(HelpKind.GARMENT, garments=4) == "It fits with 3 more garments like coat."


def test_a_scale_that_stands_alone_says_so() -> None:
    text = told(HelpKind.SCALE, percent=83.0)
    assert text.startswith("It fits when the whole project is made at 83 % of its size")
    assert (
        told(HelpKind.SCALE, percent=83.0, alone=True)
        == f"No change of one panel was found to be enough. {text}"
    )


@pytest.mark.parametrize(
    ("edit", "layouts", "says"),
    [
        (
            Edit("flap", "cut", 1, 0),
            LAID,
            "It fits without flap, or with it cut from other cloth (100 × 80 mm).",
        ),
        (
            Edit("gore", "cut", 4, 3),
            LAID,
            "It fits with one gore fewer, or with it cut from other cloth (100 × 50 mm).",
        ),
        (
            Edit("gore", "cut", 4, 2),
            LAID,
            "It fits with 2 copies of gore fewer, or with them cut from other cloth (100 × 50 mm).",
        ),
        # 60 000 of the 124 000 mm^2 that panels and strip come to is less than half, ...
        (
            Edit("back", "cut", 1, 0),
            LAID,
            "It fits without back, or with it cut from other cloth (200 × 300 mm).",
        ),
        (Edit("tie", "cut", 1, 0), (), "from other shell cloth must be cut tie (40 × 900 mm)."),
        (Edit("gore", "cut", 4, 0), (), "from other shell cloth must be cut all 4 gore (100 × 50 mm)."),
    ],
)
def test_what_is_cut_elsewhere_is_told_with_its_size(
    edit: Edit, layouts: tuple[Layout, ...], says: str
) -> None:
    assert says in told(HelpKind.OTHER_CLOTH, edit, layouts=layouts)


def test_a_project_is_not_offered_without_its_core() -> None:
    """... but without a tie of half its length it is most of the project, which would be another one."""
    project = replace(BAG, strips=(Strip("tie", 40.0, 450.0),))
    text = told(HelpKind.OTHER_CLOTH, Edit("back", "cut", 1, 0), project=project, layouts=LAID)
    assert text == "It fits if back (200 × 300 mm) is cut from other cloth: all else fits here."


def test_several_that_are_cut_elsewhere() -> None:
    text = told(HelpKind.OTHER_CLOTH, Edit("flap", "cut", 1, 0), Edit("gore", "cut", 4, 2), layouts=LAID)
    assert text == (
        "It fits if flap (100 × 80 mm) and 2 of 4 gore (100 × 50 mm) are cut from other cloth: all else fits here."
    )


@pytest.mark.parametrize(
    ("way", "at", "allowance", "cut", "copies", "says"),
    [
        (
            JoinWay.ACROSS,
            (120.0,),
            10.0,
            1,
            [1],
            "back: 2 parts, a join across at 120 mm from the lower end",
        ),
        (
            JoinWay.ALONG,
            (60.0, 140.0),
            10.0,
            1,
            [1],
            "back: 3 parts, 2 joins along at 60 mm and 140 mm from the left",
        ),
        (JoinWay.ACROSS, (120.0,), 10.0, 3, [1, 3], "back 1 and 3: 2 parts"),
        (JoinWay.ACROSS, (120.0,), 10.0, 1, [1], "(10 mm allowance at each part's join)"),
        (JoinWay.ACROSS, (120.0,), 0.0, 1, [1], "(no seam allowance at the join"),
    ],
)
def test_how_a_panel_is_pieced(
    way: JoinWay, at: tuple[float, ...], allowance: float, cut: int, copies: list[int], says: str
) -> None:
    text = panel_sentence(panel("back", cut=cut, seam_allowance=allowance), Piecing(way, at), copies, Unit.MM)
    assert says in text


def test_the_plan_of_joins_names_each_way_once_and_each_strip_that_is_joined() -> None:
    """A bias join of a strip takes its width in length, a straight one two allowances."""
    low, high = Piecing(JoinWay.ACROSS, (100.0,)), Piecing(JoinWay.ACROSS, (200.0,))
    project = Project(
        "bag",
        (panel("back", cut=3, seam_allowance=8.0),),
        (
            Strip("tie", 40.0, 900.0, cut=2, join=Join.BIAS),
            Strip("band", 50.0, 500.0, join=Join.STRAIGHT, seam_allowance=12.0),
        ),
    )
    plan = Plan(((low, high, low),), (((900.0,), (500.0, 440.0)), ((300.0, 224.0),)))
    told = join_plan(nothing_laid(lay_of(COATS), project, plan))
    assert len(told) == 4
    assert told[0].startswith("back 1 and 3: 2 parts")
    assert told[1].startswith("back 2: 2 parts")
    assert told[2] == "tie 2: 2 lengths 500, 440 mm, joined on the bias (each join uses 40 mm)"
    assert told[3] == "band: 2 lengths 300, 224 mm, joined straight (each join uses 24 mm)"

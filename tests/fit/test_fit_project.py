"""Whole answers: each verdict, and what comes with it."""

from __future__ import annotations

import json

import pytest
from shapely.geometry import MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Garment, Piece, PiecePhoto, PlusMinus
from salvage.errors import SalvageError
from salvage.fit.answer import Answer, Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.write import answer_to_json
from salvage.project.project import Grain, Join, Panel, Project, Strip
from salvage.units import Unit

SECONDS = 6.0


def garment(*cloths: Polygon, name: str = "coat", fabric: str = "shell", **more: object) -> Garment:
    """A garment with a piece for each polygon."""
    pieces = [
        Piece(f"piece {n}", cloth, fabric, usable=MultiPolygon([cloth]), **more)  # type: ignore[arg-type]
        for n, cloth in enumerate(cloths, 1)
    ]
    return Garment(name, tuple(pieces))


def panel(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


def fit(garments: list[Garment], project: Project, **more: object) -> Answer:
    """The answer, its layout checked if it has a complete one."""
    answer = fit_project(garments, project, **{"seconds": SECONDS, **more})  # type: ignore[arg-type]
    if answer.verdict in (Verdict.YES, Verdict.YES_WITH_JOINS, Verdict.TOO_CLOSE):
        assert check(garments, project, answer.placements) == ()
        assert answer.spare is not None
    else:
        assert answer.spare is None
    return answer


BAG = Project(
    "bag",
    (panel("body", 250, 300, cut=2), panel("base", 200, 100), panel("pocket", 120, 150, cut=2)),
    cutting_gap=3,
)
COAT = garment(
    box(0, 0, 600, 700).difference(Point(300, 300).buffer(50)),
    box(0, 0, 300, 500),
    plus_minus=PlusMinus(0.4, 2.0),
)


def test_yes_says_how_safely_how_big_and_what_is_left() -> None:
    answer = fit([COAT], BAG)
    assert answer.verdict is Verdict.YES
    assert answer.spare is not None
    assert answer.spare >= answer.plus_minus > 2.0
    assert answer.largest_scale_percent is not None
    assert answer.largest_scale_percent >= 100
    usable = sum(piece.outline.area for piece in COAT.pieces)
    assert answer.left_over["shell"].area == pytest.approx(usable - 206000, abs=1)
    assert answer.left_over["shell"].rectangles
    assert answer.proof is None
    assert answer.suggestions == ()


def test_too_close_when_the_spare_is_under_the_plus_minus() -> None:
    cloth = garment(box(0, 0, 200, 300), plus_minus=PlusMinus(0.0, 5.0))
    answer = fit([cloth], Project("p", (panel("body", 196, 296),)))
    assert answer.verdict is Verdict.TOO_CLOSE
    assert answer.spare is not None
    assert 1.75 <= answer.spare <= 2.0
    assert "measure by hand" in answer.reasons[1]


def test_a_spare_just_above_the_plus_minus_is_found_and_one_just_below_is_told_to_a_quarter_millimetre() -> (
    None
):
    """One panel on a rectangle: half of what its length leaves is to spare, here 4.5 mm."""
    project = Project("p", (panel("body", 191, 291),))
    sure = fit([garment(box(0, 0, 200, 300), plus_minus=PlusMinus(0.0, 4.0))], project)
    assert (sure.verdict, sure.plus_minus) == (Verdict.YES, 4.0)
    close = fit([garment(box(0, 0, 200, 300), plus_minus=PlusMinus(0.0, 4.7))], project)
    assert close.verdict is Verdict.TOO_CLOSE
    assert close.spare is not None
    assert 4.25 <= close.spare <= 4.5


def test_scale_adds_to_the_plus_minus_over_the_extent_of_the_layout() -> None:
    """1 % of 600 mm is 6 mm, 3 on each side; with an edge good to 4 mm that makes 5."""
    cloth = garment(box(0, 0, 620, 300), plus_minus=PlusMinus(1.0, 4.0))
    answer = fit([cloth], Project("p", (panel("body", 600, 270),)))
    assert answer.plus_minus == pytest.approx(5.0, abs=0.01)


def test_no_place_names_the_panel_and_the_nearest_stretch_in_the_unit_of_the_project() -> None:
    project = Project("p", (panel("flap", 254, 508),), unit=Unit.INCH)
    answer = fit([garment(box(0, 0, 300, 457.2))], project)
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert answer.proof.kind == "no-place"
    assert (
        answer.reasons[0]
        == "flap, 10 × 20 in cut, fits nowhere on the shell: the longest clear stretch of that width is 18 in, and it needs 20 in."
    )


def test_no_comes_with_a_size_that_fits() -> None:
    answer = fit([garment(box(0, 0, 300, 400))], Project("p", (panel("flap", 100, 500),)))
    assert answer.verdict is Verdict.NO
    assert answer.largest_scale_percent == pytest.approx(80, abs=1.01)
    assert any("across the grain" in each or "pieced" in each for each in answer.suggestions) is True


def test_to_leave_out_a_small_panel_is_offered_and_the_main_one_never() -> None:
    small, main = panel("loop", 40, 450), panel("body", 200, 250)
    answer = fit([garment(box(0, 0, 300, 400))], Project("p", (main, small)))
    assert "It fits without loop, or with it cut from other cloth (40 × 450 mm)." in answer.suggestions
    small, main = panel("loop", 40, 100), panel("body", 200, 450)
    answer = fit([garment(box(0, 0, 300, 400))], Project("p", (main, small)))
    assert answer.verdict is Verdict.NO
    assert not any("without body" in each for each in answer.suggestions)


def test_more_cloth_than_there_is_even_with_joins_and_strips() -> None:
    project = Project("p", (panel("body", 200, 200, cut=2, joins=2),), (Strip("tie", 50, 1000),))
    answer = fit([garment(box(0, 0, 300, 350))], project)
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert answer.proof.kind == "area"
    assert answer.proof.numbers["asked"] == pytest.approx(2 * 40000 + 50000)


def test_a_fabric_that_is_not_there() -> None:
    answer = fit(
        [COAT], Project("p", (panel("body", 100, 100), panel("bag lining", 100, 100, fabric="Lining")))
    )
    assert answer.verdict is Verdict.NO
    assert "'Lining'" in answer.reasons[0]
    assert "shell" in answer.reasons[0]


def test_a_panel_is_pieced_only_when_it_has_to_be() -> None:
    two = garment(box(0, 0, 300, 450), box(0, 0, 300, 450))
    body = panel("body", 280, 600, joins=1, seam_allowance=10.0)
    answer = fit([two], Project("p", (body,)))
    assert answer.verdict is Verdict.YES_WITH_JOINS
    assert len(answer.placements) == 2
    assert "a join across" in answer.join_plan[0]
    whole = fit([garment(box(0, 0, 300, 620))], Project("p", (body,)))
    assert whole.verdict is Verdict.YES


def test_a_panel_that_no_joins_can_save_is_refused() -> None:
    scraps = garment(*[box(0, 0, 150, 150)] * 9)
    answer = fit([scraps], Project("p", (panel("body", 400, 400, joins=1, seam_allowance=10.0),)))
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert answer.proof.kind == "no-place"


@pytest.mark.parametrize(
    ("cloth", "panels"),
    [
        (
            box(0, 0, 19 * 25.4, 29 * 25.4),
            panel("square", 254, 254, cut=4),
        ),  # two squares side by side at most
        (box(0, 0, 150, 150), panel("body", 400, 400, joins=1, seam_allowance=10.0)),
    ],
)
def test_proofs_by_count_and_by_parts_are_told_in_the_unit_of_the_project(
    cloth: Polygon, panels: Panel
) -> None:
    answer = fit(
        [garment(*[cloth] * 9 if panels.joins else [cloth])], Project("p", (panels,), unit=Unit.INCH)
    )
    assert answer.verdict is Verdict.NO
    assert " in" in answer.reasons[0]
    assert "mm" not in answer.reasons[0]


def test_a_mirrored_pair_can_be_pieced() -> None:
    outline = ((0.0, 0.0), (250.0, 0.0), (250.0, 300.0), (100.0, 500.0), (0.0, 500.0))
    project = Project("p", (Panel("front", outline, cut=2, mirrored=True, joins=1, seam_allowance=8.0),))
    answer = fit([garment(*[box(0, 0, 265, 380)] * 4)], project)
    assert answer.verdict is Verdict.YES_WITH_JOINS


def test_a_pair_whose_mirror_image_looks_the_same_is_still_one_of_each() -> None:
    project = Project("case", (panel("side", 240, 110, cut=2, mirrored=True),), cutting_gap=3)
    answer = fit([garment(box(0, 0, 600, 400))], project)
    assert answer.verdict is Verdict.YES
    assert sorted(each.flipped for each in answer.placements) == [False, True]


@pytest.mark.parametrize("join", [Join.BIAS, Join.STRAIGHT])
def test_a_strip_is_joined_from_as_few_lengths_as_will_do(join: Join) -> None:
    cloth = garment(box(0, 0, 300, 500), box(0, 0, 200, 500))
    tie = Strip("tie", 60, 900, join=join, seam_allowance=10.0)
    answer = fit([cloth], Project("p", (panel("body", 220, 400),), (tie,)))
    assert answer.verdict is Verdict.YES_WITH_JOINS
    assert sum(each.panel == "tie" for each in answer.placements) == 2
    assert answer.join_plan[0].startswith("tie: 2 lengths")


def test_a_strip_that_may_not_be_joined_is_refused_where_it_is_too_long() -> None:
    answer = fit([garment(box(0, 0, 300, 500))], Project("p", (), (Strip("tie", 60, 600, join=Join.NONE),)))
    assert answer.verdict is Verdict.NO


def test_both_layers_are_cut() -> None:
    lay = garment(box(0, 0, 300, 400), layers=2)
    answer = fit([lay], Project("p", (panel("body", 280, 380, cut=2),)))
    assert answer.verdict is Verdict.YES
    assert {each.layer for each in answer.placements} == {1, 2}


@pytest.mark.parametrize("seed", range(3))
def test_where_one_layer_is_enough_it_is_the_upper_one(seed: int) -> None:
    lay = garment(box(0, 0, 300, 400), layers=3)
    project = Project("p", (panel("body", 280, 380), panel("pocket", 100, 120)))
    answer = fit_project([lay], project, seconds=1.0, seed=seed)
    assert sorted(each.layer for each in answer.placements) == [1, 2]


def test_small_pieces_are_used_up_first_where_they_leave_spare_enough() -> None:
    """On the small pieces 10 mm are to spare, on the large one 15: no third is given up, and all of it is left."""
    cloth = garment(box(0, 0, 340, 360), box(0, 0, 220, 220), box(0, 0, 130, 330))
    project = Project("p", (panel("base", 200, 200), panel("side", 110, 300)))
    answer = fit([cloth], project)
    assert {each.piece for each in answer.placements} == {"piece 2", "piece 3"}


def test_garments_that_suffice_alone_are_named_and_the_smallest_is_used() -> None:
    garments = [
        garment(box(0, 0, 600, 700), name="coat"),
        garment(box(0, 0, 320, 420), name="skirt"),
        garment(box(0, 0, 150, 150), name="cuff"),
    ]
    answer = fit(garments, Project("p", (panel("body", 300, 400),)))
    assert answer.suffices == (0, 1)
    assert {each.garment for each in answer.placements} == {1}
    assert any("coat" in each and "skirt" in each for each in answer.reasons)


def test_garments_used_together_where_none_suffices() -> None:
    garments = [garment(box(0, 0, 320, 420), name="skirt"), garment(box(0, 0, 320, 420), name="apron")]
    answer = fit(garments, Project("p", (panel("body", 300, 400, cut=2),)))
    assert answer.verdict is Verdict.YES
    assert answer.suffices == ()
    assert {each.garment for each in answer.placements} == {0, 1}


@pytest.mark.parametrize(
    ("garments", "project", "words"),
    [
        ([COAT], Project("empty", ()), "nothing to cut"),
        ([], BAG, "No garment"),
        ([COAT], Project("twice", (panel("a", 9, 9), panel("a", 9, 9))), "two panels called 'a'"),
        ([Garment("coat", COAT.pieces[:1] * 2)], BAG, "two pieces called"),
    ],
)
def test_what_can_not_be_used_is_named(garments: list[Garment], project: Project, words: str) -> None:
    with pytest.raises(SalvageError, match=words):
        fit_project(garments, project)


def test_stopped_at_once_it_still_answers() -> None:
    cloth = Garment("napkin", (Piece("middle", box(0, 0, 272, 272)),))
    five = Project("five squares", (panel("square", 100, 100, cut=5, grain=Grain.ANY),))
    answer = fit([cloth], five, stop=lambda: True)  # they fit, but only two sides of them askew
    assert answer.verdict is Verdict.UNSETTLED
    assert answer.not_placed


def test_same_steps_and_seed_give_the_same_answer() -> None:
    answers = [fit_project([COAT], BAG, steps=400, seed=5) for _ in range(2)]
    assert answers[0].placements == answers[1].placements
    assert answers[0].spare == answers[1].spare
    assert answers[0].largest_scale_percent == answers[1].largest_scale_percent


def test_progress_ends_at_one() -> None:
    told: list[float] = []
    fit([COAT], BAG, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_answer_as_json_has_the_keys_of_the_design() -> None:
    photo = PiecePhoto("back.jpg", 150.0)
    coat = garment(box(0, 0, 600, 700), photo=photo)
    answer = fit([coat], Project("p", (panel("body", 300, 400),)))
    data = json.loads(json.dumps(answer_to_json(answer, [coat], lambda piece, points: points * 2 + 1)))
    assert data["format"] == "salvage fit 1"
    keys = ("verdict", "spare", "plus_minus", "seconds", "reasons", "proof", "placements", "not_placed")
    assert all(key in data for key in (*keys, "largest_scale_percent", "left_over"))
    placed = data["placements"][0]
    assert placed["photo"] == "back.jpg"
    corners = placed["shape"]["coordinates"][0]
    assert placed["shape_px"] == [
        [pytest.approx(2 * x + 1, abs=0.01), pytest.approx(2 * y + 1, abs=0.01)] for x, y in corners[:-1]
    ]
    assert data["left_over"]["shell"]["area"] == pytest.approx(600 * 700 - 300 * 400)

"""Panels that keep something of the garment: a pocket inside, a side on the hem; and the checker's own look at both."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer, Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.recheck.recheck import doubt_about
from salvage.project.project import Around, Edge, Panel, Project
from salvage.project.read import read_project

SECONDS = 8.0
POCKET = box(140, 200, 260, 330)


def front(*more: Blocked, edge: float = 1.0, width: float = 420, length: float = 560) -> Garment:
    """A front of 420 x 560 with a pocket of 120 x 130 in it, and a hem 20 wide below."""
    pocket = Blocked(BlockedKind.POCKET, POCKET, 3.0, what="patch pocket")
    hem = Blocked(BlockedKind.HEM, box(0, 0, width, 20), 6.0)
    outline = box(0, 0, width, length)
    piece = Piece("front", outline, blocked=(pocket, hem, *more), plus_minus=PlusMinus(0.0, edge))
    piece = replace(piece, usable=usable(piece))
    back = box(0, 0, 300, 300)
    return Garment(
        "coat", (piece, Piece("back", back, usable=MultiPolygon([back]), plus_minus=PlusMinus(0.0, edge)))
    )


def panel(name: str, width: float, length: float, **more: Any) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)


def fit(garment: Garment, *panels: Panel) -> Answer:
    project = Project("bag", panels, cutting_gap=3)
    answer = fit_project([garment], project, seconds=SECONDS)
    if answer.placements and not answer.not_placed:
        assert check([garment], project, answer.placements) == ()
    return answer


def test_a_panel_is_cut_round_a_pocket_and_the_rest_beside_it() -> None:
    bag = panel("bag", 260, 300, seam_allowance=10.0, around=Around("pocket", (130.0, 140.0), 8.0))
    answer = fit(front(), bag, panel("back", 260, 280))
    assert answer.verdict is Verdict.YES
    assert answer.reasons[0] == "bag is cut round the patch pocket (120 × 130 mm) of front."
    laid = next(each for each in answer.placements if each.panel == "bag")
    assert laid.shape.buffer(-10, join_style="mitre").covers(POCKET)
    left, bottom, _, _ = laid.shape.bounds
    off_x, off_y = POCKET.centroid.x - left - 130, POCKET.centroid.y - bottom - 140
    if laid.angle == pytest.approx(180.0):
        off_x, off_y = 260 - 130 - (POCKET.centroid.x - left), 300 - 140 - (POCKET.centroid.y - bottom)
    assert max(abs(off_x), abs(off_y)) <= 8.0 + 1e-6


def test_everything_else_stays_blocked() -> None:
    """A stain beside the pocket, where the panel would reach whichever way it lies within the tolerance."""
    stain = Blocked(BlockedKind.WORN, box(280, 250, 300, 280), 3.0)
    bag = panel("bag", 260, 300, around=Around("pocket", (130.0, 150.0), 8.0))
    assert fit(front(), bag).verdict is Verdict.YES
    answer = fit(front(stain), bag)
    assert answer.verdict is Verdict.UNSETTLED
    assert "was not found to lie round the patch pocket of front" in answer.reasons[0]
    assert answer.proof is None


def test_a_button_on_the_pocket_is_part_of_it() -> None:
    button = Blocked(BlockedKind.CLOSURE, box(190, 310, 205, 325), 3.0)
    bag = panel("bag", 260, 300, around=Around("patch", (130.0, 150.0), 8.0))
    assert fit(front(button), bag).verdict is Verdict.YES


def test_where_the_cloth_round_it_is_too_small_the_panel_is_pieced_up_to_size() -> None:
    bag = panel("bag", 260, 700, seam_allowance=10.0, joins=1, around=Around("pocket"))
    answer = fit(front(), bag)
    assert answer.verdict is Verdict.YES_WITH_JOINS
    assert len(answer.placements) == 2
    assert answer.join_plan
    assert {each.piece for each in answer.placements} >= {"front"}


def test_nothing_of_that_name_is_unsettled_and_says_what_there_is() -> None:
    answer = fit(front(), panel("bag", 260, 300, around=Around("zip")))
    assert answer.verdict is Verdict.UNSETTLED
    assert "no zip is known" in answer.reasons[0]
    assert "patch pocket" in answer.reasons[0]


def test_a_no_for_the_rest_alone_is_a_no_with_its_proof() -> None:
    bag = panel("bag", 260, 300, around=Around("pocket"))
    answer = fit(front(), bag, panel("blanket", 900, 900))
    assert answer.verdict is Verdict.NO
    assert answer.proof is not None
    assert "blanket" in answer.proof.panels


def test_a_mirrored_pair_is_cut_round_two_pockets() -> None:
    other = Blocked(BlockedKind.POCKET, affinity.translate(POCKET, 400, 0), 3.0, what="patch pocket")
    wide = front(other, width=900)
    pair = panel("side", 240, 260, cut=2, mirrored=True, around=Around("pocket", (110.0, 120.0), 10.0))
    answer = fit(wide, pair)
    assert answer.verdict is Verdict.YES
    assert sorted(each.flipped for each in answer.placements) == [False, True]


@pytest.mark.parametrize("lean", [0.0, 1.0])
def test_a_side_lies_on_the_hem_without_allowance(lean: float) -> None:
    garment = front()
    piece = garment.pieces[0]
    turned = replace(
        piece,
        outline=affinity.rotate(piece.outline, lean, origin=(0, 0)),
        usable=affinity.rotate(piece.usable, lean, origin=(0, 0)),
        blocked=tuple(
            replace(each, shape=affinity.rotate(each.shape, lean, origin=(0, 0))) for each in piece.blocked
        ),
    )
    garment = replace(garment, pieces=(turned, *garment.pieces[1:]))
    flap = panel("flap", 130, 150, seam_allowance=10.0, edge=Edge("hem", "bottom"))
    answer = fit(garment, flap)
    assert answer.verdict is Verdict.YES
    (laid,) = answer.placements
    assert laid.shape.distance(turned.outline.exterior) < 0.1
    assert laid.angle % 360 == pytest.approx(lean, abs=0.01)
    assert answer.reasons[0] == "flap lies with its bottom on the hem of front."


def test_a_hem_that_a_photograph_shows_as_the_line_of_its_stitching_has_its_edge_beside_it() -> None:
    garment = front()
    piece = garment.pieces[0]
    stitching = Blocked(BlockedKind.HEM, LineString([(5, 24), (200, 26), (415, 23)]), 6.0)
    piece = replace(piece, blocked=(piece.blocked[0], stitching), usable=None)
    garment = replace(garment, pieces=(piece, *garment.pieces[1:]))
    flap = panel("flap", 130, 150, seam_allowance=10.0, edge=Edge("hem", "bottom"))
    answer = fit(garment, flap)
    assert answer.verdict is Verdict.YES
    (laid,) = answer.placements
    assert laid.shape.distance(piece.outline.exterior) < 0.1
    # off that edge, or on the other side of the stitching, it isn't on the hem
    project = Project("bag", (flap,), cutting_gap=3)
    for up in (7.0, 40.0):
        moved = replace(laid, shape=affinity.translate(laid.shape, 0, up))
        assert any("does not lie with its bottom on" in each for each in check([garment], project, [moved]))


def test_numbers_left_open_are_found_beside_what_is_kept() -> None:
    bag, flag = panel("bag", 200, 240, around=Around("pocket")), panel("flag", 120, 120, many=True)
    garment = front()
    answer = fit_project([garment], Project("bag", (bag, flag), cutting_gap=3), seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert answer.many["flag"] >= 6
    many = replace(flag, cut=answer.many["flag"], many=False)
    assert not check([garment], Project("bag", (bag, many), cutting_gap=3), answer.placements)


def test_as_many_as_the_hem_is_long_for() -> None:
    flap = panel("flap", 120, 100, edge=Edge("hem"), many=True)
    answer = fit_project([front()], Project("bag", (flap,), cutting_gap=3), seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert answer.many == {"flap": 3}  # on 420; of a fourth one there would be hem for half
    assert answer.reasons[0].startswith("flap: 3 can be cut")
    assert len(answer.placements) == 3


def test_on_a_hem_a_panel_may_be_turned_over() -> None:
    """The hem ends at the cloth's right edge, so that the panel's tongue, drawn to the right, must point to the left."""
    tongue = ((0.0, 0.0), (200.0, 0.0), (200.0, 80.0), (330.0, 80.0), (330.0, 130.0), (0.0, 130.0))
    outline = box(200, 0, 420, 60).union(box(0, 60, 420, 300))
    hem = Blocked(BlockedKind.HEM, box(200, 0, 420, 20), 6.0)
    garment = Garment("coat", (Piece("front", outline, blocked=(hem,), plus_minus=PlusMinus(0.0, 1.0)),))
    flap = Panel("flap", tongue, edge=Edge("hem"))
    assert not fit(garment, flap).placements
    (laid,) = fit(garment, replace(flap, flip=True)).placements
    assert laid.flipped


def test_a_panel_is_pieced_at_both_ends_of_what_it_keeps() -> None:
    """The pocket lies in its middle, with 240 of cloth below and 295 above; 350 each way are asked for."""
    bag = panel("bag", 200, 700, around=Around("pocket", (100.0, 350.0), 10.0), seam_allowance=10.0)
    one, two = (
        fit_project([front()], Project("bag", (replace(bag, joins=n),), cutting_gap=3), seconds=SECONDS)
        for n in (1, 2)
    )
    assert not one.verdict.is_yes
    assert two.verdict is Verdict.YES_WITH_JOINS
    assert len(two.placements) == 3


def test_the_checker_refuses_what_keeps_nothing() -> None:
    garment = front()
    plain = panel("bag", 100, 100)
    project = Project("p", (plain,))
    laid = fit_project([garment], project, seconds=SECONDS).placements
    for keeping in (replace(plain, around=Around("pocket")), replace(plain, edge=Edge("hem"))):
        assert any("does not lie" in each for each in check([garment], Project("p", (keeping,)), laid))


def test_the_checker_refuses_a_pocket_in_the_wrong_place_or_in_the_allowance() -> None:
    garment = front()
    bag = panel("bag", 260, 300, around=Around("pocket", (130.0, 140.0), 8.0))
    laid = fit_project([garment], Project("p", (bag,)), seconds=SECONDS).placements
    elsewhere = replace(bag, around=Around("pocket", (130.0, 170.0), 8.0))
    assert check([garment], Project("p", (bag,)), laid) == ()
    assert check([garment], Project("p", (elsewhere,)), laid)
    wide = replace(bag, seam_allowance=80.0)
    assert any("does not lie round" in each for each in check([garment], Project("p", (wide,)), laid))


def test_no_other_panel_may_lie_on_the_pocket() -> None:
    garment = front()
    bag = panel("bag", 260, 300, around=Around("pocket", (130.0, 140.0), 8.0))
    laid = fit_project([garment], Project("p", (bag,)), seconds=SECONDS).placements
    without = replace(bag, around=None)
    assert any("leaves the usable cloth" in each for each in check([garment], Project("p", (without,)), laid))


def test_the_sample_project_keeps_the_pocket_where_it_says() -> None:
    project = read_project(Path(__file__).parents[2] / "fixtures" / "projects" / "pocket_bag.toml")
    cloth = box(0, 0, 600, 700)
    garment = front()
    wide = Piece("coat back", cloth, usable=MultiPolygon([cloth]), plus_minus=PlusMinus(0.0, 1.0))
    garment = replace(garment, pieces=(*garment.pieces, wide))
    answer = fit_project([garment], project, seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert check([garment], project, answer.placements) == ()
    (laid,) = (each for each in answer.placements if each.panel == "front")
    assert laid.shape.buffer(-10, join_style="mitre").covers(POCKET)


def test_no_proof_is_believed_that_counts_on_a_panel_that_keeps_something() -> None:
    """It may lie on what is else no cloth: what holds for the same panel without it shows nothing."""
    garment, plain = front(), panel("bag", 260, 550)
    proof = fit_project([garment], Project("p", (plain,)), seconds=SECONDS).proof
    assert proof is not None
    assert doubt_about(proof, [garment], Project("p", (plain,))) is None
    for keeping in (replace(plain, around=Around("pocket")), replace(plain, edge=Edge("hem"))):
        assert doubt_about(proof, [garment], Project("p", (keeping,))) is not None

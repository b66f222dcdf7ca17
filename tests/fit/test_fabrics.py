"""Each fabric has its verdict, whatever the others do."""

from __future__ import annotations

import json

from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.check.check import check
from salvage.fit.claim import ProofKind
from salvage.fit.fabrics import by_fabric, one_for_all
from salvage.fit.fit import fit_project
from salvage.fit.write import answer_to_json
from salvage.project.project import Panel, Project
from salvage.report.say.summary import fit_summary
from salvage.units import Unit


def piece(name: str, width: float, length: float, fabric: str = "shell", edge: float = 0.0) -> Piece:
    cloth = box(0, 0, width, length)
    return Piece(name, cloth, fabric, usable=MultiPolygon([cloth]), plus_minus=PlusMinus(0.0, edge))


def panel(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


COAT = Garment("coat", (piece("back", 500, 600), piece("lining back", 300, 331, "Lining")))


def fit(garments: list[Garment], *panels: Panel) -> Answer:
    return fit_project(garments, Project("bag", panels), seconds=15.0)


def test_a_no_of_one_fabric_leaves_the_yes_of_the_other_and_its_layout() -> None:
    project = Project("bag", (panel("body", 400, 300), panel("pocket", 140, 339, fabric="lining", cut=2)))
    answer = fit_project([COAT], project, seconds=15.0)
    assert answer.verdict is Verdict.NO
    assert {name: each.verdict for name, each in answer.fabrics.items()} == {
        "shell": Verdict.YES, "lining": Verdict.NO,
    }  # fmt: skip
    assert answer.proof is not None
    assert answer.proof is answer.fabrics["lining"].proof
    assert answer.proof.kind is ProofKind.NO_PLACE
    assert [each.panel for each in answer.placements] == ["body"]
    assert answer.not_placed == ("pocket", "pocket")
    assert check([COAT], project, answer.placements, partial=True) == ()
    told = fit_summary(answer, project, Unit.MM, [COAT])
    assert "shell: yes." in told
    assert "lining: no. pocket, 140 × 339 mm cut, fits nowhere on the lining" in told
    assert "331 mm" in told
    assert "Only the shell can be cut as drawn." in told
    written = json.loads(json.dumps(answer_to_json(answer, [COAT])))
    assert written["fabrics"]["shell"]["verdict"] == "yes"
    assert written["fabrics"]["lining"]["proof"]["kind"] == "no-place"


def test_a_panel_that_fits_nowhere_settles_its_fabric_though_another_is_hard() -> None:
    """Seven strange angles in a tight sheet can't be settled in the time; the lining's no is sure."""
    hard = panel("brick", 83, 131, cut=26, rotations=(0.0, 17.0, 41.0, 90.0))
    answer = fit([COAT], hard, panel("pocket", 310, 100, fabric="lining"))
    assert answer.fabrics["lining"].verdict is Verdict.NO
    assert answer.verdict is Verdict.NO


def test_a_yes_of_all_fabrics_is_a_yes_with_the_least_spare() -> None:
    answer = fit([COAT], panel("body", 480, 300), panel("pocket", 200, 300, fabric="LINING"))
    assert answer.verdict is Verdict.YES
    assert set(answer.fabrics) == {"shell", "LINING"}
    assert answer.spare is not None
    assert answer.spare <= 10.0  # the body leaves 20 mm of the back's width
    assert answer.left_over["Lining"].area == 300 * 331 - 200 * 300


def test_one_fabric_has_its_verdict_too() -> None:
    answer = fit([COAT], panel("body", 480, 300))
    assert {name: each.verdict for name, each in answer.fabrics.items()} == {"shell": Verdict.YES}


def test_too_close_in_one_fabric_is_too_close_for_the_whole_and_says_which() -> None:
    coat = Garment(
        "coat", (piece("back", 500, 600, edge=2.0), piece("lining back", 300, 331, "lining", edge=2.0))
    )
    answer = fit([coat], panel("body", 300, 300), panel("pocket", 299, 200, fabric="lining"))
    assert answer.verdict is Verdict.TOO_CLOSE
    assert answer.fabrics["shell"].verdict is Verdict.YES
    assert answer.fabrics["lining"].verdict is Verdict.TOO_CLOSE
    assert answer.spare is not None
    assert answer.spare < answer.plus_minus


def test_where_one_garment_does_for_all_fabrics_the_others_stay_whole() -> None:
    """The small scarf alone would do for the lining, but the coat does for both."""
    scarf = Garment("scarf", (piece("scarf", 250, 320, "lining"),))
    answer = fit([COAT, scarf], panel("body", 400, 300), panel("pocket", 200, 300, fabric="lining"))
    assert answer.verdict is Verdict.YES
    assert answer.suffices == (0,)
    assert {each.garment for each in answer.placements} == {0}


def test_what_is_left_over_agrees_with_what_the_record_has() -> None:
    answer = fit([COAT], panel("body", 400, 300))
    whole = sum(usable(each).area for each in COAT.pieces if each.fabric == "shell")
    assert answer.left_over["shell"].area == whole - 400 * 300


def test_all_panels_that_fit_nowhere_are_named_at_once_with_the_size_that_would() -> None:
    l_shape = Panel("corner", ((0, 0), (520, 0), (520, 90), (90, 90), (90, 400), (0, 400)))
    answer = fit([COAT], panel("long", 90, 700), panel("body", 200, 200), panel("wide", 540, 100), l_shape)
    assert answer.verdict is Verdict.NO
    told = " ".join(answer.reasons)
    assert (
        "long, 90 × 700 mm cut, fits nowhere on the shell: the longest clear stretch of that width is 600 mm"
        in told
    )
    assert (
        "wide, 540 × 100 mm cut, fits nowhere on the shell; the largest clear rectangle is 500 × 600 mm"
        in told
    )
    assert "corner, 520 × 400 mm cut, fits nowhere on the shell; at 96 % of its cut size it would" in told
    assert "body" not in told


def test_an_area_told_agrees_with_what_holds_says_and_gives_the_most_it_can_be() -> None:
    coat = Garment("coat", (piece("back", 500, 600, edge=2.0),))
    answer = fit([coat], panel("body", 250, 300, cut=5))
    assert answer.reasons[0].startswith(
        "The project asks for 3,750 cm² of shell, and 3,000 cm² of it can be used"
    )
    assert "with the plus-minus no more than 3,0" in answer.reasons[0]


def laid(*garments: int, suffices: tuple[int, ...]) -> Answer:
    placements = tuple(
        Placement("p", n, None, garment, "back", 1, 0.0, False, box(0, 0, 9, 9))
        for n, garment in enumerate(garments, 1)
    )
    return Answer(Verdict.YES, (), placements, suffices=suffices)


def test_the_smallest_garment_that_suffices_for_all_fabrics_is_taken_where_several_were() -> None:
    small = Garment("small", (piece("back", 100, 100),))
    garments = [COAT, small, COAT]
    one, other = laid(0, suffices=(0, 1, 2)), laid(2, suffices=(0, 1))
    assert one_for_all({"shell": one, "lining": other}, garments) == 1
    assert one_for_all({"shell": one, "lining": laid(2, suffices=(0,))}, garments) == 0
    assert one_for_all({"shell": one, "lining": laid(2, suffices=())}, garments) is None
    # all of it lies on one garment already
    assert one_for_all({"shell": one, "lining": laid(0, suffices=(0, 1))}, garments) is None


def test_a_project_falls_into_its_fabrics_however_they_are_spelled() -> None:
    project = Project(
        "bag", (panel("a", 9, 9), panel("b", 9, 9, fabric="Lining"), panel("c", 9, 9, fabric="lining "))
    )
    parts = by_fabric(project)
    assert {name: [each.name for each in part.panels] for name, part in parts.items()} == {
        "shell": ["a"], "Lining": ["b", "c"],
    }  # fmt: skip

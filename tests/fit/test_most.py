"""Numbers that a project leaves to the cloth: as many as can be cut, as long as can be joined."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.say.open import as_cut
from salvage.fit.write import answer_to_json
from salvage.project.project import Join, Panel, Project, Strip
from salvage.project.read import project_from

SECONDS = 15.0


def piece(name: str, width: float, length: float, edge: float = 0.0) -> Piece:
    cloth = box(0, 0, width, length)
    return Piece(name, cloth, usable=MultiPolygon([cloth]), plus_minus=PlusMinus(0.0, edge))


def panel(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


COAT = Garment("coat", (piece("back", 500, 600), piece("sleeve", 210, 410)))


def test_as_many_as_can_be_cut_and_no_more() -> None:
    """The back takes 5 x 3 pockets of 95 x 190 beside each other, the sleeve 2 x 2."""
    project = Project("pockets", (panel("pocket", 95, 190, many=True),))
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert answer.many == {"pocket": 19}
    assert len(answer.placements) == 19
    assert check([COAT], as_cut(project, answer), answer.placements) == ()
    assert answer.reasons[0] == "pocket: 19 can be cut, and it is proved that no more can."
    assert answer_to_json(answer, [COAT])["many"] == {"pocket": 19}
    assert answer.largest_scale_percent is None


def test_the_other_panels_come_first_and_pairs_stay_pairs() -> None:
    project = Project(
        "bag", (panel("side", 200, 400, mirrored=True, many=True, cut=2), panel("body", 400, 590))
    )
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.many == {}
    assert answer.verdict is Verdict.NO  # one side on the sleeve, and none beside the body
    free = Project("bag", (panel("side", 100, 200, mirrored=True, many=True, cut=2), panel("body", 400, 590)))
    answer = fit_project([COAT], free, seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert answer.many == {"side": 6}  # four on the sleeve, two or three beside the body


def test_the_plus_minus_is_kept_clear_of() -> None:
    coat = Garment("coat", (piece("back", 300, 200, edge=3.0),))
    answer = fit_project([coat], Project("pockets", (panel("pocket", 100, 195, many=True),)), seconds=SECONDS)
    assert answer.verdict is Verdict.TOO_CLOSE  # not even one has 3 mm to spare at both ends
    answer = fit_project([coat], Project("pockets", (panel("pocket", 100, 190, many=True),)), seconds=SECONDS)
    assert answer.verdict is Verdict.YES
    assert answer.many == {"pocket": 2}


def test_a_strip_as_long_as_can_be_joined() -> None:
    """The sleeve takes four lengths of 410 beside each other; three straight joins take 20 mm each."""
    strip = Strip(
        "tie", 52, 100, join=Join.STRAIGHT, shortest=100, seam_allowance=10, longest=True, pieces=("sleeve",)
    )
    project = Project("tie", (), (strip,))
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.verdict is Verdict.YES_WITH_JOINS
    most = 4 * 410 - 3 * 20
    assert 0.97 * most <= answer.longest["tie"] <= most
    assert check([COAT], as_cut(project, answer), answer.placements) == ()
    assert "is the longest that was found" in answer.reasons[0]


def test_a_strip_beside_many_panels_is_as_long_as_what_they_leave() -> None:
    """The sleeve alone takes four lengths of 410; twenty-five squares on the back leave some of that too."""
    strip = Strip("tie", 50, 100, join=Join.STRAIGHT, shortest=100, seam_allowance=10, longest=True)
    panels = tuple(panel(f"square {n}", 98, 98, cut=5, pieces=("back",)) for n in range(5))
    project = Project("game", panels, (strip,))
    answer = fit_project([COAT], project, seconds=SECONDS)
    assert answer.verdict is Verdict.YES_WITH_JOINS
    on_the_sleeve = 4 * 410 - 3 * 20
    assert answer.longest["tie"] >= on_the_sleeve
    room = 500 * 600 + 210 * 410 - 25 * 98 * 98
    assert answer.longest["tie"] <= room / 50
    assert check([COAT], as_cut(project, answer), answer.placements) == ()


def test_not_even_one_is_a_no() -> None:
    answer = fit_project([COAT], Project("p", (panel("pocket", 700, 700, many=True),)), seconds=SECONDS)
    assert answer.verdict is Verdict.NO
    assert answer.many == {}


def test_the_file_says_many_and_longest() -> None:
    data = {
        "panel": [{"name": "a", "size": [100, 300], "cut": "many", "mirrored": True}],
        "strip": [{"name": "c", "cut_width": 10, "length": "longest", "shortest": 150}],
    }
    project = project_from(data, folder=Path())
    assert (project.panels[0].cut, project.panels[0].many) == (2, True)
    assert (project.strips[0].length, project.strips[0].longest) == (150, True)
    data["panel"][0]["cut"] = "lots"
    with pytest.raises(SalvageError, match='1 or more, or "many"'):
        project_from(data, folder=Path())

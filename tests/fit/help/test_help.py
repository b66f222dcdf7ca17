"""What would help: every change that is told makes it fit when somebody does it, and says by how much."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from shapely.geometry import MultiPolygon, Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.fit.answer import Answer, Edit, Help, HelpKind, Verdict
from salvage.fit.ask import Plan
from salvage.fit.fit import fit_project
from salvage.fit.help import find
from salvage.fit.help.items import smaller
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import nothing_laid
from salvage.fit.material.lay import lay_of
from salvage.fit.write import answer_to_json
from salvage.project.project import Grain, Join, Panel, Project, Seam, Strip
from salvage.units import MM_PER_INCH, Unit

SECONDS = 8.0
FITS = (Verdict.YES, Verdict.YES_WITH_JOINS, Verdict.TOO_CLOSE)


def garment(*cloths: tuple[str, float, float, str], edge: float = 0.0) -> Garment:
    pieces = []
    for name, width, length, fabric in cloths:
        cloth = box(0, 0, width, length)
        pieces.append(
            Piece(name, cloth, fabric, usable=MultiPolygon([cloth]), plus_minus=PlusMinus(0.0, edge))
        )
    return Garment("coat", tuple(pieces))


def rectangle(width: float, length: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))


def panel(name: str, width: float, length: float, **more: Any) -> Panel:
    return Panel(name, rectangle(width, length), **more)


def done(project: Project, edits: tuple[Edit, ...]) -> Project:
    """The project as somebody writes it who does what is told, key by key."""
    panels, strips = project.panels, project.strips
    for edit in edits:
        panels = tuple(_edited(each, edit) if each.name == edit.item else each for each in panels)
        strips = tuple(_edited(each, edit) if each.name == edit.item else each for each in strips)
    return replace(
        project,
        panels=tuple(each for each in panels if each.cut > 0),
        strips=tuple(each for each in strips if each.cut > 0),
    )


def _edited(item: Any, edit: Edit) -> Any:
    after: Any = edit.after
    if edit.key in ("finished", "size"):
        allowance = item.seam_allowance if edit.key == "finished" else 0.0
        outline = rectangle(*(each + 2 * allowance for each in after))
        return replace(item, outline=outline, finished=after if edit.key == "finished" else None)
    if edit.key == "grain":
        return replace(item, grain=Grain(after))
    if edit.key == "join":
        return replace(item, join=Join(after))
    return replace(item, **{"pieces" if edit.key == "from" else edit.key: after})


def answered(garments: list[Garment], project: Project) -> tuple[Answer, dict[HelpKind, Help]]:
    """The answer, and what would help by kind; each change was done and asked again."""
    answer = fit_project(garments, project, seconds=SECONDS)
    assert answer.verdict not in FITS
    for each in answer.helps:
        if each.kind not in (HelpKind.SCALE, HelpKind.GARMENT):
            again = fit_project(garments, done(project, each.edits), seconds=SECONDS)
            assert again.verdict in FITS, each.text
            assert again.verdict is not Verdict.TOO_CLOSE, each.text
    return answer, {each.kind: each for each in answer.helps}


def test_what_must_shrink_and_by_how_much_to_the_millimetre() -> None:
    """The cloth is 400 long and good to 2 mm: of 440 + 2 x 10 at most 396 - 20 is left, 64 mm shorter."""
    body = panel("body", 200, 460, finished=(180, 440), seam_allowance=10.0)
    project = Project("bag", (body, panel("pocket", 80, 80)), cutting_gap=3)
    _, by_kind = answered([garment(("back", 300, 400, "shell"), edge=2.0)], project)
    told = by_kind[HelpKind.SHRINK]
    assert told.text.startswith("It fits if body is finished 180 × 37")
    assert "mm shorter)" in told.text
    (edit,) = told.edits
    assert (edit.item, edit.key, edit.before) == ("body", "finished", (180, 440))
    assert isinstance(edit.after, tuple)
    assert edit.after[0] == 180
    assert 370 <= float(edit.after[1]) <= 376


def test_a_join_and_a_turn_are_offered_where_they_help() -> None:
    """Turned it needs 350 x 250, and its halves lie side by side on 500 x 175."""
    project = Project("p", (panel("flap", 250, 350),))
    _, by_kind = answered([garment(("back", 520, 300, "shell"))], project)
    assert by_kind[HelpKind.TURN].text == "It fits if flap may also be cut across the grain."
    assert by_kind[HelpKind.TURN].edits == (Edit("flap", "grain", "along", "either"),)
    assert by_kind[HelpKind.JOIN].edits == (Edit("flap", "joins", 0, 1),)
    assert by_kind[HelpKind.JOIN].text.startswith("It fits if flap is pieced (flap: 2 parts, a join ")


def test_another_fabric_of_the_garment_helps_if_it_has_room_beside_its_own_panels() -> None:
    cloth = [garment(("back", 300, 300, "shell"), ("lining back", 500, 500, "lining"))]
    wide, own = panel("wide", 280, 320), panel("own", 200, 480, fabric="lining")
    _, by_kind = answered(cloth, Project("p", (wide, own), cutting_gap=2))
    assert by_kind[HelpKind.FABRIC].text == "It fits if wide is cut from lining."
    taken = replace(own, outline=rectangle(300, 480))
    _, by_kind = answered(cloth, Project("p", (wide, taken), cutting_gap=2))
    assert HelpKind.FABRIC not in by_kind


def test_cloth_that_is_missing_is_told_with_its_size() -> None:
    project = Project("p", (panel("body", 400, 500), panel("pocket", 100, 100)))
    _, by_kind = answered([garment(("back", 300, 300, "shell"))], project)
    told = by_kind[HelpKind.OTHER_CLOTH]
    assert told.text == "It fits if body (400 × 500 mm) is cut from other cloth: all else fits here."
    assert told.edits == (Edit("body", "cut", 1, 0),)


def test_a_second_garment_helps_where_only_the_area_is_short() -> None:
    project = Project("p", (panel("square", 140, 140, cut=6),), cutting_gap=2)
    _, by_kind = answered([garment(("back", 300, 300, "shell"))], project)
    assert by_kind[HelpKind.GARMENT].text == "It fits with a second garment like coat."
    assert by_kind[HelpKind.GARMENT].garments == 2
    assert by_kind[HelpKind.OTHER_CLOTH].text.startswith("It fits ")
    assert HelpKind.JOIN not in by_kind  # no join makes more cloth


def test_a_fabric_that_is_not_there_is_cut_from_another_or_must_be_found() -> None:
    lining = panel("bag lining", 120, 120, fabric="Lining", cut=2)
    project = Project("p", (panel("bag", 130, 130, cut=2), lining))
    _, by_kind = answered([garment(("back", 300, 300, "shell"))], project)
    assert by_kind[HelpKind.FABRIC].text == "It fits if bag lining is cut from shell."
    assert by_kind[HelpKind.OTHER_CLOTH].text == (
        "None of it can be cut from these: from other Lining cloth must be cut both bag lining (120 × 120 mm)."
    )


def test_several_that_have_no_place_change_together() -> None:
    """One is too long and may be turned, the other too large either way."""
    first, second = panel("first", 150, 350), panel("second", 320, 310)
    project = Project("p", (first, second), cutting_gap=2)
    _, by_kind = answered([garment(("back", 380, 300, "shell"), ("side", 360, 300, "shell"))], project)
    assert {edit.item for edit in by_kind[HelpKind.SHRINK].edits} == {"first", "second"}


def test_a_strip_is_shorter_or_joined() -> None:
    strap = Strip("strap", 60, 700, join=Join.NONE, seam_allowance=8)
    _, by_kind = answered([garment(("back", 200, 500, "shell"))], Project("p", (), (strap,)))
    assert by_kind[HelpKind.JOIN].text == "It fits if strap may be joined from shorter lengths."
    assert by_kind[HelpKind.SHRINK].text.startswith("It fits if strap is 49")


def test_what_is_sewn_to_a_smaller_panel_is_thought_of() -> None:
    project = Project(
        "p", (panel("body", 200, 460), panel("side", 60, 380)), seams=(Seam("body", "left", "side", "right"),)
    )
    _, by_kind = answered([garment(("back", 300, 400, "shell"))], project)
    assert by_kind[HelpKind.SHRINK].text.endswith("What is sewn to it changes with it.")


def test_a_size_of_the_whole_is_never_told_alone_without_what_it_means() -> None:
    """Both panels are too large, and nothing else is asked for: only a smaller project fits."""
    one, two = (panel(name, 300, 420, finished=(280, 400), seam_allowance=10.0) for name in ("one", "two"))
    answer, _ = answered(
        [garment(("a", 200, 200, "shell"), ("b", 200, 200, "shell"))], Project("p", (one, two))
    )
    scales = [each for each in answer.helps if each.kind is HelpKind.SCALE]
    assert len(scales) == 1
    assert scales[0].text.startswith(
        "No change of one panel was found to be enough. It fits when the whole project"
    )
    assert "is then finished" in scales[0].text


@pytest.mark.parametrize("searching", [True, False])
def test_what_is_cut_elsewhere_is_told_of_the_cloth_that_is_sure(
    searching: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of eight that touch each other and every edge one at most is left where the cloth is smaller; four find room.

    Those are laid anew, or known from a search on that cloth.
    """
    project = Project("p", (panel("square", 100, 100, cut=8),))
    lay = lay_of([garment(("back", 300, 300, "shell"))])
    smaller_lay = lay.shrunk(2.0)
    seconds = Budget.start(SECONDS / 2)
    wide, narrow = (arrange(each, project, seconds.part(0.3)) for each in (lay, smaller_lay))
    assert (len(wide.placed), len(narrow.placed)) == (8, 4)
    if not searching:
        monkeypatch.setattr(
            find, "arrange", lambda lay, project, *_, **__: nothing_laid(lay, project, Plan.whole(project))
        )
    asked = find.ToHelp(project, project, {"shell": smaller_lay}, {"shell": "shell"})
    changes = find.find_changes(asked, seconds, started=(wide,) if searching else (wide, narrow))
    (told,) = (each for each in changes if each.kind is HelpKind.OTHER_CLOTH)
    assert told.edits == (Edit("square", "cut", 8, 4),)


def test_helps_are_data_for_machines_too() -> None:
    project = Project("p", (panel("flap", 250, 350),))
    cloth = [garment(("back", 380, 300, "shell"))]
    answer, _ = answered(cloth, project)
    told = answer_to_json(answer, cloth)
    assert [each["text"] for each in told["helps"]] == told["suggestions"]
    turn = next(each for each in told["helps"] if each["kind"] == "turn")
    assert turn["edits"] == [{"item": "flap", "key": "grain", "before": "along", "after": "either"}]


@pytest.mark.parametrize(("unit", "step"), [(Unit.MM, 1.0), (Unit.INCH, MM_PER_INCH / 8)])
def test_a_smaller_size_is_rounded_down_to_what_people_write(unit: Unit, step: float) -> None:
    body = panel("body", 300, 460, finished=(280, 440), seam_allowance=10.0)
    changed = smaller(body, 1.0, 0.777, unit)
    assert changed is not None
    assert isinstance(changed.item, Panel)
    assert changed.item.finished is not None
    width, length = changed.item.finished
    assert width == 280
    assert length <= 0.777 * 440 < length + step
    assert length / step == pytest.approx(round(length / step))
    assert Polygon(changed.item.outline).bounds == pytest.approx((0, 0, 300, length + 20))


def test_what_is_too_close_hears_what_would_make_it_sure() -> None:
    """The cloth is 300 wide and good to 3 mm at each side: 298 lies on it by a hair, 294 for sure."""
    cloth = [garment(("back", 300, 300, "shell"), edge=3.0)]
    project = Project("p", (panel("flap", 298, 200),))
    answer = fit_project(cloth, project, seconds=SECONDS)
    assert answer.verdict is Verdict.TOO_CLOSE
    by_kind = {each.kind: each for each in answer.helps}
    (edit,) = by_kind[HelpKind.SHRINK].edits
    assert edit.key == "size"
    assert isinstance(edit.after, tuple)
    assert 290 <= float(edit.after[0]) <= 294
    assert fit_project(cloth, done(project, (edit,)), seconds=SECONDS).verdict is Verdict.YES
    assert by_kind[HelpKind.SCALE].percent == 98

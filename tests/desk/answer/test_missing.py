"""What is laid and what is missing always make the whole project; copies keep their numbers apart."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

from hypothesis import given, settings
from hypothesis import strategies as st
from report_kit import placed
from shapely.geometry import Polygon

from salvage.desk.answer import missing
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.layout.found import Layout
from salvage.project.project import Panel, Project, Strip

FLAG = ((0.0, 0.0), (90.0, 0.0), (60.0, 50.0))


def laid(name: str, copy: int, flipped: bool = False, part: int | None = None) -> Placement:
    return placed(name, copy, 0, 0, 9, 9, flipped=flipped, part=part)


@st.composite
def half_laid(draw: st.DrawFn) -> tuple[Project, tuple[Placement, ...]]:
    """A project and copies of it that lie there: never more mirrored or plain ones than it asks for."""
    panels, there = [], []
    for n in range(draw(st.integers(1, 3))):
        cut, mirrored, flip = draw(st.integers(1, 6)), draw(st.booleans()), draw(st.booleans())
        cut += cut % 2 if mirrored else 0
        panels.append(
            Panel(f"panel {n}", FLAG, cut=cut, mirrored=mirrored, flip=flip, many=draw(st.booleans()))
        )
        images = [mirrored and not flip and k < cut // 2 for k in range(cut)]
        for k in draw(st.sets(st.integers(0, cut - 1))):
            parts = draw(st.sampled_from([(None,), (1, 2)]))
            there += [laid(f"panel {n}", k + 1, images[k], part) for part in parts]
    strips = tuple(
        Strip(f"strip {n}", 30, 300, cut=draw(st.integers(1, 3))) for n in range(draw(st.integers(0, 2)))
    )
    for each in strips:
        there += [laid(each.name, k + 1) for k in draw(st.sets(st.integers(0, each.cut - 1)))]
    return Project("p", tuple(panels), strips, cutting_gap=3.0), tuple(draw(st.permutations(there)))


@settings(max_examples=40)
@given(half_laid())
def test_what_is_laid_and_what_is_missing_make_the_whole(
    both: tuple[Project, tuple[Placement, ...]],
) -> None:
    project, there = both
    asked, names = missing.what_is_missing(project, there)
    counted: Counter[tuple[str, bool]] = Counter(
        (name, image) for name, _, image in {(each.panel, each.copy, each.flipped) for each in there}
    )
    for each in () if asked is None else missing.parts_of(asked):
        assert each.cut > 0
        assert not each.many
        counted[names[each.name]] += each.cut
    whole: Counter[tuple[str, bool]] = Counter()
    for panel in project.panels:
        images = panel.cut // 2 if panel.mirrored and not panel.flip else 0
        whole += Counter({(panel.name, True): images, (panel.name, False): panel.cut - images})
    whole += Counter({(strip.name, False): strip.cut for strip in project.strips})
    assert +counted == whole
    left = [] if asked is None else missing.names_left_out(asked, names)
    assert len(left) + len({(each.panel, each.copy) for each in there}) == sum(whole.values())


def test_a_missing_mirror_image_is_the_shape_turned_over_and_no_longer_mirrored() -> None:
    project = Project("p", (Panel("flag", FLAG, cut=2, mirrored=True),))
    asked, names = missing.what_is_missing(project, (laid("flag", 1),))
    assert asked is not None
    (panel,) = asked.panels
    assert (names[panel.name], panel.cut, panel.mirrored) == (("flag", True), 1, False)
    ring = Polygon(panel.outline)
    assert ring.exterior.is_ccw
    assert ring.equals(Polygon([(-x, y) for x, y in FLAG]))


def test_nothing_is_missing_of_what_is_all_laid() -> None:
    project = Project("p", (Panel("flag", FLAG),), (Strip("tie", 30, 300, longest=True),))
    assert missing.what_is_missing(project, (laid("flag", 1), laid("tie", 1))) == (None, {})
    asked, _ = missing.what_is_missing(project, (laid("flag", 1),))
    assert asked is not None
    assert (asked.panels, asked.strips[0].length, asked.strips[0].longest) == ((), 300, False)


OPEN = Project(
    "p",
    (Panel("flag", FLAG, cut=2, many=True), Panel("back", FLAG, cut=3)),
    (Strip("tie", 30, 300, longest=True), Strip("loop", 20, 80, many=True), Strip("rim", 20, 500)),
)


def test_a_project_is_closed_as_its_answer_has_it() -> None:
    answer = Answer(Verdict.YES, (), many={"flag": 7, "loop": 4}, longest={"tie": 930.0})
    closed = missing.closed(OPEN, answer)
    assert [each.cut for each in missing.parts_of(closed)] == [7, 3, 1, 4, 1]
    assert [each.length for each in closed.strips] == [930.0, 80, 500]
    assert not any(each.many for each in missing.parts_of(closed))
    assert not any(each.longest for each in closed.strips)
    assert [each.name for each, is_open in missing.left_to_cloth(closed, OPEN) if is_open] == ["flag", "loop"]
    assert missing.amount(closed, OPEN) == (7 + 4, 930.0)


@settings(max_examples=40)
@given(st.sets(st.integers(1, 9), min_size=1), st.data())
def test_copies_are_numbered_from_one_but_for_those_pinned(copies: set[int], data: st.DataObject) -> None:
    there = [laid("flag", n, part=k) for n in copies for k in (1, 2)]
    there = data.draw(st.permutations(there))
    pins = tuple(
        each
        for each in there
        if each.copy in data.draw(st.just(copies) | st.sets(st.sampled_from(sorted(copies))))
    )
    pinned = {each.copy for each in pins}
    project, counted = missing.as_many_as(OPEN, OPEN, tuple(there), pins)
    assert project.panels[0].cut == max(len(copies), 2)  # never less than asked
    assert project.panels[1:] == OPEN.panels[1:]
    new = {old.copy: now.copy for old, now in zip(there, counted, strict=True)}
    assert len(set(new.values())) == len(copies)
    assert all(replace(now, copy=old.copy) == old for old, now in zip(there, counted, strict=True))
    assert all(new[n] == n for n in pinned)
    free = [n for n in range(1, 20) if n not in pinned][: len(copies - pinned)]
    assert sorted(new[n] for n in copies - pinned) == free


def test_what_was_found_is_called_as_in_the_project_and_only_whole_copies_are() -> None:
    """Names of the missing project give way to the project's own, with copies that are free and sides turned over."""
    found = (
        laid("0 mirrored", 1), laid("0 as drawn", 1, flipped=True), laid("0 as drawn", 2, part=1), laid("1 strip", 1, part=1),
        laid("1 strip", 1, part=2),
    )  # fmt: skip
    items = (
        SimpleNamespace(name="0 mirrored", labels=((1, None),)),
        SimpleNamespace(name="0 as drawn", labels=((1, None), (2, 1))),
        SimpleNamespace(name="0 as drawn", labels=((2, 2),)),  # of which this part found no place
        SimpleNamespace(name="1 strip", labels=((1, 1), (1, 2))),
    )
    asked = SimpleNamespace(items=items, placements=lambda placed, renumbered: found)
    layout = cast(Layout, SimpleNamespace(asked=asked, placed=()))
    names = {"0 mirrored": ("flag", True), "0 as drawn": ("flag", False), "1 strip": ("tie", False)}
    kept = (laid("flag", 1), laid("flag", 3), laid("tie", 2))
    told = [
        (each.panel, each.copy, each.flipped, each.part) for each in missing.named_again(layout, names, kept)
    ]
    expected: list[Any] = [
        ("flag", 2, True, None),
        ("flag", 4, True, None),
        ("tie", 1, False, 1),
        ("tie", 1, False, 2),
    ]
    assert told == expected

"""Lay plans on plain cloth: known lengths, and the rules of a lay looked at with shapely alone."""

from __future__ import annotations

import math
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from salvage.fit.bolt.goods import Goods, is_even, off_the_bolt
from salvage.fit.bolt.plan import LayPlan, lay_plan
from salvage.fit.bolt.rows import cloth_length
from salvage.project.project import Project
from salvage.project.read import project_from

STEP = 50.0
GAP = 3.0
LEAF = [[0, 0], [120, 0], [40, 200], [0, 260]]  # no mirror image of itself


def made(*panels: dict[str, Any], strips: list[dict[str, Any]] | None = None) -> Project:
    data: dict[str, Any] = {"cutting_gap": GAP, "panel": list(panels)}
    return project_from(data | ({"strip": strips} if strips else {}), folder=Path())


def plan_of(project: Project, width: float = 1400.0, **more: Any) -> LayPlan:
    return lay_plan(project, Goods("shell", width, **more), STEP, seconds=1.0)


def faults(plan: LayPlan, project: Project) -> list[str]:
    """What is wrong with a plan, by the rules of a lay and nothing else of this program."""
    found = []
    asked = {panel.name: panel for panel in project.panels}
    assert plan.length is not None
    room = box(10.0, 0.0, plan.width - 10.0, plan.length).buffer(1e-6)
    for each in plan.placements:
        if not room.covers(each.shape):
            found.append(f"{each.panel} lies on a selvedge or beyond the cloth")
        if each.panel not in asked:
            continue
        panel = asked[each.panel]
        outline = Polygon(panel.outline)
        if each.flipped:
            outline = affinity.scale(outline, -1, 1, origin=(0, 0))
        outline = affinity.rotate(outline, each.angle, origin=(0, 0))
        dx, dy = (each.shape.bounds[k] - outline.bounds[k] for k in (0, 1))
        if affinity.translate(outline, dx, dy).symmetric_difference(each.shape).area > 0.01:
            found.append(f"{each.panel} has another shape")
        turns = (0.0,) if plan.one_way else (0.0, 180.0)
        if min(abs((each.angle - turn + 180) % 360 - 180) for turn in turns) > 1e-6:
            found.append(f"{each.panel} leaves the grain")
    for one, other in combinations(plan.placements, 2):
        if one.shape.distance(other.shape) < GAP - 1e-6:
            found.append(f"{one.panel} and {other.panel} are too near")
    for panel in project.panels:
        mine = [each for each in plan.placements if each.panel == panel.name]
        if len(mine) != panel.cut or sorted(each.copy for each in mine) != list(range(1, panel.cut + 1)):
            found.append(f"{panel.name} isn't cut {panel.cut} times")
        if panel.mirrored and sum(each.flipped for each in mine) != panel.cut // 2:
            found.append(f"{panel.name} has not as many left as right")
    if not math.isclose(plan.length / STEP, round(plan.length / STEP)) or plan.used > plan.length + 1e-6:
        found.append("the length isn't one to be bought")
    return found


@pytest.mark.parametrize(
    ("panels", "width", "used"),
    [
        ([{"name": "a", "size": [340, 300], "cut": 4}], 1400.0, 300.0),  # 4 x 340 and 3 gaps on 1380
        ([{"name": "a", "size": [340, 300], "cut": 5}], 1400.0, 603.0),
        ([{"name": "a", "size": [340, 300], "cut": 4}], 1388.0, 603.0),  # 1 mm too narrow for four
        ([{"name": "a", "size": [300, 340], "cut": 4, "grain": "across"}], 1400.0, 300.0),
    ],
)
def test_known_lengths(panels: list[dict[str, Any]], width: float, used: float) -> None:
    project = made(*panels)
    plan = plan_of(project, width)
    assert plan.used == pytest.approx(used, abs=0.01)
    assert plan.length == math.ceil(used / STEP) * STEP
    if panels[0].get("grain") != "across":
        assert faults(plan, project) == []


def test_shapes_that_lie_into_each_other_take_less_than_their_boxes() -> None:
    project = made({"name": "t", "outline": [[0, 0], [240, 0], [0, 200]], "cut": 10})
    plan = plan_of(project)
    rows = cloth_length(project.panels, 1400.0, GAP)
    assert rows is not None
    assert plan.length is not None
    assert plan.length <= rows - 100
    assert faults(plan, project) == []
    napped = plan_of(project, one_way=True)
    assert napped.length is not None
    assert napped.length > plan.length  # nothing may lie upside down
    assert faults(napped, project) == []


@pytest.mark.parametrize("one_way", [False, True])
def test_folded_cloth_gives_pairs(one_way: bool) -> None:
    """Left and right from one cut; an odd one and what is no mirror image of itself from a single layer."""
    project = made(
        {"name": "front", "outline": LEAF, "cut": 4, "mirrored": True},
        {"name": "back", "size": [200, 200], "cut": 3},
        {"name": "tab", "outline": LEAF, "cut": 2},
    )
    plan = plan_of(project, folded=True, one_way=one_way)
    assert faults(plan, project) == []
    on_fold = [each for each in plan.shown if each.shape.bounds[3] <= plan.fold + 1e-6]
    assert sorted(each.panel for each in on_fold) == ["back", "front", "front"]
    assert all(each.shape.bounds[2] <= 700.0 - GAP / 2 + 1e-6 for each in on_fold)
    assert len(plan.placements) == len(plan.shown) + len(on_fold)
    fronts = [each for each in plan.placements if each.panel == "front"]
    for each in (each for each in on_fold if each.panel == "front"):
        there = affinity.scale(each.shape, -1, 1, origin=(700.0, 0.0))
        assert any(
            there.equals_exact(other.shape.normalize(), 1e-6)
            or there.symmetric_difference(other.shape).area < 1e-6
            for other in fronts
        )


def test_what_is_wider_than_half_the_cloth_is_laid_open() -> None:
    project = made({"name": "cover", "size": [900, 200], "cut": 2})
    plan = plan_of(project, folded=True)
    assert (plan.fold, plan.used) == (0.0, pytest.approx(403.0))
    assert faults(plan, project) == []


def test_what_is_wider_than_the_cloth_has_no_plan() -> None:
    plan = plan_of(made({"name": "cover", "size": [1385, 200]}))
    assert plan.length is None
    assert "cover: wider than the cloth" in plan.reason


def test_plain_cloth_has_nothing_to_keep_and_needs_no_joins() -> None:
    """A side that lay on a hem gets its allowance; short strips are cut in one length."""
    project = project_from(
        {
            "seam_allowance": 10,
            "panel": [
                {"name": "skirt", "finished": [300, 200], "edge": "hem"},
                {"name": "front", "finished": [200, 200], "around": "pocket", "joins": 1, "from": ["back"]},
            ],
            "strip": [{"name": "tie", "cut_width": 40, "length": 600, "join": "bias"}],
        },
        folder=Path(),
    )
    plain = off_the_bolt(project, Goods("shell", 1400.0))
    assert Polygon(plain.panels[0].outline).bounds[2:] == (320.0, 220.0) or Polygon(
        plain.panels[0].outline
    ).envelope.area == pytest.approx(320 * 220)
    assert all(
        (each.around, each.edge, each.joins, each.pieces) == (None, None, 0, ()) for each in plain.panels
    )
    plan = plan_of(project)
    assert [each.part for each in plan.placements if each.panel == "tie"] == [None]
    assert plan.used == pytest.approx(600.0)


def test_a_length_next_below_that_is_said_to_be_refuted_is_shorter_than_a_panel() -> None:
    plan = plan_of(made({"name": "a", "size": [100, 330]}))
    assert (plan.length, plan.shorter_refuted) == (350.0, 300.0)


@given(
    st.lists(
        st.tuples(st.integers(30, 400), st.integers(30, 400), st.integers(1, 3)), min_size=1, max_size=3
    ),
    st.booleans(),
)
@settings(max_examples=4, deadline=None, derandomize=True)
def test_any_plan_keeps_the_rules(sizes: list[tuple[int, int, int]], folded: bool) -> None:
    panels = [{"name": f"p{k}", "size": [w, h], "cut": n} for k, (w, h, n) in enumerate(sizes)]
    project = made(*panels)
    plan = lay_plan(project, Goods("shell", 900.0, folded), STEP, seconds=0.4)
    assert faults(plan, project) == []
    assert plan.used >= sum(w * h * n for w, h, n in sizes) / 880.0 - 1e-6


@pytest.mark.parametrize(
    ("outline", "even"),
    [([(0, 0), (10, 0), (5, 8)], True), (LEAF, False), ([(0, 0), (9, 0), (9, 4), (0, 4)], True)],
)
def test_what_is_its_own_mirror_image(outline: list[tuple[float, float]], even: bool) -> None:
    assert is_even(Polygon(outline)) is even

"""An easy yes is found at a glance; a wider rule never hides it; what is shown of an unsettled question."""

from __future__ import annotations

import hidden_layouts as hidden
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.fit.ask import Plan, ask
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.geometry.plainer import simpler
from salvage.fit.geometry.task import turns_to_try
from salvage.fit.layout.decide import narrower
from salvage.fit.material.lay import lay_of
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.search.exact import clear_layout
from salvage.fit.search.glance import glance
from salvage.project.project import Grain, Panel, Project


def rectangle(name: str, width: float, length: float, **more: object) -> Panel:
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), **more)  # type: ignore[arg-type]


def on(cloth: Polygon, **more: object) -> Garment:
    return Garment("g", (Piece("a", cloth.buffer(5.0), usable=MultiPolygon([cloth]), **more),))  # type: ignore[arg-type]


def test_a_dozen_shapes_on_a_nearly_empty_coat_are_laid_out_at_a_glance() -> None:
    made = list(hidden.easy(2))
    assert len(made) == 2
    for each in made:
        asked = ask(lay_of([each.garment]), each.project, Plan.whole(each.project))
        narrow = narrower(asked.question)
        assert narrow is not None  # one of them may lie at any angle
        placed = glance(narrow, lambda: False)
        assert len(clear_layout(asked.question, placed)) == len(placed) == 11
        assert check([each.garment], each.project, asked.placements(placed)) == ()


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.sampled_from([0.0, 3.0]))
def test_whatever_a_glance_lays_lies_clear(seed: int, gap: float) -> None:
    rng = np.random.default_rng(seed)
    cloth = box(0, 0, 300, 260).difference(Point(*rng.uniform(60, 200, 2)).buffer(30))
    shapes = tuple(
        Shape(
            f"s{n}", ((0.0, 0.0), (w, 0.0), (w, h), (w / 3, h), (0.0, h / 2)), count=2, mirrored_pair=n == 1
        )
        for n, (w, h) in enumerate(rng.uniform(30, 110, (4, 2)))
    )
    question = Question((Cloth("c", cloth),), shapes, gap)
    placed = glance(question, lambda: False)
    assert placed
    assert len(clear_layout(question, placed)) == len(placed)


def test_the_narrower_rule_is_part_of_the_rule() -> None:
    shape = Shape("s", ((0.0, 0.0), (1.0, 0.0), (1.0, 2.0)), grain=Grain.ANY, off_grain=2.0, may_flip=True)
    question = Question((Cloth("c", box(0, 0, 9, 9)),), (shape,))
    narrow = narrower(question)
    assert narrow is not None
    assert narrow.shapes[0].turns == (0.0, 90.0)
    assert (narrow.shapes[0].off_grain, narrow.shapes[0].may_flip) == (0.0, True)
    assert narrower(narrow) is None


@pytest.mark.parametrize("turned", [17.0, 3.3, 61.0])
def test_the_one_angle_that_lays_edge_on_edge_is_tried(turned: float) -> None:
    cloth = Cloth("c", affinity.rotate(box(0, 0, 100, 140), turned, origin=(0, 0)))
    shape = Shape("s", ((0.0, 0.0), (100.0, 0.0), (100.0, 140.0), (0.0, 140.0)), grain=Grain.ANY)
    assert min(abs(turn % 180 - turned) for turn in turns_to_try(shape, cloth)) < 1e-9


def test_cutting_corners_off_leaves_the_others_where_they_are() -> None:
    teeth = [(x, -0.6 * (n % 2)) for n, x in enumerate(np.linspace(0, 100, 121))]
    cloth = Polygon([*teeth, (100, 100), (0, 100)])
    slim = simpler(cloth, 80, grow=False)
    assert cloth.covers(slim)
    assert slim.covers(box(0, 0, 100, 100))
    assert simpler(cloth, 80, grow=True).covers(cloth)


def test_too_close_is_said_where_less_cloth_is_proved_too_little() -> None:
    garment = on(box(0, 0, 201, 300), plus_minus=PlusMinus(edge=2.0))
    answer = fit_project([garment], Project("p", (rectangle("q", 200, 280),)), seconds=10.0)
    assert answer.verdict is Verdict.TOO_CLOSE
    assert answer.placements


def test_what_is_placed_of_an_unsettled_question_is_shown() -> None:
    garment = on(box(0, 0, 315, 210))
    kite = Panel("k", ((0.0, 0.0), (100.0, 0.0), (50.0, 95.0)), cut=7, grain=Grain.ANY)
    project = Project("p", (rectangle("q", 100, 100, cut=3), kite))
    answer = fit_project([garment], project, steps=300)
    assert answer.verdict is Verdict.UNSETTLED
    assert answer.placements
    assert not check([garment], project, answer.placements, partial=True)
    said = answer.reasons[0]
    total = len(answer.placements) + len(answer.not_placed)
    assert f"laid out {len(answer.placements)} of {total} shapes, " in said
    assert " % of the cloth asked for, on a; left out: " in said
    assert "neither a layout for all of it was found nor a proof that there is none." in said
    assert answer.largest_scale_percent is not None
    assert said.endswith(f" At {answer.largest_scale_percent:.0f} % of its size all of it fits.")


def test_a_proof_that_could_not_be_confirmed_is_no_no_and_says_what_that_means(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(
        "salvage.fit.verdict.case.doubt_about", lambda *_, **__: "it took too long to confirm"
    )
    garment = on(box(0, 0, 300, 200))
    answer = fit_project([garment], Project("p", (rectangle("q", 200, 280),)), steps=20)
    assert answer.verdict is Verdict.UNSETTLED
    assert answer.doubts == ("it took too long to confirm",)
    said = answer.reasons[-1]
    assert "could not make sure of it (it took too long to confirm)" in said
    assert "it may well not fit, but that isn't certain: don't give it up for this alone" in said
    assert "A longer search may settle it" in said


def test_a_million_copies_are_refused() -> None:
    garment = on(box(0, 0, 30_000, 40_000))
    with pytest.raises(SalvageError, match="fewer copies"):
        fit_project([garment], Project("p", (rectangle("q", 10, 10, cut=1_000_000),)), seconds=2.0)

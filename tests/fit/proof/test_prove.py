"""Proofs: each kind where it holds, its numbers worked out again, and none where a layout is known."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from salvage.fit.claim import NoPlace, ProofKind
from salvage.fit.layout.decide import decide
from salvage.fit.proof.angles import closer
from salvage.fit.proof.place import has_no_place
from salvage.fit.proof.prove import prove
from salvage.fit.proof.region import is_empty, region, shrunk
from salvage.fit.proof.share import most_rectangles
from salvage.fit.question import Cloth, Question, Shape
from salvage.fit.say.proofs import of_claim
from salvage.project.project import Grain


def rect(w: float, h: float) -> tuple[tuple[float, float], ...]:
    return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))


def sheet(name: str, w: float, h: float, **more: object) -> Cloth:
    return Cloth(name, box(0, 0, w, h), **more)  # type: ignore[arg-type]


def test_too_little_cloth_names_both_areas() -> None:
    proof = prove(Question((sheet("a", 100, 100),), (Shape("s", rect(60, 60), count=3),)))
    assert proof is not None
    assert proof.kind is ProofKind.AREA
    assert proof.numbers["asked"] == pytest.approx(3 * 3600)
    assert proof.numbers["there"] == pytest.approx(10000)


def test_gap_counts_in_the_area() -> None:
    """Five strips 20 wide fill 100; with gaps between them they don't, and the grown areas show it."""
    full = Question((sheet("a", 100, 2000),), (Shape("s", rect(20, 2000), count=5),), 0.0)
    assert prove(full) is None
    gaps = Question(full.cloths, full.shapes, 2.0)
    proof = prove(gaps)
    assert proof is not None
    assert proof.kind is ProofKind.AREA


def test_no_place_gives_the_longest_clear_stretch() -> None:
    cloth = Cloth("leg", box(0, 0, 300, 500).difference(box(0, 240, 160, 260)))
    (piece,) = [cloth]
    proof = prove(Question((piece,), (Shape("body", rect(200, 260)),)))
    assert proof is not None
    assert proof.kind is ProofKind.NO_PLACE
    assert proof.panels == ("body",)
    assert proof.pieces == ("leg",)
    # 200 mm wide: above or below the cut there are 240 mm
    assert isinstance(proof.claim, NoPlace)
    assert proof.claim.near.run == pytest.approx(240, abs=0.5)


def test_a_shape_exactly_as_large_as_its_place_is_not_refused() -> None:
    cloth = Cloth("leg", box(0, 0, 300, 500).difference(box(0, 240, 160, 260)), grain=90.0)
    assert not has_no_place(Shape("s", rect(300, 240)), cloth, False)
    assert has_no_place(Shape("s", rect(300, 240.3)), cloth, False)


def test_any_angle_is_refused_only_if_all_angles_are() -> None:
    cloth = sheet("c", 100, 400)
    long = Shape("s", rect(405, 20), grain=Grain.ANY)  # fits along the diagonal, leaning a few degrees
    assert not has_no_place(long, cloth, False)
    too_long = Shape("s", rect(math.hypot(100, 400) + 1, 20), grain=Grain.ANY)
    assert has_no_place(too_long, cloth, False)
    disc = tuple(Point(0, 0).buffer(50.5, quad_segs=8).exterior.coords)[:-1]
    assert has_no_place(Shape("d", disc, grain=Grain.ANY), cloth, False)


def test_tolerance_off_the_grain_is_covered_to_its_end() -> None:
    leaning = Cloth("c", affinity.rotate(box(0, 0, 50, 400), 4, origin=(0, 0)))
    assert has_no_place(Shape("s", rect(49, 390), off_grain=1.0), leaning, False)
    assert not has_no_place(Shape("s", rect(49, 390), off_grain=4.0), leaning, False)


def test_pigeonhole() -> None:
    cloths = tuple(sheet(n, 300, 300) for n in "abc")
    proof = prove(
        Question(cloths, (Shape("back", rect(200, 160), count=2), Shape("front", rect(180, 170), count=2)))
    )
    assert proof is not None
    assert proof.kind is ProofKind.EXHAUSTED
    assert proof.numbers["rule"] == "pigeonhole"
    assert proof.numbers["copies"] == 4
    assert len(proof.numbers["cloths_that_take_one"]) == 3


def test_ctrl_c_is_left_to_the_caller(monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver would take the signal for itself and end the program without an answer."""
    taken: list[bool] = []

    class Spy(cp_model.CpSolver):
        def solve(self, *args: Any, **more: Any) -> Any:
            taken.append(self.parameters.catch_sigint_signal)
            return super().solve(*args, **more)

    monkeypatch.setattr(cp_model, "CpSolver", Spy)
    cloths = (sheet("a", 210, 110), sheet("b", 210, 110))
    prove(Question(cloths, (Shape("s", rect(100, 100), count=3), Shape("t", rect(90, 90)))))
    assert taken == [False]


def test_lattice_counts() -> None:
    """Nine of 100 x 100 fit 330 x 330, ten don't, though their area is well below the cloth's."""
    ten = Question((sheet("a", 330, 330),), (Shape("s", rect(100, 100), count=10),))
    proof = prove(ten)
    assert proof is not None
    assert proof.numbers["most"] == {"a": 9}
    assert prove(Question(ten.cloths, (Shape("s", rect(100, 100), count=9),))) is None


def test_stretches_of_one_piece_are_counted_together() -> None:
    halves = Question(
        (sheet("legs", 110, 110), sheet("legs", 110, 250), sheet("yoke", 110, 110)),
        (Shape("square", rect(100, 100), count=5, grain=Grain.EITHER),),
    )
    proof = prove(halves)
    assert proof is not None
    assert proof.numbers["most"] == {"legs": 3, "yoke": 1}
    assert "4 at the very most (3 on legs, 1 on yoke)" in of_claim(proof)


@settings(deadline=None, max_examples=25)
@given(
    st.floats(20, 120),
    st.floats(20, 120),
    st.floats(100, 400),
    st.floats(100, 400),
    st.sampled_from([0.0, 3.0]),
)
def test_lattice_never_counts_fewer_than_fit(
    w: float, h: float, width: float, height: float, gap: float
) -> None:
    rows = int((height + gap) // (h + gap)) * int((width + gap) // (w + gap))
    assert most_rectangles(box(0, 0, width, height), w, h, gap).points >= rows


def test_assignment_is_exhausted() -> None:
    """Each pair fits some piece, no piece is too small for all, yet nothing shares out."""
    cloths = (sheet("a", 200, 100), sheet("b", 200, 100))
    shapes = (Shape("x", rect(120, 90), count=2), Shape("y", rect(95, 80), count=2))
    proof = prove(Question(cloths, shapes))
    assert proof is not None
    assert proof.kind is ProofKind.EXHAUSTED


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6))
def test_nothing_is_proved_where_a_layout_is_known(seed: int) -> None:
    """Sheets fallen apart by straight cuts, all parts asked for: yes by construction, filled to 100 %."""
    rng = np.random.default_rng(seed)
    cloths, shapes = [], []
    for n in range(int(rng.integers(1, 4))):
        size = (float(rng.uniform(100, 400)), float(rng.uniform(100, 400)))
        parts = [size]
        for _ in range(int(rng.integers(1, 6))):
            w, h = parts.pop(int(rng.integers(len(parts))))
            share = float(rng.uniform(0.2, 0.8))
            parts += (
                [(w * share, h), (w - w * share, h)]
                if rng.random() < 0.5
                else [(w, h * share), (w, h - h * share)]
            )
        grain = float(rng.choice([0.0, 90.0, 97.0]))
        cloths.append(
            Cloth(f"c{n}", affinity.rotate(box(0, 0, *size), grain - 90.0, origin=(0, 0)), grain=grain)
        )
        shapes += [Shape(f"s{n}.{m}", rect(*part)) for m, part in enumerate(parts)]
    assert prove(Question(tuple(cloths), tuple(shapes))) is None


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10**6))
def test_region_holds_every_place_that_shapely_finds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cloth = Polygon(rng.uniform(0, 300, (7, 2))).convex_hull.difference(box(100, 100, 130, 160))
    if not isinstance(cloth, Polygon):
        return
    shape = Polygon(rng.uniform(0, 80, (6, 2))).convex_hull
    where = region(cloth, shrunk(shape))
    for x, y in rng.uniform(-50, 300, (40, 2)):
        if cloth.covers(affinity.translate(shape, x, y)):
            assert not is_empty(where)
            assert where.buffer(1e-6).covers(Point(x, y))


def _tilted(slack: float) -> Question:
    """A band 60 wide across a sheet of 300 x 200, as long as it can be less the slack: at 28.5 degrees or so."""

    def longest(degrees: float) -> float:
        sin, cos = math.sin(math.radians(degrees)), math.cos(math.radians(degrees))
        return min((300 - 60 * sin) / cos, (200 - 60 * cos) / sin)

    length = max(longest(t / 1000) for t in range(20_000, 40_000)) - slack
    band = Shape("band", ((0.0, 0.0), (60.0, 0.0), (60.0, length), (0.0, length)), grain=Grain.ANY)
    return Question((Cloth("sheet", box(0, 0, 300, 200)),), (band,))


def test_the_angles_that_no_proof_rules_out_are_searched() -> None:
    asked = _tilted(0.4)
    decision = decide(asked, steps=50)
    assert decision.complete
    (placed,) = decision.placed
    assert min(abs(placed.angle % 180 - each) for each in (90 - 28.45, 90 + 28.45)) < 0.3
    near = closer(asked, [0], lambda: False)
    assert near is not None
    assert near.shapes[0].turns is not None
    assert len(near.shapes[0].turns) <= 6
    assert prove(_tilted(-4.0)) is not None
    assert closer(_tilted(-4.0), [0], lambda: False) is None
    assert closer(asked, [0], lambda: True) is None

"""Which shapes a cloth takes together, against every way there is to share copies out, tried one by one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from salvage.fit.claim import NoSharing, Pigeonhole, TooMany
from salvage.fit.geometry.tables import make_tables
from salvage.fit.geometry.task import make_tasks
from salvage.fit.proof.assign import Assignment, Shared, Sharing, _shared_out
from salvage.fit.question import Cloth, Question, Shape


def parts_of(count: int, grounds: int) -> Iterator[tuple[int, ...]]:
    """All ways to split a count among grounds."""
    if grounds == 1:
        yield (count,)
        return
    for first in range(count + 1):
        for rest in parts_of(count - first, grounds - 1):
            yield (first, *rest)


def can_be_shared(sharing: Sharing) -> bool:
    """By trying all."""
    grounds = len(sharing.rooms)

    def good(way: tuple[tuple[int, ...], ...]) -> bool:
        for g in range(grounds):
            there = [way[k][g] for k in range(len(way))]
            if sum(n * area for n, area in zip(there, sharing.areas, strict=True)) > sharing.rooms[g]:
                return False
            if any(sum(there[k] for k in group) > most[g] for group, most in sharing.limits):
                return False
            for *kinds, at in sharing.facts:
                if at != g:
                    continue
                if len(kinds) == 1 and there[kinds[0]]:
                    return False
                if len(kinds) == 2 and kinds[0] == kinds[1] and there[kinds[0]] > 1:
                    return False
                if len(kinds) == 2 and kinds[0] != kinds[1] and there[kinds[0]] and there[kinds[1]]:
                    return False
        return True

    return any(good(way) for way in product(*(list(parts_of(n, grounds)) for n in sharing.counts)))


@st.composite
def sharings(draw: st.DrawFn) -> Sharing:
    kinds, grounds = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    kind, ground = st.integers(0, kinds - 1), st.integers(0, grounds - 1)
    facts = draw(st.lists(st.one_of(st.tuples(kind, ground), st.tuples(kind, kind, ground)), max_size=5))
    limit = st.tuples(st.lists(kind, min_size=1, max_size=3, unique=True).map(tuple),
                      st.lists(st.integers(0, 3), min_size=grounds, max_size=grounds).map(tuple))  # fmt: skip
    return Sharing(
        counts=tuple(draw(st.lists(st.integers(1, 3), min_size=kinds, max_size=kinds))),
        areas=tuple(draw(st.lists(st.integers(1, 9), min_size=kinds, max_size=kinds))),
        rooms=tuple(draw(st.lists(st.integers(4, 25), min_size=grounds, max_size=grounds))),
        limits=tuple(draw(st.lists(limit, max_size=1))),
        facts=tuple(facts),
    )


@settings(max_examples=25)
@given(sharings())
def test_sharing_out_is_decided_as_by_trying_all(sharing: Sharing) -> None:
    assert _shared_out(sharing) is (Shared.YES if can_be_shared(sharing) else Shared.NO)


@pytest.mark.parametrize(
    ("sharing", "found"),
    [
        # three of which no two lie together, on two cloths
        (Sharing((3,), (1,), (9, 9), (), ((0, 0, 0), (0, 0, 1))), Shared.NO),
        (Sharing((2,), (1,), (9, 9), (), ((0, 0, 0), (0, 0, 1))), Shared.YES),
        # a cloth that takes none of them, and one that takes three
        (Sharing((3,), (1,), (9, 9), (((0,), (0, 3)),), ()), Shared.YES),
        (Sharing((3,), (1,), (9, 9), (((0,), (0, 2)),), ()), Shared.NO),
    ],
)
def test_sharing_out_by_hand(sharing: Sharing, found: Shared) -> None:
    assert _shared_out(sharing) is found


def assignment(
    cloths: list[tuple[float, float]],
    shapes: list[tuple[float, float, int]],
    stop: Callable[[], bool] = lambda: False,
) -> Assignment:
    """Rectangles along the grain on rectangular cloths."""
    asked = Question(
        tuple(Cloth(f"c{n}", box(0, 0, w, h)) for n, (w, h) in enumerate(cloths)),
        tuple(
            Shape(f"s{n}", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), count=count)
            for n, (w, h, count) in enumerate(shapes)
        ),
    )
    (task,) = make_tasks(asked)
    return Assignment(asked, task, make_tables(task), stop)


def test_more_things_than_pigeonholes() -> None:
    """No two of 60 lie on 100 x 100; three on two such cloths are one too many, two are not."""
    proof = assignment([(100, 100), (100, 100)], [(60, 60, 2), (55, 70, 1)]).prove()
    assert proof is not None
    assert isinstance(proof.claim, Pigeonhole)
    assert sum(each.count for each in proof.claim.copies) == 3
    assert sorted(proof.claim.takers) == [0, 1]
    assert assignment([(100, 100), (100, 100)], [(60, 60, 1), (55, 70, 1)]).prove() is None


def test_cloths_too_small_for_any_of_them_are_no_pigeonholes() -> None:
    proof = assignment([(100, 100), (50, 300)], [(60, 60, 2)]).prove()
    assert proof is not None
    assert isinstance(proof.claim, Pigeonhole)
    assert proof.claim.takers == (0,)
    assert proof.claim.no_place == ((0, 1),)  # 60 wide on 50


def test_more_than_the_points_of_a_lattice() -> None:
    """330 / 100 is 3, squared 9: a tenth has no point, whichever way the ten are laid."""
    proof = assignment([(330, 330)], [(100, 100, 10)]).prove()
    assert proof is not None
    assert isinstance(proof.claim, TooMany)
    assert [each.points for each in proof.claim.lattice.counted] == [9]
    assert assignment([(330, 330)], [(100, 100, 9)]).prove() is None


def test_what_is_claimed_of_a_sharing_is_enough_and_each_fact_of_it_is_needed() -> None:
    """Two of 120 x 90 and two of 95 x 80 on two cloths of 200 x 100: any two with one of the first are too wide."""
    proof = assignment([(200, 100), (200, 100)], [(120, 90, 2), (95, 80, 2)]).prove()
    assert proof is not None
    claim = proof.claim
    assert isinstance(claim, NoSharing)
    facts = [*claim.no_place, *claim.apart]
    whole = Sharing(
        tuple(each.count for each in claim.copies),
        (120 * 90, 95 * 80),
        (200 * 100, 200 * 100),
        tuple((lattice.copies, tuple(each.points for each in lattice.counted)) for lattice in claim.lattices),
        tuple(facts),
    )
    assert not can_be_shared(whole)
    for left_out in facts:
        fewer = tuple(each for each in facts if each != left_out)
        assert can_be_shared(Sharing(whole.counts, whole.areas, whole.rooms, whole.limits, fewer))


@pytest.mark.parametrize("looks", [0, 1, 2, 5])
def test_nothing_is_claimed_once_it_was_stopped(looks: int) -> None:
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > looks

    assert assignment([(100, 100), (100, 100)], [(60, 60, 2), (55, 70, 1)], stop).prove() is None

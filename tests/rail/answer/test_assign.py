"""The assignment is worth as much as any: against trying them all."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.rail.answer.assign import Pair, assign


def most(pairs: list[Pair], worth: list[float], wanted: list[int | None]) -> float:
    """Every garment for every project or none, tried one by one."""
    garments = sorted({g for g, _ in pairs})
    choices = [[None, *(p for g, p in pairs if g == garment)] for garment in garments]
    best = 0.0
    for chosen in product(*choices):
        counts = [sum(p == project for p in chosen) for project in range(len(worth))]
        if all(most is None or count <= most for count, most in zip(counts, wanted, strict=True)):
            best = max(best, sum(worth[p] for p in chosen if p is not None))
    return best


@settings(max_examples=40)
@given(
    st.sets(st.tuples(st.integers(0, 4), st.integers(0, 2)), max_size=12),
    st.lists(st.integers(0, 4).map(float), min_size=3, max_size=3),
    st.lists(st.one_of(st.none(), st.integers(0, 2)), min_size=3, max_size=3),
)
def test_as_good_as_the_best_of_all(pairs: set[Pair], worth: list[float], wanted: list[int | None]) -> None:
    found = assign(sorted(pairs), worth=worth, wanted=wanted, cost={pair: sum(pair) for pair in pairs})
    assert found.worth == pytest.approx(most(sorted(pairs), worth, wanted))
    assert found.worth == pytest.approx(sum(worth[p] for _, p in found.pairs))
    assert set(found.pairs) <= pairs
    assert len({g for g, _ in found.pairs}) == len(found.pairs)


def test_among_equals_the_cheapest() -> None:
    found = assign([(0, 0), (1, 0), (2, 0)], worth=[1.0], wanted=[1], cost={(0, 0): 9, (1, 0): 2, (2, 0): 5})
    assert found.pairs == ((1, 0),)


def test_nothing_to_assign() -> None:
    assert assign([], worth=[1.0], wanted=[None]).pairs == ()
    assert assign([(0, 0)], worth=[1.0], wanted=[0]).pairs == ()
    with pytest.raises(ValueError, match="less than nothing"):
        assign([(0, 0)], worth=[-1.0], wanted=[None])

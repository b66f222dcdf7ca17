"""The chance of a line, by all that speaks for it."""

from dataclasses import replace

import pytest

from salvage.cloth.finders.lines.evidence import Evidence, chance_of

SEAM = Evidence("seam", 0.5, 0.4, 0, 300.0, 0.4)


PLAINER = replace(SEAM, mean=0.6)
WITH_ITS_LIKE = replace(SEAM, like=0.7)
SEEN_TWICE = replace(SEAM, weaker=0.5)


@pytest.mark.parametrize("more", [PLAINER, WITH_ITS_LIKE, SEEN_TWICE])
def test_what_speaks_for_a_seam_makes_it_likelier(more: Evidence) -> None:
    assert chance_of(more) > chance_of(SEAM) + 0.01


def test_each_end_that_leads_nowhere_makes_a_seam_less_likely() -> None:
    chances = [chance_of(replace(SEAM, free_ends=free)) for free in (0, 1, 2)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[2] + 0.05


def test_without_an_axis_the_other_half_says_nothing() -> None:
    alone = chance_of(replace(SEAM, like=None))
    assert chance_of(replace(SEAM, like=0.02)) < alone < chance_of(replace(SEAM, like=0.98))


def test_a_closure_ends_within_the_cloth_by_its_make() -> None:
    placket = replace(SEAM, kind="closure", free_ends=2)
    assert chance_of(placket) == placket.mean


def test_a_line_is_as_likely_as_the_look_that_sees_less_of_it_tells() -> None:
    doubted = replace(SEAM, weaker=0.1)
    assert chance_of(doubted) < chance_of(SEAM) / 2
    assert chance_of(replace(doubted, kind="hem")) == doubted.mean

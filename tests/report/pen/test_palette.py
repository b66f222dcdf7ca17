"""Looks that tell panels and kinds apart, in colour, in grey and for eyes that don't see all colours."""

from __future__ import annotations

import re
from itertools import combinations, pairwise

import pytest

from salvage.cloth.garment import BlockedKind
from salvage.fit.answer import Verdict
from salvage.report.pen import palette
from salvage.report.pen.palette import BLOCKED_LOOK, INK, PAPER, SOUND, VERDICT_COLOUR, panel_filling


def light(colour: str) -> float:
    """Relative luminance (WCAG 2.1, of sRGB)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((light(one), light(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_first_56_panels_all_differ_and_neighbours_in_both_colour_and_hatching() -> None:
    looks = [panel_filling(n) for n in range(56)]
    assert len(set(looks)) == 56
    assert panel_filling(56) == looks[0]
    for one, other in pairwise(looks):
        assert one.colour != other.colour
        assert one.hatch != other.hatch


def test_areas_in_the_way_differ_by_hatching_alone_but_lines_need_none() -> None:
    areas = {
        kind: look for kind, look in BLOCKED_LOOK.items() if kind not in (BlockedKind.SEAM, BlockedKind.HEM)
    }
    assert set(BLOCKED_LOOK) == set(BlockedKind)
    for one, other in combinations(areas.values(), 2):
        assert one.hatch != other.hatch
        assert one.colour != other.colour


@pytest.mark.parametrize("verdict", list(Verdict))
def test_a_verdict_is_read_on_paper(verdict: Verdict) -> None:
    assert contrast(VERDICT_COLOUR[verdict], PAPER) >= 4.5  # WCAG 2.1, success criterion 1.4.3


def test_words_are_read_on_every_panel() -> None:
    assert contrast(INK, SOUND) >= 7
    for n in range(8):
        assert contrast(INK, panel_filling(n).colour) >= 3.0, panel_filling(n)


def test_every_colour_is_one_that_all_pens_read() -> None:
    colours = [v for k, v in vars(palette).items() if k.isupper() and isinstance(v, str)]
    assert len(colours) >= 8
    assert all(re.fullmatch(r"#[0-9a-f]{6}", each) for each in colours)

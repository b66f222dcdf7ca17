"""Rectangles cut from a sheet by straight cuts right through it, without waste.

Source: the construction itself. Whatever straight cuts take a sheet apart, its parts fit the sheet, so
the answer is yes; a proved no is wrong, whatever else may be asked for along with it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cut_up import cut_up
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Verdict
from salvage.fit.cutting.joins import JoinWay, Piecing, parts_of
from salvage.fit.fit import fit_project
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import lay_of
from salvage.fit.proof.refuse import refuse
from salvage.project.project import Panel, Project, Strip


def sheet(width: float, length: float) -> Garment:
    cloth = box(0, 0, width, length)
    return Garment("sheet", (Piece("sheet", cloth, usable=MultiPolygon([cloth])),))


def panels(sizes: list[tuple[float, float]]) -> tuple[Panel, ...]:
    return tuple(
        Panel(f"panel {n}", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))) for n, (w, h) in enumerate(sizes, 1)
    )


@pytest.mark.parametrize("seed", range(3))
def test_four_fifths_of_a_cut_up_sheet_fit_it_again(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sizes = cut_up(rng, 900, 1100, 12)
    total = 0.0
    kept = []
    for size in sizes[::-1]:
        if total + size[0] * size[1] < 0.8 * 900 * 1100:
            total += size[0] * size[1]
            kept.append(size)
    answer = fit_project([sheet(900, 1100)], Project("cut up", panels(kept)), seconds=5)
    assert answer.verdict is Verdict.YES


@pytest.mark.parametrize("seed", range(4))
def test_a_full_sheet_is_never_refused(seed: int) -> None:
    rng = np.random.default_rng(seed)
    sizes = cut_up(rng, 700, 900, int(rng.integers(3, 14)))
    project = Project("full", panels(sizes))
    assert refuse(lay_of([sheet(700, 900)]), project, Budget.start(2.0)) is None


@settings(deadline=None, max_examples=12)
@given(st.integers(0, 2**31))
def test_pieced_panels_and_joined_strips_cut_from_scraps_are_never_refused(seed: int) -> None:
    """Panels drawn first, pieced or joined, and then a scrap of cloth made for every part."""
    rng = np.random.default_rng(seed)
    scraps: list[tuple[float, float]] = []
    made = []
    for panel in panels([(rng.uniform(120, 400), rng.uniform(120, 400)) for _ in range(3)]):
        joined = replace(panel, joins=int(rng.integers(1, 3)), seam_allowance=8.0)
        way = JoinWay(rng.choice(list(JoinWay)))
        w, h = panel.outline[2]
        at = sorted(rng.uniform(0.2, 0.8, joined.joins) * (h if way is JoinWay.ACROSS else w))
        parts = parts_of(joined, Piecing(way, tuple(at)))
        for part in parts or (box(0, 0, w, h),):
            left, bottom, right, top = part.bounds
            scraps.append((right - left, top - bottom))
        made.append(joined)
    strip = Strip("tie", 40.0, float(rng.uniform(300, 1200)))
    count = int(rng.integers(1, 4))
    each = (strip.length + (count - 1) * strip.cut_width) / count
    scraps += [(strip.cut_width, each)] * count
    cloths = [box(0, 0, w, h) for w, h in scraps]
    garment = Garment(
        "scraps", tuple(Piece(f"scrap {n}", c, usable=MultiPolygon([c])) for n, c in enumerate(cloths))
    )
    assert refuse(lay_of([garment]), Project("p", tuple(made), (strip,)), Budget.start(5.0)) is None

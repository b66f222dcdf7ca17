"""How full a sheet the engine still settles: rectangles cut from a sheet without waste, some left out.

Source: the construction itself, so that yes is always the answer. Printed as a table; run with
pytest -m bench tests/bench/test_guillotine_filling.py -s
"""

from __future__ import annotations

import numpy as np
import pytest
from cut_up import cut_up
from shapely.geometry import MultiPolygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.ask import Plan, ask
from salvage.fit.layout.decide import decide
from salvage.fit.material.lay import lay_of
from salvage.project.project import Panel, Project

SHEET = (1000.0, 1200.0)
SECONDS = 10.0
FILLINGS = (0.70, 0.80, 0.85, 0.90, 0.95, 1.0)
COUNTS = (8, 16, 32)
SEEDS = range(4)


def filled_to(sizes: list[tuple[float, float]], filling: float) -> list[tuple[float, float]]:
    """As many of the rectangles, the largest first, as stay within that share of the sheet."""
    room = filling * SHEET[0] * SHEET[1] + 1e-6
    kept = []
    for w, h in sorted(sizes, key=lambda size: -size[0] * size[1]):
        if w * h <= room:
            kept.append((w, h))
            room -= w * h
    return kept


@pytest.mark.bench
def test_guillotine_filling() -> None:
    cloth = box(0, 0, *SHEET)
    lay = lay_of([Garment("sheet", (Piece("sheet", cloth, usable=MultiPolygon([cloth])),))])
    print(f"\nyes found in {SECONDS:.0f} s, of {len(SEEDS)} sheets")
    print("panels cut   " + "".join(f"{filling:>7.0%}" for filling in FILLINGS))
    for count in COUNTS:
        row = []
        for filling in FILLINGS:
            settled = 0
            for seed in SEEDS:
                sizes = filled_to(cut_up(np.random.default_rng(1000 * count + seed), *SHEET, count), filling)
                panels = tuple(
                    Panel(f"panel {n}", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)))
                    for n, (w, h) in enumerate(sizes)
                )
                project = Project("sheet", panels)
                decision = decide(ask(lay, project, Plan.whole(project)).question, seconds=SECONDS)
                assert decision.proof is None, "a proved no where the answer is yes"
                settled += decision.complete
            row.append(settled)
        print(f"{count:>10}   " + "".join(f"{settled:>7}" for settled in row))

"""Equal shapes in a shape, cloth 3 % larger than the smallest known: pytest -m bench tests/bench/test_known_packings.py -s -n 0

Sources of the smallest: n squares in a square, Friedman, Packing unit squares in squares, Electronic Journal of
Combinatorics, Dynamic Survey DS7 (compared with the table at erich-friedman.github.io/packing/squinsqu); 2 to 5 discs in a square, and a square in a triangle and a hexagon, worked out
from their symmetric layouts.
Environment: PACKINGS_SECONDS (10).
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator

import pytest
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Verdict
from salvage.fit.fit import fit_project
from salvage.fit.kernels.calls import get_ready
from salvage.project.project import Grain, Panel, Project

SECONDS = float(os.environ.get("PACKINGS_SECONDS", "10"))
LARGER = 1.03
SIDE = 100.0  # of the squares, and diameter of the discs, mm
SQUARES = {2: 2, 3: 2, 4: 2, 5: 2 + math.sqrt(0.5), 6: 3, 7: 3, 8: 3, 9: 3, 10: 3 + math.sqrt(0.5)}
# side of the square over the discs' radius
DISCS = {2: 2 + math.sqrt(2), 3: 2 + math.sqrt(0.5) + math.sqrt(6) / 2, 4: 4, 5: 2 + 2 * math.sqrt(2)}


def questions() -> Iterator[tuple[str, Polygon, Panel]]:
    """Name, cloth and panel; some of the cloths lie aslant to their grain."""
    square, disc = box(0, 0, SIDE, SIDE), Point(0, 0).buffer(SIDE / 2, quad_segs=16)
    for n, side in SQUARES.items():
        for tilt in (0.0, 23.0):
            cloth = box(0, 0, SIDE * side * LARGER, SIDE * side * LARGER)
            yield f"{n} squares in a square, {tilt:g} degrees", affinity.rotate(cloth, tilt), panel(square, n)
    for n, side in DISCS.items():
        cloth = box(0, 0, SIDE / 2 * side * LARGER, SIDE / 2 * side * LARGER)
        yield f"{n} discs in a square", cloth, panel(disc, n)
    for corners, side in ((3, (2 + math.sqrt(3)) / math.sqrt(3)), (6, 1 / (3 - math.sqrt(3)))):
        radius = SIDE * side * LARGER / (2 * math.sin(math.pi / corners))
        turns = [2 * math.pi * k / corners for k in range(corners)]
        cloth = Polygon([(radius * math.cos(t), radius * math.sin(t)) for t in turns])
        yield f"a square in {corners} sides", affinity.rotate(cloth, 11.0), panel(square, 1)


def panel(outline: Polygon, count: int) -> Panel:
    ring = tuple((float(x), float(y)) for x, y in outline.exterior.coords[:-1])
    ring = ring if outline.exterior.is_ccw else ring[::-1]
    return Panel("q", ring, cut=count, grain=Grain.ANY)


@pytest.mark.bench
def test_what_is_known_to_fit_is_found() -> None:
    get_ready()
    missed = []
    for name, cloth, each in questions():
        garment = Garment("g", (Piece("a", cloth.buffer(5.0), usable=MultiPolygon([cloth])),))
        answer = fit_project([garment], Project("p", (each,)), seconds=SECONDS)
        print(f"{name:40s} {answer.verdict:12s} {answer.seconds:5.1f} s", flush=True)
        assert answer.verdict is not Verdict.NO
        missed += [] if answer.verdict is Verdict.YES else [name]
    assert not missed

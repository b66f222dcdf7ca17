"""Clear rectangles against a brute-force search.

Source: enumeration. In cloth whose edges are all upright or level, a largest upright rectangle touches
an edge on every side, so trying every pair of edge coordinates each way finds it; shapely says which
lie within the cloth.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from shapely.geometry import Polygon, box
from shapely.ops import unary_union
from shapely.prepared import prep

from salvage.fit.material.rectangles import largest_of_ratio, largest_rectangle, longest_run


def blocky_cloth(seed: int) -> Polygon:
    """A union of random upright rectangles with others cut out of it; its largest part."""
    rng = np.random.default_rng(seed)

    def boxes(count: int, low: int, high: int) -> list[Polygon]:
        corners = rng.integers(0, 400, size=(count, 2))
        sizes = rng.integers(low, high, size=(count, 2))
        return [box(x, y, x + w, y + h) for (x, y), (w, h) in zip(corners, sizes, strict=True)]

    cloth = unary_union(boxes(6, 80, 350)).difference(unary_union(boxes(4, 10, 60)))
    return max(getattr(cloth, "geoms", [cloth]), key=lambda each: each.area)


def all_rectangles(cloth: Polygon) -> list[tuple[float, float]]:
    """(width, length) of every upright rectangle within the cloth whose sides all lie on its edges."""
    rings = [np.asarray(ring.coords) for ring in (cloth.exterior, *cloth.interiors)]
    xs = sorted({float(x) for ring in rings for x in ring[:, 0]})
    ys = sorted({float(y) for ring in rings for y in ring[:, 1]})
    ready = prep(cloth)
    return [
        (x1 - x0, y1 - y0)
        for (x0, x1), (y0, y1) in itertools.product(
            itertools.combinations(xs, 2), itertools.combinations(ys, 2)
        )
        if ready.covers(box(x0, y0, x1, y1))
    ]


@pytest.mark.parametrize("seed", range(12))
def test_largest_rectangle_is_that_of_enumeration(seed: int) -> None:
    cloth = blocky_cloth(seed)
    best = max(width * length for width, length in all_rectangles(cloth))
    found = largest_rectangle(cloth)
    assert found is not None
    assert found.area <= best + 1e-3
    assert found.area >= 0.995 * best


@pytest.mark.parametrize("seed", range(12))
def test_largest_square_and_longest_run_are_those_of_enumeration(seed: int) -> None:
    cloth = blocky_cloth(seed)
    there = all_rectangles(cloth)
    square = largest_of_ratio(cloth, 1.0)
    side = max(min(each) for each in there)
    assert square is not None
    assert side * 0.985 <= square.width <= side + 1e-3
    width = 45.0
    longest = max((length for w, length in there if w >= width), default=0.0)
    run = longest_run(cloth, width)
    found = 0.0 if run is None else run.length
    assert longest - 4.0 <= found <= longest + 1e-3

"""A line on one half of a garment: its like is laid where there is a trace of it on the other, and else nothing is."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from shapely.geometry import LineString, box

from salvage.cloth.doubts import DOUBTFUL
from salvage.cloth.finders.found import Found, Seam
from salvage.cloth.finders.lines.likes import LEAST, lacking_their_like, of_other_half, one_sided
from salvage.cloth.flat.axis import Axis
from salvage.cloth.flat.whole import FACES, KINDS, LINES, PARTS, SPOTS, Whole
from salvage.cloth.garment import EDGE_LYING_OVER, BlockedKind, FoundBy

BODY = box(-250, 0, 250, 700)
AXIS = Axis(90.0, (0.0, 350.0), 0.98, True)
STEP = 4.0
DART = Seam(LineString([(90, 480), (120, 660)]), 0.9)
LIKE = LineString([(-90, 480), (-120, 660)])


def whole_of(trace: float, at: LineString = LIKE) -> Whole:
    """A look at the whole garment, of 1 m from (-500, 850) on, that sees a line with such a chance."""
    blank = np.zeros((256, 256), np.float32)
    seen = blank.copy()
    whole = Whole(
        dict.fromkeys(LINES, blank) | {"seam": seen}, dict.fromkeys(SPOTS, blank),
        np.zeros((len(PARTS), 256, 256), np.float32), {}, dict.fromkeys(KINDS, 0.1), dict.fromkeys(FACES, 0.25),
        0.0, 0.0, 90.0, STEP, (-500.0, 850.0),
    )  # fmt: skip
    points = np.array([at.interpolate(t, normalized=True).coords[0] for t in np.linspace(0, 1, 200)])
    column, row = np.round(whole.to_grid_px(points)).astype(int).T
    seen[row, column] = trace
    return whole


def test_where_the_other_half_shows_a_trace_the_like_is_laid_in_doubt() -> None:
    (like,) = lacking_their_like([DART], BODY, AXIS, whole_of(0.7))
    assert like.line.hausdorff_distance(LIKE) < 1e-6
    assert like.what == "seam like the one on the other side"
    assert LEAST <= like.confidence < DOUBTFUL
    assert like.wide > 0


def test_where_it_shows_nothing_nothing_is_laid() -> None:
    assert lacking_their_like([DART], BODY, AXIS, whole_of(0.0)) == []


def test_a_hem_and_an_edge_that_lies_over_keep_their_names() -> None:
    kept = [
        replace(DART, hem=True),
        replace(DART, kind=BlockedKind.OTHER, what=EDGE_LYING_OVER),
        replace(DART, what="edge of body and yoke"),
    ]
    names = [lacking_their_like([each], BODY, AXIS, whole_of(0.7))[0].what for each in kept]
    assert [each.removesuffix(" like the one on the other side") for each in names] == [
        "hem",
        EDGE_LYING_OVER,
        "seam",
    ]


@pytest.mark.parametrize(
    "seams",
    [
        [DART, Seam(LineString([(-95, 470), (-112, 665)]), 0.5)],  # both were found, not quite even
        [replace(DART, found_by=FoundBy.TRADE)],
        [replace(DART, on_outline=True)],
        [replace(DART, kind=BlockedKind.CLOSURE)],
        [Seam(LineString([(20, 100), (25, 600)]), 0.9)],  # a placket, along the middle
        [Seam(LineString([(-80, 300), (80, 300)]), 0.9)],  # right across: its like is itself
    ],
)
def test_what_has_its_like_or_needs_none(seams: list[Seam]) -> None:
    assert one_sided(seams, BODY, AXIS, STEP) == []


def test_of_a_seam_right_across_that_ends_in_the_middle_the_other_half_is_asked_for() -> None:
    (found,) = one_sided([Seam(LineString([(2, 500), (240, 500)]), 0.9)], BODY, AXIS, STEP)
    assert found[1].bounds == pytest.approx((-240, 500, -2, 500), abs=31)


def test_not_where_the_axis_is_hardly_known_nor_beside_the_cloth_nor_where_a_pocket_blocks_anyway() -> None:
    assert one_sided([DART], BODY, replace(AXIS, symmetric=0.86), STEP) == []
    assert one_sided([DART], box(-60, 0, 250, 700), AXIS, STEP) == []
    assert lacking_their_like([DART], BODY, AXIS, whole_of(0.7), LIKE.buffer(5)) == []


@pytest.mark.parametrize(("sharp", "padded", "laid"), [(False, 0.1, 1), (True, 0.1, 0), (False, 0.4, 0)])
def test_not_where_it_would_be_seen_nor_of_quilting(sharp: bool, padded: float, laid: int) -> None:
    sight: Any = SimpleNamespace(
        sharp=sharp, whole=replace(whole_of(0.7), padded=padded), cloth=BODY, axis=AXIS
    )
    assert len(of_other_half(sight, Found(seams=(DART,)))) == laid

"""Which segments are lines of the floor: boards are, and what lies askew, is faint or seen in the middle alone isn't."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from salvage.scale.floor.sort import sort_segments
from salvage.scale.seeing.segments import Segment
from salvage.scale.solving.camera import Camera, project, unproject
from salvage.scale.solving.leftover import Leftover

SIZE = (1600, 1200)
CAMERA = Camera(1500.0, 0.1, 0.2, 1500.0, 799.5, 599.5)
LEFTOVER = Leftover.of(SIZE)


def segment(start: tuple[float, float], end: tuple[float, float], contrast: float = 40.0) -> Segment | None:
    """A straight edge on the floor, mm, as the camera sees it; None where it is out of the picture."""
    on_floor = np.column_stack([np.linspace(start, end, 6), np.zeros(6)])
    seen = project(CAMERA.vector, on_floor)
    inside = ((seen >= 0) & (seen < SIZE)).all(axis=1)
    if inside.sum() < 3:
        return None
    seen = seen[inside]
    way = seen[-1] - seen[0]
    length = float(np.hypot(*way))
    across = np.array([-way[1], way[0]]) / length
    return Segment(seen, across, 0.1, length, contrast)


def lines(angle: float, *, every: float = 120.0, contrast: float = 40.0, askew: float = 0.0) -> list[Segment]:
    """Parallel edges over the whole floor, in pieces of 150 mm, at an angle in degrees."""
    rng = np.random.default_rng(int(angle) + 1)
    found = []
    for beside in np.arange(-1500.0, 1500.0, every):
        for along in np.arange(-1500.0, 1500.0, 200.0):
            way = math.radians(angle + rng.normal(0, askew))
            c, s = math.cos(way), math.sin(way)
            at = np.array([c * along - s * beside, s * along + c * beside])
            found.append(segment(tuple(at), tuple(at + 190.0 * np.array([c, s])), contrast))
    return [each for each in found if each is not None]


def sorted_by(segments: list[Segment]):  # type: ignore[no-untyped-def]
    return sort_segments(segments, SIZE, CAMERA.vector, LEFTOVER)


@pytest.mark.parametrize("angle", [0.0, 25.2, 110.3, 179.0])
def test_boards_are_found_with_their_way(angle: float) -> None:
    boards = lines(angle)
    found = sorted_by(boards)
    assert found is not None
    off = (math.degrees(found.direction) - angle + 90.0) % 180.0 - 90.0
    assert abs(off) < 0.05
    assert len(found.segments) > 0.9 * len(boards)
    assert (found.way == 0).all()


def test_tiles_have_two_ways() -> None:
    along, across = lines(20.0, every=100.0), lines(110.0, every=200.0)
    found = sorted_by(along + across)
    assert found is not None
    ways = {id(each): int(way) for each, way in zip(found.segments, found.way, strict=True)}
    assert {ways[id(each)] for each in along if id(each) in ways} == {0}
    assert {ways[id(each)] for each in across if id(each) in ways} == {1}


def test_what_lies_askew_among_boards_is_left_out() -> None:
    boards, rug = lines(0.0), lines(35.0, every=700.0)
    found = sorted_by(boards + rug)
    assert found is not None
    assert not {id(each) for each in rug} & {id(each) for each in found.segments}


def test_faint_grain_along_the_boards_is_left_out() -> None:
    boards, grain = lines(0.0), [replace(each, contrast=5.0) for each in lines(0.0, every=310.0)]
    found = sorted_by(boards + grain)
    assert found is not None
    assert {id(each) for each in found.segments} <= {id(each) for each in boards}


def test_a_floor_without_a_way_has_no_lines() -> None:
    assert sorted_by([each for k in range(12) for each in lines(15.0 * k, every=900.0)]) is None


def test_too_few_lines_are_none() -> None:
    assert sorted_by([]) is None
    assert sorted_by(lines(0.0, every=3000.0)[:3]) is None


def test_boards_on_one_side_of_the_picture_are_not_sure() -> None:
    """Long enough in all, but seen in six of the outer cells only."""
    side = [each for each in lines(0.0, every=20.0) if (each.points_px[:, 0] < 500).all()]
    assert sum(each.length_px for each in side) > 2 * math.hypot(*SIZE)
    assert sorted_by(side) is None
    assert sorted_by(lines(0.0, every=20.0)) is not None


def test_a_way_among_many_is_not_sure() -> None:
    boards = lines(0.0, every=150.0)
    others = [each for angle in range(15, 180, 15) for each in lines(angle, every=600.0) if angle != 90]
    assert sum(each.length_px for each in others) > 1.5 * sum(each.length_px for each in boards)
    assert sorted_by(boards) is not None
    assert sorted_by(boards + others) is None


def test_lines_seen_in_one_corner_only_are_none() -> None:
    corner = [each for each in lines(0.0, every=40.0) if (each.points_px < np.array([520, 400])).all()]
    assert len(corner) > 10
    assert sorted_by(corner) is None


def test_what_is_above_the_horizon_is_no_floor() -> None:
    leaning = Camera(1500.0, 0.0, 0.85, 900.0, 799.5, 599.5)
    seen = lines(0.0, every=40.0)
    above = [each for each in seen if np.isnan(unproject(leaning.vector, each.points_px)).any()]
    assert 0 < len(above) < len(seen)
    level = [
        replace(each, points_px=np.column_stack([each.points_px[:, 0], np.full(len(each.points_px), row)]))
        for row, each in enumerate(seen)
    ]
    found = sort_segments(level, SIZE, leaning.vector, LEFTOVER)
    if found is not None:
        assert all(np.isfinite(unproject(leaning.vector, each.points_px)).all() for each in found.segments)
    assert sort_segments(above, SIZE, leaning.vector, LEFTOVER) is None

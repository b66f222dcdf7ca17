"""Is the plus-minus what it says: does it hold 95 % of the truths, and no more than it must?

Photographs made of numbers: camera, lens, squares, cloth heights and clicks are drawn from what the solver
believes of them (the waves that no lens model knows, too), so a right propagation covers 95 % and the plus-minus is about 1.96 / 0.6745 = 2.9 times the
median error.
"""

from __future__ import annotations

import numpy as np
import pytest
from made_scene import At, MakeScene, MakeWaves

from salvage.scale.solve import CLOTH_HEIGHT, CLOTH_HEIGHT_SD, solve_plane
from salvage.scale.solving.joint import TOLERANCE_SDS
from salvage.scale.solving.leftover import Leftover

PLACES = ((0.14, 0.2), (0.86, 0.8), (0.85, 0.15), (0.15, 0.85))
PHOTOGRAPHS = 30
LENGTHS = 6
SIDE, TOLERANCE = 150.0, 0.5
LEFT = Leftover.of((2400, 1800))


@pytest.mark.parametrize("squares", [1, 2, 4])
def test_plus_minus_holds_the_truth_and_is_not_wider_than_it_must(
    scene: MakeScene, at: At, waves: MakeWaves, squares: int
) -> None:
    errors, reaches = np.concatenate(
        [
            _photograph(scene, at, waves, squares, np.random.default_rng(1000 * squares + k))
            for k in range(PHOTOGRAPHS)
        ]
    ).T
    covered = np.mean(np.abs(errors) < reaches)
    print(
        f"{squares} squares: {100 * covered:.1f} % inside, plus-minus / error {_ratio(errors, reaches):.2f}"
    )
    assert 0.90 <= covered <= 0.995
    assert _ratio(errors, reaches) < 4.2


def _ratio(errors: np.ndarray, reaches: np.ndarray) -> float:
    return float(np.median(reaches) / np.median(np.abs(errors)))


def _photograph(
    scene: MakeScene, at: At, waves: MakeWaves, squares: int, rng: np.random.Generator
) -> np.ndarray:
    """(LENGTHS, 2): error and plus-minus of lengths on one made photograph."""
    focal = rng.uniform(23.0, 30.0)
    s = scene(
        tilt=abs(rng.normal(0.0, 10.0)),
        turned=rng.uniform(0.0, 360.0),
        height=rng.uniform(1200.0, 1800.0),
        focal_35mm=focal * np.exp(rng.normal(0.0, 0.015)),
        said_35mm=focal,
        k1=rng.normal(0.0, 0.045),
        k2=rng.normal(0.0, 0.01),
        off_centre_px=tuple(rng.normal(0.0, 20.0, 2)),
        shift=waves(LEFT.sd_px, LEFT.reach_px, rng),
    )
    seen = [
        s.square(
            at(s, *np.clip(np.array(place) + rng.uniform(-0.04, 0.04, 2), 0.05, 0.95)),
            SIDE + rng.normal(0.0, TOLERANCE / TOLERANCE_SDS),
            rng.uniform(0.0, 90.0),
            sd_px=0.2,
            rng=rng,
            label=SIDE,
        )
        for place in PLACES[:squares]
    ]
    plane = solve_plane(s.photo, seen, side_tolerance=TOLERANCE).plane
    height = rng.normal(CLOTH_HEIGHT, CLOTH_HEIGHT_SD)
    size = np.array([s.photo.width_px, s.photo.height_px])
    found = []
    for _ in range(LENGTHS):
        ends = s.camera.unproject(rng.uniform(0.2, 0.8, (2, 2)) * size, height)
        z = height + rng.normal(0.0, plane.point_height_sd, 2)
        clicks = s.see(np.column_stack([ends, z])) + rng.normal(0.0, plane.click_sd_px, (2, 2))
        clicks = np.round(clicks) if rng.random() < 0.5 else clicks
        length, reach = plane.length(*clicks)
        found.append((length - float(np.hypot(*(ends[1] - ends[0]))), reach))
    return np.array(found)

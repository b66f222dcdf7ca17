"""Straight lines of the floor: used where they are sure, and never where they are not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from made_scene import At, MakeScene, Scene
from scipy.sparse import csr_array

from salvage.photo.photo import Photo
from salvage.photo.problem import Code
from salvage.scale.floor.even_rows import even_rows
from salvage.scale.floor.lines import FloorLines
from salvage.scale.plane import Plane
from salvage.scale.seeing.segments import rough_segments, segments
from salvage.scale.solve import solve_plane
from salvage.scale.square import Square

SIZE = (1600, 1200)
HEIGHT = 5.0
Floor = Callable[[np.ndarray, np.ndarray], np.ndarray]


def boards(edges: np.ndarray, board: float = 900.0, joint: float = 4.0) -> Floor:
    """Brightness of a floor of boards along +u, with dark joints at the places `edges` across, mm."""

    def floor(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        row = np.searchsorted(edges, v)
        shades = np.random.default_rng(3).uniform(120, 170, len(edges) + 1)
        near = np.min(np.abs(v[..., None] - edges), axis=-1)
        end = np.abs((u + 331.0 * row) % board - board / 2)
        return shades[row] * np.where(np.minimum(near, end) < joint / 2, 0.4, 1.0)

    return floor


EVEN = boards(np.arange(-20, 21) * 140.0)
UNEVEN = boards(np.cumsum(np.random.default_rng(4).uniform(90, 190, 40)) - 2800.0)


def carpet(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    rng = np.random.default_rng(1)
    grain = cv2.GaussianBlur(rng.normal(0, 60, u.shape), (0, 0), 1.2)
    return 130 + grain + 0.0 * v


def photograph(scene: Scene, floor: Floor, angle: float = 25.0) -> Photo:
    """The scene's photograph with this floor drawn into it, blurred and noisy as a camera would."""
    width, tall = SIZE
    x, y = np.meshgrid(np.arange(width, dtype=float), np.arange(tall, dtype=float))
    mm = scene.camera.unproject(np.column_stack([x.ravel(), y.ravel()])).reshape(tall, width, 2)
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    grey = floor(c * mm[..., 0] + s * mm[..., 1], -s * mm[..., 0] + c * mm[..., 1])
    grey = cv2.GaussianBlur(grey, (0, 0), 0.7) + np.random.default_rng(2).normal(0, 2, grey.shape)
    pixels = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
    return replace(scene.photo, pixels=pixels)


def worst_percent(scene: Scene, plane: Plane) -> float:
    ends = []
    for u in (0.2, 0.5, 0.8):
        for v in (0.2, 0.5, 0.8):
            middle = scene.camera.unproject([[u * SIZE[0], v * SIZE[1]]], HEIGHT)[0]
            ends += [(middle, middle + np.array([200.0, 0.0])), (middle, middle + np.array([0.0, 200.0]))]
    a, b = (scene.camera.project(np.array([[*end[k], HEIGHT] for end in ends])) for k in (0, 1))
    return 100.0 * float(np.max(np.abs(plane.lengths(a, b)[0] / 200.0 - 1.0)))


@pytest.mark.parametrize("floor", [EVEN, UNEVEN], ids=["boards of one width", "boards of any width"])
def test_boards_give_what_one_square_cannot(scene: MakeScene, at: At, floor: Floor) -> None:
    s = scene(size_px=SIZE, tilt=9.0, k1=0.06, k2=-0.005)
    photo = photograph(s, floor)
    square = s.square(at(s, 0.14, 0.22), sd_px=0.2, rng=np.random.default_rng(6))
    alone = solve_plane(photo, [square], height=HEIGHT, use_floor_lines=False).plane
    helped = solve_plane(photo, [square], height=HEIGHT).plane
    assert helped.camera.k1 == pytest.approx(0.06, abs=0.012)
    assert helped.tilt == pytest.approx(9.0, abs=0.3)
    assert worst_percent(s, helped) < 0.5 * worst_percent(s, alone)
    assert worst_percent(s, helped) < 0.6
    assert helped.plus_minus_percent < 0.7 * alone.plus_minus_percent


def changes_nothing(photo: Photo, square: Square) -> bool:
    """Whether the camera is the same with and without the floor's lines."""
    with_lines, without = (solve_plane(photo, [square], use_floor_lines=use) for use in (True, False))
    return with_lines.plane.camera == without.plane.camera


def test_a_carpet_changes_nothing(scene: MakeScene, at: At) -> None:
    s = scene(size_px=SIZE)
    photo = photograph(s, carpet)
    square = s.square(at(s, 0.14, 0.22), sd_px=0.2)
    assert changes_nothing(photo, square)


def test_a_striped_garment_on_a_plain_floor_changes_nothing(scene: MakeScene, at: At) -> None:
    def striped(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        cloth = (np.abs(u) < 330) & (np.abs(v) < 260)
        wavy = v + 0.03 * u + 4.0 * np.sin(u / 90.0)
        return np.where(cloth, np.where(wavy % 40.0 < 12.0, 70.0, 200.0), 150.0)

    s = scene(size_px=SIZE)
    photo = photograph(s, striped)
    square = s.square(at(s, 0.12, 0.2), sd_px=0.2)
    assert changes_nothing(photo, square)


def test_lines_that_contradict_two_good_squares_are_left_aside(scene: MakeScene, at: At) -> None:
    """Joints that fan out, as no floor's do: the squares know better."""

    def fan(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return EVEN(u, v * (1.0 + u / 4000.0))

    s = scene(size_px=SIZE, tilt=5.0)
    photo = photograph(s, fan)
    squares = [s.square(at(s, *p), sd_px=0.1, points_sd_px=0.05) for p in ((0.12, 0.15), (0.88, 0.85))]
    assert worst_percent(s, solve_plane(photo, squares, height=HEIGHT).plane) < 0.5


@pytest.mark.parametrize(("length", "told"), [(150.0, False), (154.0, True)])
def test_a_card_that_is_no_square_is_told_by_the_boards(
    scene: MakeScene, at: At, length: float, told: bool
) -> None:
    s = scene(size_px=SIZE, tilt=5.0)
    photo = photograph(s, EVEN)
    square = s.square(at(s, 0.14, 0.22), sd_px=0.1, points_sd_px=0.05, rng=np.random.default_rng(3))
    said = replace(square, length=length)
    codes = [problem.code for problem in solve_plane(photo, [said]).problems]
    assert codes == ([Code.SQUARE_UNSURE] if told else [])


def test_segments_lie_where_they_were_drawn(scene: MakeScene) -> None:
    """Every point of a joint found in a straight lens's picture lies within 0.15 px of a drawn edge."""
    s = scene(size_px=SIZE, tilt=0.0)
    photo = photograph(s, boards(np.arange(-20, 21) * 140.0, board=1e9), angle=20.0)
    found = segments(rough_segments(photo.pixels))
    assert len(found) >= 10
    across = np.array([-np.sin(np.radians(20.0)), np.cos(np.radians(20.0))])
    middles = [np.median(s.camera.unproject(x.points_px) @ across) for x in found]
    off = [min(abs(m % 140.0 - edge) for edge in (2.0, 138.0)) for m in middles]
    assert float(np.median(off)) < 0.15 * 1400.0 / s.camera.focal_px


def test_nothing_is_sought_inside_the_garment(scene: MakeScene) -> None:
    s = scene(size_px=SIZE, tilt=0.0)
    photo = photograph(s, EVEN)
    ring = np.array([[200, 150], [1400, 150], [1400, 1050], [200, 1050]])
    inside = [
        x
        for x in segments(rough_segments(photo.pixels), [ring])
        if cv2.pointPolygonTest(ring.astype(np.float32), tuple(map(float, x.points_px.mean(axis=0))), False)
        > 3
    ]
    assert inside == []


def _lines_at(places: np.ndarray) -> FloorLines:
    """Lines of one way and side at these places; only their number and length matter to `even_rows`."""
    n = len(places)
    points = np.array([[x, 10.0 * k] for k in range(n) for x in (0.0, 300.0)])
    each = np.repeat(np.arange(n), 2)
    return FloorLines(
        points_px=points,
        across_px=np.zeros((2 * n, 2)),
        sd_px=np.ones(2 * n),
        line=each,
        way=np.zeros(n, dtype=np.int64),
        side=np.zeros(n, dtype=np.int64),
        segment=each,
        direction=0.0,
        softness=csr_array((0, 2 * n)),
        uneven=np.full(n, 0.6),
        alike=np.ones(n),
    )


@pytest.mark.parametrize("distance", [70.0, 140.0, 300.0, 450.0])
def test_even_rows_are_found_with_gaps_and_strangers(distance: float) -> None:
    rng = np.random.default_rng(int(distance))
    number = np.array([-4, -3, -1, 0, 1, 2, 4, 5, 6])
    places = np.concatenate([number * distance + rng.normal(0, 0.3, 9), [0.37 * distance, 2.61 * distance]])
    (row,) = even_rows(_lines_at(places), places)
    assert row.distance == pytest.approx(distance, rel=3e-3)
    assert set(row.lines.tolist()) == set(range(9))


def test_chance_makes_no_row() -> None:
    rng = np.random.default_rng(9)
    rows = [even_rows(_lines_at(p), p) for p in rng.uniform(-1000, 1000, (20, 9))]
    assert sum(bool(r) for r in rows) <= 1

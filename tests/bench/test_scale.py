"""How right are lengths? By simulation (the table of one, two and four squares) and on photographs.

pytest -m bench tests/bench/test_scale.py -s
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
from told import Told

from salvage.photo.photo import Photo
from salvage.photo.problem import Level
from salvage.photo.quality import inspect
from salvage.photo.read import read_photo
from salvage.scale.find import find_squares
from salvage.scale.plane import Plane
from salvage.scale.solve import solve_plane
from salvage.scale.solving.camera import Camera
from salvage.scale.square import Square, SquareKind

# The simulated photograph: 12 megapixels, 26 mm equivalent, 1.6 m above the floor, tilted 15 degrees.
SIZE = (4032, 3024)
FOCAL_35MM, HEIGHT, TILT = 26.0, 1600.0, 15.0
GARMENT = (1300.0, 800.0)
LENGTH = 300.0
TRIALS = 12
TOLD = {
    "one square": (
        Told("median 0.22 % off, 95 of 100 within 0.88 %", 0.22, 0.006),
        Told("median 0.22 % off, 95 of 100 within 0.88 %", 0.88, 0.006),
    ),
    "two or more": (
        Told("median 0.13 %, 95 of 100 within 0.33 %", 0.13, 0.006),
        Told("median 0.13 %, 95 of 100 within 0.33 %", 0.33, 0.006),
    ),
}
INSIDE = Told("every length of these", 1.0)
WIDER = Told("about 5 times the error on the rendered ones", 5.0, 0.5)
# beside the garment, its right, left, and the other two corners, mm from its middle
PLACES = ((-730.0, -300.0), (730.0, 300.0), (730.0, -300.0), (-730.0, 300.0))


def simulated_camera(k1: float) -> Camera:
    focal_px = FOCAL_35MM * math.hypot(*SIZE) / math.hypot(24, 36)
    slant = math.sin(math.radians(TILT))
    return Camera(HEIGHT, 0.0, -slant, focal_px, (SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2, k1, 0.0)


def simulated_lengths(camera: Camera) -> tuple[np.ndarray, np.ndarray]:
    """Pixels of the ends of lengths all over the garment."""
    middle = camera.unproject([[SIZE[0] / 2, SIZE[1] / 2]])[0]
    rng = np.random.default_rng(8)
    a: list[np.ndarray] = []
    b: list[np.ndarray] = []
    while len(a) < 120:
        start = rng.uniform(-0.5, 0.5, 2) * GARMENT
        turn = rng.uniform(0, 2 * math.pi)
        end = start + LENGTH * np.array([math.cos(turn), math.sin(turn)])
        if np.all(np.abs(end) < np.array(GARMENT) / 2):
            a.append(middle + start)
            b.append(middle + end)
    ends = [camera.project(np.column_stack([np.array(x), np.zeros(len(x))])) for x in (a, b)]
    return ends[0], ends[1]


def simulated_squares(
    camera: Camera, side: float, count: int, noise_px: float, rng: np.random.Generator
) -> list[Square]:
    middle = camera.unproject([[SIZE[0] / 2, SIZE[1] / 2]])[0]
    squares = []
    for place in PLACES[:count]:
        angle = rng.uniform(0, math.pi / 2)
        turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
        flat = (np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * side / 2) @ turn + middle + np.array(place)
        seen = camera.project(np.column_stack([flat, np.full(4, 0.3)])) + rng.normal(0, noise_px, (4, 2))
        squares.append(Square(SquareKind.PLAIN, side, side, seen, np.full(4, noise_px)))
    return squares


def p95_percent(lengths: list[np.ndarray]) -> float:
    return float(np.percentile(np.abs(100.0 * (np.concatenate(lengths) / LENGTH - 1.0)), 95))


def homography_lengths(square: Square, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    half = square.width / 2
    flat = np.array([[-half, -half], [half, -half], [half, half], [-half, half]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(square.corners_px.astype(np.float32), flat)
    ends = [cv2.perspectiveTransform(x.reshape(-1, 1, 2), matrix).reshape(-1, 2) for x in (a, b)]
    return np.hypot(*(ends[1] - ends[0]).T)


def solved_lengths(squares: list[Square], a: np.ndarray, b: np.ndarray, *, known: bool) -> np.ndarray:
    """known: focal length and lens, exactly."""
    pixels = np.broadcast_to(np.uint8(128), (SIZE[1], SIZE[0], 3))
    photo = Photo(Path("made.jpg"), pixels, FOCAL_35MM)
    sure = {"lens_sd": 1e-5, "focal_sd": 1e-5, "local_scale_sd": 0.0} if known else {}
    solution = solve_plane(photo, squares, height=0.0, use_floor_lines=False, **sure)
    return solution.plane.lengths(a, b)[0]


@pytest.mark.bench
def test_simulated_lengths() -> None:
    print("\n95th percentile error of a 300 mm length, %, corner noise 0.1 / 0.3 px")
    print(
        "side   homography         pose (lens known, its centre not)   k1 = 0.02, one, two and four squares"
    )
    for side in (100.0, 150.0, 200.0):
        row: dict[str, list[float]] = {}
        for noise in (0.1, 0.3):
            rng = np.random.default_rng(int(side))
            lengths: dict[str, list[np.ndarray]] = {}
            for _ in range(TRIALS):
                straight, bent = simulated_camera(0.0), simulated_camera(0.02)
                a, b = simulated_lengths(straight)
                one = simulated_squares(straight, side, 1, noise, rng)
                lengths.setdefault("homography", []).append(homography_lengths(one[0], a, b))
                lengths.setdefault("pose", []).append(solved_lengths(one, a, b, known=True))
                a, b = simulated_lengths(bent)
                for name, count in (("unknown", 1), ("two", 2), ("four", 4)):
                    squares = simulated_squares(bent, side, count, noise, rng)
                    lengths.setdefault(name, []).append(solved_lengths(squares, a, b, known=False))
            for name, found in lengths.items():
                row.setdefault(name, []).append(p95_percent(found))
        print(f"{side:3.0f}   " + "      ".join(f"{low:5.2f} / {high:5.2f}" for low, high in row.values()))
        assert max(row["two"]) < 0.6
        assert max(row["four"]) < max(row["two"])
        assert max(row["pose"]) < max(row["homography"]) / 2.5


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """One photograph. errors, reaches: percent of every marked distance.

    errors_ideal, reaches_ideal: if it is told that a renderer's lens leaves nothing over beyond its numbers.
    """

    name: str
    squares: int
    errors: np.ndarray
    reaches: np.ndarray
    errors_ideal: np.ndarray
    reaches_ideal: np.ndarray


def truths(folder: Path) -> Iterator[tuple[str, dict, Path]]:
    for path in sorted(folder.glob("*/truth.json")):
        yield path.parent.name, json.loads(path.read_text()), path.with_name("photo.jpg")


def score(name: str, truth: dict, photo_path: Path, *, floor_lines: bool) -> Scored | None:
    photo = read_photo(photo_path)
    finding = find_squares(photo, side=float(truth["reference_squares"][0]["side_mm"]))
    if not finding.squares:
        print(f"{name}  no square found: {[p.code.value for p in finding.problems]}")
        return None
    begun = time.perf_counter()
    solution = solve_plane(photo, finding.squares, use_floor_lines=floor_lines)
    seconds = time.perf_counter() - begun
    errors, reaches = distance_errors(solution.plane, truth)
    ideal = solve_plane(photo, finding.squares, use_floor_lines=floor_lines, local_scale_sd=0.0)
    refused = [
        p.code.value
        for p in (*inspect(photo), *finding.problems, *solution.problems)
        if p.level is Level.ERROR
    ]
    inside = np.mean(np.abs(errors) < reaches)
    print(
        f"{name}  {len(solution.squares)}/{len(truth['reference_squares'])} squares  median {np.median(np.abs(errors)):.2f}"
        f"  largest {np.abs(errors).max():.2f}  mean {errors.mean():+.2f}  plus-minus {np.median(reaches):.2f}"
        f"  inside {100 * inside:3.0f} %  {seconds:.2f} s  {refused or ''}"
    )
    return Scored(
        name, len(truth["reference_squares"]), errors, reaches, *distance_errors(ideal.plane, truth)
    )


def distance_errors(plane: Plane, truth: dict) -> tuple[np.ndarray, np.ndarray]:
    true = np.array([d["distance_floor_mm"] for d in truth["distances"]])
    a, b = (np.array([d[key] for d in truth["distances"]]) for key in ("a_px", "b_px"))
    lengths, reaches = plane.lengths(a, b)
    return 100.0 * (lengths / true - 1.0), 100.0 * reaches / true


@pytest.mark.bench
@pytest.mark.parametrize("floor_lines", [False, True])
def test_distances_on_photographs(shared: Path, floor_lines: bool) -> None:
    print(f"\nerrors of marked distances, %, {'with' if floor_lines else 'without'} floor lines")
    scored = [
        s
        for name, truth, photo in truths(shared / "photos" / "rendered")
        if not truth["must_warn"] and (s := score(name, truth, photo, floor_lines=floor_lines))
    ]
    for name, limits, few in (("one square", (0.4, 1.6), True), ("two or more", (0.25, 0.6), False)):
        middle, most = TOLD[name]
        group = [s for s in scored if (s.squares == 1) == few]
        assert len(group) == (5 if few else 3)  # none is refused
        errors = np.abs(np.concatenate([s.errors for s in group]))
        reaches = np.concatenate([s.reaches for s in group])
        median, high = float(np.median(errors)), float(np.percentile(errors, 95))
        print(
            f"{name}: {len(group)} photographs, median {median:.2f} (wanted {limits[0]}), 95th {high:.2f} (wanted "
            f"{limits[1]}), plus-minus {np.median(reaches):.2f}, inside {100 * np.mean(errors < reaches):.0f} %"
        )
        if floor_lines:
            middle.at_most(median)
            most.at_most(high)
    errors = np.abs(np.concatenate([s.errors for s in scored]))
    reaches = np.concatenate([s.reaches for s in scored])
    errors_ideal = np.abs(np.concatenate([s.errors_ideal for s in scored]))
    reaches_ideal = np.concatenate([s.reaches_ideal for s in scored])
    for name, error, reach in (
        ("a telephone's lens", errors, reaches),
        ("a lens known to bend as its numbers say", errors_ideal, reaches_ideal),
    ):
        print(
            f"all, {name}: inside {100 * np.mean(error < reach):.1f} %, plus-minus "
            f"{np.median(reach) / np.median(error):.2f} times the error on the median"
        )
    if floor_lines:
        assert 0.92 <= np.mean(errors_ideal < reaches_ideal) <= 0.99
        assert np.median(reaches_ideal) / np.median(errors_ideal) <= 3.0
        # What telephones leave over is not in these pictures, so the ordinary plus-minus is wider than it must be.
        INSIDE.at_least(float(np.mean(errors < reaches)))
        WIDER.at_most(float(np.median(reaches) / np.median(errors)))
        assert np.median(reaches) <= 1.6 * np.median(reaches_ideal)

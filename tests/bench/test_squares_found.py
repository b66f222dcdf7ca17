"""How often reference squares are found, and how well, on many drawn scenes and on photographs with truth files.

Prints a table. Run with  pytest -m bench -s tests/bench/test_squares_found.py
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from drawn_photo import Camera, Scene, boards, checks, diamonds, encode, plain_floor, rectangle, tiles

from salvage.photo.photo import Photo
from salvage.photo.problem import Code
from salvage.photo.read import read_photo
from salvage.scale.find import find_squares

SCENES = 24
COLOURS = {
    "white": (0.7, 0.7, 0.68),
    "black": (0.02, 0.02, 0.02),
    "green": (0.01, 0.22, 0.1),
    "red": (0.5, 0.02, 0.03),
    "blue": (0.03, 0.08, 0.4),
    "yellow": (0.7, 0.5, 0.03),
    "kraft": (0.3, 0.19, 0.1),
    "grey": (0.25, 0.25, 0.25),
    "pink": (0.75, 0.2, 0.35),
}
RUG = ((0.03, 0.1, 0.12), (0.6, 0.25, 0.1), (0.5, 0.45, 0.35), (0.12, 0.05, 0.04), (0.5, 0.45, 0.35))
Random = np.random.Generator
FLOORS: dict[str, Callable[[Random, int], Any]] = {
    "wood": lambda r, s: boards(tuple(np.array((0.35, 0.2, 0.1)) * r.uniform(0.4, 1.3)), seed=s),
    "tiles": lambda r, s: tiles((0.45, 0.42, 0.37), side=r.uniform(150, 330), seed=s),
    "chequer": lambda r, s: tiles(
        (0.6, 0.58, 0.55), other=(0.08, 0.07, 0.07), side=r.uniform(150, 300), grout=2, seed=s
    ),
    "carpet": lambda r, s: plain_floor((0.4, 0.36, 0.32), rough=0.3, grain=2.5, seed=s),
    "concrete": lambda r, s: plain_floor((0.25, 0.25, 0.25), rough=0.05, seed=s),
    "sheet": lambda r, s: plain_floor((0.6, 0.62, 0.65), rough=0.01, seed=s),
    "rug": lambda r, s: diamonds(RUG, pitch=r.uniform(180, 330)),
    "laminate": lambda r, s: boards((0.18, 0.18, 0.18), seed=s, width=180, length=1200),
}
GARMENTS: dict[str, Callable[[Random], Any]] = {
    "plaid": lambda r: checks(
        ((0.5, 0.1, 0.08), (0.6, 0.6, 0.55), (0.5, 0.3, 0.2)), step=r.uniform(12, 40), turn=r.uniform(-20, 20)
    ),
    "blue": lambda r: (0.05, 0.1, 0.3),
    "denim": lambda r: plain_floor((0.05, 0.08, 0.2), rough=0.2, grain=1.5),
    "large checks": lambda r: checks(
        ((0.6, 0.6, 0.6), (0.05, 0.05, 0.05)), step=r.uniform(60, 110), turn=r.uniform(-20, 20)
    ),
    "white": lambda r: (0.6, 0.6, 0.6),
}


@dataclass(frozen=True)
class Drawn:
    photo: Photo
    corners_px: list[np.ndarray]
    side: float
    what: str


def draw(seed: int) -> Drawn:
    """A random scene: floor, garment with a pocket, one to four cards, a decoy, a shadow, lens, tilt, noise."""
    r = np.random.default_rng(seed)
    floor = list(FLOORS)[seed % len(FLOORS)]
    size = (2400, 1800) if r.random() < 0.7 else (1800, 2400)
    camera = Camera(
        size, float(r.choice([24, 26, 28])), r.uniform(1150, 1700), r.uniform(0, 22), r.uniform(0, 360),
        r.uniform(-30, 30), r.uniform(-0.07, 0.07),
    )  # fmt: skip
    scene = Scene.on(camera, FLOORS[floor](r, seed))
    garment = str(r.choice(list(GARMENTS)))
    shape = np.array([[-230, -330], [230, -330], [260, 330], [-260, 330]]) * r.uniform(0.8, 1.1)
    shape = shape @ np.array([[0, 1], [-1, 0]]) if size[0] > size[1] else shape
    scene.lay(shape, GARMENTS[garment](r))
    pocket = (r.uniform(-80, 80), r.uniform(-120, 120))
    scene.shade(rectangle(134, 134, pocket), 0.75, soft=3)
    scene.shade(rectangle(126, 126, pocket), 1 / 0.75, soft=3)
    side = float(r.choice([100, 120, 150, 200]))
    cards = _free_places(r, camera, scene, shape, side, int(r.integers(1, 5)))
    colour = str(r.choice(_colours_that_differ(scene, cards)))
    for card in cards:
        scene.lay(card, np.array(COLOURS[colour]) * r.uniform(0.9, 1.1))
    decoy = _decoy(r, camera, scene, shape, side, cards)
    if cards and r.random() < 0.4:
        soft = r.uniform(20, 60)
        scene.shade(
            rectangle(400, 160, tuple(cards[0][0]), r.uniform(0, 180)), r.uniform(0.45, 0.7), soft=soft
        )
    photo = scene.photograph(
        seed=seed, blur_px=r.uniform(0.5, 1.1), noise=r.uniform(0.004, 0.012), exposure=r.uniform(0.7, 1.2),
        quality=int(r.integers(85, 95)), exif=bool(r.random() < 0.65),
    )  # fmt: skip
    what = (
        f"{floor}, {garment}, {len(cards)} {colour} cards of {side:.0f} mm, {decoy}, tilt {camera.tilt:.0f}"
    )
    return Drawn(photo, [camera.to_px(card) for card in cards], side, what)


def _colours_that_differ(scene: Scene, cards: list[np.ndarray]) -> list[str]:
    """Colours that hardly any of the floor beneath the cards has: a card of the floor's own can't be found."""
    beneath = [encode(scene.light[scene.cover(card) > 0.5]) for card in cards]
    differing = []
    for name, colour in COLOURS.items():
        gaps = [np.linalg.norm(floor - encode(np.array(colour)), axis=-1) for floor in beneath]
        if all((gap < 0.2).mean() < 0.1 for gap in gaps):
            differing.append(name)
    return differing


def _away(
    r: Random, scene: Scene, shape: np.ndarray, side: float, taken: list[np.ndarray]
) -> np.ndarray | None:
    """A floor point in view, off the garment and off what lies there already."""
    seen = scene.floor.reshape(-1, 2)
    low, high = np.quantile(seen[::50], 0.02, axis=0), np.quantile(seen[::50], 0.98, axis=0)
    for _ in range(300):
        point = r.uniform(low, high)
        inside = cv2.pointPolygonTest(shape.astype(np.float32), (float(point[0]), float(point[1])), True)
        if inside < -0.75 * side and all(np.hypot(*(point - t)) > 1.6 * side + 60 for t in taken):
            return point
    return None


def _free_places(
    r: Random, camera: Camera, scene: Scene, shape: np.ndarray, side: float, count: int
) -> list[np.ndarray]:
    cards: list[np.ndarray] = []
    for _ in range(40):
        point = _away(r, scene, shape, side, [card.mean(axis=0) for card in cards])
        if point is None or len(cards) == count:
            break
        card = rectangle(side, side, tuple(point), r.uniform(0, 90))
        corners = camera.to_px(card)
        if (corners > 25).all() and (corners < np.array(camera.size_px) - 26).all():
            cards.append(card)
    return cards


def _decoy(
    r: Random, camera: Camera, scene: Scene, shape: np.ndarray, side: float, cards: list[np.ndarray]
) -> str:
    decoy = str(r.choice(["a sheet of A6", "no decoy", "a window's light", "a coloured oblong"]))
    point = _away(r, scene, shape, max(side, 200.0), [card.mean(axis=0) for card in cards])
    if point is None or decoy == "no decoy":
        return "no decoy"
    place, turn = (float(point[0]), float(point[1])), r.uniform(0, 180)
    if decoy == "a sheet of A6":
        scene.lay(rectangle(105, 148, place, turn), (0.75, 0.75, 0.75))
    elif decoy == "a coloured oblong":
        scene.lay(rectangle(60, 95, place, turn), (0.1, 0.3, 0.5))
    else:
        scene.shade(rectangle(220, 220, place, turn), 1.9, soft=12)
    return decoy


def compare(found: list[np.ndarray], truth: list[np.ndarray]) -> tuple[list[float], int, int]:
    """(corner errors px, squares missed, found where none is)."""
    errors: list[float] = []
    seen: set[int] = set()
    false = 0
    for corners in found:
        gaps = [np.linalg.norm(corners[:, None] - t[None], axis=-1).min(axis=1) for t in truth]
        best = min(range(len(gaps)), key=lambda k: gaps[k].max(), default=None)
        if best is None or gaps[best].max() > 20:
            false += 1
        else:
            seen.add(best)
            errors.extend(float(g) for g in gaps[best])
    return errors, len(truth) - len(seen), false


@pytest.mark.bench
def test_drawn_scenes() -> None:
    errors: list[float] = []
    missed = false = squares = 0
    for seed in range(SCENES):
        scene = draw(seed)
        finding = find_squares(scene.photo, side=scene.side)
        e, m, f = compare([square.corners_px for square in finding.squares], scene.corners_px)
        errors, missed, false, squares = errors + e, missed + m, false + f, squares + len(scene.corners_px)
        if m or f or finding.problems:
            names = ", ".join(problem.code for problem in finding.problems)
            print(f"{seed:3d} {scene.what}: missed {m}, false {f}; {names}")
    print(f"{squares} squares in {SCENES} scenes: missed {missed}, false {false}")
    print(f"corner error px: median {np.median(errors):.2f}, 95 % {np.quantile(errors, 0.95):.2f}")
    assert missed <= 0.08 * squares
    assert false <= 0.02 * squares
    assert np.median(errors) < 0.35


def _photographs(shared: Path, demo_images: Path) -> list[tuple[Path, list[np.ndarray], float, list[str]]]:
    photographs = []
    for folder in sorted((shared / "photos" / "rendered").glob("[0-9]*")):
        truth = json.loads((folder / "truth.json").read_text())
        squares = truth["reference_squares"]
        whole = [np.array(s["corners_px"]) for s in squares if s["whole_in_frame"]]
        photographs.append((folder / "photo.jpg", whole, float(squares[0]["side_mm"]), truth["must_warn"]))
    for file in sorted(demo_images.glob("*.truth.json")):
        truth = json.loads(file.read_text())
        whole = [np.array(s["corners_px"]) for s in truth["squares"] if s["whole"]]
        side = float(truth["squares"][0]["side"]) if truth["squares"] else 150.0
        photographs.append((demo_images / truth["photo"], whole, side, truth["expect"]))
    return photographs


@pytest.mark.bench
def test_photographs_with_truth_files(shared: Path, demo_images: Path) -> None:
    errors: list[float] = []
    wrong = []
    for path, whole, side, faults in _photographs(shared, demo_images):
        finding = find_squares(read_photo(path), side=side)
        e, missed, false = compare([square.corners_px for square in finding.squares], whole)
        kinds = " ".join(sorted({square.kind for square in finding.squares})) or "none"
        names = ", ".join(f"{problem.code} ({problem.level})" for problem in finding.problems)
        size = f"{np.median(e):.2f} / {max(e):.2f}" if e else "-"
        print(
            f"{path.parent.name}/{path.name}: {kinds} {len(finding.squares)}/{len(whole)}, error {size} px; {names}"
        )
        if faults:
            continue
        errors.extend(e)
        if missed or false:
            wrong.append(path)
    print(f"corner error px: median {np.median(errors):.2f}, largest {np.max(errors):.2f}")
    assert wrong == []
    assert np.median(errors) < 0.3


@pytest.mark.bench
def test_a_cut_square_is_named_and_no_corner_is_far_off(shared: Path) -> None:
    """Every reference is found to half a pixel or so, nothing else is, and a cut one is named."""
    errors = []
    for folder in sorted((shared / "photos" / "rendered").glob("[0-9]*")):
        truth = json.loads((folder / "truth.json").read_text())
        if "blurred" in truth["must_warn"] or "over-exposed" in truth["must_warn"]:
            continue
        references = truth["reference_squares"]
        whole = [np.array(s["corners_px"]) for s in references if s["whole_in_frame"]]
        finding = find_squares(read_photo(folder / "photo.jpg"), side=references[0]["side_mm"])
        assert len(finding.squares) == len(whole), folder.name
        named = {problem.code for problem in finding.problems}
        assert (Code.SQUARE_CUT in named) == (len(whole) < len(references)), folder.name
        for square in finding.squares:
            gaps = [np.linalg.norm(square.corners_px[:, None] - w[None], axis=-1).min(axis=1) for w in whole]
            errors.append(min(gaps, key=lambda gap: gap.max()))
    assert np.median(errors) < 0.3
    assert np.max(errors) < 1.0

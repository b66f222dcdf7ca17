"""Photographs made of numbers only: a known camera, squares on its floor, and what it would see of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from salvage.photo.photo import Photo
from salvage.scale.solving.camera import Camera
from salvage.scale.square import Square, SquareKind

Floats = NDArray[np.float64]

PAPER_THICKNESS = 0.3
_ROUND = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """A camera over a floor and the photograph it took (its pixels are grey: nobody looks at them)."""

    camera: Camera
    photo: Photo
    shift: Callable[[Floats], Floats] = np.zeros_like  # what the lens does beyond the camera's numbers, px

    def square(
        self,
        place: tuple[float, float],
        side: float = 150.0,
        angle: float = 20.0,
        *,
        sd_px: float = 0.0,
        points_sd_px: float | None = None,
        lifted: float = 0.0,
        rng: np.random.Generator | None = None,
        label: float | None = None,
    ) -> Square:
        """A square as its finder would report it. sd_px: noise of the corners. points_sd_px: None for no
        edge points, else their noise about the edge that the noisy corners span. lifted: mm, height of corner 2.
        label: the side it is said to have."""
        rng = rng or np.random.default_rng(0)
        noise = rng.normal(0.0, sd_px, (4, 2)) if sd_px else np.zeros((4, 2))
        flat = _turned(_ROUND * side, angle) + place
        corners = self._seen(flat, lifted * _curl(flat, flat[2], side)) + noise
        edges: tuple[Floats, ...] = ()
        if points_sd_px is not None:
            t = np.linspace(0.04, 0.96, 50)[:, None]
            found = []
            for i in range(4):
                j = (i + 1) % 4
                line = flat[i] + t * (flat[j] - flat[i])
                seen = self._seen(line, lifted * _curl(line, flat[2], side))
                found.append(
                    seen + noise[i] * (1 - t) + noise[j] * t + rng.normal(0.0, points_sd_px, seen.shape)
                )
            edges = tuple(found)
        said = side if label is None else label
        return Square(SquareKind.PLAIN, said, said, corners, np.full(4, max(sd_px, 0.02)), edges)

    def _seen(self, flat: Floats, z: Floats) -> Floats:
        return self.see(np.column_stack([flat, z + PAPER_THICKNESS]))

    def see(self, points: Floats) -> Floats:
        """(n, 3) mm -> (n, 2) pixels of the picture as the telephone wrote it."""
        ideal = self.camera.project(points)
        return ideal + self.shift(ideal)


def make_waves(sd_px: float, reach_px: float, rng: np.random.Generator) -> Callable[[Floats], Floats]:
    """A smooth random shift of places, (n, 2) px -> (n, 2) px: 400 waves with the spectrum of a Gaussian bell.

    Source: Rahimi and Recht, "Random features for large-scale kernel machines", NIPS 2007.
    """
    turns = rng.normal(0.0, 1.0 / reach_px, (2, 200, 2))
    phases = rng.uniform(0.0, 2.0 * math.pi, (2, 200))

    def shift(points_px: Floats) -> Floats:
        angle = np.einsum("nj,ckj->nck", points_px, turns) + phases
        return np.asarray(sd_px * math.sqrt(2.0 / 200) * np.cos(angle).sum(axis=2))

    return shift


def make_scene(
    *,
    tilt: float = 12.0,
    turned: float = 30.0,
    height: float = 1400.0,
    focal_35mm: float = 26.0,
    said_35mm: float | None = 26.0,
    size_px: tuple[int, int] = (2400, 1800),
    k1: float = 0.0,
    k2: float = 0.0,
    off_centre_px: tuple[float, float] = (0.0, 0.0),
    shift: Callable[[Floats], Floats] = np.zeros_like,
) -> Scene:
    """tilt, turned: degrees, of the line of sight from straight down and which way. said_35mm: what EXIF says."""
    width, tall = size_px
    slant = math.sin(math.radians(tilt))
    camera = Camera(
        height,
        slant * math.cos(math.radians(turned)),
        slant * math.sin(math.radians(turned)),
        focal_35mm * math.hypot(width, tall) / math.hypot(24.0, 36.0),
        (width - 1) / 2 + off_centre_px[0],
        (tall - 1) / 2 + off_centre_px[1],
        k1,
        k2,
    )
    pixels = np.broadcast_to(np.uint8(128), (tall, width, 3))
    return Scene(camera, Photo(Path("made.jpg"), pixels, said_35mm), shift)


def floor_places(scene: Scene, places: Sequence[tuple[float, float]]) -> Floats:
    """Floor points, mm, seen at these shares of the picture's width and height."""
    size = np.array([scene.photo.width_px, scene.photo.height_px])
    return scene.camera.unproject(np.asarray(places) * size)


def place_at(scene: Scene, across: float, down: float) -> tuple[float, float]:
    """Floor point seen at a share of the picture's width and height."""
    x, y = floor_places(scene, [(across, down)])[0]
    return float(x), float(y)


def _turned(points: Floats, angle: float) -> Floats:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return points @ np.array([[c, s], [-s, c]])


def _curl(points: Floats, corner: Floats, side: float) -> Floats:
    """Share of a curled corner's height at these points: it curls over a third of the side."""
    away = np.hypot(*(points - corner).T) / (side / 3)
    return np.maximum(1.0 - away, 0.0) ** 2


MakeScene = Callable[..., Scene]
At = Callable[[Scene, float, float], tuple[float, float]]
MakeWaves = Callable[[float, float, np.random.Generator], Callable[[Floats], Floats]]

"""Draw photographs of flat things on a floor, with numpy and OpenCV and no file of anybody's.

Everything is drawn in linear light in floor millimetres (x right, y up, as seen from above), through a pinhole
camera with radial distortion, and then blurred, made noisy, encoded as sRGB and passed through JPEG. Edges are
covered by area, so that where they lie in the picture is known to well under a hundredth of a pixel.
Nothing here is taken from salvage/: what it finds is compared with what was drawn.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.photo.photo import Photo

Array = NDArray[Any]
Paint = Array | tuple[float, float, float] | Callable[[Array], Array]


@dataclass(frozen=True)
class Camera:
    """focal_35mm by the diagonal; k1 bends ideal to real points; height above the floor point in the middle, mm.

    tilt: degrees away from straight down; toward: direction in which it leans, degrees counter-clockwise;
    turn: of the picture about its middle. middle: floor point in the middle of the picture, mm.
    """

    size_px: tuple[int, int] = (1600, 1200)
    focal_35mm: float = 26.0
    height: float = 1500.0
    tilt: float = 0.0
    toward: float = 90.0
    turn: float = 0.0
    k1: float = 0.0
    middle: tuple[float, float] = (0.0, 0.0)

    @property
    def focal_px(self) -> float:
        return self.focal_35mm * math.hypot(*self.size_px) / math.hypot(36, 24)

    def _axes(self) -> tuple[Array, Array]:
        """Rows: the camera's x, y, z axes in the world; and its place."""
        tilt, toward, turn = (math.radians(a) for a in (self.tilt, self.toward, self.turn))
        lean = np.array([math.cos(toward), math.sin(toward), 0.0])
        forward = math.sin(tilt) * lean - math.cos(tilt) * np.array([0.0, 0.0, 1.0])
        up = np.array([-math.sin(turn), math.cos(turn), 0.0])
        up = up - forward * (forward @ up)
        up /= np.linalg.norm(up)
        right = np.cross(forward, up)
        place = np.array([*self.middle, 0.0]) - forward * self.height / math.cos(tilt)
        return np.stack([right, -up, forward]), place

    def to_px(self, points: Array) -> Array:
        """(n, 2) or (n, 3) floor points, mm, to pixels."""
        points = np.atleast_2d(points)
        if points.shape[1] == 2:
            points = np.column_stack([points, np.zeros(len(points))])
        axes, place = self._axes()
        seen = (points - place) @ axes.T
        ideal = seen[:, :2] / seen[:, 2:]
        bent = ideal * (1 + self.k1 * (ideal**2).sum(axis=1, keepdims=True))
        return bent * self.focal_px + (np.array(self.size_px) - 1) / 2

    def floor_of_pixels(self) -> Array:
        """(h, w, 2) float32 floor point that each pixel's centre sees, mm."""
        width, height = self.size_px
        x = (np.arange(width) - (width - 1) / 2) / self.focal_px
        y = (np.arange(height) - (height - 1) / 2) / self.focal_px
        bent = np.stack(np.meshgrid(x, y), axis=-1)
        ideal = bent.copy()
        for _ in range(6 if self.k1 else 0):
            ideal = bent / (1 + self.k1 * (ideal**2).sum(axis=-1, keepdims=True))
        axes, place = self._axes()
        rays = ideal @ axes[:2] + axes[2]
        return (place[:2] - rays[..., :2] * (place[2] / rays[..., 2:])).astype(np.float32)


@dataclass
class Scene:
    """What has been drawn so far: light (h, w, 3) linear, on the floor points that the camera sees."""

    camera: Camera
    light: Array
    floor: Array
    px_per_mm: Array = field(repr=False)

    @staticmethod
    def on(camera: Camera, ground: Callable[[Array], Array]) -> Scene:
        """ground: floor points (h, w, 2) to linear RGB (h, w, 3)."""
        floor = camera.floor_of_pixels()
        step = np.hypot(*np.moveaxis(np.diff(floor, axis=1, append=floor[:, -1:]), -1, 0))
        step[:, -1] = step[:, -2]
        return Scene(camera, ground(floor).astype(np.float32), floor, (1.0 / step).astype(np.float32))

    def lay(self, corners: Array, paint: Paint, *, radius: float = 0.0) -> None:
        """Lay a convex polygon (n, 2), counter-clockwise, mm, in one colour or one that depends on the place."""
        cover = self.cover(corners, radius=radius)[..., None]
        colour = paint(self.floor) if callable(paint) else np.asarray(paint, dtype=np.float32)
        self.light = self.light * (1 - cover) + colour * cover

    def cover(self, corners: Array, *, soft: float = 0.0, radius: float = 0.0) -> Array:
        """(h, w) part of each pixel inside a convex polygon. soft: width of its edge, mm. radius: of corners."""
        inside = np.full(self.floor.shape[:2], np.inf, np.float32)
        for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            normal = np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a))
            inside = np.minimum(inside, ((self.floor - a) @ normal).astype(np.float32))
        if radius:
            inside = self._rounded(corners, inside, radius)
        if soft:
            return np.clip(inside / soft + 0.5, 0, 1)
        return np.clip(inside * self.px_per_mm + 0.5, 0, 1)

    def _rounded(self, corners: Array, inside: Array, radius: float) -> Array:
        """Distance inside of a rectangle with round corners."""
        centre = corners.mean(axis=0)
        u = (corners[1] - corners[0]) / np.hypot(*(corners[1] - corners[0]))
        half = np.array([np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[1]))]) / 2
        local = np.abs((self.floor - centre) @ np.stack([u, [-u[1], u[0]]]).T)
        beyond = np.maximum(local - (half - radius), 0)
        return np.where((beyond > 0).all(axis=-1), radius - np.hypot(*np.moveaxis(beyond, -1, 0)), inside)

    def shade(self, corners: Array, factor: float, *, soft: float = 30.0) -> None:
        """A shadow (factor under 1) or a patch of light over whatever lies there."""
        self.light *= (1 + (factor - 1) * self.cover(corners, soft=soft))[..., None]

    def photograph(
        self,
        *,
        seed: int = 0,
        blur_px: float = 0.7,
        noise: float = 0.006,
        exposure: float = 1.0,
        quality: int | None = 90,
        exif: bool = True,
    ) -> Photo:
        """Blur, noise, sRGB and JPEG (none where quality is None); exif: whether the focal length is told."""
        rng = np.random.default_rng(seed)
        light = cv2.GaussianBlur(self.light, (0, 0), blur_px) if blur_px else self.light
        light = np.maximum(light * exposure, 0)
        light = light + rng.normal(0, 1, light.shape).astype(np.float32) * noise * np.sqrt(light + 0.02)
        pixels = np.rint(encode(light) * 255).astype(np.uint8)
        if quality is not None:
            ok, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
            assert ok
            read = cv2.imdecode(data, cv2.IMREAD_COLOR)
            assert read is not None
            pixels = np.ascontiguousarray(read[..., ::-1], dtype=np.uint8)
        return Photo(Path("drawn.jpg"), pixels, self.camera.focal_35mm if exif else None)


def encode(light: Array) -> Array:
    """Linear light to sRGB values 0 to 1 (IEC 61966-2-1)."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def rectangle(width: float, length: float, centre: tuple[float, float], turn: float = 0.0) -> Array:
    """(4, 2) corners, counter-clockwise seen from above, mm; the first side is the width."""
    angle = math.radians(turn)
    axes = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    half = np.array([[-width, -length], [width, -length], [width, length], [-width, length]]) / 2
    return half @ axes + centre


def marker(
    corners: Array, number: int, family: int = cv2.aruco.DICT_APRILTAG_36h11
) -> Callable[[Array], Array]:
    """Paint of an AprilTag marker, by OpenCV's table, across a square's corners (first one its own)."""
    table = cv2.aruco.getPredefinedDictionary(family)
    picture = cv2.aruco.generateImageMarker(table, number, 8) > 128
    u, v = corners[1] - corners[0], corners[3] - corners[0]
    inverse = np.linalg.inv(np.stack([u, v], axis=1))

    def paint(floor: Array) -> Array:
        place = (floor - corners[0]) @ inverse.T
        column = np.clip((place[..., 0] * 8).astype(int), 0, 7)
        row = np.clip(((1 - place[..., 1]) * 8).astype(int), 0, 7)
        return np.where(picture[row, column][..., None], np.float32(0.7), np.float32(0.03))

    return paint


def texture(seed: int, grain: float, sigma: float) -> Callable[[Array], Array]:
    """A random field of the floor, mean 0, standard deviation sigma, with features of about `grain` mm."""
    noise = np.random.default_rng(seed).normal(0, 1, (512, 512)).astype(np.float32)
    field_px = np.asarray(cv2.GaussianBlur(np.tile(noise, (2, 2)), (0, 0), 1.0), np.float32)[256:768, 256:768]
    field_px *= sigma / field_px.std()

    def value(floor: Array) -> Array:
        at = np.mod(floor / grain, 511.0).astype(np.float32)
        return cv2.remap(field_px, at[..., 0], at[..., 1], cv2.INTER_LINEAR)

    return value


def plain_floor(
    colour: tuple[float, float, float], *, seed: int = 0, rough: float = 0.05, grain: float = 2.0
) -> Any:
    """One colour with a texture: concrete, carpet (rough 0.3), a sheet (rough 0.01)."""
    value, cloudy = texture(seed, grain, rough), texture(seed + 1, 40.0, 0.05)
    return lambda floor: np.asarray(colour) * (1 + value(floor) + cloudy(floor))[..., None].clip(0.05)


def boards(
    colour: tuple[float, float, float], *, seed: int = 0, width: float = 95.0, length: float = 900.0
) -> Any:
    """Planks along x, each of its own lightness, with dark gaps and a grain along them."""
    rng = np.random.default_rng(seed)
    tone, shift = rng.uniform(0.75, 1.25, (64, 64)), rng.uniform(0, length, 64)
    value = texture(seed, 3.0, 0.08)

    def paint(floor: Array) -> Array:
        row = np.floor(floor[..., 1] / width).astype(int)
        along = floor[..., 0] + shift[row % 64]
        column = np.floor(along / length).astype(int)
        across = np.mod(floor[..., 1], width)
        gap = np.minimum(
            np.minimum(across, width - across),
            np.minimum(np.mod(along, length), length - np.mod(along, length)),
        )
        shade = tone[row % 64, column % 64] * (1 + value(floor * [0.1, 1.0]))
        return np.asarray(colour) * (shade * np.clip(gap / 1.2, 0.25, 1.0))[..., None]

    return paint


def tiles(
    colour: tuple[float, float, float],
    *,
    other: tuple[float, float, float] | None = None,
    side: float = 300.0,
    grout: float = 4.0,
    seed: int = 0,
) -> Any:
    """Square tiles with grout between; with another colour, a chequered floor."""
    value = texture(seed, 25.0, 0.05)

    def paint(floor: Array) -> Array:
        cell = np.floor(floor / side).astype(int).sum(axis=-1) % 2
        rest = np.mod(floor, side)
        gap = np.minimum(rest, side - rest).min(axis=-1)
        base = np.where(cell[..., None] == 1, np.asarray(other if other else colour), np.asarray(colour))
        return base * ((1 + value(floor)) * np.where(gap < grout / 2, 0.55, 1.0))[..., None]

    return paint


def checks(colours: tuple[tuple[float, float, float], ...], *, step: float = 18.0, turn: float = 0.0) -> Any:
    """Woven checks: stripes both ways, each crossing the mean of its two."""
    table = np.asarray(colours)
    angle = math.radians(turn)
    axes = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])

    def paint(floor: Array) -> Array:
        local = np.floor(floor @ axes.T / step).astype(int) % len(table)
        return (table[local[..., 0]] + table[local[..., 1]]) / 2

    return paint


def diamonds(
    colours: tuple[tuple[float, float, float], ...], *, pitch: float = 260.0, rough: float = 0.25
) -> Any:
    """A rug of squares within squares, on their points, with a pile."""
    table, value = np.asarray(colours), texture(5, 2.5, rough)

    def paint(floor: Array) -> Array:
        local = np.abs(np.mod(floor, pitch) - pitch / 2).sum(axis=-1) / (pitch / 2)
        ring = np.clip((local * 1.25 * (len(table) - 1)).astype(int), 0, len(table) - 1)
        return table[ring] * (1 + value(floor))[..., None].clip(0.1)

    return paint

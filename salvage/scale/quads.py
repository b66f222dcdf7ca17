"""Four-cornered regions of a picture: the first guesses at where a card or a sheet may lie.

Several ways of parting a picture are tried, because no single one finds a white card on pale tiles, a green
one half in shadow and a black one on a dark floor. They find far too much; what is no card is weeded out
later by how its edges look at full resolution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[Any]  # (h, w) of 0 and 1

_WORK_PX = 1200  # long side of the picture that is searched
_LEVELS = 13
_LEAST_FILL = 0.88  # a region's area over its hull's
_LEAST_QUAD_FILL = 0.90  # its hull's area over the quad's (a rounded card has more than 0.96)
_ANGLES = (50.0, 130.0)
_LEAST_SIDES_RATIO = 0.35  # shortest side over longest


@dataclass(frozen=True, slots=True, eq=False)
class Quad:
    """A region with four corners. corners_px: (4, 2) in the full picture; fill: how well it fills them."""

    corners_px: Array
    fill: float


def find_quads(pixels: NDArray[Any], *, least_side_px: float) -> list[Quad]:
    """Four-cornered regions, best filled first, each place once.

    pixels: (h, w, 3) sRGB. least_side_px: the shortest side worth having, px of the full picture.
    Good to about two pixels of the reduced picture; `guess_error_px` says how much that is.
    """
    factor = min(1.0, _WORK_PX / max(pixels.shape[:2]))
    small = (
        cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) if factor < 1 else pixels
    )
    least = max(least_side_px * factor, 10.0)
    most = 0.7 * min(small.shape[:2])
    quads: list[Quad] = []
    for mask in _partings(small):
        quads.extend(_quads_of(mask, least, most))
    full = [Quad((quad.corners_px + 0.5) / factor - 0.5, quad.fill) for quad in quads]
    return _each_place_once(full)


def guess_error_px(pixels: NDArray[Any]) -> float:
    """How far off the corners of find_quads may be, px of the full picture."""
    return 2.0 * max(1.0, max(pixels.shape[:2]) / _WORK_PX) + 2.0


def _partings(small: NDArray[Any]) -> Iterator[Mask]:
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    smooth = cv2.medianBlur(lab, 5)
    for channel in cv2.split(smooth):
        yield from _by_level(channel)
    light = smooth[..., 0]
    for block in (51, 151, 301):
        mean = cv2.boxFilter(light, cv2.CV_32F, (block, block))
        for offset in (6, 18):
            yield ((light - mean) > offset).astype(np.uint8)
            yield ((mean - light) > offset).astype(np.uint8)
    yield from _between_edges(smooth)


def _by_level(channel: NDArray[Any]) -> Iterator[Mask]:
    low, high = np.quantile(channel[::4, ::4], (0.002, 0.998))
    if high - low < 6:
        return
    for level in np.linspace(low, high, _LEVELS + 2)[1:-1]:
        yield (channel > level).astype(np.uint8)


def _between_edges(smooth: NDArray[Any]) -> Iterator[Mask]:
    """What lies between edges, at several strengths of edge."""
    slope = np.zeros(smooth.shape[:2], np.float32)
    for channel in cv2.split(smooth):
        blurred = cv2.GaussianBlur(channel, (0, 0), 1.2)
        dx = cv2.Sobel(blurred, cv2.CV_32F, 1, 0)
        dy = cv2.Sobel(blurred, cv2.CV_32F, 0, 1)
        slope = np.maximum(slope, cv2.magnitude(dx, dy))
    for strength in (12.0, 24.0, 45.0, 80.0, 140.0):
        yield (slope < strength).astype(np.uint8)


def _quads_of(mask: Mask, least: float, most: float) -> Iterator[Quad]:
    contours, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    for contour in contours:
        if len(contour) < 2.8 * least or len(contour) > 8 * most:
            continue
        quad = _quad_of(contour, least)
        if quad is not None:
            yield quad


def _quad_of(contour: NDArray[Any], least: float) -> Quad | None:
    area = cv2.contourArea(contour)
    if area < 0.5 * least**2:
        return None
    hull = cv2.convexHull(contour)
    hull_area = cv2.contourArea(hull)
    if area < _LEAST_FILL * hull_area:
        return None
    corners = _four_corners(hull)
    if corners is None:
        return None
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    if sides.min() < least or sides.min() < _LEAST_SIDES_RATIO * sides.max():
        return None
    ahead = np.roll(corners, -1, axis=0) - corners
    behind = np.roll(corners, 1, axis=0) - corners
    cosine = (ahead * behind).sum(axis=1) / (np.hypot(*ahead.T) * np.hypot(*behind.T))
    angles = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
    if angles.min() < _ANGLES[0] or angles.max() > _ANGLES[1]:
        return None
    quad_area = cv2.contourArea(corners.astype(np.float32))
    fill = min(area, quad_area) / max(hull_area, quad_area)
    if fill < _LEAST_QUAD_FILL * _LEAST_FILL or hull_area < _LEAST_QUAD_FILL * quad_area:
        return None
    return Quad(corners, float(fill))


def _four_corners(hull: NDArray[Any]) -> Array | None:
    """The hull's outline brought down to four corners with the least change of area."""
    perimeter = cv2.arcLength(hull, True)
    for part in (0.02, 0.03, 0.045, 0.07):
        rough = cv2.approxPolyDP(hull, part * perimeter, True)
        if len(rough) == 4:
            return _on_edges(hull.reshape(-1, 2).astype(np.float64), rough.reshape(4, 2).astype(np.float64))
        if len(rough) < 4:
            return None
    return None


def _on_edges(hull: Array, corners: Array) -> Array:
    """Move rough corners to where lines through the hull's long edges meet."""
    lines = []
    for i in range(4):
        a, b = corners[i], corners[(i + 1) % 4]
        along = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
        points = _walk(hull, a, b)
        place = (points - a) @ along / max(float(np.hypot(*(b - a))), 1e-9)
        inner = points[(place > 0.12) & (place < 0.88)]
        if len(inner) < 8:
            return corners
        centre = inner.mean(axis=0)
        _, _, axes = np.linalg.svd(inner - centre, full_matrices=False)
        lines.append((centre, axes[0]))
    met = []
    for i in range(4):
        (p, u), (q, v) = lines[i - 1], lines[i]
        matrix = np.stack([u, -v], axis=1)
        if abs(np.linalg.det(matrix)) < 0.2:
            return corners
        met.append(p + np.linalg.solve(matrix, q - p)[0] * u)
    moved = np.array(met)
    return moved if np.abs(moved - corners).max() < 0.2 * np.ptp(corners, axis=0).max() else corners


def _walk(hull: Array, a: Array, b: Array) -> Array:
    """Points one pixel apart along the hull from corner a to corner b, the shorter way."""
    i, j = (int(np.hypot(*(hull - p).T).argmin()) for p in (a, b))
    n = len(hull)
    forward = [(i + k) % n for k in range((j - i) % n + 1)]
    backward = [(i - k) % n for k in range((i - j) % n + 1)]
    route = hull[forward if len(forward) <= len(backward) else backward]
    pieces = []
    for p, q in pairwise(route):
        steps = max(int(np.hypot(*(q - p))), 1)
        pieces.append(p + (q - p) * (np.arange(steps) / steps)[:, None])
    return np.concatenate([*pieces, route[-1:]]) if pieces else route


def _each_place_once(quads: list[Quad]) -> list[Quad]:
    """Of quads with all corners within a twentieth of their size of each other, the best filled."""
    quads = sorted(quads, key=lambda quad: -quad.fill)
    if not quads:
        return []
    corners = np.stack([quad.corners_px for quad in quads])
    centres = corners.mean(axis=1)
    within = 0.05 * np.sqrt([cv2.contourArea(quad.astype(np.float32)) for quad in corners])
    free = np.ones(len(quads), dtype=bool)
    kept = []
    for i in range(len(quads)):
        if not free[i]:
            continue
        kept.append(quads[i])
        near = np.flatnonzero(free & (np.abs(centres - centres[i]).max(axis=1) < within))
        for k in near:
            free[k] = not _same_place(corners[i], corners[k], within[k])
    return kept


def _same_place(a: Array, b: Array, within_px: float) -> bool:
    gap = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
    return bool((gap.min(axis=1) < within_px).all())

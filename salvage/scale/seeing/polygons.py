"""Small geometry of convex outlines: their corners, angles and straight sides."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]


def sides_of(corners: Array) -> Array:
    """(n,) lengths of the sides of an (n, 2) polygon, side i from corner i to i + 1."""
    return np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)


def angles_at(corners: Array) -> Array:
    """(n,) inner angles of a convex (n, 2) polygon, degrees."""
    ahead = np.roll(corners, -1, axis=0) - corners
    behind = np.roll(corners, 1, axis=0) - corners
    cosine = (ahead * behind).sum(axis=1) / np.maximum(np.hypot(*ahead.T) * np.hypot(*behind.T), 1e-12)
    return np.degrees(np.arccos(np.clip(cosine, -1, 1)))


def four_corners(hull: NDArray[Any]) -> Array | None:
    """(4, 2) corners of a convex outline (m, 1, 2) that is nearly a quadrilateral, else None."""
    perimeter = cv2.arcLength(hull, True)
    for part in (0.02, 0.03, 0.045, 0.07):
        rough = cv2.approxPolyDP(hull, part * perimeter, True)
        if len(rough) == 4:
            return rough.reshape(4, 2).astype(np.float64)
        if len(rough) < 4:
            return None
    return None


def on_edges(hull: Array, corners: Array) -> Array:
    """Rough corners moved to where lines through the hull's long sides meet: right for rounded corners too.

    hull: (m, 2) convex outline. corners: (4, 2). Where that is ill determined the corners come back as given.
    """
    lines = []
    for i in range(4):
        a, b = corners[i], corners[(i + 1) % 4]
        length = max(float(np.hypot(*(b - a))), 1e-9)
        points = _walk(hull, a, b)
        place = (points - a) @ (b - a) / length**2
        inner = points[(place > 0.12) & (place < 0.88)]
        if len(inner) < 8:
            return corners
        _, _, axes = np.linalg.svd(inner - inner.mean(axis=0), full_matrices=False)
        lines.append((inner.mean(axis=0), axes[0]))
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
    """Points about one pixel apart along the hull from corner a to corner b, the shorter way."""
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

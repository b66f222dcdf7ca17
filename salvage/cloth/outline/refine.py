"""The outline put where the picture's own edge is, at full resolution.

The network sees a small picture, so its outline is good to about a pixel of that. Here each ring of the
outline is unrolled into a strip, across which it may move; the best path along the strip is found by
dynamic programming. A place is good where the cloth's colours lie on its inner side, the floor's on its
outer side (both learnt from this stretch of the picture), where the network agrees, and where an edge is.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.cloth.outline.colour import Array
from salvage.cloth.outline.local import logit
from salvage.cloth.outline.trace import level_rings

# Looked at by `python -m fixtures.train.fit_figures outline`, whose curves stand in fixtures/train/figures.md: 0.6 to 1.6
# times any of these moves the overlap of ten drawn scenes, 0.984, by 0.002 at most.
CELL = 1.4  # the unit of all that follows, in pixels of the chances
REACH = 2.2  # how far the outline may move, in pixels of the network
LEARN = 2.5  # how much further in and out the colours are learnt
ALONG = 14.0  # stretch along the outline over which colours are pooled, in pixels of the network
COLOUR, NET, EDGE = 0.35, 1.5, 4.0  # weights of the three kinds of evidence
STIFF = 1.2  # cost of moving one step across for one step along
CLIP = 4.0  # no single pixel speaks louder than this


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """A refined ring. points: (n, 2) pixels; support: (n,) 0..1, how clear the outline is at each point."""

    points: NDArray[np.float64]
    support: Array


def resample(ring: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """A closed ring as points about `spacing` apart, the first not repeated."""
    closed = ring if np.allclose(ring[0], ring[-1]) else np.vstack([ring, ring[:1]])
    steps = np.linalg.norm(np.diff(closed, axis=0), axis=1)
    along = np.concatenate([[0], np.cumsum(steps)])
    count = max(12, int(along[-1] / spacing))
    at = np.linspace(0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, closed[:, i]) for i in (0, 1)], 1)


def _smooth(values: Array, sigma: float) -> Array:
    """Gaussian smoothing along a closed ring (first axis)."""
    from scipy.ndimage import gaussian_filter1d

    return gaussian_filter1d(values, sigma, axis=0, mode="wrap")


def _sample(picture: Array, points: NDArray[np.float64]) -> Array:
    """Bilinear values at (n, k, 2) pixel coordinates."""
    x, y = (np.ascontiguousarray(points[..., i], np.float32) for i in (0, 1))
    return cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def refine_ring(ring: NDArray[np.float64], picture: Array, logits: Array, cell: float) -> Ring:
    """Move a ring to the best edge nearby.

    ring: (n, 2), in pixels of `picture`, running so that cloth is on its left in x-right y-down axes
    (either way round is accepted: the side where logits are higher is taken as cloth).
    picture: (h, w, 3) float32, Lab. logits: (h', w') of cloth over the whole picture, any size.
    cell: size of a pixel of the network in pixels of `picture`.
    """
    height, width = picture.shape[:2]
    across = max(0.5, cell / 6)  # spacing of the strip's columns
    spacing = max(1.0, cell / 3)
    points = resample(ring, spacing)
    if len(points) < 16:
        return Ring(points, np.ones(len(points), np.float32))
    calm = _smooth(points, 2.0)
    tangent = np.roll(calm, -1, 0) - np.roll(calm, 1, 0)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], 1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-9

    reach, learn = REACH * cell, LEARN * cell
    count, more = round(reach / across), round(learn / across)
    offsets = np.arange(-count - more, count + more + 1) * across
    at = points[:, None] + normal[:, None] * offsets[None, :, None]
    grid = (at + 0.5) * (np.array(logits.shape[::-1]) / (width, height)) - 0.5
    belief = _sample(logits, grid)
    if belief[:, : count + more].mean() < belief[:, -count - more :].mean():  # outer side must be floor
        normal, at, belief = -normal, at[:, ::-1], belief[:, ::-1]
    seen = _sample(picture, at)

    def model(part: Array, weight: Array) -> tuple[Array, Array]:
        """Mean and variance of colour of a side, pooled along the ring."""
        total = _smooth(weight.sum(1)[:, None], ALONG / 3 * cell / spacing) + 1e-3
        first = _smooth((part * weight[..., None]).sum(1), ALONG / 3 * cell / spacing) / total
        second = _smooth((part**2 * weight[..., None]).sum(1), ALONG / 3 * cell / spacing) / total
        return first, np.maximum(second - first**2, 0) + 9.0

    inner, outer = np.s_[:, :more], np.s_[:, -more:]
    cloth_mean, cloth_var = model(seen[inner], (belief[inner] > 0).astype(np.float32))
    floor_mean, floor_var = model(seen[outer], (belief[outer] < 0).astype(np.float32))
    middle = np.s_[:, more:-more]
    colours, net = seen[middle], np.clip(belief[middle], -CLIP, CLIP)

    def distance(mean: Array, var: Array) -> Array:
        return ((colours - mean[:, None]) ** 2 / var[:, None] + np.log(var)[:, None]).sum(2)

    colour = np.clip((distance(floor_mean, floor_var) - distance(cloth_mean, cloth_var)) / 2, -CLIP, CLIP)
    evidence = (COLOUR * colour + NET * net) * across / cell
    inside = np.concatenate([np.zeros((len(points), 1)), np.cumsum(evidence, 1)], 1)
    gain = 2 * inside - inside[:, -1:]  # with the edge before column k
    step = seen[:, more - 1 : more + 2 * count + 2]
    edge = np.linalg.norm(step[:, 1:] - step[:, :-1], axis=2)
    edge = edge / (np.percentile(edge, 90) + 3.0)
    gain[:, : edge.shape[1]] += EDGE * np.minimum(edge[:, : gain.shape[1]], 1.5) * 0.5
    path = _path(-gain, STIFF * across / spacing)
    shift = (path - count - 0.5) * across
    shift = _smooth(shift.astype(np.float32), 0.7)
    moved = points + normal * shift[:, None]

    n = np.arange(len(points))
    wide = max(1, int(0.7 * cell / across))
    low, high = np.clip(path - wide, 0, gain.shape[1] - 1), np.clip(path + wide, 0, gain.shape[1] - 1)
    drop = gain[n, path] - np.maximum(gain[n, low], gain[n, high])
    support = 1 / (1 + np.exp(-(drop - 0.6) * 3))
    keep = (moved >= -0.5).all(1) & (moved[:, 0] <= width - 0.5) & (moved[:, 1] <= height - 0.5)
    border = (points < 1.5 * cell) | (points > np.array([width, height]) - 1 - 1.5 * cell)
    still = border.any(1) & ~keep
    moved[still] = points[still]
    moved = np.clip(moved, -0.5, [width - 0.5, height - 0.5])
    return Ring(moved, _smooth(support.astype(np.float32), 1.5))


def _path(cost: NDArray[np.float64], stiff: float) -> Array:
    """Cheapest closed path: one column a row, neighbours differing by at most 2 columns, each step paid for."""
    rows, columns = cost.shape
    around = min(rows, 40)  # run on past the end, so that the path closes
    order = np.concatenate([np.arange(rows - around, rows), np.arange(rows), np.arange(around)])
    best = cost[order[0]].copy()
    back = np.zeros((len(order), columns), np.int8)
    padded = np.full(columns + 4, 1e18)
    for i in range(1, len(order)):
        padded[2:-2] = best
        best, move = padded[:columns] + 2 * stiff, back[i]
        move[:] = -2
        for m in (-1, 0, 1, 2):
            option = padded[2 + m : 2 + m + columns] + stiff * abs(m)
            less = option < best
            np.copyto(best, option, where=less)
            move[less] = m
        best += cost[order[i]]
    path = np.empty(len(order), np.int64)
    path[-1] = int(best.argmin())
    for i in range(len(order) - 1, 0, -1):
        path[i - 1] = path[i] + back[i][path[i]]
    return path[around : around + rows]


def refine(pixels: Array, near: Array) -> list[Ring]:
    """The rings where the chance of cloth `near` (any size) is one half, moved to the picture's edges.

    pixels: (h, w, 3) uint8 RGB, whose pixels the rings are in.
    """
    lab = cv2.cvtColor(pixels.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    size = (pixels.shape[1], pixels.shape[0])
    cell = size[0] / near.shape[1] * CELL
    return [refine_ring(line, lab, logit(near), cell) for line in level_rings(near, size)]

"""Cameras that could have seen known lengths so, drawn from all that might have been used.

A few lengths fix the scale but not the tilt, and what a tilt does to lengths is not linear (in the picture's
middle it only shortens, whichever way it goes). So the answer is no camera with a covariance but a set of
cameras, each as likely as the others: importance sampling from what is believed before, in rounds that draw
more closely where the likely ones are (Cappe, Guillin, Marin, Robert, "Population Monte Carlo", Journal of
Computational and Graphical Statistics 13, 2004).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from salvage.scale.known import KnownLength
from salvage.scale.solving.beliefs import Beliefs
from salvage.scale.solving.camera import straighten

Floats = NDArray[np.float64]

# What a person tells is rounded to 5 mm or a quarter inch, and cloth gives under a tape; common practice.
KNOWN_SD = 3.0
# Ends of a zip or a hem are pointed at on a screen; common practice.
POINTED_SD_PX = 2.0
# Of each direction, radians, 8 degrees: a telephone held over a garment on the floor is within 9 degrees of straight
# down in half of all photographs and within 20 in 95 of 100; common practice. Beyond 25 a photograph is warned about.
TILT_SD = 0.14
KEPT = 100  # cameras that are handed on
_DRAWN = 6000
_ENOUGH = 500.0  # as many independent draws make the rounds end
_TEMPERED = 150.0  # while there are fewer, draws count by a root of their likelihood
_KERNELS = 400
_ROUNDS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """cameras: (KEPT, 8) vectors over the cloth's level, each as likely. middle: (8,) of all of them.

    misfit: of the best one drawn, sum of squares of the lengths and of what was believed of the tilt.
    """

    cameras: Floats
    middle: Floats
    misfit: float


def draw(known: Sequence[KnownLength], beliefs: Beliefs, point_height_sd: float) -> Draws:
    """Cameras over a level with these lengths on it, the same ones at every call.

    beliefs: their tilt_sd is the one that counts here. point_height_sd: mm, of a length's ends about the level.
    """
    from scipy.special import ndtri  # slow to load, and most photographs have squares

    rng = np.random.default_rng(0)
    ends = np.array([[k.from_px, k.to_px] for k in known])
    ln_told = np.log([k.length for k in known])
    noise = _noise(known, ends, beliefs, point_height_sd)
    inverse = np.linalg.inv(noise)
    weigh = inverse.sum(axis=0) / inverse.sum()

    def likelihood(u: Floats) -> tuple[Floats, Floats]:
        """(n,) logarithm, and (n,) of the height over the level that fits best."""
        with np.errstate(invalid="ignore", divide="ignore"):
            rest = ln_told - np.log(_unit_lengths(_cameras(u, beliefs), ends))
        ln_height = rest @ weigh
        off = rest - ln_height[:, None]
        worth = -0.5 * np.einsum("ni,ij,nj->n", off, inverse, off)
        return np.where(np.isfinite(worth), worth, -np.inf), ln_height

    u = rng.normal(size=(_DRAWN, 7))
    worth, ln_height = likelihood(u)
    ln_weight = worth
    for _ in range(_ROUNDS):
        if _independent(_normal(ln_weight)) >= _ENOUGH:
            break
        weight = _tempered(ln_weight)
        centres = u[_pick(weight, _KERNELS, rng)]
        spread = np.cov(u.T, aweights=weight) * 0.25 + 1e-6 * np.eye(7)
        root = np.asarray(np.linalg.cholesky(spread), dtype=np.float64)
        u = centres[rng.integers(0, _KERNELS, _DRAWN)] + rng.normal(size=(_DRAWN, 7)) @ root.T
        worth, ln_height = likelihood(u)
        ln_weight = worth - 0.5 * np.sum(u * u, axis=1) - _ln_density(u, centres, root)
    weight = _normal(ln_weight)
    kept = _pick(weight, KEPT, rng)
    cameras = _cameras(u[kept], beliefs)
    own_sd = 1.0 / math.sqrt(inverse.sum())
    cameras[:, 0] = ln_height[kept] + own_sd * rng.permutation(ndtri((np.arange(KEPT) + 0.5) / KEPT))
    middle = weight @ u
    _, level = likelihood(middle[None])
    centre = _cameras(middle[None], beliefs)[0]
    centre[0] = level[0]
    misfit = float(np.min(-2.0 * worth + np.sum(u[:, :2] ** 2, axis=1)))
    return Draws(cameras, centre, misfit)


def own_sd(known: KnownLength) -> float:
    """Relative standard deviation of a length as it was told and pointed at, by itself."""
    length_px = math.dist(known.from_px, known.to_px)
    return math.hypot(KNOWN_SD / known.length, math.sqrt(2.0) * POINTED_SD_PX / length_px)


def _noise(known: Sequence[KnownLength], ends: Floats, beliefs: Beliefs, point_height_sd: float) -> Floats:
    """(m, m) covariance of the logarithms of lengths seen from straight above."""
    apart = ends[:, 1] - ends[:, 0]
    size_px = np.hypot(*apart.T)
    along = apart / size_px[:, None]
    noise = np.diag([own_sd(k) ** 2 for k in known])
    # an end that lies higher is seen farther out from the picture's middle
    out = np.einsum("mei,mi->me", ends - np.array(beliefs.centre_px), along) / beliefs.focal_px
    noise += np.diag(np.sum((out * point_height_sd / np.array([[k.length] for k in known])) ** 2, axis=1))
    alike = np.zeros_like(noise)
    for i, j in np.ndindex(2, 2):
        sign = 1.0 if i == j else -1.0
        alike += sign * beliefs.leftover.likeness(ends[:, None, i], ends[None, :, j])
    return np.asarray(
        noise + beliefs.leftover.sd_px**2 * alike * (along @ along.T) / np.outer(size_px, size_px)
    )


def _cameras(u: Floats, beliefs: Beliefs) -> Floats:
    """(n, 7) standard normal numbers -> (n, 8) camera vectors one mm over the level."""
    spread = [beliefs.tilt_sd, beliefs.tilt_sd, beliefs.focal_sd, *[beliefs.centre_sd_px] * 2]
    spread += [beliefs.lens_sd, beliefs.lens_sd_k2]
    middle = [0.0, 0.0, math.log(beliefs.focal_px), *beliefs.centre_px, 0.0, 0.0]
    return np.column_stack([np.zeros(len(u)), u * spread + middle])


def _unit_lengths(cameras: Floats, ends: Floats) -> Floats:
    """(n, m): m lengths by n cameras, in units of the camera's height over the level. NaN above the horizon."""
    floor = [[_unit_place(cameras, end) for end in pair] for pair in ends]
    return np.column_stack([np.hypot(*(b - a).T) for a, b in floor])


def _unit_place(cameras: Floats, pixel: Floats) -> Floats:
    """(n, 2): where n cameras one mm high see this pixel; as `camera.unproject` of many at once."""
    _, normal_x, normal_y, ln_focal, centre_x, centre_y, k1, k2 = cameras.T
    seen = (pixel - np.column_stack([centre_x, centre_y])) / np.exp(ln_focal)[:, None]
    ray = np.column_stack([straighten(seen, k1, k2), np.ones(len(seen))])
    flat = 1.0 - normal_x**2 - normal_y**2
    up = np.column_stack([normal_x, normal_y, -np.sqrt(np.where(flat > 0.05, flat, np.nan))])
    right = np.array([1.0, 0.0, 0.0]) - normal_x[:, None] * up
    right /= np.linalg.norm(right, axis=1)[:, None]
    forth = np.cross(up, right)
    down = -np.sum(ray * up, axis=1)
    down = np.where(down > 1e-6, down, np.nan)
    return np.asarray(
        np.column_stack([np.sum(ray * right, axis=1), np.sum(ray * forth, axis=1)]) / down[:, None]
    )


def _normal(ln_weight: Floats) -> Floats:
    weight = np.exp(ln_weight - ln_weight.max())
    return np.asarray(weight / weight.sum())


def _independent(weight: Floats) -> float:
    """As how many equal draws these weighted ones count (Kish)."""
    return float(1.0 / np.sum(weight**2))


def _tempered(ln_weight: Floats) -> Floats:
    """Weights by the largest root of them that leaves enough draws."""
    power = 1.0
    while power > 1e-4 and _independent(_normal(power * ln_weight)) < _TEMPERED:
        power *= 0.7
    return _normal(power * np.maximum(ln_weight, ln_weight.max() - 1e4))


def _pick(weight: Floats, count: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """(count,) numbers of draws, each as often as its weight says: systematic sampling."""
    places = (np.arange(count) + rng.uniform()) / count
    return np.minimum(np.searchsorted(np.cumsum(weight), places), len(weight) - 1)


def _ln_density(u: Floats, centres: Floats, root: Floats) -> Floats:
    """(n,) logarithm, up to a constant, of a mixture of bells of one shape round the centres."""
    inverse = np.linalg.inv(root)
    a, b = u @ inverse.T, centres @ inverse.T
    squares = np.sum(a * a, axis=1)[:, None] + np.sum(b * b, axis=1) - 2.0 * a @ b.T
    least = squares.min(axis=1)
    return np.asarray(np.log(np.exp(-0.5 * (squares - least[:, None])).sum(axis=1)) - 0.5 * least)

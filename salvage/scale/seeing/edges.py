"""One straight, or nearly straight, edge in a picture to a fraction of a pixel.

Words: `along` is the position on an edge (0 to 1), `offset` the distance of the edge from the straight line
between the first guess's ends, in px, positive outward, where the edge belongs to an outline that runs
counter-clockwise as seen on the picture.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.seeing.light import blurred_step, light_and_tint

Array = NDArray[Any]

_SHADING = 0.1  # by how much light varies along and beside an edge, of itself, standard deviation
# Tint places an edge less surely than light does, by a part of a pixel that more points do not mend. As part
# of the step, so that it only leads where light is half lost in the floor's texture.
_TINT_DOUBT = 0.2
# Part of the worked-out shift by mixing that is taken out, and part that stays in doubt: no camera's blur is
# quite Gaussian, and most sharpen. On drawn cards of nine colours on four floors taking out none, half and all of it
# leaves 0.14, 0.05 and 0.08 px (rms); on rendered photographs that are sharpened none is best. A quarter it is.
_MIXING_PART, _MIXING_DOUBT = 0.25, 0.4
_BLURS_PX = np.array([0.3, 0.5, 0.75, 1.1, 1.6, 2.4, 3.6])
# Light at which white starts to be cut off, and at which it is; by how much of its width that moves an edge.
_CLIPPING = (0.90, 0.97)
_CLIPPED_SHIFT, _CLIPPED_DOUBT = 0.7, 0.4
_NOISE = 0.01  # least noise of linear light
# How much of an edge next to each corner is left out, for there the other edge's blur reaches in; at most part.
_NEAR_CORNER_PX, _NEAR_CORNER = 5.0, 0.05
_STEP_PX = 0.5  # spacing of samples across an edge
_MOST_SAMPLES = 240  # along one edge
_SMOOTHING_PX = 1.0  # sigma of the derivative across the edge
_POINTS_KEPT = 60  # edge points handed on, per edge
_SAG_PRIOR_PX = 0.8  # how much a lens bends an edge of a square, standard deviation


@dataclass(frozen=True, slots=True, eq=False)
class EdgeFit:
    """One edge. points_px: (n, 2) sub-pixel points taken as lying on it.

    supported: part of the edge, 0 to 1, along which such points were found.
    spread_px: standard deviation of the points about the curve.
    width_px: sigma of the blur across the edge.
    curve: (3,) offset = c0 + c1 s + c2 s^2 with s = 2 along - 1. start, end: what it is relative to.
    """

    points_px: Array
    supported: float
    spread_px: float
    width_px: float
    curve: Array
    curve_covariance: Array
    start: Array
    end: Array


def fit_edge(pixels: NDArray[Any], start: Array, end: Array, search_px: float) -> EdgeFit | None:
    """Fit one edge of a polygon that runs counter-clockwise on the picture, roughly, from corner start to end.

    search_px: how far off the guess may be. None where no edge is there.
    """
    crop = Crop.around(pixels, np.stack([start, end]), search_px + 4.0)
    return None if crop is None else fit_in(crop, start, end, search_px, rough=True)


@dataclass(frozen=True, slots=True, eq=False)
class Crop:
    """A part of the picture in light and tint. origin_px: (2,) of its top-left pixel."""

    light: NDArray[Any]
    origin_px: Array

    @staticmethod
    def around(pixels: NDArray[Any], corners_px: Array, margin_px: float) -> Crop | None:
        height, width = pixels.shape[:2]
        low = np.maximum(np.floor(corners_px.min(axis=0) - margin_px).astype(int), 0)
        high = np.minimum(np.ceil(corners_px.max(axis=0) + margin_px).astype(int) + 1, (width, height))
        if (high - low).min() < 4:
            return None
        return Crop(light_and_tint(pixels[low[1] : high[1], low[0] : high[0]]), low.astype(np.float64))

    def sample(self, points_px: Array) -> NDArray[Any]:
        """Colours (n, m, 3) at points (n, m, 2) of the whole picture, bilinear, edge pixels repeated."""
        at = (points_px - self.origin_px).astype(np.float32)
        return cv2.remap(
            self.light, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )


def point_at(edge: EdgeFit, s: float) -> Array:
    """A point of the fitted edge. s: -1 at its start to 1 at its end; beyond that the curve goes on."""
    along, outward, length = outward_of(edge.start, edge.end)
    offset = edge.curve[0] + edge.curve[1] * s + edge.curve[2] * s * s
    return edge.start + (s + 1) / 2 * length * along + offset * outward


def tangent_at(edge: EdgeFit, s: float) -> Array:
    """The derivative of `point_at`."""
    along, outward, length = outward_of(edge.start, edge.end)
    return length / 2 * along + (edge.curve[1] + 2 * edge.curve[2] * s) * outward


def outward_of(start: Array, end: Array) -> tuple[Array, Array, float]:
    """Unit vectors along and outward of an edge of a quad that runs counter-clockwise on the picture."""
    length = float(np.hypot(*(end - start)))
    along = (end - start) / max(length, 1e-9)
    # y points down: walking counter-clockwise as seen, the outside is to the right, which is (-dy, dx).
    return along, np.array([-along[1], along[0]]), length


def fit_in(
    crop: Crop, start: Array, end: Array, reach: float, *, rough: bool = False, ends: float = 0.0
) -> EdgeFit | None:
    """As `fit_edge`, in a crop. rough: without what puts right the last tenths of a pixel, at half the time.

    ends: the least part of the edge to leave out at each end, where corners are round.
    """
    along, outward, length = outward_of(start, end)
    if length < 12.0:
        return None
    ends = max(min(_NEAR_CORNER_PX / length, _NEAR_CORNER), ends)
    count = int(np.clip(length * (1 - 2 * ends), 12, _MOST_SAMPLES))
    position = np.linspace(ends, 1 - ends, count)
    across = np.arange(-reach - 3.0, reach + 3.0 + _STEP_PX / 2, _STEP_PX)
    points = start + (position[:, None] * length)[..., None] * along + across[:, None] * outward
    colours = crop.sample(points)
    sides = _sides(colours, across)
    profile = colours @ sides.weights.astype(np.float32)  # falls by about 1 outward
    rise = _derivative(profile)
    offset, height, width = _peaks(rise, across, reach)
    s = 2 * position - 1
    seed = _straight_consensus(s, offset, height)
    if seed is None:
        return None
    # Look again, near the line, so that a stronger neighbour (a shadow, the floor's pattern) is not taken.
    near = 2.0 + 1.5 * float(np.median(width))
    offset, height, width = _peaks(rise, across, near, centre=np.polyval(seed[::-1], s))
    fit = _robust_curve(s, offset, height, width, start, end)
    return fit if fit is None or rough else _put_right(fit, sides)


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Light and tint (3,) inside and outside, medians along the edge, and the weights that show it best."""

    inner: Array
    outer: Array
    weights: Array


def _sides(colours: NDArray[Any], across: Array) -> _Sides:
    """The weights are Fisher's discriminant: colours that vary on either side anyway (the floor's texture, a
    shadow beside a card's edge, which scale a colour and don't change its hue) count little, the difference
    that parts the two sides counts one.
    """
    inside = colours[:, across <= across[0] + 3.0].mean(axis=1)
    outside = colours[:, across >= across[-1] - 3.0].mean(axis=1)
    inner = np.median(inside, axis=0).astype(np.float64)
    outer = np.median(outside, axis=0).astype(np.float64)
    step = inner - outer
    scatter = np.cov(outside.T) + np.cov(inside.T)
    shade = np.array([1.0, 1 / 2.2, 1 / 2.2])  # tint is of encoded values and so goes with light's root
    shading = _SHADING**2 * (np.outer(outer * shade, outer * shade) + np.outer(inner * shade, inner * shade))
    doubt = np.diag((_TINT_DOUBT * step * (0, 1, 1)) ** 2)
    weights = np.linalg.solve(scatter + shading + doubt + _NOISE**2 * np.eye(3), step)
    return _Sides(inner, outer, weights / max(float(weights @ step), 1e-12))


def _derivative(profile: NDArray[Any]) -> Array:
    """How fast the profile falls outward, smoothed across (sigma _SMOOTHING_PX) and a little along."""
    half = int(np.ceil(3.5 * _SMOOTHING_PX / _STEP_PX))
    u = np.arange(-half, half + 1) * _STEP_PX
    bell = np.exp(-0.5 * (u / _SMOOTHING_PX) ** 2)
    kernel = u * bell / np.sum(u**2 * bell)
    fall = -cv2.filter2D(
        profile, cv2.CV_32F, kernel[None].astype(np.float32), borderType=cv2.BORDER_REPLICATE
    )
    return cv2.GaussianBlur(fall, (1, 5), sigmaX=0, sigmaY=1.0, borderType=cv2.BORDER_REPLICATE)


def _peaks(
    rise: Array, across: Array, reach: float, centre: Array | float = 0.0
) -> tuple[Array, Array, Array]:
    """Place, height and width of the steepest fall in each row, within reach of the centre.

    The place is that of the peak's centre of mass over a window of its own width, begun at a parabola
    through the highest three samples: it uses the whole edge and so is less noisy than the top alone.
    """
    rows = np.arange(len(rise))
    distance = np.abs(across[None, :] - np.reshape(centre, (-1, 1)))
    held = np.where(distance <= reach, rise, -np.inf)
    top = np.clip(held.argmax(axis=1), 1, len(across) - 2)
    left, mid, right = rise[rows, top - 1], rise[rows, top], rise[rows, top + 1]
    bend = left - 2 * mid + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    place = across[top] + np.clip(shift, -1, 1) * _STEP_PX
    curvature = np.where(bend < 0, -bend / _STEP_PX**2, 1e-6)
    width = np.sqrt(np.clip(mid / np.maximum(curvature, 1e-6), 0.2, 100.0))
    width = np.full_like(width, float(np.median(width)))
    for _ in range(3):
        weight = np.maximum(rise, 0) * np.exp(
            -0.5 * ((across - place[:, None]) / (0.9 * width[:, None])) ** 2
        )
        total = weight.sum(axis=1)
        place = np.where(total > 1e-9, (weight * across).sum(axis=1) / np.maximum(total, 1e-9), place)
    return place, mid.astype(np.float64), width


def _straight_consensus(s: Array, offset: Array, height: Array) -> Array | None:
    """(2,) line offset = c0 + c1 s through most of the points: the best of many pairs, fixed seed."""
    strong = height > 0.25 * np.quantile(height, 0.8)
    if strong.sum() < 6:
        return None
    s, offset = s[strong], offset[strong]
    rng = np.random.default_rng(0)
    first, second = rng.integers(0, len(s), (2, 80))
    apart = np.abs(s[first] - s[second]) > 0.3
    first, second = first[apart], second[apart]
    if len(first) == 0:
        return None
    slope = (offset[second] - offset[first]) / (s[second] - s[first])
    start = offset[first] - slope * s[first]
    residual = np.abs(start[:, None] + slope[:, None] * s - offset)
    near = np.clip(1.0 - (residual / 1.5) ** 2, 0.0, None).sum(axis=1)
    best = int(near.argmax())
    return np.array([start[best], slope[best]])


def _robust_curve(
    s: Array, offset: Array, height: Array, width: Array, start: Array, end: Array
) -> EdgeFit | None:
    """A parabola through the points, those off it left out; its bend held small by the lens prior."""
    basis = np.stack([np.ones_like(s), s, s**2 - 1 / 3], axis=1)
    typical = float(np.median(height))
    weight = (height > 0.3 * typical).astype(float)
    curve = np.zeros(3)
    covariance = np.eye(3)
    spread = 1.0
    for turn in range(8):
        if weight.sum() < 6:
            return None
        prior = np.diag([0.0, 0.0, (spread / _SAG_PRIOR_PX) ** 2])
        normal = (basis * weight[:, None]).T @ basis + prior
        curve = np.linalg.solve(normal, (basis * weight[:, None]).T @ offset)
        residual = offset - basis @ curve
        used = weight > 0.01
        spread = 1.4826 * float(np.median(np.abs(residual[used]))) + 0.01
        limit = max(4.0 * spread, 0.3) if turn > 1 else max(4.0 * spread, 1.0)
        weight = np.clip(1 - (residual / limit) ** 2, 0, None) ** 2 * (height > 0.3 * typical)
    used = weight > 0.05
    residual = offset - basis @ curve
    spread = float(np.sqrt(np.average(residual[used] ** 2, weights=weight[used]))) + 0.01
    covariance = np.linalg.inv(normal) * spread**2 * _correlation(residual, used)
    along, outward, length = outward_of(start, end)
    points = start + ((s + 1) / 2 * length)[:, None] * along + offset[:, None] * outward
    kept = np.flatnonzero(used)
    kept = kept[np.linspace(0, len(kept) - 1, min(len(kept), _POINTS_KEPT)).astype(int)]
    return EdgeFit(
        points_px=points[kept],
        supported=float(used.mean()),
        spread_px=spread,
        width_px=_own_width(float(np.median(width[used]))),
        curve=np.array([curve[0] - curve[2] / 3, curve[1], curve[2]]),
        curve_covariance=covariance,
        start=start,
        end=end,
    )


def _put_right(fit: EdgeFit, sides: _Sides) -> EdgeFit:
    """Take out of an edge's place what mixed colours and burnt-out paper do to it."""
    mixing = _shift_by_mixing(sides, fit.width_px)
    clipping, doubt = _shift_by_clipping(sides, fit.width_px)
    shift = clipping - _MIXING_PART * mixing
    _, outward, _ = outward_of(fit.start, fit.end)
    covariance = fit.curve_covariance.copy()
    covariance[0, 0] += doubt**2 + (_MIXING_DOUBT * mixing) ** 2
    return replace(
        fit,
        points_px=fit.points_px + shift * outward,
        curve=fit.curve + np.array([shift, 0.0, 0.0]),
        curve_covariance=covariance,
    )


def _shift_by_mixing(sides: _Sides, width_px: float) -> float:
    """How far outward a perfect edge between the two colours, blurred as much as this one, seems to lie.

    Found by looking for it in the way real edges are looked for.
    """
    across = np.arange(-9.0, 9.0 + _STEP_PX / 2, _STEP_PX)
    profiles = blurred_step(sides.inner, sides.outer, _BLURS_PX, across) @ sides.weights
    # Each blur by itself: a width is a median over the rows given.
    found = [_peaks(_derivative(np.tile(row, (3, 1)).astype(np.float32)), across, 6.0) for row in profiles]
    places = np.array([place[1] for place, _, _ in found])
    widths = np.array([_own_width(float(width[1])) for _, _, width in found])
    order = np.argsort(widths)
    shift = float(np.interp(width_px, widths[order], places[order]))
    return float(np.clip(shift, -1.0, 1.0)) if np.isfinite(shift) else 0.0


def _own_width(width_px: float) -> float:
    """Width of a peak less what the smoothing added to it."""
    return float(np.sqrt(max(width_px**2 - _SMOOTHING_PX**2, 0.01)))


def _shift_by_clipping(sides: _Sides, width_px: float) -> tuple[float, float]:
    """By how much to move an edge outward where a side is burnt out, and the doubt about it.

    Where paper is brighter than white can be written, only the foot of the edge's blur is left, and the edge
    seems to lie on the dark side. How far depends on how bright the paper was, which is lost. Twice white
    moves an edge of blur s by 0.7 s, one and a half times by 0.5 s and three times by 1.0 s (middle of the step
    of a clipped cumulative normal). The middle of that is taken, and the range is the doubt.
    """
    bright = float(max(sides.inner[0], sides.outer[0]))
    clipped = float(np.clip((bright - _CLIPPING[0]) / (_CLIPPING[1] - _CLIPPING[0]), 0.0, 1.0))
    towards_bright = -1.0 if sides.inner[0] > sides.outer[0] else 1.0
    return towards_bright * _CLIPPED_SHIFT * clipped * width_px, _CLIPPED_DOUBT * clipped * width_px


def _correlation(residual: Array, used: NDArray[np.bool_]) -> float:
    """How many neighbouring points say the same thing: 1 where residuals are independent."""
    r = np.where(used, residual, 0.0)
    total = float(r @ r)
    if total < 1e-12:
        return 1.0
    factor = 1.0
    for lag in range(1, min(12, len(r) // 3)):
        rho = float(r[:-lag] @ r[lag:]) / total
        if rho < 0.05:
            break
        factor += 2 * rho
    return factor

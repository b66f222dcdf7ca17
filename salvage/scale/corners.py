"""Corners of a reference to a fraction of a pixel: a curve fitted along each edge, corners where they meet.

Words: an edge runs from one corner to the next; `along` is the position on it (0 to 1), `offset` the
distance of the edge from the straight line between the first guess's corners, in px, positive outward.
Edges are looked for in light and tint (see `light_and_tint`): blur mixes light, not sRGB values, and an edge
located in sRGB values lies 0.3 px on the dark side of the true one in a sharp photograph.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

# IEC 61966-2-1:1999 (sRGB), section 5.2: encoded 8-bit value to linear light.
_ENCODED = np.arange(256) / 255.0
LINEAR_OF_SRGB = np.where(_ENCODED <= 0.04045, _ENCODED / 12.92, ((_ENCODED + 0.055) / 1.055) ** 2.4).astype(
    np.float32
)

# No fit is believed beyond this: what a printed or cut edge and a real lens leave.
LEAST_CORNER_SD_PX = 0.04
_SHADING = 0.1  # by how much light varies along and beside an edge, of itself, standard deviation
# Tint places an edge less surely than light does, by a part of a pixel that more points do not mend. As part
# of the step, so that it only leads where light is half lost in the floor's texture.
_TINT_DOUBT = 0.2
# Light at which white starts to be cut off, and at which it is; by how much of its width that moves an edge.
_CLIPPING = (0.90, 0.97)
_CLIPPED_SHIFT, _CLIPPED_DOUBT = 0.7, 0.4
_NOISE = 0.01  # least noise of linear light
# Part of an edge next to each corner that is left out: there the other edge's blur reaches in.
_NEAR_CORNER = 0.05
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
    width_px: sigma of the blur across the edge. step: (3,) light and tint inside minus outside.
    curve: (3,) offset = c0 + c1 s + c2 s^2 with s = 2 along - 1. start, end: what it is relative to.
    """

    points_px: Array
    supported: float
    spread_px: float
    width_px: float
    step: Array
    curve: Array
    curve_covariance: Array
    start: Array
    end: Array


@dataclass(frozen=True, slots=True, eq=False)
class QuadFit:
    """A four-cornered thing with straight edges. corners_px: (4, 2); corner_sd_px: (4,)."""

    corners_px: Array
    corner_sd_px: Array
    edges: tuple[EdgeFit, ...]

    @property
    def supported(self) -> float:
        return min(edge.supported for edge in self.edges)


def linear_light(pixels: NDArray[Any]) -> NDArray[Any]:
    """sRGB bytes of any shape to linear light, 0 to 1."""
    return LINEAR_OF_SRGB[pixels]


def light_and_tint(pixels: NDArray[Any]) -> NDArray[Any]:
    """sRGB bytes (h, w, 3) to (h, w, 3) float: linear light of the luma, and the two chroma differences.

    JPEG keeps luma and chroma (ITU-T T.871) apart and chroma at half the resolution. So chroma is blurred as
    encoded, luma as light is, and an edge is unbiased in each as taken here; linear RGB made of both is not.
    """
    ycc = cv2.cvtColor(pixels, cv2.COLOR_RGB2YCrCb)
    light = LINEAR_OF_SRGB[ycc[..., 0]]
    return np.dstack([light, (ycc[..., 1:].astype(np.float32) - 128.0) / 255.0])


def counter_clockwise(corners_px: Array) -> Array:
    """The (4, 2) corners so that they go round counter-clockwise as seen on the picture (y down)."""
    x, y = corners_px[:, 0], corners_px[:, 1]
    area = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
    return corners_px[::-1].copy() if area > 0 else corners_px.copy()


def fit_quad(pixels: NDArray[Any], corners_px: Array, search_px: float) -> QuadFit | None:
    """Fit the edges of a four-cornered thing near a first guess, and meet them in its corners.

    pixels: (h, w, 3) sRGB. corners_px: (4, 2) guess, either way round; the result runs counter-clockwise on
    the picture, starting at the same corner (where the guess ran the other way, at its last corner).
    search_px: how far off the guess may be. None where an edge isn't there.
    """
    corners = counter_clockwise(np.asarray(corners_px, dtype=np.float64))
    farthest = max(search_px, 3.0)
    fits: list[EdgeFit] = []
    for reach in (farthest, min(farthest, 5.0)):
        crop = _Crop.around(pixels, corners, reach + 4.0)
        if crop is None:
            return None
        found = [_fit_edge(crop, corners[i], corners[(i + 1) % 4], reach) for i in range(4)]
        fits = [fit for fit in found if fit is not None]
        if len(fits) < 4:
            return None
        met = [_meet(fits[i - 1], fits[i]) for i in range(4)]
        moved = np.array(met)
        if not np.isfinite(moved).all() or np.abs(moved - corners).max() > 3.0 * reach + 6.0:
            return None
        corners = moved
    sd = np.array([_corner_sd(fits[i - 1], fits[i], corners[i]) for i in range(4)])
    return QuadFit(corners, sd, tuple(fits))


def fit_edge(pixels: NDArray[Any], start: Array, end: Array, search_px: float) -> EdgeFit | None:
    """Fit one edge of a polygon that runs counter-clockwise on the picture, from corner start to corner end.

    search_px: how far off the guess may be. None where no edge is there.
    """
    crop = _Crop.around(pixels, np.stack([start, end]), search_px + 4.0)
    return None if crop is None else _fit_edge(crop, start, end, search_px)


@dataclass(frozen=True, slots=True, eq=False)
class _Crop:
    """A part of the picture in light and tint. origin_px: (2,) of its top-left pixel."""

    light: NDArray[Any]
    origin_px: Array

    @staticmethod
    def around(pixels: NDArray[Any], corners_px: Array, margin_px: float) -> _Crop | None:
        height, width = pixels.shape[:2]
        low = np.maximum(np.floor(corners_px.min(axis=0) - margin_px).astype(int), 0)
        high = np.minimum(np.ceil(corners_px.max(axis=0) + margin_px).astype(int) + 1, (width, height))
        if (high - low).min() < 4:
            return None
        return _Crop(light_and_tint(pixels[low[1] : high[1], low[0] : high[0]]), low.astype(np.float64))

    def sample(self, points_px: Array) -> NDArray[Any]:
        """Colours (n, m, 3) at points (n, m, 2) of the whole picture, bilinear, edge pixels repeated."""
        at = (points_px - self.origin_px).astype(np.float32)
        return cv2.remap(
            self.light, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )


def _outward(start: Array, end: Array) -> tuple[Array, Array, float]:
    """Unit vectors along and outward of an edge of a quad that runs counter-clockwise on the picture."""
    length = float(np.hypot(*(end - start)))
    along = (end - start) / max(length, 1e-9)
    # y points down: walking counter-clockwise as seen, the outside is to the right, which is (-dy, dx).
    return along, np.array([-along[1], along[0]]), length


def _fit_edge(crop: _Crop, start: Array, end: Array, reach: float) -> EdgeFit | None:
    along, outward, length = _outward(start, end)
    if length < 12.0:
        return None
    count = int(np.clip(length * (1 - 2 * _NEAR_CORNER), 12, _MOST_SAMPLES))
    position = np.linspace(_NEAR_CORNER, 1 - _NEAR_CORNER, count)
    across = np.arange(-reach - 3.0, reach + 3.0 + _STEP_PX / 2, _STEP_PX)
    points = start + (position[:, None] * length)[..., None] * along + across[:, None] * outward
    colours = crop.sample(points)
    step, weights, bright = _step_colour(colours, across)
    profile = colours @ weights.astype(np.float32)  # falls by about 1 outward
    rise = _derivative(profile)
    offset, height, width = _peaks(rise, across, reach)
    s = 2 * position - 1
    seed = _straight_consensus(s, offset, height)
    if seed is None:
        return None
    # Look again, near the line, so that a stronger neighbour (a shadow, the floor's pattern) is not taken.
    near = 2.0 + 1.5 * float(np.median(width))
    offset, height, width = _peaks(rise, across, near, centre=np.polyval(seed[::-1], s))
    fit = _robust_curve(s, offset, height, width, start, end, step)
    return None if fit is None else _unclipped(fit, bright)


def _step_colour(colours: NDArray[Any], across: Array) -> tuple[Array, Array, float]:
    """Light and tint inside minus outside (median along the edge), the weights that show it best, and the
    light of the brighter side.

    The weights are Fisher's discriminant: colours that vary on either side anyway (the floor's texture, a
    shadow beside a card's edge, which scale a colour and don't change its hue) count little, the difference
    that parts the two sides counts one.
    """
    inside = colours[:, across <= across[0] + 3.0].mean(axis=1)
    outside = colours[:, across >= across[-1] - 3.0].mean(axis=1)
    inner, outer = np.median(inside, axis=0), np.median(outside, axis=0)
    step = (inner - outer).astype(np.float64)
    scatter = np.cov(outside.T) + np.cov(inside.T)
    shade = np.array([1.0, 1 / 2.2, 1 / 2.2])  # tint is of encoded values and so goes with light's root
    shading = _SHADING**2 * (np.outer(outer * shade, outer * shade) + np.outer(inner * shade, inner * shade))
    doubt = np.diag((_TINT_DOUBT * step * (0, 1, 1)) ** 2)
    weights = np.linalg.solve(scatter + shading + doubt + _NOISE**2 * np.eye(3), step)
    return step, weights / max(float(weights @ step), 1e-12), float(max(inner[0], outer[0]))


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
    s: Array, offset: Array, height: Array, width: Array, start: Array, end: Array, step: Array
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
    along, outward, length = _outward(start, end)
    points = start + ((s + 1) / 2 * length)[:, None] * along + offset[:, None] * outward
    kept = np.flatnonzero(used)
    kept = kept[np.linspace(0, len(kept) - 1, min(len(kept), _POINTS_KEPT)).astype(int)]
    return EdgeFit(
        points_px=points[kept],
        supported=float(used.mean()),
        spread_px=spread,
        width_px=float(np.sqrt(max(np.median(width[used]) ** 2 - _SMOOTHING_PX**2, 0.01))),
        step=step,
        curve=np.array([curve[0] - curve[2] / 3, curve[1], curve[2]]),
        curve_covariance=covariance,
        start=start,
        end=end,
    )


def _unclipped(fit: EdgeFit, bright: float) -> EdgeFit:
    """Put right what a burnt-out side does to an edge.

    Where paper is brighter than white can be written, only the foot of the edge's blur is left, and the edge
    seems to lie on the dark side. How far depends on how bright the paper was, which is lost. Twice white
    moves an edge of blur s by 0.7 s, one and a half times by 0.5 s and three times by 1.0 s (middle of the step
    of a clipped cumulative normal). The middle of that is taken, and the range added to the doubt.
    """
    clipped = float(np.clip((bright - _CLIPPING[0]) / (_CLIPPING[1] - _CLIPPING[0]), 0.0, 1.0))
    if clipped == 0.0:
        return fit
    sign = -1.0 if fit.step[0] > 0 else 1.0  # towards the bright side: inward where the inside is brighter
    shift = sign * _CLIPPED_SHIFT * clipped * fit.width_px
    _, outward, _ = _outward(fit.start, fit.end)
    covariance = fit.curve_covariance.copy()
    covariance[0, 0] += (_CLIPPED_DOUBT * clipped * fit.width_px) ** 2
    return replace(
        fit,
        points_px=fit.points_px + shift * outward,
        curve=fit.curve + np.array([shift, 0.0, 0.0]),
        curve_covariance=covariance,
    )


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


def _curve_at(edge: EdgeFit, s: float) -> Array:
    along, outward, length = _outward(edge.start, edge.end)
    offset = edge.curve[0] + edge.curve[1] * s + edge.curve[2] * s * s
    return edge.start + (s + 1) / 2 * length * along + offset * outward


def _tangent(edge: EdgeFit, s: float) -> Array:
    along, outward, length = _outward(edge.start, edge.end)
    return length / 2 * along + (edge.curve[1] + 2 * edge.curve[2] * s) * outward


def _meet(before: EdgeFit, after: EdgeFit) -> Array:
    """Where the end of one edge meets the start of the next, by Newton's method on both positions."""
    s, t = 1.0, -1.0
    for _ in range(6):
        gap = _curve_at(after, t) - _curve_at(before, s)
        matrix = np.stack([_tangent(before, s), -_tangent(after, t)], axis=1)
        if abs(np.linalg.det(matrix)) < 1e-6:
            return np.full(2, np.nan)
        ds, dt = np.linalg.solve(matrix, gap)
        s, t = s + float(np.clip(ds, -1, 1)), t + float(np.clip(dt, -1, 1))
    return (_curve_at(before, s) + _curve_at(after, t)) / 2


def _corner_sd(before: EdgeFit, after: EdgeFit, corner: Array) -> float:
    """Standard deviation of a corner in each direction, from both edges' covariances."""
    total = 0.0
    for edge, s in ((before, 1.0), (after, -1.0)):
        at = np.array([1.0, s, s * s - 1 / 3])
        total += float(at @ edge.curve_covariance @ at)
    u, v = _tangent(before, 1.0), _tangent(after, -1.0)
    sine = abs(u[0] * v[1] - u[1] * v[0]) / (np.hypot(*u) * np.hypot(*v))
    return float(np.sqrt(total / 2) / max(sine, 0.2) + LEAST_CORNER_SD_PX)

"""Plain reference squares: cards of one colour that differs from what they lie on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.corners import QuadFit, fit_quad, linear_light
from salvage.scale.quads import Quad, guess_error_px
from salvage.scale.squareness import Pose, View, misfit, side_on_plane_of

Array = NDArray[Any]

_MOST_LOOKED_AT = 90
_SAME_SIDE = 0.14  # sides of squares of one size may differ by this much before the lens is known
_SAME_COLOUR = 0.35  # chromaticity and log-lightness distance of cards cut from one sheet, in mixed light


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """Something flat, of one colour, with four straight edges. score: 0 to 1, how like a card it looks.

    miss: how far its shape is from a square's, in tolerances. colour: (3,) linear RGB inside.
    """

    fit: QuadFit
    score: float
    miss: float
    pose: Pose
    colour: Array
    reasons: dict[str, float]

    @property
    def side_px(self) -> float:
        return float(np.sqrt(cv2.contourArea(self.fit.corners_px.astype(np.float32))))


def find_cards(pixels: NDArray[Any], quads: Sequence[Quad], view: View, *, aspect: float = 1.0) -> list[Card]:
    """Cards among four-cornered regions, best first, each place once. aspect: 1 for squares."""
    cards = []
    for quad in list(quads)[:_MOST_LOOKED_AT]:
        card = look_at(pixels, quad, view, aspect)
        if card is not None:
            cards.append(card)
    cards.sort(key=lambda card: -card.score)
    kept: list[Card] = []
    for card in cards:
        if not any(_overlap(card, other) for other in kept):
            kept.append(card)
    return kept


def look_at(pixels: NDArray[Any], quad: Quad, view: View, aspect: float) -> Card | None:
    """Fit one region's edges at full resolution and say how like a card it is; None if not at all."""
    rough = misfit(quad.corners_px, guess_error_px(pixels) / 2, view, aspect)
    if rough is None or rough[0] > 1.5:
        return None
    side = float(np.sqrt(cv2.contourArea(quad.corners_px.astype(np.float32))))
    fit = fit_quad(pixels, quad.corners_px, min(4.0 * guess_error_px(pixels) / 2, 0.15 * side))
    if fit is None or not _within(fit.corners_px, pixels):
        return None
    shape = misfit(fit.corners_px, max(0.4, float(fit.corner_sd_px.max())), view, aspect)
    if shape is None:
        return None
    miss, pose = shape
    inside, rim = _colours(pixels, fit.corners_px)
    texture, contrast, colour = _surface(pixels, fit.corners_px, inside, rim)
    going_on = _edges_going_on(pixels, fit)
    reasons = {
        "supported": fit.supported,
        "spread": max(edge.spread_px for edge in fit.edges),
        "texture": texture,
        "contrast": contrast,
        "going_on": going_on,
        "miss": miss,
        "tilt": pose.tilt,
    }
    return Card(fit, _score(reasons, side), miss, pose, colour, reasons)


def _score(reasons: dict[str, float], side_px: float) -> float:
    """Each thing seen brings the score down by a factor when it is not as on a card."""
    return float(
        _fade(reasons["supported"], 0.45, 0.85)
        * _fade(-reasons["spread"], -(1.2 + 0.008 * side_px), -(0.5 + 0.002 * side_px))
        * _fade(-reasons["texture"], -0.24, -0.06)
        * _fade(reasons["contrast"], 0.03, 0.15)
        * _fade(-reasons["going_on"], -5.5, -2.5)
        * _fade(-reasons["miss"], -1.6, -0.7)
    )


def _fade(value: float, nothing: float, full: float) -> float:
    return float(np.clip((value - nothing) / (full - nothing), 0.0, 1.0))


def _within(corners_px: Array, pixels: NDArray[Any]) -> bool:
    height, width = pixels.shape[:2]
    return bool((corners_px >= 0).all() and (corners_px <= (width - 1, height - 1)).all())


def _colours(pixels: NDArray[Any], corners_px: Array) -> tuple[NDArray[Any], NDArray[Any]]:
    """(n, n, 3) linear light over the middle of the quad, squared up; and (4, m, 3) just outside its edges."""
    n = 64
    grid = np.stack(np.meshgrid(np.linspace(0.06, 0.94, n), np.linspace(0.06, 0.94, n)), axis=-1)
    inside = _sample(pixels, corners_px, grid)
    t = np.linspace(0.1, 0.9, 48)
    out = [0.06, 0.09, 0.12]
    rims = []
    for far in out:
        rims.append(
            np.stack(
                [
                    np.stack([t, np.full_like(t, -far)], axis=-1),
                    np.stack([np.full_like(t, 1 + far), t], axis=-1),
                    np.stack([t, np.full_like(t, 1 + far)], axis=-1),
                    np.stack([np.full_like(t, -far), t], axis=-1),
                ]
            )
        )
    rim = np.concatenate([_sample(pixels, corners_px, places) for places in rims], axis=1)
    return inside, rim


def _sample(pixels: NDArray[Any], corners_px: Array, places: Array) -> NDArray[Any]:
    """Linear light at places of the quad's own (0 to 1) frame, averaged over the spacing of 64 samples."""
    source = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    low = np.floor(corners_px.min(axis=0)).astype(int)
    size = np.ptp(corners_px, axis=0)
    margin = int(0.3 * size.max()) + 4
    x0, y0 = np.maximum(low - margin, 0)
    x1, y1 = (np.ceil(corners_px.max(axis=0)) + margin).astype(int)
    crop = linear_light(pixels[y0:y1, x0:x1])
    window = max(round(float(size.max()) / 64), 1)
    if window > 1:
        crop = cv2.blur(crop, (window, window))
    matrix = cv2.getPerspectiveTransform(source, (corners_px - (x0, y0)).astype(np.float32))
    at = cv2.perspectiveTransform(places.reshape(-1, 1, 2).astype(np.float32), matrix.astype(np.float32))
    at = at.reshape(places.shape)
    return cv2.remap(crop, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def _surface(
    pixels: NDArray[Any], corners_px: Array, inside: NDArray[Any], rim: NDArray[Any]
) -> tuple[float, float, Array]:
    """Texture inside against the step to the outside; that step (as encoded, 0 to 1); colour inside.

    The step is that of the edge where it is least, so that grout lines and shadows do not pass for it.
    """
    encoded_in, encoded_rim = np.sqrt(inside), np.sqrt(rim)  # near enough to sRGB's curve for a contrast
    colour = np.median(encoded_in.reshape(-1, 3), axis=0)
    size = encoded_in.shape[0]
    near_edges = [encoded_in[:8], encoded_in[:, -8:], encoded_in[-8:], encoded_in[:, :8]]
    steps = [
        float(np.linalg.norm(np.median(near.reshape(-1, 3), axis=0) - np.median(beyond, axis=0)))
        for near, beyond in zip(near_edges, encoded_rim, strict=True)
    ]
    contrast = sorted(steps)[0] * 0.5 + sorted(steps)[1] * 0.5
    smooth = cv2.GaussianBlur(encoded_in, (0, 0), size / 12)
    rough = np.sqrt(np.square(encoded_in - smooth).sum(axis=-1).mean())
    typical = float(np.median(steps))
    return float(rough / max(typical, 1e-3)), contrast, colour.astype(np.float64) ** 2


def _edges_going_on(pixels: NDArray[Any], fit: QuadFit) -> float:
    """How many of the eight continuations of the edges beyond the corners go on as edges (0 to 8).

    On a card none does, but by chance; on a tile, a check of a pattern, a pocket on a grid most do.
    """
    corners = fit.corners_px
    total = 0.0
    for i in range(4):
        for at, away in ((corners[(i + 1) % 4], corners[i]), (corners[i], corners[(i + 1) % 4])):
            total += _goes_on(pixels, at, at - away)
    return total


def _goes_on(pixels: NDArray[Any], corner: Array, direction: Array) -> float:
    length = float(np.hypot(*direction))
    along = direction / length
    normal = np.array([-along[1], along[0]])
    start = max(0.06 * length, 4.0)
    t = np.linspace(start, start + 0.2 * length, 40)
    across = np.arange(-6, 6.5, 1.0)
    points = corner + t[:, None, None] * along + across[None, :, None] * normal
    low = np.floor(points.reshape(-1, 2).min(axis=0)).astype(int) - 1
    high = np.ceil(points.reshape(-1, 2).max(axis=0)).astype(int) + 2
    height, width = pixels.shape[:2]
    if low.min() < 0 or high[0] > width or high[1] > height:
        return 0.0
    crop = pixels[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    at = (points - low).astype(np.float32)
    strip = cv2.remap(crop, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    mean = strip.mean(axis=0)  # (13, 3): what stays the same along the continuation
    step = np.abs(np.diff(cv2.blur(mean, (1, 3)), axis=0)).max(axis=1)
    spread = np.abs(strip - cv2.blur(strip, (1, 15))).mean() / np.sqrt(40 / 3) + 0.5
    middle, sides = step[3:9].max(), np.median(step)
    return float(np.clip((middle - sides) / (6.0 * spread) - 0.5, 0.0, 1.0))


def _overlap(a: Card, b: Card) -> bool:
    """Whether two quads cover much of one place (a card and its shadow, a frame and what it frames)."""
    area, _ = cv2.intersectConvexConvex(
        a.fit.corners_px.astype(np.float32), b.fit.corners_px.astype(np.float32)
    )
    return bool(area > 0.3 * min(a.side_px, b.side_px) ** 2)


def same_kind(a: Card, b: Card, view: View) -> bool:
    """Whether two cards are of one colour and, lying on one floor, of one size."""
    return _same_colour(a.colour, b.colour) and same_size(a, b, view)


def same_size(a: Card, b: Card, view: View) -> bool:
    ratios = []
    for one, other in ((a, b), (b, a)):
        ratio = side_on_plane_of(other.fit.corners_px, one.pose, view).mean()
        ratios.append(np.log(ratio) if one is a else -np.log(ratio))
    return bool(abs(np.mean(ratios)) < _SAME_SIDE)


def _same_colour(a: Array, b: Array) -> bool:
    """Chromaticity must agree; lightness may differ as it does between sun and shade (factor 4)."""
    a, b = np.maximum(a, 0.004), np.maximum(b, 0.004)
    chroma = np.abs(a / a.sum() - b / b.sum()).sum()
    return bool(chroma < _SAME_COLOUR and abs(np.log(a.sum() / b.sum())) < np.log(4.0))

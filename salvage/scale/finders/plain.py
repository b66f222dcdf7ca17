"""Plain reference squares: cards of one colour that differs from what they lie on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.finders.found import Card, FoundSquares
from salvage.scale.finders.sight import SquareSight
from salvage.scale.finders.squareness import View, foreshortening, misfit, side_on_plane_of
from salvage.scale.seeing.corners import QuadFit, fit_quad
from salvage.scale.seeing.edges import EdgeFit
from salvage.scale.seeing.regions import Region
from salvage.scale.seeing.surface import Glance, Surface, surface_of

Array = NDArray[Any]

MOST_SQUARES = 4  # that a person lays down
_MOST_LOOKED_AT, _MOST_OF_PATTERNS = 50, 24
_SAME_SIDE = 0.14  # sides of squares of one size may differ by this much before the lens is known
_PATTERN_SIZE = 1.5
_BLUR_AT_PX = 2400  # a picture this long is less than 2.6 px unsharp, or refused for that (photo.quality)
_ROUND_ENDS = 0.08  # of an edge of a bank card: ISO/IEC 7810, at most 3.48 mm of 53.98
_SAME_COLOUR = 0.25  # chromaticity and log-lightness distance of cards cut from one sheet, in mixed light


def find(sight: SquareSight, found: FoundSquares) -> FoundSquares:
    """Plain cards, where nothing printed was found."""
    if found.printed:
        return found
    cards = find_cards(sight.pixels, sight.small, sight.glances, sight.view, aspect=sight.aspect)
    return replace(found, cards=(*found.cards, *cards))


def find_cards(
    pixels: NDArray[Any], small: NDArray[Any], glances: Sequence[Glance], view: View, *, aspect: float = 1.0
) -> list[Card]:
    """Cards among four-cornered regions, best first, each place once.

    pixels: (h, w, 3) sRGB. small: the same reduced, in which the regions were found. aspect: 1 for squares.
    """
    factor = max(pixels.shape[:2]) / max(small.shape[:2])
    cards = []
    for one, region, surface in _worth_fitting(small, glances):
        card = _card_at(
            pixels,
            region.scaled(factor),
            surface,
            one.places,
            view,
            aspect,
            guess_error_px=2.0 * factor + 2.0,
        )
        if card is not None and card.score > 0:
            cards.append(card)
    cards.sort(key=lambda card: -card.score)
    kept: list[Card] = []
    for card in cards:
        if not any(_overlap(card, other) for other in kept):
            kept.append(card)
    return kept


def _worth_fitting(small: NDArray[Any], glances: Sequence[Glance]) -> list[tuple[Glance, Region, Surface]]:
    """The most even regions, sharpened, and one for each place of what may be a pattern, for that shows by their number."""
    glances = sorted(glances, key=lambda one: -one.evenness)
    chosen = [one for one in glances if one.places <= MOST_SQUARES][:_MOST_LOOKED_AT]
    most = len(chosen) + _MOST_OF_PATTERNS
    for one in glances:
        if len(chosen) >= most:
            break
        if one.places > MOST_SQUARES and all(_apart(one.region, other.region) for other in chosen):
            chosen.append(one)
    looked_at = []
    for one in chosen:
        region = one.region.sharpened()
        surface = surface_of(small, region)
        if surface is not None and evenness(surface) > 0:
            looked_at.append((one, region, surface))
    return looked_at


def _apart(a: Region, b: Region) -> bool:
    return bool(np.abs(a.corners_px.mean(axis=0) - b.corners_px.mean(axis=0)).max() > 0.5 * a.size_px)


def _card_at(
    pixels: NDArray[Any],
    region: Region,
    surface: Surface,
    places: int,
    view: View,
    aspect: float,
    guess_error_px: float,
) -> Card | None:
    """Fit one region's edges at full resolution and say how like a card it is; None if not at all."""
    rough = misfit(region.corners_px, guess_error_px / 2, view, aspect)
    if rough is None or rough[0] > 1.5:
        return None
    ends = 0.0 if aspect == 1.0 else _ROUND_ENDS
    fit = fit_quad(pixels, region.corners_px, min(2.0 * guess_error_px, 0.15 * region.size_px), ends=ends)
    if fit is None or not _within(fit.corners_px, pixels):
        return None
    shape = misfit(fit.corners_px, max(0.4, float(fit.corner_sd_px.max())), view, aspect)
    if shape is None:
        return None
    reasons = {
        "evenness": evenness(surface),
        "edges": edges_score(fit.edges, region.size_px),
        "alone": fade(-_edges_going_on(pixels, fit), -5.5, -2.5),
        "shape": fade(-shape[0], -1.6, -0.7),
        "tilt": fade(-shape[1].tilt, -52.0, -38.0),
        "flat": fade(foreshortening(fit.corners_px, aspect), 0.66, 0.76),
        "sharp": _sharp(max(edge.width_px for edge in fit.edges), region.size_px, max(pixels.shape[:2])),
    }
    return Card(fit, float(np.prod(list(reasons.values()))), shape[0], shape[1], surface, reasons, places)


def _sharp(width_px: float, size_px: float, long_side_px: int) -> float:
    """Card is cut sharply, however large it is; a window's light has a half-shadow along its edge."""
    blur = width_px * min(1.0, _BLUR_AT_PX / long_side_px)
    return min(fade(-width_px / size_px, -0.06, -0.03), fade(-blur, -4.0, -2.2))


def evenness(surface: Surface) -> float:
    return fade(-surface.texture, -0.22, -0.06) * fade(surface.contrast, 0.03, 0.12)


def edges_score(edges: Sequence[EdgeFit], size_px: float) -> float:
    """How straight and unbroken edges are, 0 to 1."""
    supported = min(edge.supported for edge in edges)
    spread = max(edge.spread_px for edge in edges)
    return fade(supported, 0.45, 0.85) * fade(-spread, -(1.2 + 0.008 * size_px), -(0.5 + 0.002 * size_px))


def fade(value: float, nothing: float, full: float) -> float:
    return float(np.clip((value - nothing) / (full - nothing), 0.0, 1.0))


def _within(corners_px: Array, pixels: NDArray[Any]) -> bool:
    height, width = pixels.shape[:2]
    return bool((corners_px >= 0).all() and (corners_px <= (width - 1, height - 1)).all())


def _edges_going_on(pixels: NDArray[Any], fit: QuadFit) -> float:
    """How many of the eight continuations of the edges beyond the corners go on as edges (0 to 8).

    On a card none does, but by chance; on a tile, a check of a pattern, a pocket on a grid most do.
    """
    corners = fit.corners_px
    return sum(
        goes_on(pixels, corners[i], corners[i] - corners[k])
        for i in range(4)
        for k in ((i - 1) % 4, (i + 1) % 4)
    )


def goes_on(pixels: NDArray[Any], corner: Array, direction: Array) -> float:
    """Whether an edge that comes to a corner in this direction (of the edge's length) goes on beyond, 0 to 1."""
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


def alike(a: Card, b: Card) -> bool:
    """Whether two cards could be parts of one pattern: of one colour and roughly of one size in the picture."""
    ratio = a.side_px / b.side_px
    return same_colour(a.surface.colour, b.surface.colour) and 1 / _PATTERN_SIZE < ratio < _PATTERN_SIZE


def same_size(a: Card, b: Card, view: View, *, within: float = _SAME_SIDE) -> bool:
    """Whether the sides agree within that share, each measured on the floor as the other sees it."""
    ratios = []
    for one, other in ((a, b), (b, a)):
        ratio = side_on_plane_of(other.fit.corners_px, one.pose, view).mean()
        ratios.append(np.log(ratio) if one is a else -np.log(ratio))
    return bool(abs(np.mean(ratios)) < within)


def same_colour(a: Array, b: Array) -> bool:
    """Chromaticity must agree; lightness may differ as it does between sun and shade (factor 4)."""
    a, b = np.maximum(a, 0.004), np.maximum(b, 0.004)
    chroma = np.abs(a / a.sum() - b / b.sum()).sum()
    return bool(chroma < _SAME_COLOUR and abs(np.log(a.sum() / b.sum())) < np.log(4.0))

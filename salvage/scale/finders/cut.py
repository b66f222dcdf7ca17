"""Reference squares that the picture's frame cuts: they can't be measured from, and that must be said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from salvage.scale.finders.found import CutCard, FoundSquares
from salvage.scale.finders.plain import MOST_SQUARES, edges_score, evenness, fade, goes_on
from salvage.scale.finders.sight import SquareSight
from salvage.scale.seeing.corners import counter_clockwise, meet
from salvage.scale.seeing.edges import EdgeFit, fit_edge, point_at
from salvage.scale.seeing.polygons import sides_of
from salvage.scale.seeing.regions import Region
from salvage.scale.seeing.surface import Glance, Surface, surface_of

_MOST_LOOKED_AT = 12
_PATTERN_COLOUR = 0.2
_LEAST_TWO_TONE = 0.85
LEAST_VISIBLE_PX = 60.0  # less than this of an edge tells nothing


def find(sight: SquareSight, found: FoundSquares) -> FoundSquares:
    """Cards and printed squares that the frame cuts, where no whole printed one was found."""
    if found.printed:
        return found
    return replace(found, cut=(*found.cut, *find_cut(sight.pixels, sight.small, sight.cut, sight.glances)))


def find_cut(
    pixels: NDArray[Any], small: NDArray[Any], regions: Sequence[Region], glances: Sequence[Glance]
) -> list[CutCard]:
    """Cards and printed squares among regions at the frame, best first.

    pixels: (h, w, 3) sRGB. small: the same reduced, in which the regions were found. glances: at whole ones.
    """
    factor = max(pixels.shape[:2]) / max(small.shape[:2])
    looked_at = []
    for region in regions:
        surface = surface_of(small, region)
        if surface is None or _of_pattern(region, surface, glances):
            continue
        even = max(evenness(surface), _printed(surface))
        if even > 0:
            looked_at.append((even * region.fill, even, region.scaled(factor), surface))
    looked_at.sort(key=lambda item: -item[0])
    cards = [
        CutCard(region, even * _shape(region) * _edges(pixels, region, 4.0 * factor + 2.0), surface)
        for _, even, region, surface in looked_at[:_MOST_LOOKED_AT]
    ]
    return sorted((card for card in cards if card.score > 0), key=lambda card: -card.score)


def _of_pattern(region: Region, surface: Surface, glances: Sequence[Glance]) -> bool:
    """Whether whole regions of its colour, at least as large, lie at more places than there are squares."""
    colour = np.sqrt(surface.colour)  # near enough to sRGB's curve for a comparison
    return any(
        one.places > MOST_SQUARES
        and np.linalg.norm(one.colour - colour) < _PATTERN_COLOUR
        and 0.7 < one.region.size_px / region.size_px < 3.0
        for one in glances
    )


def _printed(surface: Surface) -> float:
    """A printed square is black and white, without colour, and clear against the floor."""
    if surface.two_tone < _LEAST_TWO_TONE or surface.texture < 0.2:
        return 0.0
    grey = np.ptp(surface.colour) / max(float(surface.colour.max()), 0.02)
    return fade(-grey, -0.5, -0.25) * fade(surface.contrast, 0.1, 0.25)


def _shape(region: Region) -> float:
    """No edge may be longer than a square's: those that the frame cuts are shorter than those it doesn't."""
    sides = sides_of(region.corners_px)
    n = len(sides)
    uncut = [sides[i] for i in range(n) if region.free[i] and region.free[i - 1] and region.free[(i + 1) % n]]
    free = sides[np.array(region.free)]
    if not uncut:
        return fade(float(free.min()), 0.7 * LEAST_VISIBLE_PX, LEAST_VISIBLE_PX)
    return fade(min(uncut), 0.7 * LEAST_VISIBLE_PX, LEAST_VISIBLE_PX) * fade(
        -free.max() / min(uncut), -1.6, -1.25
    )


def _edges(pixels: NDArray[Any], region: Region, search_px: float) -> float:
    """How straight and unbroken the free edges are, and that they end at the corners.

    A stub of an edge next to the frame counts for nothing.
    """
    corners = region.corners_px
    free = list(region.free)
    if not np.allclose(counter_clockwise(corners), corners):
        corners = corners[::-1]
        free = [*free[-2::-1], free[-1]]
    n = len(corners)
    fits: dict[int, EdgeFit] = {}
    for i, own in enumerate(free):
        start, end = corners[i], corners[(i + 1) % n]
        if not own or np.hypot(*(end - start)) < 0.25 * region.size_px:
            continue
        fit = fit_edge(pixels, start, end, min(search_px, 0.15 * region.size_px))
        if fit is None:
            return 0.0
        fits[i] = fit
    going_on = [
        goes_on(pixels, corner, corner - far)
        for i, fit in fits.items()
        if (i - 1) % n in fits
        for corner in [meet(fits[(i - 1) % n], fit)]
        for far in (point_at(fits[(i - 1) % n], -1.0), point_at(fit, 1.0))
        if np.isfinite(corner).all()
    ]
    if not going_on:
        return 0.0
    score = edges_score(list(fits.values()), region.size_px)
    return score * fade(-float(np.mean(going_on)), -0.7, -0.3)

"""Part a picture into regions in several ways, and take the four-cornered ones and those the frame cuts.

These are the first guesses at where a card or a sheet may lie. Several ways of parting are tried, because no
single one finds a white card on pale tiles, a green one half in shadow and a black one on a dark floor. They
find far too much; what is no card is weeded out later by how its edges look at full resolution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from salvage.scale.seeing.polygons import angles_at, four_corners, on_edges, sides_of

Array = NDArray[Any]
Mask = NDArray[Any]  # (h, w) of 0 and 1

WORK_PX = 1200  # long side of the picture that is searched
_LEVELS = 13
_LEAST_FILL = 0.86  # a region's area over its hull's
_LEAST_QUAD_FILL = 0.90  # its hull's area over the quad's (a rounded card has more than 0.96)
_ANGLES = (50.0, 130.0)
_LEAST_SIDES_RATIO = 0.35  # shortest side over longest
# Of one parting so many of the largest are looked at: a parting into more is noise or a chessboard, where a card
# is among the large ones or can't be told from the rest.
_MOST_IN_ONE = 400
_FRAME_PX = 3.0  # nearer to the frame than this is on it


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """A convex region. corners_px: (n, 2), in the picture it was found in.

    free: for each edge (corner i to i + 1) whether it is the region's own and not the picture's frame.
    fill: how well the region fills the polygon, to 1. outline_px: (m, 2) its convex outline, where kept.
    """

    corners_px: Array
    free: tuple[bool, ...]
    fill: float
    outline_px: Array | None = None

    @property
    def size_px(self) -> float:
        return float(np.sqrt(max(cv2.contourArea(self.corners_px.astype(np.float32)), 1.0)))

    def scaled(self, factor: float) -> Region:
        """The same in a picture `factor` times as large; a pixel's centre is at whole numbers in both."""
        return Region((self.corners_px + 0.5) * factor - 0.5, self.free, self.fill)

    def sharpened(self) -> Region:
        """With the corners where lines through the long sides of the outline meet."""
        if self.outline_px is None:
            return self
        return Region(on_edges(self.outline_px, self.corners_px), self.free, self.fill)


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """whole: four-cornered ones inside the picture; cut: convex ones that reach its frame. Each place once."""

    whole: list[Region]
    cut: list[Region]


def find_regions(small: NDArray[Any], *, least_side_px: float) -> Regions:
    """Regions of a reduced picture (h, w, 3) sRGB, with sides of at least least_side_px of it."""
    most = 0.7 * min(small.shape[:2])
    frame = (small.shape[1], small.shape[0])
    whole: dict[tuple[int, ...], Region] = {}
    cut: dict[tuple[int, ...], Region] = {}
    for mask in _partings(small):
        contours, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        in_size = [each for each in contours if 2.8 * least_side_px <= len(each) <= 8 * most]
        if len(in_size) > _MOST_IN_ONE:
            in_size = sorted(in_size, key=len)[-_MOST_IN_ONE:]
        for contour in in_size:
            x, y, w, h = cv2.boundingRect(contour)
            if max(w, h) > 1.5 * most or min(w, h) < 0.9 * least_side_px:
                continue
            if min(x, y, frame[0] - x - w, frame[1] - y - h) <= 1:
                region = _cut_by_frame(contour, frame, least_side_px)
                if region is not None:
                    _keep_best(cut, region)
                continue
            region = _whole(contour, least_side_px)
            if region is not None:
                _keep_best(whole, region)
    return Regions(_each_place_once(list(whole.values())), _each_place_once(list(cut.values())))


def _partings(small: NDArray[Any]) -> Iterator[Mask]:
    smooth = cv2.medianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), 5)
    for channel in cv2.split(smooth):
        yield from _by_level(channel)
    yield from _by_neighbourhood(smooth[..., 0])
    yield from _between_edges(smooth)


def _by_level(channel: NDArray[Any]) -> Iterator[Mask]:
    low, high = np.quantile(channel[::4, ::4], (0.002, 0.998))
    if high - low < 6:
        return
    for level in np.linspace(low, high, _LEVELS + 2)[1:-1]:
        yield (channel > level).view(np.uint8)


def _by_neighbourhood(light: NDArray[Any]) -> Iterator[Mask]:
    """Lighter, and darker, than the mean of the surroundings."""
    for block in (51, 151, 301):
        above = cv2.subtract(light, cv2.blur(light, (block, block)))
        below = cv2.subtract(cv2.blur(light, (block, block)), light)
        for offset in (6, 18):
            yield (above > offset).view(np.uint8)
            yield (below > offset).view(np.uint8)


def _between_edges(smooth: NDArray[Any]) -> Iterator[Mask]:
    """What lies between edges, at several strengths of edge."""
    slope: NDArray[Any] = np.zeros(smooth.shape[:2], np.float32)
    for channel in cv2.split(smooth):
        blurred = cv2.GaussianBlur(channel, (0, 0), 1.2)
        dx = cv2.Sobel(blurred, cv2.CV_32F, 1, 0)
        dy = cv2.Sobel(blurred, cv2.CV_32F, 0, 1)
        slope = cv2.max(slope, cv2.magnitude(dx, dy))
    for strength in (12.0, 24.0, 45.0, 80.0, 140.0):
        yield (slope < strength).view(np.uint8)


def _keep_best(kept: dict[tuple[int, ...], Region], region: Region) -> None:
    """Of regions that agree to a few pixels, keep the best filled: the next level often finds the same."""
    centre = region.corners_px.mean(axis=0)
    key = (*(int(v) for v in centre // 3), int(region.size_px // 5), len(region.corners_px))
    if key not in kept or region.fill > kept[key].fill:
        kept[key] = region


def _whole(contour: NDArray[Any], least: float) -> Region | None:
    area = cv2.contourArea(contour)
    if area < 0.5 * least**2:
        return None
    hull = cv2.convexHull(contour)
    hull_area = cv2.contourArea(hull)
    if area < _LEAST_FILL * hull_area:
        return None
    corners = four_corners(hull)
    if corners is None:
        return None
    sides, angles = sides_of(corners), angles_at(corners)
    if sides.min() < least or sides.min() < _LEAST_SIDES_RATIO * sides.max():
        return None
    if angles.min() < _ANGLES[0] or angles.max() > _ANGLES[1]:
        return None
    quad_area = cv2.contourArea(corners.astype(np.float32))
    if hull_area < _LEAST_QUAD_FILL * quad_area:
        return None
    fill = min(area, quad_area) / max(hull_area, quad_area)
    return Region(corners, (True,) * 4, float(fill), hull.reshape(-1, 2).astype(np.float64))


def _cut_by_frame(contour: NDArray[Any], frame: tuple[int, int], least: float) -> Region | None:
    """A region at the frame that could be the rest of a square: straight free edges, a right angle or more."""
    hull = cv2.convexHull(contour)
    hull_area = cv2.contourArea(hull)
    if hull_area < 0.3 * least**2:
        return None
    rough = cv2.approxPolyDP(hull, 0.025 * cv2.arcLength(hull, True), True)
    if not 3 <= len(rough) <= 6:
        return None
    corners = rough.reshape(-1, 2).astype(np.float64)
    width, height = frame
    gaps = [corners[:, 0], corners[:, 1], width - 1 - corners[:, 0], height - 1 - corners[:, 1]]
    at_side = np.array([gap <= _FRAME_PX for gap in gaps])
    on_frame = at_side.any(axis=0)
    free = ~(at_side & np.roll(at_side, -1, axis=1)).any(axis=0)
    own = ~on_frame
    if not 1 <= own.sum() <= 3 or on_frame.sum() < 2 or free.sum() < 2:
        return None
    angles = angles_at(corners)[own]
    if angles.min() < _ANGLES[0] or angles.max() > _ANGLES[1]:
        return None
    if sides_of(corners)[free].max() < least:
        return None
    fill = cv2.contourArea(contour) / hull_area
    return Region(corners, tuple(bool(f) for f in free), float(fill))


def _each_place_once(regions: list[Region]) -> list[Region]:
    """Of regions with all corners within a twentieth of their size of each other, the best filled."""
    regions = sorted(regions, key=lambda region: -region.fill)
    centres = np.array([region.corners_px.mean(axis=0) for region in regions]).reshape(-1, 2)
    free = np.ones(len(regions), dtype=bool)
    kept = []
    for i, region in enumerate(regions):
        if not free[i]:
            continue
        kept.append(region)
        within = 0.05 * region.size_px
        for k in np.flatnonzero(free & (np.abs(centres - centres[i]).max(axis=1) < within)):
            free[k] = not _same_place(region.corners_px, regions[k].corners_px, within)
    return kept


def _same_place(a: Array, b: Array, within_px: float) -> bool:
    gap = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
    return len(a) == len(b) and bool((gap.min(axis=1) < within_px).all())

"""Where the warp of each piece most likely runs: a guess that the person can change."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.axis import Axis, find_axis, length_way
from salvage.cloth.flat.picture import Flat

_OWN = ("sleeve", "cuff", "collar", "band", "placket", "strap", "facing")  # cut along their own length
_EITHER_WAY = ("collar", "yoke")
_LARGE = (
    "",
    "body",
    "leg",
)  # parts that are large: a small piece called so is a collar's, a pocket's or a facing's
_SMALL_PART = 6_000.0  # mm^2
_SMALL_INSIDE = 25_000.0  # mm^2; less of an inside is that of a collar, a stand or a yoke
_EDGE_STEP, _EDGE_POINTS = 4.0, 12  # mm between points of an edge, and the least number that tell its way
_PASSES, _KEPT = 3, 0.85  # fits, each with that share of the points of the one before
_MIDDLE, _CROOKED, _TAPER = (
    0.25,
    8.0,
    25.0,
)  # of its length to either side of its middle; mm; degrees between the edges
_SLEEVE_DOUBT = 3.0  # degrees
_OWN_DOUBT = 5.0  # degrees; a sleeve tapers, and its seam is not its middle
_GORE = 12.0  # degrees that a gore's middle is off the garment's, where it can't be told
_BANDS_AMONG = ("", "inside")  # parts that may be bands, facings say, which are known by their shape
_CUT = 2.0  # degrees that cloth is cut off its grain anyhow (common practice)
_BAND = 75.0  # mm; narrower and twice as long is a band, cut along its length: waistband, cuff, collar
_SLEEVE_SHARE = 0.6  # of the largest piece's area at most
_SLEEVE_TURN = 6.0  # degrees a sleeve lies off the garment's axis at least
_PATTERN_TURN = 8.0  # degrees a woven pattern may correct the guess by
_PATTERN_CLEAR = 2.6  # times the mean that a direction must stand out in the picture


Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Grain:
    """way: direction of the warp, degrees in [0, 180). plus_minus: degrees; 90 where it may run either way."""

    way: float
    plus_minus: float


def grain_of(piece: Polygon, axis: Axis, largest: float, flat: Flat, role: str = "") -> Grain:
    """The grain of a piece. largest: area of the garment's largest piece, mm^2. role: see roles_of, "" if not known.

    Along the garment's length; of a sleeve along its own, of a band, cuff or collar too; a skirt's gores along
    the garment's or their own middle (common practice). Collars and yokes are cut either way, and a piece
    too small for what it is called may be. Stripes, checks and twill lines in the
    picture put it right by a few degrees.
    """
    long, short = sides(piece)
    is_band = short < _BAND and long > 2.0 * short
    guess, doubt = axis.up % 180.0, axis.plus_minus
    if role == "sleeve" or (not role and not is_band and is_sleeve(piece, axis, largest)):
        guess, doubt = sleeve_way(piece)
    elif role in _OWN or (role in _BANDS_AMONG and is_band):
        guess, doubt = length_way(piece), _OWN_DOUBT
    elif role == "skirt":  # a gore is cut along its own middle or along the garment's
        own = find_axis(piece)
        doubt = max(doubt, abs((own.up - guess + 90.0) % 180.0 - 90.0) if own.is_symmetric else _GORE)
    small = role in _LARGE and not is_band and piece.area < _SMALL_PART
    if small or role in _EITHER_WAY or (role == "inside" and not is_band and piece.area < _SMALL_INSIDE):
        doubt = 90.0
    way = _by_pattern(piece, guess, flat)
    return Grain(way, min(90.0, float(np.hypot(doubt, _CUT))))


def sleeve_way(piece: Polygon) -> tuple[float, float]:
    """Direction of a sleeve's grain and how far it may be off, degrees: half way between its two long edges.

    A sleeve's grain is the middle line of its block, to both sides of which it tapers alike; its ends are aslant, so
    that the length of the whole lies some degrees off (the set-in sleeve of drafting handbooks, from memory).
    """
    way = length_way(piece)
    along = np.array([np.cos(np.radians(way)), np.sin(np.radians(way))])
    aside = np.array([-along[1], along[0]])
    ring = np.asarray(shapely.segmentize(piece.exterior, _EDGE_STEP).coords)[:, :2] - piece.centroid.coords[0]
    run, off = ring @ along, ring @ aside
    middle = np.abs(run - (run.min() + run.max()) / 2) < _MIDDLE * np.ptp(run)
    turns = []
    for side in (off > 0, off < 0):
        edge = middle & side
        if edge.sum() < _EDGE_POINTS:
            return way, _OWN_DOUBT
        x, y = run[edge], off[edge]
        for _ in range(_PASSES):  # without the few points that lie on an end or a crease
            slope, at = np.polyfit(x, y, 1)
            away = np.abs(y - slope * x - at)
            near = away <= np.quantile(away, _KEPT)
            x, y = x[near], y[near]
        if away[near].max() > _CROOKED:
            return way, _OWN_DOUBT  # bent or folded
        turns.append(float(np.degrees(np.arctan(slope))))
    if abs(turns[0] - turns[1]) > _TAPER:
        return way, _OWN_DOUBT
    return (way + sum(turns) / 2) % 180.0, _SLEEVE_DOUBT


def is_sleeve(piece: Polygon, axis: Axis, largest: float) -> bool:
    """A long piece beside the body that lies off the garment's axis."""
    long, short = sides(piece)
    if axis.legs or short < _BAND or long < 1.35 * short or piece.area > _SLEEVE_SHARE * largest:
        return False
    off = abs((length_way(piece) - axis.up + 90.0) % 180.0 - 90.0)
    across = abs(axis.own(np.array([piece.centroid.coords[0]]))[0, 0])
    return bool(_SLEEVE_TURN < off < 85.0 and across > 0.6 * short)


def _slopes(flat: Flat) -> tuple[Map, Map]:
    """How steep the brightness is across and down, (h, w) each."""
    grey = cv2.GaussianBlur(cv2.cvtColor(flat.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32), (0, 0), 1.5)
    across, down = cv2.Sobel(grey, cv2.CV_32F, 1, 0), cv2.Sobel(grey, cv2.CV_32F, 0, 1)
    return np.asarray(across, np.float32), np.asarray(down, np.float32)


def _by_pattern(piece: Polygon, guess: float, flat: Flat) -> float:
    """The guess moved on to the nearest direction of a straight pattern, if there is a clear one."""
    inside = flat.raster(piece.buffer(-12.0))
    if np.count_nonzero(inside) < 4000:
        return guess
    across, down = (each[inside] for each in flat.once(_slopes))
    weight = np.hypot(across, down) ** 2
    angle = np.degrees(np.arctan2(-down, across)) % 90.0  # y up
    counts, _ = np.histogram(angle, bins=180, range=(0.0, 90.0), weights=weight)
    soft = np.asarray(cv2.GaussianBlur(np.tile(counts, 3)[None].astype(np.float32), (0, 0), 2.5))[0, 180:360]
    offsets = (np.arange(180) * 0.5 + 0.25 - guess + 45.0) % 90.0 - 45.0
    near = np.abs(offsets) <= _PATTERN_TURN
    best = int(np.argmax(np.where(near, soft, -1.0)))
    if soft[best] < _PATTERN_CLEAR * soft.mean() or soft[best] < 0.95 * soft.max():
        return guess
    return float((guess + offsets[best]) % 180.0)

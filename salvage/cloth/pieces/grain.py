"""Where the warp of each piece most likely runs: a guess that the person can change."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from shapely.geometry import Polygon

from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.axis import Axis, find_axis, length_way
from salvage.cloth.flat.picture import Flat

_OWN = ("sleeve", "cuff", "collar", "band", "placket", "strap", "facing")  # cut along their own length
_EITHER_WAY = ("collar", "yoke")
_OWN_DOUBT = 5.0  # degrees; a sleeve tapers, and its seam is not its middle
_GORE = 12.0  # degrees that a gore's middle is off the garment's, where it can't be told
_BANDS_AMONG = ("", "inside")  # parts that may be bands, facings say, which are known by their shape
_CUT = 2.0  # degrees that cloth is cut off its grain anyhow (common practice)
_BAND = 75.0  # mm; narrower and twice as long is a band, cut along its length: waistband, cuff, collar
_SLEEVE_SHARE = 0.6  # of the largest piece's area at most
_SLEEVE_TURN = 6.0  # degrees a sleeve lies off the garment's axis at least
_PATTERN_TURN = 8.0  # degrees a woven pattern may correct the guess by
_PATTERN_CLEAR = 2.6  # times the mean that a direction must stand out in the picture


@dataclass(frozen=True, slots=True)
class Grain:
    """way: direction of the warp, degrees in [0, 180). plus_minus: degrees; 90 where it may run either way."""

    way: float
    plus_minus: float


def grain_of(piece: Polygon, axis: Axis, largest: float, flat: Flat, role: str = "") -> Grain:
    """The grain of a piece. largest: area of the garment's largest piece, mm^2. role: see roles_of, "" if not known.

    Along the garment's length; of a sleeve along its own, of a band, cuff or collar too; a skirt's gores along
    the garment's or their own middle (common practice). Collars and yokes are cut either way. Stripes, checks and twill lines in the
    picture put it right by a few degrees.
    """
    long, short = sides(piece)
    is_band = short < _BAND and long > 2.0 * short
    guess, doubt = axis.up % 180.0, axis.plus_minus
    if role in _OWN or (role in _BANDS_AMONG and is_band) or (not role and is_sleeve(piece, axis, largest)):
        guess, doubt = length_way(piece), _OWN_DOUBT
    elif role == "skirt":  # a gore is cut along its own middle or along the garment's
        own = find_axis(piece)
        doubt = max(doubt, abs((own.up - guess + 90.0) % 180.0 - 90.0) if own.is_symmetric else _GORE)
    if role in _EITHER_WAY:
        doubt = 90.0
    way = _by_pattern(piece, guess, flat)
    return Grain(way, min(90.0, float(np.hypot(doubt, _CUT))))


def is_sleeve(piece: Polygon, axis: Axis, largest: float) -> bool:
    """A long piece beside the body that lies off the garment's axis."""
    long, short = sides(piece)
    if axis.legs or short < _BAND or long < 1.35 * short or piece.area > _SLEEVE_SHARE * largest:
        return False
    off = abs((length_way(piece) - axis.up + 90.0) % 180.0 - 90.0)
    across = abs(axis.own(np.array([piece.centroid.coords[0]]))[0, 0])
    return bool(_SLEEVE_TURN < off < 85.0 and across > 0.6 * short)


def _by_pattern(piece: Polygon, guess: float, flat: Flat) -> float:
    """The guess moved on to the nearest direction of a straight pattern, if there is a clear one."""
    inside = flat.raster(piece.buffer(-12.0))
    if np.count_nonzero(inside) < 4000:
        return guess
    grey = cv2.GaussianBlur(cv2.cvtColor(flat.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32), (0, 0), 1.5)
    across, down = cv2.Sobel(grey, cv2.CV_32F, 1, 0), cv2.Sobel(grey, cv2.CV_32F, 0, 1)
    weight = np.hypot(across, down)[inside] ** 2
    angle = np.degrees(np.arctan2(-down[inside], across[inside])) % 90.0  # y up
    counts, _ = np.histogram(angle, bins=180, range=(0.0, 90.0), weights=weight)
    soft = np.asarray(cv2.GaussianBlur(np.tile(counts, 3)[None].astype(np.float32), (0, 0), 2.5))[0, 180:360]
    offsets = (np.arange(180) * 0.5 + 0.25 - guess + 45.0) % 90.0 - 45.0
    near = np.abs(offsets) <= _PATTERN_TURN
    best = int(np.argmax(np.where(near, soft, -1.0)))
    if soft[best] < _PATTERN_CLEAR * soft.mean() or soft[best] < 0.95 * soft.max():
        return guess
    return float((guess + offsets[best]) % 180.0)

"""What a place must show to be called worn, whoever found it.

A worn place is a blotch that differs from the cloth round it, with an edge of its own. Shade differs too, but
hardly in colour once both are brought to equal light; what runs along the garment's outline is its roundness.
How much a difference of colour says hangs on the photograph: JPEG stores colour in blocks of 16 pixels, each a
little off, and in black cloth a step of one number is a large part of the light. So a photograph whose blocks
are as large as stains are must show more: there, what is only darker, without an edge all round, is taken for shade.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.flat.colour import difference, in_equal_light, luminance
from salvage.cloth.flat.picture import Flat
from salvage.photo.srgb import linear_of_bytes

_COARSE = 1.2  # mm a photo pixel, from which a block of 16 is as large as a small stain (20 mm)
# Steps in which the mean Cb and Cr of a block are stored: 17 / 8. Source: ITU-T T.81, table K.2 ("quality 50")
_OFF_CHROMA = 2.0
_TO_RED, _TO_BLUE = 1.402, 1.772  # R per Cr, B per Cb. Source: ITU-T T.871 (JFIF)
_SOFT = (2.0, 2.5)  # mm, pictures are averaged over: CIELAB, and in equal light
_INSET, _ROUND = 2.0, (5.0, 20.0)  # mm within a place, and round it, where colours are taken
_FEW_PX = (20, 50)  # flat pixels of a place, and of its surroundings, at least
# mm: half of what an edge is seen across, how far off the border it may be, between points of the border
_EDGE_SPAN, _EDGE_OFF, _EDGE_EVERY = 6.0, 4.0, 3.0
_STEPS = 0.5  # of the whole difference, which an edge must show
_AT_OUTLINE = 7.0  # mm
_RIM = 0.45  # share of its border there; half a disc cut by it has 2 / (2 + pi) = 0.39, and its corners
_EDGED, _EDGED_COARSE, _EDGED_ALL_ROUND = 0.55, 0.6, 0.85  # share of its border that is an edge
_SHINE = 0.2  # what is lighter, and of another colour by less than this share of it, may shine
_COLOURED = 6.0  # of a and b, from which a cloth has a hue of its own
_MANY_COLOURS = 3.0  # how uneven the colours of a print of many are, in equal light

Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Need:
    """What a place must show in a coarse photograph.

    tinted: of the difference in lightness that the one of colour must reach; less is shade in a tinted room.
    jpeg: times what JPEG could do. stands, stands_print: times how uneven the colours round it are; on a print.
    strong: times how uneven all is round it, from which light and shade couldn't do it: the rest isn't asked then.
    """

    tinted: float
    jpeg: float
    stands: float
    stands_print: float
    strong: float


_PARTLY = _Need(0.6, 2.0, 2.5, 5.0, 6.0)
_ALL_ROUND = _Need(0.4, 1.0, 2.5, 4.0, 2.5)  # with an edge all round, which shade seldom has


@dataclass(frozen=True, slots=True, eq=False)
class Shades:
    """The flat picture averaged a little, and where surroundings may be taken from.

    lab: CIELAB, L halved (light and shade change it most). equal: a and b in equal light. light: what all have there.
    """

    lab: Map
    equal: Map
    light: float
    inner: NDArray[np.bool_]


def shades_of(flat: Flat) -> Shades:
    """Of a flat picture without its print."""
    lab = cv2.GaussianBlur(flat.lab, (0, 0), _SOFT[0] / flat.step) * np.array([0.5, 1, 1], np.float32)
    linear = np.asarray(cv2.GaussianBlur(linear_of_bytes(flat.rgb), (0, 0), _SOFT[1] / flat.step), np.float32)
    light = float(np.median(luminance(linear[flat.mask]))) if flat.mask.any() else 1.0
    inner = cv2.erode(flat.mask.astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    return Shades(np.asarray(lab, np.float32), in_equal_light(linear, light)[..., 1:], light, inner)


def is_proved(shape: Polygon, flat: Flat, cloth: Polygon, looks: Shades) -> bool:
    """Whether the photograph shows that a place (mm) is worn rather than shade, a print's colour or JPEG's."""
    if shape.exterior.intersection(cloth.boundary.buffer(_AT_OUTLINE)).length > _RIM * shape.exterior.length:
        return False
    own, around = _own_and_around(shape, flat, looks)
    if own.sum() < _FEW_PX[0] or around.sum() < _FEW_PX[1]:
        return True  # nothing to compare it with
    way, uneven = _differs(looks.lab, own, around)
    colour_way, colours = _differs(looks.equal, own, around)
    tint = float(np.linalg.norm(colour_way))
    edge = max(_edge(shape, flat, looks.lab, way), _edge(shape, flat, looks.equal, colour_way))
    lighter = 2.0 * float(way[0])
    if flat.photo_step <= _COARSE:
        return edge >= (_EDGED_ALL_ROUND if tint < _SHINE * lighter else _EDGED)
    if edge < _EDGED_COARSE:
        return False
    need = _ALL_ROUND if edge >= _EDGED_ALL_ROUND else _PARTLY
    could_be_jpeg = _jpeg_tint(np.median(flat.rgb[own], axis=0), looks.light)
    sure_way = way * ((2, 1, 1) if tint >= could_be_jpeg else (2, 0, 0))
    middle = np.median(looks.lab[own], axis=0) * (2, 1, 1)
    if difference(middle, middle - sure_way) >= need.strong * (1.0 + uneven):
        return True
    if tint < max(need.tinted * abs(lighter), need.jpeg * could_be_jpeg):
        return False
    return tint >= (need.stands if colours < _MANY_COLOURS else need.stands_print) * (0.25 + colours)


def stands_out(shape: Polygon, flat: Flat, looks: Shades) -> tuple[float, float]:
    """By how much a place (mm) is lighter (L) than the cloth round it, and how far its colour in equal light is off all that
    the cloth has with more or less mirrored light in it, which makes it paler and changes no hue."""
    own, around = _own_and_around(shape, flat, looks)
    if own.sum() < _FEW_PX[0] or around.sum() < _FEW_PX[1]:
        return 0.0, 0.0
    (way, _), (colour, _) = (_differs(each, own, around) for each in (looks.lab, looks.equal))
    light = 2.0 * float(way[0])
    return light, beyond_light(light, colour, np.median(looks.equal[around], axis=0))


def beyond_light(light: float, colour: Map, around: Map) -> float:
    """How much of a difference in a and b, in equal light, more or less mirrored light doesn't explain. light: the difference
    in L. around: a and b of the cloth round it."""
    hue = around / max(float(np.linalg.norm(around)), _COLOURED)
    richer = float(colour @ hue)  # with mirrored light it is as much paler as it is lighter, at most
    mirrored = min(abs(richer), abs(light)) * np.sign(richer) if richer * light < 0 else 0.0
    return float(np.linalg.norm(colour - mirrored * hue))


def _own_and_around(shape: Polygon, flat: Flat, looks: Shades) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(h, w) masks: of a place, and of the cloth round it that it is compared with."""
    own = flat.raster(shape.buffer(-_INSET))
    own = own if own.sum() >= _FEW_PX[0] else flat.raster(shape)
    return own, flat.raster(shape.buffer(_ROUND[1]).difference(shape.buffer(_ROUND[0]))) & looks.inner


def _differs(picture: Map, own: NDArray[np.bool_], around: NDArray[np.bool_]) -> tuple[Map, float]:
    """From the middling value round a place to its own; and how uneven it is round it."""
    ring = picture[around]
    middle = np.median(ring, axis=0)
    return np.median(picture[own], axis=0) - middle, float(np.median(np.linalg.norm(ring - middle, axis=1)))


def _jpeg_tint(rgb: NDArray, light: float) -> float:
    """How far in a and b, in equal light, JPEG may have moved a colour (3 numbers of 0 to 255)."""
    off = np.array([_TO_RED, 0.0, -_TO_BLUE]) * _OFF_CHROMA
    colours = np.clip(np.round([[rgb, rgb + off, rgb - off]]), 0, 255).astype(np.uint8)
    seen = in_equal_light(linear_of_bytes(colours), light)[0, :, 1:]
    return float(np.linalg.norm(seen[1:] - seen[0], axis=1).max())


def _edge(shape: Polygon, flat: Flat, picture: Map, way: Map) -> float:
    """Share of a place's border, but for what lies on the outline, across which the picture changes by half of the place's difference or more."""
    size = float(np.linalg.norm(way))
    if size < 1e-6:
        return 0.0
    ring = shape.simplify(_EDGE_EVERY / 2).exterior
    at = np.arange(0.0, ring.length, _EDGE_EVERY)
    points = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
    ahead = shapely.get_coordinates(shapely.line_interpolate_point(ring, at + 2.0)) - points
    normal = np.stack([ahead[:, 1], -ahead[:, 0]], 1) / (np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-9)
    normal = normal if ring.is_ccw else -normal
    steps, looked = np.zeros(len(points)), np.zeros(len(points), bool)
    for off in (-_EDGE_OFF, 0.0, _EDGE_OFF):
        inside, outside = (_pixels(flat, points + (off + side * _EDGE_SPAN) * normal) for side in (-1.0, 1.0))
        seen = flat.mask[inside] & flat.mask[outside]
        change = (picture[inside] - picture[outside]) @ way / size**2
        steps, looked = np.maximum(steps, np.where(seen, change, 0.0)), looked | seen
    return float((steps[looked] > _STEPS).mean()) if looked.any() else 0.0


def _pixels(flat: Flat, points_mm: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the flat pixels nearest to points."""
    column, row = np.round(flat.to_flat_px(points_mm)).astype(np.int64).T
    height, width = flat.mask.shape
    return np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)

"""Worn and spoilt places: where the cloth doesn't look like itself."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from salvage.cloth.finders.found import Found, Spot
from salvage.cloth.finders.lines.whole_lines import whole_areas
from salvage.cloth.finders.sight import Sight
from salvage.cloth.finders.wear.borne import LEAST, chance_of_odd, witnessed
from salvage.cloth.finders.wear.flecks import find_flecks
from salvage.cloth.finders.wear.odd import odd_places
from salvage.cloth.finders.wear.proof import is_proved, shades_of
from salvage.cloth.finders.wear.relief import Relief
from salvage.cloth.flat.areas import find_areas, together
from salvage.cloth.flat.chances import EVERY, Chances
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.whole import Whole
from salvage.cloth.garment import BlockedKind

ODD_COLOUR = "odd colour"
HOLE = "hole or tear"
# Low, because the network seldom takes sound cloth for worn, and a stain left in is the worse mistake.
_LOW, _HIGH, _SMALLEST = 0.12, 0.3, 16.0  # chance it stays above, chance it reaches, mm^2
# The same of the look at the whole garment, which knows what marks on a garment look like. On the 60 drawings of
# tests/bench/test_drawn_flaws.py it finds 20 of 224 flaws more, and 0.02 % of the cloth in vain.
_AFAR = (0.3, 0.5)
_NEAR_PROVES = (
    0.9  # chance near by at which a place needs no other proof: of 65 drawn ones in vain none had it
)
_AFAR_BLIND = 0.1  # chance from afar below which what the light does to the cloth's relief explains a place
_MAY_BE_LIGHT = 0.4  # confidence in a place that the light explains
_HOLE = 3500.0  # mm^2; a larger gap in the cloth is an armhole or lies between two sleeves
_SEAM = 5.0  # mm to either side of a seam, and of edge, that look unlike the rest by their make
_BESIDE = 2.0  # mm round a button, a zip or the like
_RIM = 2.0  # mm of frayed cloth round a hole


def find(sight: Sight, found: Found) -> Found:
    """Whatever may be worn, outside what is known already."""
    afar = seen_from_afar(sight.whole, sight.cloth)
    new = find_worn(sight.chances, sight.plain, sight.cloth, found.fittings, found.seam_lines, afar)
    return replace(found, worn=(*found.worn, *new))


def prove(sight: Sight, found: Found) -> Found:
    """Without the worn places that neither the photograph nor a network proves and the odd ones that neither network bears out."""
    looks = sight.plain.once(shades_of)
    relief = Relief.of(sight.plain, sound_cloth(sight.plain, found.fittings, found.seam_lines))
    kept: list[Spot] = []
    for each in found.worn:
        if each.what == HOLE:
            kept.append(each)
            continue
        near, afar = witnessed(each, sight)
        if near < _NEAR_PROVES and afar < _AFAR[1]:
            if not is_proved(each.shape, sight.plain, sight.cloth, looks):
                continue
            if afar < _AFAR_BLIND and relief.explains(each.shape, sight.plain, looks):
                # A stain may look so too, so it goes on blocking; but the person is asked.
                kept.append(replace(each, confidence=min(each.confidence, _MAY_BE_LIGHT), fine=False))
                continue
        if each.what == ODD_COLOUR:
            each = replace(each, confidence=chance_of_odd(each, sight), fine=False)
        if each.what != ODD_COLOUR or each.confidence >= LEAST:
            kept.append(each)
    return replace(found, worn=tuple(kept))


def seen_from_afar(whole: Whole, cloth: Polygon) -> list[tuple[Polygon, float]]:
    """Worn places that the look at the whole garment shows, each with its mean chance."""
    return [
        (s, c) for s, c in whole_areas(whole, "worn", *_AFAR) if s.area >= _SMALLEST and s.intersects(cloth)
    ]


def find_worn(
    chances: Chances,
    flat: Flat,
    cloth: Polygon,
    known: Sequence[Spot],
    lines: Sequence[LineString],
    afar: Sequence[tuple[Polygon, float]] = (),
) -> list[Spot]:
    """Stains, faded and bleached patches, abrasion, paint, holes and tears.

    known: closures and pockets, which are no flaws. lines: seams, which aren't either. afar: worn places that the look at the
    whole garment shows.
    """
    chance = np.where(flat.mask[::EVERY, ::EVERY], chances.worn, 0).astype(np.float32)
    found = [(s, "worn or stained", c) for s, c in find_areas(chance, flat, EVERY, _LOW, _HIGH, _SMALLEST)]
    found += [(s, "worn or stained", c) for s, c in afar]
    sound = sound_cloth(flat, known, lines)
    with ThreadPoolExecutor(1) as other_core:
        flecks = other_core.submit(find_flecks, flat, sound)
        found += [(s, ODD_COLOUR, c) for s, c in odd_places(flat, sound)]
        found += [(s, "small mark", c) for s, c in flecks.result()]
    for ring in cloth.interiors:
        gap = Polygon(ring)
        if gap.area < _HOLE:
            found.append((gap.buffer(_RIM), HOLE, 0.95))
    return [Spot(BlockedKind.WORN, s, w, c, fine=True) for s, w, c in _merged(found)]


def proved(worn: Sequence[Spot], flat: Flat, cloth: Polygon) -> list[Spot]:
    """The worn places that the photograph proves; holes are proved by the outline. flat: without its print.

    What `prove` asks of the photograph, without the networks: so the scripts that fit figures on drawings
    (fit_figures.py, fit_fine.py, fit_odd.py) see a part only of what measuring makes of a place.
    """
    looks = flat.once(shades_of)
    return [each for each in worn if each.what == HOLE or is_proved(each.shape, flat, cloth, looks)]


def sound_cloth(flat: Flat, known: Sequence[Spot], lines: Sequence[LineString]) -> NDArray[np.bool_]:
    """Cloth that is neither edge nor seam, closure or pocket. As much is left out along every edge as along a seam, so that
    what is odd doesn't hang on whether an edge is taken for one; along a pocket's too, which is sewn on like one."""
    beside = {BlockedKind.POCKET: _SEAM}
    taken = [each.shape.buffer(beside.get(each.kind, _BESIDE)) for each in known]
    taken += [each.buffer(_SEAM) for each in lines]
    blocked = flat.raster(shapely.union_all(taken)) if taken else np.zeros(flat.mask.shape, bool)
    size = 2 * round(_SEAM / flat.step) + 1
    inner = cv2.erode(flat.mask.astype(np.uint8), np.ones((size, size), np.uint8)) > 0
    return inner & ~blocked


def _merged(found: list[tuple[Polygon, str, float]]) -> list[tuple[Polygon, str, float]]:
    """Places that overlap made one, with the surest word for it."""
    merged = []
    for whole, parts in together([shape for shape, _, _ in found]):
        _, what, confidence = max((found[k] for k in parts), key=lambda each: each[2])
        merged.append((whole, what, confidence))
    return merged

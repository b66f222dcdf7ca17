"""Holes, tears, rubbed and spilt places by all that speaks for them: their edge, what shows in them, how the cloth is round them.

A hole shows the floor or the layer behind: a colour that this cloth has nowhere else, with a sharp edge all round and a
frayed rim. A tear is the same, and slim. Where cloth was rubbed its fine texture is another, though its colour may
hardly be. Highlights and folds have soft edges, and come again. None of this decides alone; what a place is worth was fitted
on drawn garments that no training saw (fixtures/train/fit_marks.py, which says how; marks.json beside this holds it).
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.finders.found import Found, Spot
from salvage.cloth.finders.sight import Sight
from salvage.cloth.finders.wear.proof import beyond_light, shades_of
from salvage.cloth.finders.wear.regions import StableRegion, Wanted, stable_regions
from salvage.cloth.finders.wear.relief import Relief
from salvage.cloth.finders.wear.worn import sound_cloth
from salvage.cloth.finders.weigh import logit
from salvage.cloth.flat.areas import outlined, together
from salvage.cloth.flat.chances import EVERY
from salvage.cloth.flat.picture import Flat
from salvage.cloth.garment import MARK, BlockedKind
from salvage.shapes import polygons_of

_LIGHT = np.array([0.5, 1, 1], np.float32)  # weights of CIELAB: light and shade change L most
_FAINT = 1.0  # of the values; what stands out by less is noise
_FEW_PX = 25  # of the surroundings, at least

Map = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Scale:
    """How finely is looked.

    every: flat pixels between those looked at. soft: mm that colours are averaged over. threads: mm between which fine texture
    lies; textured: mm that its strength is averaged over. levels: of 256, for a unit of L, a, b and of texture (in its own
    spread). wanted: of regions, in pixels of a step of 1 mm. ring: mm round a place where its surroundings begin and end.
    grown: mm of frayed cloth round it. beside: mm round what is known that look like it. least: chance from which a place is
    blocked.
    """

    name: str
    every: int
    soft: float
    threads: tuple[float, float]
    textured: float
    levels: tuple[float, float, float, float]
    wanted: Wanted
    least_change: float
    ring: tuple[float, float]
    grown: float
    beside: float
    least: float

    @property
    def seen(self) -> int:
        """How many of the values (see `_Looked`) make an edge at this scale."""
        return 4 if self.levels[3] else 3


SOFT = Scale(
    "soft", 2, 2.5, (0.6, 2.2), 3.5, (6.0, 10.0, 10.0, 12.0), Wanted((15, 2250), 4.5, 0.65, 0.8, 50, 80.0), 0.1,
    (6.0, 18.0), 0.0, 6.0, 0.55,
)  # fmt: skip
SCALES = (SOFT,)  # the finest first


@dataclass(frozen=True, slots=True)
class WornMark:
    """A region, and by name what speaks for and against it (see `_terms`)."""

    region: StableRegion
    terms: dict[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """The cloth as seen at one scale: values (h, w, 4), CIELAB with L halved and the strength of the fine texture in its own
    spread; and which are sound."""

    values: Map
    sound: Mask


def find(sight: Sight, found: Found) -> Found:
    """Holes, tears and marks that nothing so far was called, as far as they are likelier than their scale asks."""
    flat = sight.plain
    sound = sound_cloth(flat, found.fittings, found.seam_lines)
    known = [each.shape for each in found.worn]
    new: list[tuple[Polygon, float]] = []
    for scale in SCALES:
        # What is known, or was seen more finely, is left out with its blurred surroundings.
        seen = [shape.buffer(scale.beside, quad_segs=2) for shape in (*known, *(each for each, _ in new))]
        clear = sound & ~flat.raster(shapely.union_all(seen)) if seen else sound
        for mark in marks_of(sight, clear, scale):
            chance = chance_of(mark.terms, scale)
            if chance >= scale.least:
                shape = shape_of(mark.region, flat, scale).intersection(sight.cloth)
                new += [(each, chance) for each in polygons_of(shape)]
    spots = [
        Spot(BlockedKind.WORN, whole, MARK, max(new[k][1] for k in parts))
        for whole, parts in together([shape for shape, _ in new])
    ]
    return replace(found, worn=(*found.worn, *spots))


def marks_of(sight: Sight, sound: Mask, scale: Scale) -> list[WornMark]:
    """The regions of one scale with what speaks for them. sound: (h, w), cloth without what is known already."""
    flat = sight.plain
    looked = _looked(flat, sound, scale)
    if looked.sound.sum() < _FEW_PX:
        return []
    middle = np.median(looked.values[looked.sound][::3], axis=0)
    differs = np.asarray((looked.values - middle) / np.array([*_LIGHT, 1.0], np.float32), np.float32)
    channels: list[Map] = [differs[..., k] * levels for k, levels in enumerate(scale.levels) if levels]
    steps = looked.values[..., : scale.seen]
    regions = stable_regions(channels, steps, looked.sound, scale.wanted, scale.least_change)
    around = _Around(sight, looked, scale, Relief.of(flat, sound).usual)
    marks = [WornMark(each, terms) for each in regions if (terms := around.terms(each)) is not None]
    return _with_alike(marks)


def chance_of(terms: dict[str, float], scale: Scale) -> float:
    """The chance that a mark is worn, torn or spoilt cloth."""
    fitted = _fitted()[scale.name]
    total = float(fitted["constant"])
    for name, (mean, spread, weight) in fitted["terms"].items():
        total += weight * (terms[name] - mean) / spread
    return 1.0 / (1.0 + math.exp(-min(max(total, -30.0), 30.0)))


def shape_of(region: StableRegion, flat: Flat, scale: Scale) -> Polygon:
    """A region in mm, holes filled, with the frayed cloth round it."""
    mask = np.zeros([-(-n // scale.every) for n in flat.mask.shape], bool)
    mask[region.points[:, 1], region.points[:, 0]] = True
    shape = shapely.union_all([each for each, _ in outlined(mask, flat, scale.every)])
    return shape.buffer(scale.grown) if scale.grown else shape


@lru_cache(maxsize=1)
def _fitted() -> dict[str, Any]:
    return dict(json.loads(Path(__file__).with_name("marks.json").read_text())["scales"])


def _looked(flat: Flat, sound: Mask, scale: Scale) -> _Looked:
    weight = sound.astype(np.float32)
    every = slice(None, None, scale.every)

    def mean(of: Map, spread: float) -> Map:
        share = np.maximum(cv2.GaussianBlur(weight, (0, 0), spread / flat.step), 0.05)
        of = of * (weight[..., None] if of.ndim == 3 else weight)
        soft = cv2.GaussianBlur(of, (0, 0), spread / flat.step)
        return np.asarray(soft / (share[..., None] if of.ndim == 3 else share), np.float32)[every, every]

    light = flat.lab[..., 0]
    fine, coarse = (cv2.GaussianBlur(light, (0, 0), each / flat.step) for each in scale.threads)
    texture = np.log(np.sqrt(mean((fine - coarse) ** 2, scale.textured)) + 0.15)
    inner = sound[every, every]
    if inner.any():
        middle = float(np.median(texture[inner]))
        texture = (texture - middle) / max(0.12, 1.4826 * float(np.median(np.abs(texture[inner] - middle))))
    if scale.every > 1:
        colour = mean(flat.lab, scale.soft)
    else:
        colour = np.asarray(cv2.GaussianBlur(flat.lab, (0, 0), scale.soft / flat.step), np.float32)
    return _Looked(
        np.concatenate([colour * _LIGHT, 2.5 * texture[..., None]], axis=2).astype(np.float32), inner
    )


class _Around:
    """What a region is compared with, worked out once for all of them."""

    def __init__(self, sight: Sight, looked: _Looked, scale: Scale, relief: float) -> None:
        flat = sight.plain
        every = slice(None, None, scale.every)
        self.sight, self.looked, self.scale, self.relief = sight, looked, scale, relief
        self.step = flat.step * scale.every
        self.cloth = flat.mask[every, every]
        self.equal = flat.once(shades_of).equal[every, every]
        self.colours = looked.values[looked.sound][:, :3]
        self.colours = self.colours[:: max(1, len(self.colours) // 4000)]
        self.textures = np.sort(looked.values[looked.sound][:, 3])
        ring = [round(each / self.step) for each in scale.ring]
        self.kernels = [_disc(each) for each in ring]
        self.room = ring[1] + 2

    def terms(self, region: StableRegion) -> dict[str, float] | None:
        """By name what speaks for a region; None where it doesn't stand out or nothing lies round it."""
        points, room = region.points, self.room
        height, width = self.cloth.shape
        (left, up), (right, down) = points.min(axis=0) - room, points.max(axis=0) + room + 1
        box = slice(max(0, up), min(height, down)), slice(max(0, left), min(width, right))
        drawn = np.zeros((box[0].stop - box[0].start, box[1].stop - box[1].start), np.uint8)
        drawn[points[:, 1] - box[0].start, points[:, 0] - box[1].start] = 1
        rings, _ = cv2.findContours(drawn, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        cv2.drawContours(drawn, rings, -1, 1, -1)
        near, far = (cv2.dilate(drawn, each) > 0 for each in self.kernels)
        sound = self.looked.sound[box]
        inside, around = drawn > 0, far & ~near & (sound if self.scale.every > 1 else self.cloth[box])
        core = cv2.erode(drawn, _disc(1)) > 0
        core = core if core.sum() >= 6 else inside
        if around.sum() < _FEW_PX:
            return None
        values = self.looked.values[box]
        all_round = values[around]
        own, other = _middle(values[core]), _middle(all_round)
        way = own - other
        if float(np.linalg.norm(way)) < _FAINT:
            return None
        colour = float(np.linalg.norm(way[:3]))
        uneven = float(_middle(np.linalg.norm((all_round - other)[:, :3], axis=1)))
        rough = float(_middle(np.abs(all_round[:, 3] - other[3])))
        light = 2.0 * float(way[0])
        equal = self.equal[box]
        equal_round = _middle(equal[around])
        tint_way = _middle(equal[inside]) - equal_round
        hue = beyond_light(light, tint_way, equal_round)
        steps = self._steps(values, way, drawn, sound)
        hull = cv2.convexHull(np.concatenate(rings))
        hull_px = cv2.contourArea(hull) + cv2.arcLength(hull, True) / 2
        rare = float((np.linalg.norm(self.colours - own[:3], axis=1) < max(2.0, 0.5 * colour)).mean())
        below = float(np.searchsorted(self.textures, own[3])) / len(self.textures)
        said = self._said(points, box, drawn)
        return {
            "contrast": math.log(0.3 + colour),
            "uneven": math.log(0.3 + uneven),
            "stands out": math.log((0.2 + colour) / (0.5 + uneven)),
            "edged": float((steps > 0.12).mean()) if len(steps) else 0.0,
            "sharp": float(_middle(steps)) if len(steps) else 0.0,
            "step": math.log((0.02 + region.step) / (self.scale.least_change + region.usual)),
            "darker": min(0.0, light) / 10.0,
            "lighter": max(0.0, light) / 10.0,
            "tint": math.log(0.3 + float(np.linalg.norm(tint_way))),
            "hue": math.log(0.3 + hue),
            "all hue": min(hue / (1.0 + abs(light)), 2.0),
            "relief": math.log(0.3 + self.relief),
            "over relief": math.log((0.5 + abs(light)) / (0.5 + self.relief)),
            "texture": float(np.clip(way[3] / 2.5, -8.0, 8.0)),
            "texture stands out": math.copysign(math.log1p(abs(float(way[3])) / (0.3 + rough)), float(way[3])),
            "rare texture": -math.log10(min(1.0, 2.0 * min(below, 1.0 - below) + 1e-3)),
            "area": math.log(float(drawn.sum()) * self.step**2),
            "long": math.log(region.long / region.short),
            "solid": float(drawn.sum()) / max(1.0, hull_px),
            "rare": -math.log10(rare + 1e-3),
            "at edge": float((~self.cloth[box])[far].mean()),
            **said,
        }  # fmt: skip

    def _steps(self, values: Map, way: NDArray, drawn: NDArray[np.uint8], sound: Mask) -> NDArray[np.float64]:
        """Along the border, the share of the whole difference that a pixel outwards makes."""
        way = way[: self.scale.seen]
        along = np.asarray(values[..., : len(way)] @ (way / max(float(way @ way), 1e-6)), np.float32)
        smooth = cv2.GaussianBlur(drawn.astype(np.float32), (0, 0), 1.5)
        (ax, ay), (nx, ny) = (
            [cv2.Sobel(each, cv2.CV_32F, *turn) for turn in ((1, 0), (0, 1))] for each in (along, smooth)
        )
        border = (cv2.dilate(drawn, _disc(1)) - cv2.erode(drawn, _disc(1)) > 0) & sound
        return np.asarray(((ax * nx + ay * ny) / (8.0 * np.hypot(nx, ny) + 1e-9))[border], float)

    def _said(
        self, points: NDArray[np.intp], box: tuple[slice, slice], drawn: NDArray[np.uint8]
    ) -> dict[str, float]:
        """What the networks see there: logits of the greatest chance, and of the mean one of worn cloth."""
        near, whole, scale = self.sight.chances, self.sight.whole, self.scale
        skip = EVERY // scale.every
        rows, columns = (slice(-(-each.start // skip), -(-each.stop // skip)) for each in box)
        small = (
            drawn[rows.start * skip - box[0].start :: skip, columns.start * skip - box[1].start :: skip] > 0
        )
        small = small if small.any() else np.ones_like(small)

        def there(chance: Map) -> Map:
            part = chance[rows, columns]
            part = part[: small.shape[0], : small.shape[1]]
            return np.asarray(part[small[: part.shape[0], : part.shape[1]]], np.float32)

        def most(*chances: Map) -> float:
            return logit(max(float(there(each).max(initial=0.0)) for each in chances))

        some = points[:: max(1, len(points) // 40)].astype(float) * scale.every
        place = self.sight.plain.to_mm(some)
        afar = whole.at(whole.spots["worn"], place)
        hardware = float(whole.at(whole.spots["hardware"], place).max())
        worn = there(near.worn)
        return {
            "near": most(near.worn),
            "near, mean": logit(float(worn.mean()) if worn.size else 0.0),
            "afar": logit(float(afar.max())),
            "afar, mean": logit(float(afar.mean())),
            "closure": max(most(near.closure), logit(hardware)),
            "stitch": most(near.stitch),
            "pocket": most(near.pocket),
            "seam": most(near.seam, near.edge),
        }


def _with_alike(marks: Sequence[WornMark]) -> list[WornMark]:
    """With how many others of about their size differ from the cloth in the same way: prints, buttons, highlights come again."""
    if not marks:
        return []
    names = ("darker", "lighter", "tint", "texture")
    looks = np.array([[m.terms[n] * w for n, w in zip(names, (1, 1, 1, 0.3), strict=True)] for m in marks])
    area = np.array([m.terms["area"] for m in marks])
    found = []
    for k, mark in enumerate(marks):
        alike = (np.linalg.norm(looks - looks[k], axis=1) < 0.5) & (np.abs(area - area[k]) < 1.2)
        found.append(WornMark(mark.region, {**mark.terms, "alike": math.log(float(alike.sum()))}))
    return found


def _middle(values: NDArray) -> NDArray:
    """The upper of the middling values down each column: a third of the time of a median."""
    middle = len(values) // 2
    return np.asarray(np.partition(values, middle, axis=0)[middle])


@lru_cache(maxsize=16)
def _disc(radius_px: int) -> NDArray[np.uint8]:
    side = 2 * max(1, radius_px) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), np.uint8)

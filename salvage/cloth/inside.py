"""What lies inside the outline: the cloth's pieces, and what of them is blocked.

find_pieces is the order of the work: lay the photograph flat and look at it (`Sight`), let every finder add what it
finds (`Found`), lay the seams that such a cut must have, let the cloth fall into pieces along its seams.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon

from salvage.cloth.cut.assumed import assumed_seams
from salvage.cloth.cut.between import laid_between, sure_parts
from salvage.cloth.cut.points import Place, garment_kind, points_of, with_landmarks
from salvage.cloth.finders.found import Finder, Found, Seam, Spot
from salvage.cloth.finders.lines import colour_blocks, likes, seams, whole_lines
from salvage.cloth.finders.lines.confidence import weighed
from salvage.cloth.finders.sewn import fittings, pairs, stitching, turned, zips
from salvage.cloth.finders.sewn.tabs import find_tabs
from salvage.cloth.finders.sight import Sight, sight_of
from salvage.cloth.finders.wear import marks, othercloth, worn
from salvage.cloth.finders.wear.flecks import standing_out
from salvage.cloth.finders.wear.odd import without_thread
from salvage.cloth.finders.wear.proof import shades_of
from salvage.cloth.flat.picture import Flat, ToPixels
from salvage.cloth.garment import (
    MAY_BE_FLOOR,
    ON_EDGE,
    Blocked,
    BlockedKind,
    FoundBy,
    Piece,
    PlusMinus,
)
from salvage.cloth.outline.find import Outline
from salvage.cloth.pieces.fabrics import fabrics_of
from salvage.cloth.pieces.falling import fall_apart
from salvage.cloth.pieces.grain import grain_of
from salvage.cloth.pieces.names import names_of, role_in
from salvage.cloth.pieces.roles import roles_of, settled
from salvage.naming import numbered
from salvage.photo.photo import Photo
from salvage.shapes import polygons_of
from salvage.trade.kinds import ClothKind, kind_named
from salvage.trade.margins import MARGIN

# In this order: a finder knows what those before it found.
FINDERS: tuple[Finder, ...] = (
    seams.find,
    zips.find,
    whole_lines.believe,
    seams.find_on_outline,
    whole_lines.find,
    colour_blocks.find,
    fittings.find,
    turned.find,
    whole_lines.find_spots,
    stitching.find,
    worn.find,
    othercloth.part,
    worn.prove,
    marks.find,
    pairs.find,
)

# What they need of the picture without its print alone, in the order in which they do: worked out beside them. The
# first and the last are of use on cloth that has no print only.
_AHEAD: tuple[Callable[[Flat], Any], ...] = (find_tabs, standing_out, shades_of, without_thread)
_AHEAD_ON_PRINT = (standing_out, shades_of)

_SMALLEST_CLOTH = 2500.0  # mm^2; less than 5 x 5 cm is no piece
# Chances, as fitted on drawings that no training saw, from which a garment is called padded or quilted, which changes
# the headline, so it must be sure: of 1,418 pictures of garments that aren't padded none reaches 0.70 with the run it is
# of, of the 118 of padded ones 67 do. And from which the person is asked. Those photographs that show it were in view.
_PADDED, _MAY_BE_PADDED = 0.75, 0.3
_WHOLE = 0.5  # share of a part, and of an odd place, that makes them the same
_MOST, _BRANCHED = 0.7, 0.87  # share of all cloth, and of its hull, of a piece that seams should part
_PERHAPS = 0.2  # chance from which a garment may well be of a kind
_FACE = 0.6  # chance from which the face of a garment is believed
_EVEN_CHANCE = 0.5  # that what may be floor is: it is asked about, and blocks until it is answered
_SIMPLER = 0.4  # mm, outlines are thinned out by this


class CameraPlane(ToPixels, Protocol):
    """What this room needs of a Plane."""

    def to_mm(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]: ...


@dataclass(frozen=True, slots=True)
class Inside:
    """What was found. kind: of cloth, told or found, "" if neither. may_be_padded: chance, where that is to be asked,
    else 0."""

    pieces: tuple[Piece, ...]
    cautions: tuple[str, ...] = ()
    kind: str = ""
    confidence: float = 1.0
    may_be_padded: float = 0.0


def find_pieces(
    photo: Photo,
    plane: CameraPlane,
    outline: Outline,
    *,
    kind: str = "",
    fabric: str = "shell",
    layers: int = 1,
) -> Inside:
    """The pieces of cloth in a photograph, with what is blocked on each.

    plane: the cloth's plane. outline: of the cloth, in pixels. kind: of cloth, where told.
    layers: equal layers lying there that can all be cut. Raises UsageError for an unknown kind.
    """
    cloth_kind = kind_named(kind)
    margin = {each: value + cloth_kind.extra_margin for each, value in MARGIN.items()}
    pieces: list[Piece] = []
    padded: list[float] = []
    floor = _floor_on_plane(outline.may_be_floor_px, plane)
    for number, cloth in enumerate(_on_plane(outline.shape_px, plane), 1):
        sight = sight_of(photo.pixels, plane, cloth)
        padded.append(sight.whole.padded)
        found = _pieces_of(sight, margin, fabric, [each for each in floor if each.shape.intersects(cloth)])
        pieces += [_with_ids(each, f"{photo.name} {number}.") for each in found]
    # Two stretches of cloth in one photograph may have given the same ones.
    names = numbered([each.name for each in pieces], "{name} ({number})")
    percent = float(getattr(plane, "plus_minus_percent", 0.0))
    pieces = [
        replace(
            each,
            name=name,
            layers=layers,
            one_way=cloth_kind.one_way,
            plus_minus=replace(each.plus_minus, scale_percent=percent),
            confidence=min(each.confidence, outline.confidence),
        )
        for each, name in zip(pieces, names, strict=True)
    ]
    chance = padded[0] if padded and not kind else 0.0
    if chance > _PADDED:
        kind = "padded"
        cloth_kind = kind_named(kind)
    cautions = cautions_of(cloth_kind, layers, pieces)
    in_doubt = chance if _MAY_BE_PADDED <= chance <= _PADDED else 0.0
    return Inside(tuple(pieces), cautions, kind, outline.confidence, in_doubt)


def _with_ids(piece: Piece, before: str) -> Piece:
    """Ids that are no other photograph's nor another cloth's."""
    return replace(piece, blocked=tuple(replace(each, id=before + each.id) for each in piece.blocked))


def cautions_of(kind: ClothKind, layers: int, pieces: list[Piece]) -> tuple[str, ...]:
    """What a person must hear about this cloth and what the photograph can't show."""
    found = list(kind.cautions)
    if not kind.suits:
        found.insert(0, kind.not_suited)
    if any(each.kind is BlockedKind.POCKET for piece in pieces for each in piece.blocked):
        found.append("Pockets are left out whole: the cloth beneath them, and their inside, can't be seen.")
    total = sum(piece.outline.area for piece in pieces)
    for piece in pieces:
        area = piece.outline.area
        if area > _MOST * total and area < _BRANCHED * piece.outline.convex_hull.area:
            found.append(
                f"{piece.name} is most of the garment and has arms or legs: look there for seams that were missed, "
                "and add them to the record."
            )
    if layers > 1:
        found.append(
            f"Counted as {layers} equal layers: only the upper one was seen, so look at the others too."
        )
    return tuple(found)


def _pieces_of(sight: Sight, margin: dict[BlockedKind, float], fabric: str, floor: list[Spot]) -> list[Piece]:
    """The pieces of one stretch of cloth lying by itself. floor: what of it may be no cloth."""
    cloth, axis, whole = sight.cloth, sight.axis, sight.whole
    found = find_all(sight)
    points = with_landmarks(points_of(cloth, axis), whole)
    kind = whole.kind if whole.kind_chance > 0.5 else garment_kind(points)
    face = whole.face if whole.face_chance > _FACE and whole.face != "inside" else ""
    parts = fall_apart(cloth, found.seams, found.middles)
    assumed = assumed_by_cut(sight, found, parts, points, (kind, face))
    if assumed:
        found = replace(found, seams=(*found.seams, *assumed))
        parts = fall_apart(cloth, found.seams, found.middles)
    found = replace(found, seams=(*found.seams, *likes.of_other_half(sight, found)))
    kept = tuple(each for each in found.worn if not _is_whole_part(each, parts[1:]))
    found = weighed(replace(found, worn=kept))
    things = [*found.fittings, *found.worn, *floor]
    blocked = [
        *(_blocked_seam(each, margin) for each in found.seams),
        *(_blocked(each, margin) for each in things),
    ]
    blocked = _numbered(blocked)
    opening = [each.shape.centroid for each in found.fittings if each.kind is BlockedKind.CLOSURE]
    roles = settled(roles_of(parts, whole), parts, cloth, axis, points, kind)
    in_front = zips.near_axis(opening, axis.at, axis.up, 45.0)
    names = names_of(parts, cloth, axis, in_front, roles, face)
    fabrics = fabrics_of(parts, cloth, sight.flat, fabric)
    grains = [
        grain_of(part, axis, parts[0].area, sight.flat, role or role_in(name))
        for part, role, name in zip(parts, roles, names, strict=True)
    ]
    return [
        Piece(
            name=name,
            outline=part,
            fabric=of,
            grain=grain.way,
            blocked=tuple(_on_part(blocked, part)),
            plus_minus=PlusMinus(grain=grain.plus_minus),
        )
        for part, name, of, grain in zip(parts, names, fabrics, grains, strict=True)
    ]


def _numbered(blocked: list[Blocked]) -> list[Blocked]:
    """Each with an id of its own, but for the ends of sleeves and legs, and for hems, of which none was seen: those of one
    name are one thing, for both halves of a garment are made alike and who knows one end knows the other."""
    first: dict[str, str] = {}
    found = []
    for number, each in enumerate(blocked, 1):
        own = str(number)
        at_ends = each.kind is BlockedKind.HEM or each.what.startswith("cuff seam")
        if each.found_by is FoundBy.TRADE and at_ends:
            own = first.setdefault(each.what, own)
        found.append(replace(each, id=own))
    return found


def find_all(sight: Sight) -> Found:
    """What all finders find, with the confidence that each gave it."""
    found = Found()
    with ThreadPoolExecutor(1) as other_core:
        for work in _AHEAD_ON_PRINT if sight.repeats else _AHEAD:
            other_core.submit(sight.plain.once, work)
        for find in FINDERS:
            found = find(sight, found)
    return found


def assumed_by_cut(
    sight: Sight, found: Found, parts: list[Polygon], points: dict[str, Place], made: tuple[str, str]
) -> list[Seam]:
    """The seams that a garment so cut must have, laid where none is seen. made: its kind and its face."""
    cloth, axis, whole = sight.cloth, sight.axis, sight.whole
    kind, face = made
    lines = [each.line for each in found.seams if not each.on_outline] + found.middles
    between = laid_between(found.seams, whole, cloth, axis, kind, lines, sharp=sight.sharp)
    known = [
        *lines,
        *(each.line for each in found.seams if each.on_outline),
        *(each.line for each in between),
    ]
    assumed = assumed_seams(
        cloth, axis, points, (kind, face or "front"), known, parts, sharp=sight.sharp, sure=sure_parts(whole),
        perhaps=frozenset(each for each, chance in whole.kinds.items() if chance >= _PERHAPS),
    )  # fmt: skip
    return between + assumed


def _is_whole_part(worn: Spot, parts: list[Polygon]) -> bool:
    """An odd colour that ends where a part ends is another cloth, no stain."""
    if worn.shape.area < _SMALLEST_CLOTH:
        return False
    covered = [part for part in parts if part.intersection(worn.shape).area > _WHOLE * part.area]
    return bool(sum(part.intersection(worn.shape).area for part in covered) > _WHOLE * worn.shape.area)


def _blocked_seam(seam: Seam, margin: dict[BlockedKind, float]) -> Blocked:
    kind = seam.kind or (BlockedKind.HEM if seam.hem else BlockedKind.SEAM)
    what = seam.what or (ON_EDGE if seam.on_outline else str(kind))
    return Blocked(
        kind, seam.line, margin[kind] + seam.wide, seam.found_by, what=what, confidence=seam.confidence
    )


def _blocked(spot: Spot, margin: dict[BlockedKind, float]) -> Blocked:
    wide = margin[spot.kind] + spot.wide
    return Blocked(spot.kind, spot.shape, wide, what=spot.what, confidence=spot.confidence)


def _on_part(blocked: list[Blocked], part: Polygon) -> Iterator[Blocked]:
    """What is blocked on one part: all that reaches it with its margin, cut down to its surroundings."""
    for each in blocked:
        near = part.buffer(each.margin + 1.0, quad_segs=2)
        shape = each.shape.intersection(near)
        if isinstance(each.shape, Polygon):
            kept = polygons_of(shape)
        else:
            kept = [g for g in getattr(shape, "geoms", [shape]) if isinstance(g, LineString) and g.length > 0]
        yield from (replace(each, shape=one) for one in kept)


def _floor_on_plane(areas_px: MultiPolygon, plane: CameraPlane) -> list[Spot]:
    """What may be no cloth, in mm."""
    shapes = [
        Polygon(plane.to_mm(np.asarray(each.exterior.coords)[:, :2])).buffer(0) for each in areas_px.geoms
    ]
    return [
        Spot(BlockedKind.OTHER, each.simplify(_SIMPLER), MAY_BE_FLOOR, _EVEN_CHANCE)
        for shape in shapes
        for each in polygons_of(shape)
    ]


def _on_plane(shape_px: MultiPolygon, plane: CameraPlane) -> list[Polygon]:
    """The outline's polygons in mm, largest first, mended where they cross themselves."""
    found: list[Polygon] = []
    for polygon in shape_px.geoms:
        rings = [plane.to_mm(np.asarray(r.coords)[:, :2]) for r in (polygon.exterior, *polygon.interiors)]
        cloth = Polygon(rings[0], rings[1:]).buffer(0).simplify(_SIMPLER)
        found += [each for each in polygons_of(cloth) if each.area >= _SMALLEST_CLOTH]
    return sorted(found, key=lambda each: -each.area)

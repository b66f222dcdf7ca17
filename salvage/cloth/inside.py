"""What lies inside the outline: the cloth's pieces, and what of them is blocked.

find_pieces is the order of the work: lay the photograph flat, look at it, find seams, closures,
pockets and worn places, let the cloth fall into pieces along its seams.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon

from salvage.cloth.cut.assumed import assumed_seams
from salvage.cloth.cut.between import laid_between, sure_parts
from salvage.cloth.cut.points import garment_kind, points_of, with_landmarks
from salvage.cloth.finders.lines.beside import not_yet
from salvage.cloth.finders.lines.colour_blocks import colour_seams
from salvage.cloth.finders.lines.confidence import seam_worth, spot_worth
from salvage.cloth.finders.lines.seams import Seam, find_edge_seams, find_seams
from salvage.cloth.finders.lines.whole_lines import borne_out, not_over, whole_lines, whole_spots
from salvage.cloth.finders.sewn.fittings import find_fittings
from salvage.cloth.finders.sewn.pairs import lacking_their_like
from salvage.cloth.finders.sewn.zips import find_bands, near_axis
from salvage.cloth.finders.wear.othercloth import part_other_cloth
from salvage.cloth.finders.wear.worn import find_worn, proved
from salvage.cloth.flat.axis import axis_told, find_axis, is_across
from salvage.cloth.flat.look import Chances, look
from salvage.cloth.flat.picture import Flat, ToPixels, flatten
from salvage.cloth.flat.printed import Repeat, repeats_of, without_print
from salvage.cloth.flat.whole import Whole, look_whole
from salvage.cloth.garment import ON_EDGE, Blocked, BlockedKind, Piece, PlusMinus
from salvage.cloth.outline.find import Outline
from salvage.cloth.pieces.fabrics import fabrics_of
from salvage.cloth.pieces.falling import fall_apart
from salvage.cloth.pieces.grain import grain_of
from salvage.cloth.pieces.names import names_of, role_in
from salvage.cloth.pieces.roles import roles_of, settled
from salvage.photo.photo import Photo
from salvage.shapes import polygons_of
from salvage.trade.kinds import ClothKind, kind_named
from salvage.trade.margins import MARGIN

STEP = 1.0  # mm between pixels of the flat picture: a topstitch is about one wide
_SMALLEST_CLOTH = 2500.0  # mm^2; less than 5 x 5 cm is no piece
# Chances, as fitted on drawings that no training saw, from which a garment is called padded or quilted, which changes
# the headline, so it must be sure: 2 of 706 pictures of garments that aren't padded reach it, 29 of 62 padded ones. And
# from which the person is asked. No photograph was used to set them, though those that show it were looked at.
_PADDED, _MAY_BE_PADDED = 0.9, 0.3
_WHOLE = 0.5  # share of a part, and of an odd place, that makes them the same
_MOST, _BRANCHED = 0.7, 0.87  # share of all cloth, and of its hull, of a piece that seams should part
_STITCHES = 1.2  # mm a photo pixel may be at most to show stitches, which are 2 to 3 mm long
_FACE = 0.6  # chance from which the face of a garment is believed
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
    for number, cloth in enumerate(_on_plane(outline.shape_px, plane), 1):
        flat = flatten(photo.pixels, plane, cloth, STEP)
        repeats = repeats_of(flat, cloth)
        plain = without_print(flat, repeats)
        chances = look(plain)
        whole = _whole_of(flat, cloth)
        padded.append(whole.padded)
        sharp = _is_sharp(plane, cloth)
        found = _pieces_of(cloth, flat, plain, repeats, chances, whole, margin, fabric, sharp)
        pieces += [_with_ids(each, f"{photo.name} {number}.") for each in found]
    names = _apart([each.name for each in pieces])
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


def _whole_of(flat: Flat, cloth: Polygon) -> Whole:
    """The look at the whole garment; once more, as it says that the garment lies, where that is across the axis of
    its outline."""
    axis = find_axis(cloth)
    whole = look_whole(flat, axis)
    if axis.is_symmetric and is_across(axis.up, whole.up):
        whole = look_whole(flat, replace(axis, up=whole.up))
    return whole


def _with_ids(piece: Piece, before: str) -> Piece:
    """Ids that are no other photograph's nor another cloth's."""
    return replace(piece, blocked=tuple(replace(each, id=before + each.id) for each in piece.blocked))


def _is_sharp(plane: CameraPlane, cloth: Polygon) -> bool:
    """Whether a photo pixel is small enough to show stitches."""
    x, y = cloth.centroid.coords[0]
    ends = np.asarray(plane.to_px(np.array([[x - 50.0, y], [x + 50.0, y]])), float)
    return bool(100.0 / max(float(np.linalg.norm(ends[1] - ends[0])), 1e-9) <= _STITCHES)


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


def _pieces_of(
    cloth: Polygon,
    flat: Flat,
    plain: Flat,
    repeats: tuple[Repeat, ...],
    chances: Chances,
    whole: Whole,
    margin: dict[BlockedKind, float],
    fabric: str,
    sharp: bool,
) -> list[Piece]:
    """The pieces of one stretch of cloth lying by itself. plain: the flat picture without its print."""
    bands, seams = find_bands(find_seams(chances, plain, cloth, repeats), plain)
    seams = borne_out(seams, whole, sharp=sharp) + find_edge_seams(chances, plain, cloth)
    fine = {id(each) for each in seams}
    known = [each.line for each in seams] + [middle for _, middle in bands]
    seams += whole_lines(whole, cloth, known, sharp=sharp)
    seams += not_yet(colour_seams(flat, cloth), [each.line for each in seams])
    fittings = find_fittings(chances, plain, [band for band, _ in bands], seams, margin, bool(repeats))
    fine |= {id(each) for each in fittings}
    fittings += not_over(whole_spots(whole, margin, cloth, sharp=sharp), fittings)
    worn = find_worn(chances, plain, cloth, fittings, [s.line for s in seams], margin[BlockedKind.WORN])
    worn, bounds = part_other_cloth(worn, cloth, flat)
    worn = proved(worn, plain, cloth)
    seams += bounds
    axis = axis_told(cloth, whole.up)
    fittings += lacking_their_like(fittings, cloth, axis)
    points = with_landmarks(points_of(cloth, axis), whole)
    kind = whole.kind if whole.kind_chance > 0.5 else garment_kind(points)
    lines = [each.line for each in seams if not each.on_outline] + [middle for _, middle in bands]
    middles = [middle for _, middle in bands]
    parts = fall_apart(cloth, seams, middles)
    known = [*lines, *(each.line for each in seams if each.on_outline)]
    face = whole.face if whole.face_chance > _FACE and whole.face != "inside" else ""
    assumed = assumed_seams(
        cloth, axis, points, (kind, face or "front"), known, parts, sharp=sharp, sure=sure_parts(whole)
    )
    if assumed := assumed + laid_between(seams, whole, cloth, axis, kind, lines):
        seams += assumed
        parts = fall_apart(cloth, seams, middles)
    worn = [each for each in worn if not _is_whole_part(each, parts[1:])]
    seams = [seam_worth(each) if id(each) in fine else each for each in seams]
    fittings = [spot_worth(each) if id(each) in fine else each for each in fittings]
    worn = [spot_worth(each) for each in worn]
    found = [*(_blocked_seam(each, margin) for each in seams), *fittings, *worn]
    blocked = [replace(each, id=str(number)) for number, each in enumerate(found, 1)]
    opening = [b.shape.centroid for b in fittings if b.kind is BlockedKind.CLOSURE]
    roles = settled(roles_of(parts, whole), parts, cloth, axis, points, kind)
    names = names_of(parts, cloth, axis, near_axis(opening, axis.at, axis.up, 45.0), roles, face)
    fabrics = fabrics_of(parts, cloth, flat, fabric)
    grains = [
        grain_of(part, axis, parts[0].area, flat, role or role_in(name))
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


def _is_whole_part(worn: Blocked, parts: list[Polygon]) -> bool:
    """An odd colour that ends where a part ends is another cloth, no stain."""
    if worn.shape.area < _SMALLEST_CLOTH:
        return False
    covered = [part for part in parts if part.intersection(worn.shape).area > _WHOLE * part.area]
    return bool(sum(part.intersection(worn.shape).area for part in covered) > _WHOLE * worn.shape.area)


def _apart(names: list[str]) -> list[str]:
    """Names told apart by number where two stretches of cloth in one photograph gave the same ones."""
    seen: dict[str, int] = {}
    result = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        result.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return result


def _blocked_seam(seam: Seam, margin: dict[BlockedKind, float]) -> Blocked:
    kind = seam.kind or (BlockedKind.HEM if seam.hem else BlockedKind.SEAM)
    what = seam.what or (ON_EDGE if seam.on_outline else str(kind))
    return Blocked(
        kind, seam.line, margin[kind] + seam.wide, seam.found_by, what=what, confidence=seam.confidence
    )


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


def _on_plane(shape_px: MultiPolygon, plane: CameraPlane) -> list[Polygon]:
    """The outline's polygons in mm, largest first, mended where they cross themselves."""
    found: list[Polygon] = []
    for polygon in shape_px.geoms:
        rings = [plane.to_mm(np.asarray(r.coords)[:, :2]) for r in (polygon.exterior, *polygon.interiors)]
        cloth = Polygon(rings[0], rings[1:]).buffer(0).simplify(_SIMPLER)
        found += [each for each in polygons_of(cloth) if each.area >= _SMALLEST_CLOTH]
    return sorted(found, key=lambda each: -each.area)

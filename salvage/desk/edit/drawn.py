"""What a person draws on the photograph: lines, places in the way, sound places, outlines, and what is cloth or floor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

from salvage.cloth.garment import BlockedKind, Garment, Hints, PiecePhoto
from salvage.cloth.record import edits
from salvage.desk.edit.told import Said
from salvage.errors import UsageError
from salvage.shapes import polygons_of

LINES = {"seam": BlockedKind.SEAM, "hem": BlockedKind.HEM, "closure": BlockedKind.CLOSURE}
PATCHES = {
    "pocket": (BlockedKind.POCKET, "pocket"), "stain": (BlockedKind.WORN, "stain"), "worn": (BlockedKind.WORN, "worn"),
    "other": (BlockedKind.OTHER, ""),
}  # fmt: skip


def line(garment: Garment, told: Said) -> Garment:
    kind = LINES[told.do]
    shape = told.area() if "brush" in told.action else told.line()
    return edits.draw(garment, told.beside(), kind, shape, what=told.text("what"))


def patch(garment: Garment, told: Said) -> Garment:
    kind, what = PATCHES[told.do]
    return edits.draw(garment, told.beside(), kind, told.area(), what=told.text("what") or what)


def clear(garment: Garment, told: Said) -> Garment:
    reached = False
    for patch in polygons_of(told.area()):
        for n in told.beside():
            if garment.pieces[n].outline.intersects(patch):
                reached = True
                garment = edits.at(garment, n, lambda piece, patch=patch: edits.clear(piece, patch))  # type: ignore[misc]
    if not reached:
        raise UsageError("that lies beside the cloth. Draw round a place on a piece.")
    return garment


def outline(garment: Garment, told: Said) -> Garment:
    return edits.draw_outline_among(garment, told.piece(), told.ring())


def one_point(garment: Garment, told: Said) -> Garment:
    """Move, add or delete one point of an outline."""
    number = told.piece()
    outline = garment.pieces[number].outline
    which = told.count("ring") if "ring" in told.action else 0
    rings = [list(outline.exterior.coords)[:-1], *(list(each.coords)[:-1] for each in outline.interiors)]
    if not 0 <= which < len(rings):
        raise UsageError(f"there is no ring {which}: the outline has {len(rings)}, from 0.")
    ring = [(x, y) for x, y, *_ in rings[which]]
    if told.do == "delete" and len(ring) <= 3:
        raise UsageError("an outline needs three points. Move one instead.")
    place = told.count("point")
    most = len(ring) + (told.do == "add")
    if not 0 <= place < most:
        raise UsageError(f"there is no point {place}: that ring has {len(ring)}, from 0.")
    if told.do == "delete":
        del ring[place]
    else:
        to = shapely.get_coordinates(told.on_plane(Point(told.points(1, "a point")[0])))[0]
        if told.do == "add":
            ring.insert(place, (float(to[0]), float(to[1])))
        else:
            reach = told.number("reach") if "reach" in told.action else 0.0
            ring = _pulled(ring, place, (float(to[0]), float(to[1])), reach)
    rings[which] = ring
    changed = Polygon(rings[0], rings[1:])
    if not changed.is_valid:
        raise UsageError("the outline would cross itself there. Move the point less far.")
    return edits.draw_outline_among(garment, number, changed)


def _pulled(
    ring: list[tuple[float, float]], place: int, to: tuple[float, float], reach: float
) -> list[tuple[float, float]]:
    """The ring with one point moved and those within reach, mm along it, drawn after it the less the further off."""
    points = np.asarray(ring)
    step = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    whole = along[-1]
    far = np.abs(along[:-1] - along[place])
    far = np.minimum(far, whole - far)
    share = np.clip(1.0 - far / reach, 0.0, 1.0) if reach > 0 else (far == 0.0).astype(float)
    share[place] = 1.0
    moved = points + share[:, None] * (np.asarray(to) - points[place])
    return [(float(x), float(y)) for x, y in moved]


def usable(garment: Garment, told: Said) -> Garment:
    number = told.piece()
    shape = None if told.action.get("px", told.action.get("mm")) is None else told.area()
    return edits.at(garment, number, lambda piece: edits.draw_usable(piece, shape))


def hint(garment: Garment, told: Said) -> Garment:
    frame = told.frame()
    if frame is None:
        raise UsageError(f"{told.do} is drawn on a photograph, in 'px'.")
    width, height = frame.size_px
    stroke = tuple((round(x, 1), round(y, 1)) for x, y in told.points(1, "a stroke"))
    for x, y in stroke:
        if not (0 <= x <= width - 1 and 0 <= y <= height - 1):
            raise UsageError(f"{x:g},{y:g} lies outside the picture, which is {width} x {height} pixels.")
    before = next((each for each in garment.hints if each.photo == frame.file), Hints(frame.file))
    if told.do == "cloth":
        after = replace(before, cloth=(*before.cloth, stroke))
    else:
        after = replace(before, floor=(*before.floor, stroke))
    others = tuple(each for each in garment.hints if each.photo != frame.file)
    return replace(garment, hints=(*others, after))


def forget(garment: Garment, told: Said) -> Garment:
    file = told.action.get("photo")
    left = tuple(each for each in garment.hints if file is not None and each.photo != file)
    pieces = tuple(
        replace(each, photo=_without_hints(each.photo))
        if each.photo is not None and file in (None, each.photo.file)
        else each
        for each in garment.pieces
    )
    return replace(garment, pieces=pieces, hints=left)


def _without_hints(photo: PiecePhoto) -> PiecePhoto:
    """Without what was told with a measurement."""
    told = photo.camera.get("told")
    if not isinstance(told, Mapping):
        return photo
    kept = {key: value for key, value in told.items() if key not in ("cloth", "floor")}
    return replace(photo, camera={**photo.camera, "told": kept})

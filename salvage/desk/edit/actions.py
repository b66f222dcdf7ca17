"""What a person can do to a garment, each as one JSON object: the page and the plain commands both end here.

An action is a mapping with "do" and what it needs: see `ACTIONS`, which says for each what must and what may stand
in it. Points are pixels (column, row) of the upright photograph, "px", of the photograph named in "photo" (left out
where there is only one); or mm of the plane, "mm", on the plane of the piece in "piece". A piece is told by its
index in the record, or by its name; a mark by its number. The work is done by salvage.cloth.record.edits.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.doubts import answered, asked
from salvage.cloth.garment import BlockedKind, Garment, Hints, PiecePhoto, Reply
from salvage.cloth.record import edits
from salvage.cloth.record.numbers import numbered
from salvage.desk.edit.frames import Frame, frame_named, frames
from salvage.desk.edit.marks import Mark, mark_numbered
from salvage.errors import UsageError, shown
from salvage.shapes import polygons_of

Action = Mapping[str, Any]

MOST_POINTS = 20_000
_LEAST_AREA, _LEAST_LENGTH = 1.0, 1.0  # mm^2 and mm; less is a slip of the hand
_FARTHEST = 3.0  # times the picture's size that a point may lie from its corner
_LINES = {"seam": BlockedKind.SEAM, "hem": BlockedKind.HEM, "closure": BlockedKind.CLOSURE}
_PATCHES = {
    "pocket": (BlockedKind.POCKET, "pocket"), "stain": (BlockedKind.WORN, "stain"), "worn": (BlockedKind.WORN, "worn"),
    "other": (BlockedKind.OTHER, ""),
}  # fmt: skip
_REPLIES = {"yes": Reply.YES, "no": Reply.NO, "unsure": Reply.OPEN}


def apply(garment: Garment, action: Action) -> Garment:
    """The garment with one action done. Raises UsageError, in words for a person, where it can't be."""
    garment = numbered(garment)
    if not isinstance(action, Mapping):
        raise UsageError("an action is an object with a 'do'.")
    name = action.get("do")
    if not isinstance(name, str) or name not in ACTIONS:
        raise UsageError(f"{shown(name)!r} is nothing that can be done. Do one of {', '.join(ACTIONS)}.")
    kind = ACTIONS[name]
    for key in kind.needs:
        if key not in action and not (key == "px" and "mm" in action):
            raise UsageError(f"{name} needs {key!r}.")
    unknown = set(action) - {"do", *kind.needs, *kind.may, *_ALWAYS}
    if unknown:
        raise UsageError(f"{name} takes no {shown(min(map(str, unknown)))!r}.")
    try:
        return numbered(_questions_left(kind.work(garment, _Told(garment, action))))
    except shapely.errors.ShapelyError as error:
        raise UsageError("that shape can't be worked with. Draw it again, with its points apart.") from error


def needs_finding(action: Action) -> bool:
    """Whether the outline must be found again once an action is done (refind does it)."""
    return action.get("do") in ("cloth", "floor")


# --- what an action says ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Told:
    """An action's fields, read and checked."""

    garment: Garment
    action: Action

    @property
    def do(self) -> str:
        return str(self.action["do"])

    def text(self, key: str) -> str:
        value = self.action.get(key, "")
        if not isinstance(value, str) or len(value) > 200:
            raise UsageError(f"{key} is a text of 200 letters at most.")
        return value.strip()

    def number(self, key: str) -> float:
        value = self.action.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise UsageError(f"{key} is a number; {shown(value)!r} is none.")
        return float(value)

    def count(self, key: str) -> int:
        value = self.action.get(key)
        if isinstance(value, bool) or not isinstance(value, int):
            raise UsageError(f"{key} is a whole number; {shown(value)!r} is none.")
        return value

    def mark(self) -> Mark:
        return mark_numbered(self.garment, self.count("mark"))

    def piece(self) -> int:
        return piece_told(self.garment, self.action.get("piece"))

    def frame(self) -> Frame | None:
        """The photograph that is drawn on; None where mm of a plane are told."""
        if "mm" in self.action:
            return None
        file = self.action.get("photo")
        if file is None and "piece" in self.action:
            photo = self.garment.pieces[self.piece()].photo
            file = None if photo is None else photo.file
        if file is None and "mark" in self.action:
            file = self.mark().photo or None
        return frame_named(self.garment, file)

    def beside(self) -> list[int]:
        """The pieces that lie on the plane that is drawn on."""
        frame = self.frame()
        if frame is not None:
            return list(frame.pieces)
        if "piece" not in self.action:
            raise UsageError("mm are of the plane of a piece: say which in 'piece'.")
        shot = self.garment.pieces[self.piece()].photo
        if shot is None:
            return [self.piece()]
        return [
            n for n, each in enumerate(self.garment.pieces) if each.photo and each.photo.file == shot.file
        ]

    def points(self, least: int, what: str) -> list[tuple[float, float]]:
        """Of "px" or "mm", as they were told."""
        value = self.action.get("px", self.action.get("mm"))
        if isinstance(value, Sequence) and len(value) == 2 and all(isinstance(v, int | float) for v in value):
            value = [value]
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise UsageError(f"{what} is a list of points [[x, y], ...].")
        if not least <= len(value) <= MOST_POINTS:
            raise UsageError(f"{what} needs {least} points or more; {len(value)} are told.")
        found = [_point(each) for each in value]
        frame = self.frame()
        if frame is not None:
            width, height = frame.size_px
            for x, y in found:
                if not (abs(x) <= _FARTHEST * width and abs(y) <= _FARTHEST * height):
                    raise UsageError(
                        f"{x:g},{y:g} lies far outside {frame.file}, which is {width} x {height} pixels. Pixels count "
                        "from the top left of the upright picture."
                    )
        return found

    def on_plane(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape as it was told, in mm of the plane."""
        frame = self.frame()
        return shape if frame is None else frame.shape_mm(shape)

    def line(self) -> LineString:
        shape = self.on_plane(_stroke(self.points(2, "a line")))
        if shape.length < _LEAST_LENGTH:
            raise UsageError("that line has no length. Draw it from one place to another.")
        assert isinstance(shape, LineString)
        return shape

    def area(self) -> Polygon | MultiPolygon:
        """A ring, or a stroke of a brush of so many pixels (mm, where the points are), as an area of the plane."""
        if "brush" in self.action:
            radius = self.number("brush")
            if radius <= 0:
                raise UsageError("the brush's radius is more than 0.")
            drawn = _stroke(self.points(1, "a stroke")).buffer(radius, quad_segs=6)
        else:
            drawn = filled(self.points(3, "a ring"))
        found = polygons_of(shapely.make_valid(self.on_plane(drawn)))
        parts = [each for each in found if each.area >= _LEAST_AREA]
        if not parts:
            raise UsageError("that ring encloses nothing. Draw round the place.")
        return parts[0] if len(parts) == 1 else MultiPolygon(parts)

    def ring(self) -> Polygon:
        """A ring that may not cross itself."""
        points = self.points(3, "an outline")
        if len(set(points)) < 3:
            raise UsageError("that outline encloses nothing. Draw it round the piece.")
        drawn = self.on_plane(Polygon(points))
        if not isinstance(drawn, Polygon) or not drawn.is_valid:
            raise UsageError("that outline crosses itself. Draw it without crossing.")
        return drawn


def piece_told(garment: Garment, value: Any) -> int:
    """The index of a piece told by its index, or by its name (capitals don't matter) or its mark's number as a text.
    Raises UsageError."""
    if isinstance(value, str):
        wanted = value.strip().casefold()
        found = [n for n, each in enumerate(garment.pieces) if each.name.strip().casefold() == wanted]
        found = found or [n for n, each in enumerate(garment.pieces) if str(each.number) == wanted]
        if len(found) == 1:
            return found[0]
        names = ", ".join(each.name for each in garment.pieces)
        raise UsageError(f"there is no piece called {shown(value)!r}; {garment.name} has {names}.")
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < len(garment.pieces):
        raise UsageError(
            f"there is no piece {shown(value)}; {garment.name} has {len(garment.pieces)}, from 0."
        )
    return value


def _point(value: Any) -> tuple[float, float]:
    numbers = value if isinstance(value, Sequence) and not isinstance(value, str) else ()
    if len(numbers) != 2 or any(
        isinstance(v, bool) or not isinstance(v, int | float) or not math.isfinite(v) for v in numbers
    ):
        raise UsageError(f"{shown(value)} is no point. Write [x, y].")
    return float(numbers[0]), float(numbers[1])


def _stroke(points: Sequence[tuple[float, float]]) -> LineString | Point:
    once = [p for n, p in enumerate(points) if n == 0 or p != points[n - 1]]
    return LineString(once) if len(once) > 1 else Point(once[0])


def filled(points: Sequence[tuple[float, float]]) -> BaseGeometry:
    """All that a hand-drawn ring goes round, where it crosses itself too: what is in the way may only be more."""
    if len(set(points)) < 3:
        raise UsageError("that ring encloses nothing. Draw round the place.")
    ring = shapely.union_all(LineString([*points, points[0]]))
    faces = list(shapely.polygonize([ring]).geoms)
    if not faces:
        raise UsageError("that ring encloses nothing. Draw round the place.")
    return shapely.union_all([Polygon(each.exterior) for each in faces])


# --- marks -----------------------------------------------------------------------------------------


def _not(garment: Garment, told: _Told) -> Garment:
    mark = told.mark()
    places = [(piece, number) for piece, number in mark.places if number is not None]
    if not places:
        return edits.remove_piece(garment, mark.piece)
    ids = {garment.pieces[p].blocked[b].id for p, b in places} - {""}
    asks = next((q for q in garment.questions if q.about in ids and q.answer is Reply.OPEN), None)
    if asks is not None:
        garment = replace(
            garment,
            questions=tuple(replace(q, answer=Reply.NO) if q is asks else q for q in garment.questions),
        )
    return edits.take_off(garment, places)


def _shape(garment: Garment, told: _Told) -> Garment:
    mark = told.mark()
    places = [(piece, number) for piece, number in mark.places if number is not None]
    if not places:
        return edits.draw_outline_among(garment, mark.piece, told.ring())
    is_line = not mark.shape.area and "brush" not in told.action
    return edits.redraw(garment, places, told.line() if is_line else told.area())


def _kind(garment: Garment, told: _Told) -> Garment:
    mark = told.mark()
    kind = told.text("kind") or mark.kind
    if kind not in list(BlockedKind):
        raise UsageError(f"{kind!r} is no kind. Write one of {', '.join(BlockedKind)}.")
    fields: dict[str, Any] = {"kind": BlockedKind(kind), "confidence": 1.0}
    if "what" in told.action or kind != mark.kind:
        fields["what"] = told.text("what")
    if "margin" in told.action:
        fields["margin"] = told.number("margin")
        if not 0 <= fields["margin"] <= 500:
            raise UsageError("a margin is 0 to 500 mm.")
    for piece, number in mark.places:
        if number is None:
            raise UsageError(f"mark {mark.number} is a piece. Give the number of a seam or of another find.")
        garment = edits.at(garment, piece, lambda p, n=number: edits.change_blocked(p, n, **fields))  # type: ignore[misc]
    return garment


def _answer(garment: Garment, told: _Told) -> Garment:
    reply = told.text("reply").lower()
    if reply not in _REPLIES:
        raise UsageError(f"{reply!r} is no answer. Say yes, no or unsure.")
    garment = answered(garment, told.count("question"), _REPLIES[reply])
    return asked(garment, garment.questions)


# --- drawing ---------------------------------------------------------------------------------------


def _line(garment: Garment, told: _Told) -> Garment:
    kind = _LINES[told.do]
    shape = told.area() if "brush" in told.action else told.line()
    return edits.draw(garment, told.beside(), kind, shape, what=told.text("what"))


def _patch(garment: Garment, told: _Told) -> Garment:
    kind, what = _PATCHES[told.do]
    return edits.draw(garment, told.beside(), kind, told.area(), what=told.text("what") or what)


def _clear(garment: Garment, told: _Told) -> Garment:
    reached = False
    for patch in polygons_of(told.area()):
        for n in told.beside():
            if garment.pieces[n].outline.intersects(patch):
                reached = True
                garment = edits.at(garment, n, lambda piece, patch=patch: edits.clear(piece, patch))  # type: ignore[misc]
    if not reached:
        raise UsageError("that lies beside the cloth. Draw round a place on a piece.")
    return garment


def _outline(garment: Garment, told: _Told) -> Garment:
    return edits.draw_outline_among(garment, told.piece(), told.ring())


def _one_point(garment: Garment, told: _Told) -> Garment:
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


def _usable(garment: Garment, told: _Told) -> Garment:
    number = told.piece()
    shape = None if told.action.get("px", told.action.get("mm")) is None else told.area()
    return edits.at(garment, number, lambda piece: edits.draw_usable(piece, shape))


# --- pieces ----------------------------------------------------------------------------------------


def _split(garment: Garment, told: _Told) -> Garment:
    seam = told.action.get("seam", True)
    if not isinstance(seam, bool):
        raise UsageError("seam is true or false.")
    return edits.split_piece(garment, told.piece(), told.line(), seam=seam)


def _join(garment: Garment, told: _Told) -> Garment:
    pieces = told.action["pieces"]
    if not isinstance(pieces, Sequence) or isinstance(pieces, str) or len(pieces) != 2:
        raise UsageError("join takes two pieces.")
    first, second = (piece_told(garment, each) for each in pieces)
    return edits.join_pieces(garment, first, second)


def _remove(garment: Garment, told: _Told) -> Garment:
    return edits.remove_piece(garment, told.piece())


def _put_back(garment: Garment, told: _Told) -> Garment:
    value = told.action["removed"]
    if isinstance(value, str):
        names = [each.name.casefold() for each in garment.removed]
        if value.strip().casefold() not in names:
            there = ", ".join(each.name for each in garment.removed) or "none"
            raise UsageError(f"no piece called {shown(value)!r} was taken out; taken out were: {there}.")
        return edits.put_back(garment, names.index(value.strip().casefold()))
    return edits.put_back(garment, told.count("removed"))


def _set(garment: Garment, told: _Told) -> Garment:
    number = told.piece()
    fields = {key: told.action[key] for key in ACTIONS["set"].may if key in told.action}
    if not fields:
        raise UsageError("set needs one of name, fabric, layers, one_way, grain.")
    if "name" in fields:
        garment = edits.rename(garment, number, told.text("name"))
        del fields["name"]
    if "fabric" in fields:
        fields["fabric"] = told.text("fabric")
        if not fields["fabric"]:
            raise UsageError("a fabric needs a name, such as shell or lining.")
    if "layers" in fields:
        fields["layers"] = told.count("layers")
    if "one_way" in fields and not isinstance(fields["one_way"], bool):
        raise UsageError("one_way is true or false.")
    if "grain" in fields:
        fields["grain"] = told.number("grain")
    return edits.at(garment, number, lambda piece: edits.set_fields(piece, **fields)) if fields else garment


def _grain(garment: Garment, told: _Told) -> Garment:
    number = told.piece()
    points = told.points(2, "the grain")
    if len(points) != 2:
        raise UsageError("the grain is an arrow: two points, the second where it points.")
    (x0, y0), (x1, y1) = shapely.get_coordinates(
        shapely.MultiPoint([Point(shapely.get_coordinates(told.on_plane(Point(p)))[0]) for p in points])
    )
    if math.hypot(x1 - x0, y1 - y0) < 1.0:
        raise UsageError("the two ends of the grain lie on one place. Draw it along the thread, some way.")
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
    return edits.at(garment, number, lambda piece: edits.set_fields(piece, grain=round(angle % 360.0, 2)))


def _garment(garment: Garment, told: _Told) -> Garment:
    if "kind" in told.action:
        from salvage.trade.kinds import kind_named

        garment = edits.set_kind(garment, kind_named(told.text("kind")).name if told.text("kind") else "")
    if "name" in told.action:
        if not told.text("name"):
            raise UsageError("a garment needs a name.")
        garment = replace(garment, name=told.text("name"))
    return garment


# --- the photograph --------------------------------------------------------------------------------


def _hint(garment: Garment, told: _Told) -> Garment:
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


def _forget(garment: Garment, told: _Told) -> Garment:
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


# --- all of them -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Kind:
    """What an action does. needs, may: fields that must and that may stand in it, beside photo and mm."""

    work: Callable[[Garment, _Told], Garment]
    needs: tuple[str, ...] = ()
    may: tuple[str, ...] = ()


_ALWAYS = ("photo", "mm", "px", "piece")
_POINT = Kind(_one_point, ("piece", "point"), ("px", "ring", "reach"))
ACTIONS: dict[str, Kind] = {
    "not": Kind(_not, ("mark",)),
    "shape": Kind(_shape, ("mark", "px"), ("brush",)),
    "kind": Kind(_kind, ("mark",), ("kind", "what", "margin")),
    "answer": Kind(_answer, ("question", "reply")),
    **{name: Kind(_line, ("px",), ("what", "brush")) for name in _LINES},
    **{name: Kind(_patch, ("px",), ("what", "brush")) for name in _PATCHES},
    "clear": Kind(_clear, ("px",), ("brush",)),
    "outline": Kind(_outline, ("piece", "px")),
    "move": _POINT,
    "add": _POINT,
    "delete": _POINT,
    "usable": Kind(_usable, ("piece", "px"), ("brush",)),
    "split": Kind(_split, ("piece", "px"), ("seam",)),
    "join": Kind(_join, ("pieces",)),
    "remove": Kind(_remove, ("piece",)),
    "put_back": Kind(_put_back, ("removed",)),
    "set": Kind(_set, ("piece",), ("name", "fabric", "layers", "one_way", "grain")),
    "grain": Kind(_grain, ("piece", "px")),
    "garment": Kind(_garment, (), ("name", "kind")),
    "cloth": Kind(_hint, ("px",)),
    "floor": Kind(_hint, ("px",)),
    "forget_hints": Kind(_forget),
}


def _questions_left(garment: Garment) -> Garment:
    """Without the open questions about things that are no longer there."""
    there = {each.id for piece in garment.pieces for each in piece.blocked if each.id}
    left = tuple(q for q in garment.questions if q.answer is not Reply.OPEN or q.about in there)
    return garment if left == garment.questions else replace(garment, questions=left)


def photographs(garment: Garment) -> tuple[str, ...]:
    """The files of the photographs that can be drawn on."""
    return tuple(frames(garment))

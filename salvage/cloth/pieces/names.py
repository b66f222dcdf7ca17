"""What pieces are called: by where they lie, seen from above with collar or waist up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from salvage.cloth.flat.areas import sides
from salvage.cloth.flat.axis import Axis
from salvage.cloth.pieces.grain import is_sleeve
from salvage.trade.cuts import LONGEST_CUFF, WIDEST_FACING

_ONE = {
    "sleeve": "sleeve",
    "leg": "leg",
    "hood": "hood",
    "collar": "collar",
    "strap": "strap",
}  # where it is all there is
_WORDS = {"inside": "lining"}  # a part that a sewer calls otherwise
# An outline less symmetric than this has no left and right that mean anything. Looked at with fit_figures.py
# (fixtures/train/figures.md): 0.5 to 0.84 name the demo's pieces alike.
_SYMMETRIC = 0.84


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a piece lies: x from -1 (left edge) to 1, y from 0 (bottom) to 1 (top), and its sides in mm."""

    x: float
    y: float
    long: float
    short: float
    area: float
    across: bool = True  # wider than high


def names_of(
    pieces: list[Polygon],
    cloth: Polygon,
    axis: Axis,
    opens_in_front: bool,
    roles: Sequence[str] = (),
    face: str = "",
) -> list[str]:
    """A name for each piece, each only once.

    opens_in_front: a zip or buttons run down the middle. roles: of each piece, see roles_of. face: "front", "back"
    or "" if that isn't known.
    """
    roles = roles or [""] * len(pieces)
    if len(pieces) == 1:
        return [_ONE.get(roles[0], "whole piece")]
    if (axis.symmetric < _SYMMETRIC or not axis.sure) and not any(roles):
        return [f"piece {number}" for number in range(1, len(pieces) + 1)]
    largest = max(each.area for each in pieces)
    frame = axis.own(np.asarray(cloth.exterior.coords)[:, :2])
    half, low, high = float(np.abs(frame[:, 0]).max()), float(frame[:, 1].min()), float(frame[:, 1].max())
    sleeves = [each for each in pieces if is_sleeve(each, axis, largest)]
    names = []
    for piece, role in zip(pieces, roles, strict=True):
        middle = axis.own(np.array([piece.centroid.coords[0]]))[0]
        wide, tall = np.ptp(axis.own(np.asarray(piece.exterior.coords)[:, :2]), axis=0)
        place = _Place(
            middle[0] / half, (middle[1] - low) / (high - low), *sides(piece), piece.area, bool(wide > tall)
        )
        if role:
            name = _of_role(role, place, "front" if opens_in_front and not face else face, largest)
        elif axis.legs:
            name = _of_trousers(place, largest)
        elif piece in sleeves:
            name = f"{_side(place.x)}sleeve"
        elif sleeves:
            name = _of_top(place, largest, opens_in_front)
        else:
            name = _of_anything(place, largest)
        names.append(name)
    return _only_once(names)


def _of_role(role: str, place: _Place, face: str, largest: float) -> str:
    """Named after what it is on the garment. largest: mm^2, of the garment's largest piece."""
    if role == "leg" and place.area < 0.45 * largest:
        return _of_trousers(place, largest)
    if role == "body":
        return f"{_side(place.x)}{face or 'body'}"
    if role == "inside" and _is_band(place):
        return f"{_side(place.x)}{'hem ' if place.y < 0.2 and place.across else ''}facing"
    if role == "band":
        return "waistband" if place.y > 0.6 else f"{_side(place.x)}hem band"
    if role == "skirt":
        return f"{_side(place.x)}{face + ' ' if face else ''}skirt"
    return f"{_side(place.x)}{_WORDS.get(role, role)}"


def _is_band(place: _Place) -> bool:
    return place.short < WIDEST_FACING and place.long > 2.5 * place.short


def role_in(name: str) -> str:
    """What a name says a piece is, as roles_of would; "" where it says nothing of its grain."""
    return next((role for role in ("collar", "cuff", "yoke", "sleeve", "facing") if role in name.split()), "")


def _side(x: float) -> str:
    return "left " if x < -0.08 else "right " if x > 0.08 else ""


def _of_trousers(place: _Place, largest: float) -> str:
    if place.area > 0.45 * largest:
        return f"{_side(place.x)}leg" if _side(place.x) else "both legs"
    if place.short < 65 and place.long > 2.5 * place.short:
        if not place.across and place.y > 0.6:
            return f"{_side(place.x)}strip" if _side(place.x) else "fly"
        return "waistband" if place.y > 0.85 else f"{_side(place.x)}hem band"
    return f"{_side(place.x)}yoke" if place.y > 0.75 else f"{_side(place.x)}lower part"


def _of_top(place: _Place, largest: float, opens_in_front: bool) -> str:
    if place.area > 0.45 * largest:
        side = _side(place.x)
        return f"{side}front" if opens_in_front else f"{side}body"
    if abs(place.x) > 0.6:
        return f"{_side(place.x)}{'cuff' if place.long < LONGEST_CUFF else 'sleeve'}"
    if place.y > 0.82:
        return f"{_side(place.x)}hood" if place.area > 20_000 else f"{_side(place.x)}collar"
    if place.y > 0.55:
        return f"{_side(place.x)}yoke"
    return "hem band" if place.y < 0.15 and place.long > 3 * place.short else f"{_side(place.x)}panel"


def _of_anything(place: _Place, largest: float) -> str:
    if place.short < 75 and place.long > 3 * place.short:
        height = "upper " if place.y > 0.7 else "lower " if place.y < 0.3 else ""
        return f"{height}{_side(place.x)}band"
    height = "upper " if place.y > 0.7 and place.area < 0.5 * largest else ""
    return f"{height}{_side(place.x) or 'centre '}panel"


def _only_once(names: list[str]) -> list[str]:
    """Equal names numbered, the largest piece first."""
    often, seen = Counter(names), Counter[str]()
    result = []
    for name in names:
        seen[name] += 1
        result.append(f"{name} {seen[name]}" if often[name] > 1 else name)
    return result

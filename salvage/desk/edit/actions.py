"""What a person can do to a garment, each as one JSON object: the page and the plain commands both end here.

An action is a mapping with "do" and what it needs: see `ACTIONS`, which says for each what must and what may stand
in it. Points are pixels (column, row) of the upright photograph, "px", of the photograph named in "photo" (left out
where there is only one); or mm of the plane, "mm", on the plane of the piece in "piece". A piece is told by its
index in the record, or by its name; a mark by its number. The work is done by salvage.cloth.record.edits.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import shapely

from salvage.cloth.garment import Garment, Reply
from salvage.cloth.record.numbers import numbered
from salvage.desk.edit import chosen, drawn
from salvage.desk.edit.told import Action, Said
from salvage.errors import UsageError, shown


@dataclass(frozen=True, slots=True)
class ActionKind:
    """What an action does. needs, may: fields that must and that may stand in it, beside photo and mm."""

    work: Callable[[Garment, Said], Garment]
    needs: tuple[str, ...] = ()
    may: tuple[str, ...] = ()


_ALWAYS = ("photo", "mm", "px", "piece")
_POINT = ActionKind(drawn.one_point, ("piece", "point"), ("px", "ring", "reach"))
ACTIONS: dict[str, ActionKind] = {
    "not": ActionKind(chosen.take_off, ("mark",)),
    "shape": ActionKind(chosen.shape, ("mark", "px"), ("brush",)),
    "kind": ActionKind(chosen.kind, ("mark",), ("kind", "what", "margin")),
    "answer": ActionKind(chosen.answer, ("question", "reply")),
    **{name: ActionKind(drawn.line, ("px",), ("what", "brush")) for name in drawn.LINES},
    **{name: ActionKind(drawn.patch, ("px",), ("what", "brush")) for name in drawn.PATCHES},
    "clear": ActionKind(drawn.clear, ("px",), ("brush",)),
    "outline": ActionKind(drawn.outline, ("piece", "px")),
    "move": _POINT,
    "add": _POINT,
    "delete": _POINT,
    "usable": ActionKind(drawn.usable, ("piece", "px"), ("brush",)),
    "split": ActionKind(chosen.split, ("piece", "px"), ("seam",)),
    "join": ActionKind(chosen.join, ("pieces",)),
    "remove": ActionKind(chosen.remove, ("piece",)),
    "put_back": ActionKind(chosen.put_back, ("removed",)),
    "set": ActionKind(chosen.set_fields, ("piece",), chosen.SETTABLE),
    "grain": ActionKind(chosen.grain, ("piece", "px")),
    "garment": ActionKind(chosen.set_garment, (), ("name", "kind")),
    "cloth": ActionKind(drawn.hint, ("px",)),
    "floor": ActionKind(drawn.hint, ("px",)),
    "forget_hints": ActionKind(drawn.forget),
}


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
        return numbered(_questions_left(kind.work(garment, Said(garment, action))))
    except shapely.errors.ShapelyError as error:
        raise UsageError("that shape can't be worked with. Draw it again, with its points apart.") from error


def needs_finding(action: Action) -> bool:
    """Whether the outline must be found again once an action is done (refind does it)."""
    return action.get("do") in ("cloth", "floor")


def _questions_left(garment: Garment) -> Garment:
    """Without the open questions about things that are no longer there."""
    there = {each.id for piece in garment.pieces for each in piece.blocked if each.id}
    left = tuple(q for q in garment.questions if q.answer is not Reply.OPEN or q.about in there)
    return garment if left == garment.questions else replace(garment, questions=left)

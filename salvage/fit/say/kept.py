"""What is said of panels that keep something of the garment."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.fit.keep.things import Thing
from salvage.fit.keep.ways import Laid
from salvage.fit.say.layouts import of_choice, of_spare
from salvage.fit.say.phrases import listed, small_length
from salvage.project.project import Panel
from salvage.units import Unit, format_size


def of_kept(laid: Sequence[Laid], garments: Sequence[Garment], unit: Unit, *, close: bool) -> tuple[str, ...]:
    """What each of them keeps, and whether it is near to what can't be used."""
    told = []
    for each in laid:
        name = each.panel.name if each.panel.cut == 1 else f"{each.panel.name} {each.copy}"
        thing, piece = each.place.thing, _piece(each.place.thing, garments)
        if each.panel.edge is not None:
            told.append(f"{name} lies with its {each.panel.edge.side} on the {thing.name} of {piece}.")
        else:
            told.append(f"{name} is cut round the {thing.name} ({_size(thing, unit)}) of {piece}.")
        if close and each.place.room == min(other.place.room for other in laid):
            room = small_length(each.place.room, unit, up=False)
            told.append(f"There are only {room} to spare beside it: measure by hand before cutting.")
    return tuple(told)


def of_the_rest(
    rest: Answer, tight: tuple[float, float], garments: Sequence[Garment], unit: Unit
) -> tuple[str, ...]:
    """What the answer to all else said, with the spare of the whole, and nothing of garments that it leaves whole.

    tight: spare and plus-minus of what is tightest.
    """
    spare, plus_minus = tight
    of_all = of_spare(spare, plus_minus, unit)
    if not rest.reasons:
        return (of_all,)
    own = of_spare(rest.spare or 0.0, rest.plus_minus, unit)
    used = {each.garment for each in rest.placements}
    choice = of_choice(rest.suffices, next(iter(used)) if len(used) == 1 else None, garments)
    first, *more = (each for each in rest.reasons if each != choice)
    return (f"All else: {first[:1].lower()}{first[1:]}", *(of_all if each == own else each for each in more))


def of_open_rest(laid: Sequence[Laid]) -> str:
    """Nothing is settled with these copies laid where they are."""
    names = listed(list(dict.fromkeys(each.panel.name for each in laid)))
    return f"With {names} laid where what it keeps lies, no layout of all the rest was found; other places may do."


def of_refused(fault: str) -> str:
    """What was put together is no layout. fault: the checker's first word on it."""
    return f"No layout was found that the checker accepts: {fault}."


def of_no_thing(panel: Panel, garments: Sequence[Garment]) -> str:
    """Nothing of that name is known."""
    what = panel.keeps
    where = listed([garment.name for garment in garments], "or")
    there = sorted(
        {
            each.what or str(each.kind)
            for garment in garments
            for piece in garment.pieces
            for each in piece.blocked
            if str(each.kind) in ("pocket", "closure", "hem", "other")
        }
    )
    known = f" What is known there: {', '.join(there)}." if there else ""
    return (
        f"{panel.name} is to keep a {what}, and no {what} is known that lies whole on one piece of {panel.fabric} of {where}.{known} "
        "If it is there, mark it on the photograph (`salvage chalk`), or correct the project."
    )


def of_no_room(panel: Panel, things: Sequence[Thing], garments: Sequence[Garment], unit: Unit) -> str:
    """The thing is there, and the panel was not found to lie round it."""
    where = listed([f"the {each.name} of {_piece(each, garments)}" for each in things[:4]], "or")
    if panel.edge is not None:
        return f"{panel.name} was not found to lie with its {panel.edge.side} on {where}: the sound cloth along it is smaller."
    room = max(things, key=lambda each: each.ground.area).ground
    left, bottom, right, top = room.bounds
    size = format_size((right - left, top - bottom), unit)
    joins = "" if panel.joins else " Allow a join in it (`joins = 1`), make it smaller, or"
    return (
        f"{panel.name} was not found to lie round {where}; the sound cloth round that reaches over {size} at most.{joins} "
        f"{'Let' if panel.joins else 'let'} it lie elsewhere (`at`, `tolerance`)."
    )


def _piece(thing: Thing, garments: Sequence[Garment]) -> str:
    name = thing.piece.name
    return name if len(garments) == 1 else f"{name} of {garments[thing.garment].name}"


def _size(thing: Thing, unit: Unit) -> str:
    left, bottom, right, top = thing.shape.bounds
    return format_size((right - left, top - bottom), unit)

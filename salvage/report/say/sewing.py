"""How the cloth that is cut from behaves, fabric by fabric, and what its care label asks before the first cut."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.project.project import Project
from salvage.report.say.table import Table
from salvage.report.say.words import items_of
from salvage.trade.behaviour import Behaviour, behaviour_of
from salvage.trade.care import SOURCE, SYMBOLS

_BEFORE_CUTTING = ("tub with a number", "iron with one, two or three dots", "crossed-out iron")


def sewing_table(answer: Answer, garments: Sequence[Garment], project: Project) -> Table:
    """A row for each fabric of the project and each kind of cloth that it is taken from."""
    rows: list[tuple[str, ...]] = []
    for fabric in dict.fromkeys(item.fabric for item in items_of(project)):
        for behaviour in _behaviours(fabric, answer, garments):
            iron = f"{behaviour.iron.words}, if its label says no less"
            stretches = behaviour.stretches + (f"; {behaviour.coat}" if behaviour.coat else "")
            row = (
                fabric, behaviour.kind, behaviour.needle_words, behaviour.stitch_words, iron, behaviour.frays,
                stretches,
            )  # fmt: skip
            if row not in rows:
                rows.append(row)
    columns = ("Fabric", "As", "Needle", "Stitch", "Iron", "Cut edges", "Stretches, and else")
    return Table(columns, (0.9, 0.9, 1.3, 0.9, 1.5, 2.2, 2.4), tuple(rows))


def _behaviours(fabric: str, answer: Answer, garments: Sequence[Garment]) -> list[Behaviour]:
    """Of the pieces that this fabric is cut from, else of those that are of it."""
    pieces = [
        (piece, garment.kind, (index, piece.name))
        for index, garment in enumerate(garments)
        for piece in garment.pieces
        if piece.fabric.strip().casefold() == fabric.strip().casefold()
    ]
    used = {(placement.garment, placement.piece) for placement in answer.placements}
    mine = [each for each in pieces if each[2] in used] or pieces
    return list(dict.fromkeys(behaviour_of(piece.fabric, kind) for piece, kind, _ in mine))


def care_caution() -> str:
    """What the garment's own label asks before cutting, in a sentence or three."""
    asked = " ".join(symbol.before for symbol in SYMBOLS if symbol.looks in _BEFORE_CUTTING[:2])
    no_iron = next(symbol for symbol in SYMBOLS if symbol.looks == _BEFORE_CUTTING[2])
    return f"Read the care label ({SOURCE}) before you take it off. {asked} Iron crossed out: {no_iron.before[0].lower()}{no_iron.before[1:]}"

"""What is left of a garment once a layout was cut from it, as a garment of its own.

Where something was cut the cloth is blocked, with the cutting gap round it, as drawn by a person: so whatever is laid
later keeps off it, also when the photograph is measured again into that record. Nothing is cut out of the outlines,
for the pieces of a photograph stay the places that they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from salvage.cloth.garment import BlockedKind, Garment, Piece
from salvage.cloth.record import edits
from salvage.cloth.usable import usable
from salvage.fit.answer import Placement
from salvage.naming import free_name_in
from salvage.rail.note import RAIL, RestOf, mark_free, name_rest

LEAST_AREA = 2_500.0  # mm^2 of cloth on a piece; less (50 x 50 mm) isn't worth keeping
_REST = ", rest"
_HAIR = 0.01  # mm more than the gap, so that rounding in the record never makes it less


def rest_of(
    garment: Garment,
    placements: Sequence[Placement],
    index: int,
    *,
    gap: float,
    purpose: str,
    file: str = "",
) -> Garment | None:
    """The garment less what was cut from it; None where nothing worth keeping is left.

    placements: a layout; index: which of its garments this one is. gap: mm kept round each cut. purpose: what it was
    cut for; file: of the garment's record. Of a piece in several layers, those that were cut alike stay together.
    """
    mine = [each for each in placements if each.garment == index]
    pieces: list[Piece] = []
    gone: list[Piece] = []
    for piece in garment.pieces:
        parts = _layers(piece, [each for each in mine if each.piece == piece.name], gap, purpose)
        kept = [each for each in parts if usable(each).area >= LEAST_AREA]
        gone += [] if kept or piece.photo is None else [piece]
        for number, part in enumerate(kept):
            taken = {each.name for each in (*pieces, *garment.pieces)}
            pieces.append(
                part
                if number == 0
                else replace(edits.set_fields(part, name=free_name_in(piece.name, taken)), number=0)
            )
    if not pieces:
        return None
    extra = dict(garment.extra)
    if isinstance(extra.get(RAIL), dict):  # a person's record from here on: the rail doesn't measure it again
        extra[RAIL] = {key: value for key, value in extra[RAIL].items() if key != "told"}
    rest = replace(
        mark_free(replace(garment, extra=extra)),
        name=garment.name if garment.name.endswith(_REST) else f"{garment.name}{_REST}",
        pieces=tuple(pieces),
        removed=(*garment.removed, *gone),  # so that they don't come back if it is measured again
    )
    return name_rest(rest, RestOf(garment.name, file, purpose))


def _layers(piece: Piece, cuts: Sequence[Placement], gap: float, purpose: str) -> list[Piece]:
    """The piece with what was cut from its layers blocked; one for each way in which layers were cut, the way that
    left most cloth first."""
    by_layer = {layer: [each for each in cuts if each.layer == layer] for layer in range(1, piece.layers + 1)}
    alike: dict[tuple[bytes, ...], list[int]] = {}
    for layer, on_it in by_layer.items():
        alike.setdefault(tuple(sorted(each.shape.wkb for each in on_it)), []).append(layer)
    made = []
    for layers in alike.values():
        part = piece if len(layers) == piece.layers else edits.set_fields(piece, layers=len(layers))
        for each in by_layer[layers[0]]:
            what = f"cut out: {each.panel}, for {purpose}"
            part = edits.block(part, BlockedKind.OTHER, each.shape, margin=gap + _HAIR, what=what)
        made.append(part)
    return sorted(made, key=lambda each: -usable(each).area)

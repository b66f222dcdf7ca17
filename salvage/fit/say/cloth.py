"""What is said of the cloth itself: kinds that this program's answer would mislead about."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.trade.kinds import KINDS


def unsuited(answer: Answer, garments: Sequence[Garment]) -> tuple[str, ...]:
    """A warning for each garment of cloth that doesn't suit; only those cut from, where there is a layout."""
    used = {each.garment for each in answer.placements} or set(range(len(garments)))
    return tuple(
        f"{garment.name}: {KINDS[garment.kind].not_suited}"
        for index, garment in enumerate(garments)
        if index in used and garment.kind in KINDS and not KINDS[garment.kind].suits
    )

"""How much usable cloth there is by fabric: the one figure that measure, holds and fit all tell."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.cloth.usable import usable
from salvage.fit.material.lay import same_fabric


def usable_area(garments: Sequence[Garment], fabric: str | None = None) -> float:
    """mm^2 of a fabric, or of all of them, as the records have it: every layer, every scrap."""
    return sum(
        usable(piece).area * piece.layers
        for garment in garments
        for piece in garment.pieces
        if fabric is None or same_fabric(piece.fabric) == same_fabric(fabric)
    )


def fabrics_of(garments: Sequence[Garment]) -> dict[str, str]:
    """The fabrics there are, by the name they are compared by: as the garments spell them first."""
    spelled: dict[str, str] = {}
    for garment in garments:
        for piece in garment.pieces:
            spelled.setdefault(same_fabric(piece.fabric), piece.fabric)
    return spelled

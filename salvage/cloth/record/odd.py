"""What is odd in a garment record without being wrong: it is taken as written, and the person is told."""

from __future__ import annotations

from salvage.cloth.garment import FoundBy, Garment, Piece
from salvage.errors import shown

_MOSTLY = 0.9  # share of a piece's own area; holes of more than this are most likely a slip


def odd(garment: Garment) -> tuple[str, ...]:
    """A sentence for each thing, naming its piece."""
    return tuple(f"piece {shown(piece.name)}: {text}" for piece in garment.pieces for text in _of(piece))


def _of(piece: Piece) -> list[str]:
    found = []
    for number, each in enumerate(piece.blocked, 1):
        by_hand = each.found_by is FoundBy.PERSON  # what the photo showed just beside the edge is no slip
        if by_hand and not each.shape.is_empty and each.shape.distance(piece.outline) > each.margin:
            what = shown(each.what) if each.what else str(each.kind)
            found.append(
                f"its blocked area {number} ({what}) lies outside the outline and blocks nothing. Correct its shape; "
                "coordinates are mm, as those of the outline."
            )
    filled = type(piece.outline)(piece.outline.exterior)
    if piece.outline.area < (1 - _MOSTLY) * filled.area:
        found.append(
            "its holes take nearly all of it. Correct the outline: its first ring is the edge, the others are holes."
        )
    return found

"""How far to keep from what can't be used, mm, by kind. One table; everything else asks here."""

from __future__ import annotations

from enum import StrEnum


class BlockedKind(StrEnum):
    """What can keep a place on a garment from being cut."""

    SEAM = "seam"
    HEM = "hem"
    CLOSURE = "closure"
    POCKET = "pocket"
    WORN = "worn"
    OTHER = "other"


# Common practice, no standard found: a quarter inch (6 mm) is what an unpicked or cut-off seam or hem
# takes with it (turned cloth and needle holes beside the stitching); 3 mm is the width of a cutter's
# hand beside something it must not touch.
MARGIN: dict[BlockedKind, float] = {
    BlockedKind.SEAM: 6.0,
    BlockedKind.HEM: 6.0,
    BlockedKind.CLOSURE: 3.0,
    BlockedKind.POCKET: 3.0,
    BlockedKind.WORN: 3.0,
    BlockedKind.OTHER: 3.0,
}

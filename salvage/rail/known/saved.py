"""What of a garment can be saved beside its cloth, as the rail's index keeps it: closures and pockets by name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.cloth.savings import SavingKind, savings
from salvage.units import Unit, format_length

Saved = tuple[str, float | None]  # what it is, and how long it is where that matters
_NOT_TOLD = (SavingKind.CUFF, SavingKind.HEM)  # every coat has them; a rail is asked for what is rare


def saved(garment: Garment) -> tuple[Saved, ...]:
    """Each thing that can be unpicked and kept, long ones first."""
    found = [(each.name, each.length) for each in savings(garment) if each.kind not in _NOT_TOLD]
    return tuple(sorted(found, key=lambda each: (each[1] is None, -(each[1] or 0.0), each[0])))


def saved_words(found: Sequence[Saved], unit: Unit) -> tuple[str, ...]:
    """`zip 410 mm`, `3 × button or snap`."""
    long = [f"{name} {format_length(length, unit)}" for name, length in found if length is not None]
    counts = Counter(name for name, length in found if length is None)
    return (*long, *(name if count == 1 else f"{count} × {name}" for name, count in counts.items()))

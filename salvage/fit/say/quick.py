"""What a quick answer says, while a longer search goes on behind it."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.units import Unit, format_length


def of_left_out(names: Sequence[str], fault: str, *, pinned: bool) -> str:
    """What found no place yet. fault: what the checker has against something pinned, "" if nothing."""
    if fault:
        return f"What is pinned may not lie there: {fault}."
    told = f"No place was found yet for: {', '.join(dict.fromkeys(names))}."
    return f"{told} What is pinned stays." if pinned else told


def of_clearance(clearance: float, plus_minus: float, unit: Unit, *, enough: bool) -> str:
    """How far all that is laid keeps off the edges, mm, and whether that is enough."""
    if enough:
        return f"All of it lies on sound cloth, {format_length(clearance, unit)} or more from every edge."
    return (
        f"All of it lies on sound cloth, but only {format_length(clearance, unit)} from an edge, and an edge is "
        f"known to {format_length(plus_minus, unit)}."
    )

"""The kinds of [[part]] that a project may have: one table."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from salvage.errors import SalvageError, shown
from salvage.project.keys import length_of
from salvage.project.parts.bags import bag, gusset, round_base
from salvage.project.parts.bands import binding, strap
from salvage.project.parts.measures import Made, Measures, PartKind
from salvage.project.parts.pieced import hat, patchwork
from salvage.project.parts.pockets import casing, flat_pocket, zip_pocket
from salvage.project.project import Part
from salvage.units import Unit

SHORTER = 6.0  # mm that a lining is shorter, so that it doesn't show at the rim; common practice
LINED = ("bag", "gusset", "round base", "hat")

_OF_STRIPS = ("join", "shortest")


def _lining(m: Measures) -> Made:
    """The lining of an earlier part: its panels in another fabric, shorter by a little at the rim.

    A hat is lined in its crown alone, as high as it is.
    """
    wanted = m.text("of", "")
    other = m.earlier.get(wanted)
    if other is None or other.get("kind") not in LINED:
        lined = ", ".join(LINED[:-1]) + f" or {LINED[-1]}"
        raise m.wrong(f"of = {wanted!r} names no [[part]] above it that is lined: a {lined}.")
    kind = KINDS[str(other["kind"])]
    entry = {
        key: value for key, value in other.items() if key not in ("brim", "slope", "hem", "fabric", "from")
    }
    entry |= {key: value for key, value in m.entry.items() if key not in ("of", "kind", "shorter")}
    entry.setdefault("fabric", "lining")
    shorter = m.length("shorter", SHORTER)
    if "height" in entry:
        height = length_of(entry, "height", m.unit, m.where, default=0.0) - shorter
        if height <= 0:
            raise m.wrong("shorter must be less than the height of what is lined.")
        entry["height"] = f"{height!r}mm"
    made = kind.build(replace(m, entry=entry, kind=kind))
    less = "height less shorter" if "height" in entry else "the crown alone"
    return replace(made, formulas=(f"lining = as {wanted}, {less}",), notions=())


KINDS: dict[str, PartKind] = {
    kind.name: kind
    for kind in (
        PartKind("bag", "a bag", ("width", "height", "depth"), ("bottom", "hem"), bag),
        PartKind("flat pocket", "a flat pocket", ("width", "height"), ("hem",), flat_pocket),
        PartKind("zip pocket", "a zip pocket", ("zip", "depth"), ("side", "above", "opening"), zip_pocket),
        PartKind("lining", "a lining", ("of",), ("shorter",), _lining),
        PartKind(
            "gusset", "a bag with a gusset", ("width", "height", "depth"), ("corner", "hem", *_OF_STRIPS), gusset,
            "length of an arc; common practice",
        ),
        PartKind(
            "round base", "a round base", ("diameter", "height"), ("sides", "hem"), round_base,
            "circumference of a circle; common practice",
        ),
        PartKind("casing", "a casing", ("around",), ("cord", "width", *_OF_STRIPS), casing),
        PartKind("strap", "a strap", ("width", "length"), ("folds", *_OF_STRIPS), strap),
        PartKind(
            "binding", "a binding", ("width", "around"), ("double", "straight", "over", *_OF_STRIPS), binding
        ),
        PartKind("patchwork", "patchwork", ("width", "height", "columns", "rows"), ("fabrics",), patchwork),
        PartKind(
            "hat", "a hat", ("head", "crown"), ("gores", "ease", "brim", "slope"), hat,
            "gores of a globe (parallels of a sphere); a cone unrolled; ease is common practice",
        ),
    )
}  # fmt: skip


def make_part(
    entry: Mapping[str, Any],
    unit: Unit,
    allowance: float,
    pieces: tuple[str, ...],
    where: str,
    earlier: Mapping[str, Mapping[str, Any]],
) -> tuple[Part, Made]:
    """What one [[part]] gives. earlier: the parts above it. Raises SalvageError in the words of the file."""
    if "kind" not in entry:
        raise SalvageError(f"{where}: kind is not given. It is one of: {', '.join(KINDS)}.")
    kind = _kind(entry["kind"], where)
    measures = Measures(entry, kind, unit, where, allowance, pieces, earlier)
    measures.check()
    made = kind.build(measures)
    names = (*(panel.name for panel in made.panels), *(strip.name for strip in made.strips))
    return Part(measures.name, kind.name, names, made.formulas, kind.source, made.notions), made


def _kind(value: Any, where: str) -> PartKind:
    kind = KINDS.get(value.strip().lower()) if isinstance(value, str) else None
    if kind is None:
        near = difflib.get_close_matches(str(value)[:100], KINDS, n=1)
        hint = f"Did you mean {near[0]!r}?" if near else f"It is one of: {', '.join(KINDS)}."
        raise SalvageError(f"{where}: kind = {shown(value)!r} is no part. {hint}")
    return kind

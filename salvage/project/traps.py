"""What a project file most likely doesn't mean: told beside the answer, never corrected by itself."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from shapely.geometry import Polygon

from salvage.project.project import Panel, Strip
from salvage.units import MM_PER_UNIT, Unit, format_exact

TINY = 20.0  # mm; a project with no panel longer than this was most likely meant in another unit
HUGE = 2_500.0  # mm; and so was one with a panel longer than this
UNIT_WORDS = {Unit.MM: "millimetres", Unit.CM: "centimetres", Unit.INCH: "inches"}

# Common practice: allowances lie between 3 mm (a trimmed curve) and 40 mm (a deep hem).
LEAST_ALLOWANCE, MOST_ALLOWANCE = 3.0, 40.0

_BARE_FRACTION = re.compile(r"^\s*(?:\d+[ \-]+)?\d+/\d+\s*$")
_FINISHED = ("finished", "finished_length")


def notes_on(
    data: Mapping[str, Any], panels: tuple[Panel, ...], strips: tuple[Strip, ...], unit: Unit
) -> tuple[str, ...]:
    """A sentence for each trap. data: the file as parsed; panels, strips: what was read from it."""
    return (
        *_sizes(panels, strips, unit),
        *_fractions(data, unit),
        *_odd_allowances(data, panels, strips, unit),
        *_no_allowance(data),
    )


def _sizes(panels: tuple[Panel, ...], strips: tuple[Strip, ...], unit: Unit) -> Iterator[str]:
    """Panels so small or so large that their unit is most likely another."""
    sides = {panel.name: _longer_side(panel) for panel in panels}
    longest = max([*sides.values(), *(strip.length for strip in strips)])
    if longest < TINY:
        yield f"The longest panel is only {longest:.1f} mm: are its sizes really in {UNIT_WORDS[unit]}? Check 'units'."
        return
    for name, side in sides.items():
        if side > HUGE:
            yield f"{name} is {side / 1000:.1f} m long: are its sizes really in {UNIT_WORDS[unit]}? Check 'units'."
            return


def _longer_side(panel: Panel) -> float:
    left, bottom, right, top = Polygon(panel.outline).bounds
    return float(max(right - left, top - bottom))


def _fractions(data: Mapping[str, Any], unit: Unit) -> Iterator[str]:
    """Fractions without a unit in a metric project: people measure in fractions of an inch, not of a millimetre."""
    if unit is Unit.INCH:
        return
    found = list(dict.fromkeys(_bare_fractions(data)))
    if found:
        key, text = found[0]
        more = f" (and {len(found) - 1} more like it)" if len(found) > 1 else ""
        value = format_exact(_value(text) * MM_PER_UNIT[unit], Unit.MM)
        yield (
            f'{key} = "{text}" is taken as {UNIT_WORDS[unit]}, that is {value}{more}: if inches are meant, write '
            f'"{text}in", or units = "in" at the top of the project.'
        )


def _value(text: str) -> float:
    whole, _, fraction = text.strip().replace("-", " ").rpartition(" ")
    over, under = fraction.split("/")
    return int(whole or 0) + int(over) / int(under)


def _bare_fractions(value: Any, key: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for name, each in value.items():
            if name not in ("name", "fabric", "drawing", "from"):
                yield from _bare_fractions(each, str(name))
    elif isinstance(value, list):
        for each in value:
            yield from _bare_fractions(each, key)
    elif isinstance(value, str) and _BARE_FRACTION.match(value):
        yield key, value.strip()


def _odd_allowances(
    data: Mapping[str, Any], panels: tuple[Panel, ...], strips: tuple[Strip, ...], unit: Unit
) -> Iterator[str]:
    """Allowances that nobody sews with. One written as a bare fraction has been told already."""
    told = unit is not Unit.INCH and any(key == "seam_allowance" for key, _ in _bare_fractions(data))
    given = [(p.name, p.seam_allowance) for p in panels] + [(s.name, s.seam_allowance) for s in strips]
    odd = [each for each in given if each[1] and not LEAST_ALLOWANCE <= each[1] <= MOST_ALLOWANCE]
    if not odd or told:
        return
    name, allowance = odd[0]
    small = "little" if allowance < LEAST_ALLOWANCE else "much"
    both = format_exact(allowance, unit) + (
        "" if unit is Unit.MM else f" ({format_exact(allowance, Unit.MM)})"
    )
    yield f"A seam allowance of {both}, for {name}, is very {small}: is it really in {UNIT_WORDS[unit]}?"


def _no_allowance(data: Mapping[str, Any]) -> Iterator[str]:
    """Finished sizes without any allowance: they are cut at that very size. A 0 that is written is meant."""
    if "seam_allowance" in data:
        return
    entries = [entry for kind in ("panel", "strip") for entry in data.get(kind, ())]
    bare = [
        str(entry.get("name"))
        for entry in entries
        if "seam_allowance" not in entry
        and (any(key in entry for key in _FINISHED) or entry.get("add_allowance") or _single_layer(entry))
    ]
    bare += [str(entry.get("name")) for entry in data.get("part", ()) if "seam_allowance" not in entry]
    if bare:
        named = ", ".join(bare[:4]) + (f" and {len(bare) - 4} more" if len(bare) > 4 else "")
        yield (
            f"No seam_allowance is given, so {named} would be cut at the finished size and come out smaller by the "
            "seams. Give seam_allowance, or say seam_allowance = 0 if that is meant."
        )


def _single_layer(entry: Mapping[str, Any]) -> bool:
    return "finished_width" in entry and entry.get("folds", 1) == 1

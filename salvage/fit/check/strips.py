"""Whether the lengths of a strip, joined, come to what the project asks."""

from __future__ import annotations

import math

from shapely.geometry import box

from salvage.fit.answer import Placement
from salvage.fit.check.placed import JOIN_TOL, SIZE_TOL, as_drawn, copies_fault, same_shape
from salvage.project.project import Join, Strip


def strip_faults(strip: Strip, placed: list[Placement]) -> list[str]:
    """Faults of all copies of one strip, wherever their lengths lie."""
    faults = copies_fault(strip.name, strip.cut, placed)
    for copy in sorted({each.copy for each in placed}):
        faults += _lengths_faults(strip, [each for each in placed if each.copy == copy])
    return faults


def _lengths_faults(strip: Strip, lengths: list[Placement]) -> list[str]:
    label = f"{strip.name} {lengths[0].copy}"
    if len(lengths) > 1 and strip.join is Join.NONE:
        return [f"{label}: is in {len(lengths)} lengths and may not be joined"]
    numbers = sorted(each.part or 0 for each in lengths)
    if numbers != (list(range(1, len(lengths) + 1)) if len(lengths) > 1 else [0]):
        return [f"{label}: its lengths are not numbered from 1"]
    total = 0.0
    for each in lengths:
        left, bottom, right, top = as_drawn(each).bounds
        if not same_shape(as_drawn(each), box(0, 0, right - left, top - bottom), SIZE_TOL):
            return [f"{label}: a length is not a rectangle with its long side along"]
        if abs(right - left - strip.cut_width) > SIZE_TOL:
            return [f"{label}: a length is {right - left:.2f} mm wide, asked are {strip.cut_width:.2f} mm"]
        if len(lengths) > 1 and top - bottom < strip.shortest - JOIN_TOL:
            return [f"{label}: a length of {top - bottom:.1f} mm is shorter than {strip.shortest:g} mm"]
        total += top - bottom
    cost = strip.cut_width if strip.join is Join.BIAS else 2 * strip.seam_allowance
    sewn = total - (len(lengths) - 1) * cost
    if not math.isclose(sewn, strip.length, abs_tol=JOIN_TOL):
        return [f"{label}: comes to {sewn:.1f} mm when joined, asked are {strip.length:.1f} mm"]
    return []

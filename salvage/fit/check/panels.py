"""Whether the copies of a panel are what the project asks: how many, of which size, mirrored or not, joined how."""

from __future__ import annotations

import math
from itertools import pairwise

from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.fit.answer import Placement
from salvage.fit.check.placed import JOIN_TOL, SIZE_TOL, as_drawn, copies_fault, same_shape
from salvage.project.project import Panel


def panel_faults(panel: Panel, placed: list[Placement]) -> list[str]:
    """Faults of all copies of one panel, wherever they lie."""
    faults = copies_fault(panel.name, panel.cut, placed)
    flipped = 0
    for copy in sorted({each.copy for each in placed}):
        parts = sorted((each for each in placed if each.copy == copy), key=lambda each: each.part or 0)
        faults += _copy_faults(panel, parts)
        flipped += parts[0].flipped
    if not panel.flip:
        wanted = panel.cut // 2 if panel.mirrored else 0
        if flipped != wanted:
            faults.append(f"{panel.name}: {flipped} copies are mirrored, {wanted} should be")
    return faults


def _copy_faults(panel: Panel, parts: list[Placement]) -> list[str]:
    """Faults of one copy, whole or in parts."""
    label = f"{panel.name} {parts[0].copy}"
    if len({each.flipped for each in parts}) > 1:
        return [f"{label}: some of its parts are mirrored and some are not"]
    drawn = [as_drawn(each) for each in parts]
    outline = Polygon(panel.outline)
    if len(parts) == 1:
        if parts[0].part is not None:
            return [f"{label}: has one part only, which isn't the whole"]
        return [] if same_shape(drawn[0], outline, SIZE_TOL) else [f"{label}: not of the size asked for"]
    if [each.part for each in parts] != list(range(1, len(parts) + 1)):
        return [f"{label}: its parts are not numbered from 1"]
    if len(parts) - 1 > panel.joins:
        return [f"{label}: has {len(parts) - 1} joins, {panel.joins} are allowed"]
    across = stacking_faults(panel, outline, drawn) or _where_faults(panel, drawn, across=True)
    quarter = [affinity.rotate(each, 90, origin=(0, 0)) for each in (outline, *drawn)]
    along = stacking_faults(panel, quarter[0], quarter[1:]) or _where_faults(panel, drawn, across=False)
    if across and along:
        return [f"{label}: {across[0]}"]
    return []


def stacking_faults(panel: Panel, outline: Polygon, drawn: list[Polygon]) -> list[str]:
    """Do these parts, first at the bottom, make the outline when joined straight across?"""
    left, bottom, right, top = outline.bounds
    low = bottom
    for number, part in enumerate(drawn, 1):
        height = part.bounds[3] - part.bounds[1]
        high = low + height
        want = outline.intersection(box(left - 1, low, right + 1, high))
        if not isinstance(want, Polygon) or not same_shape(part, want, JOIN_TOL):
            return [f"part {number} is not the panel between two straight joins"]
        sewn_low = low + (panel.seam_allowance if number > 1 else 0.0)
        sewn_high = high - (panel.seam_allowance if number < len(drawn) else 0.0)
        sewn = outline.intersection(box(left - 1, sewn_low, right + 1, sewn_high))
        if (
            min(sewn_high - sewn_low, _breadth(sewn))
            < min(panel.narrowest_part, _breadth(outline)) - JOIN_TOL
        ):
            return [f"part {number} is narrower than {panel.narrowest_part:g} mm"]
        low = high - 2 * panel.seam_allowance
    if abs(high - top) > JOIN_TOL:
        return [f"its parts joined come to {high - bottom:.2f} mm, the panel has {top - bottom:.2f} mm"]
    return []


def _where_faults(panel: Panel, drawn: list[Polygon], *, across: bool) -> list[str]:
    """Joins that are not in the half of the panel where the project wants them."""
    if not panel.joins_where:
        return []
    if across != (panel.joins_where in ("bottom", "top")):
        return [f"its joins run the other way than along its {panel.joins_where}"]
    x0, y0, x1, y1 = Polygon(panel.outline).bounds
    size, at = (y1 - y0 if across else x1 - x0), 0.0
    for number, part in enumerate(drawn[:-1]):
        left, bottom, right, top = part.bounds
        at += (top - bottom if across else right - left) - panel.seam_allowance * (1 if number == 0 else 2)
        low = panel.joins_where in ("bottom", "left")
        if (at > size / 2 + JOIN_TOL) if low else (at < size / 2 - JOIN_TOL):
            return [f"a join lies at {at:.1f} mm, not in the half towards its {panel.joins_where}"]
    return []


def _breadth(shape: BaseGeometry) -> float:
    """How narrow a slot the shape goes through straight: least extent over the directions of its hull's sides."""
    corners = list(shape.convex_hull.exterior.coords)
    least = math.inf
    for (x0, y0), (x1, y1) in pairwise(corners):
        length = math.hypot(x1 - x0, y1 - y0)
        if length > 0:
            across = [((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / length for x, y in corners]
            least = min(least, max(across) - min(across))
    return least

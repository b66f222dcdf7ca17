"""The checker that trusts nobody: is this layout really one for this project on this cloth?

It works from the garments, the project and the placements alone, with shapely, and shares no code with
the search or with what puts the question to it. Every fault is a sentence; no faults, no words.
"""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.answer import Placement
from salvage.fit.check.kept import kept_faults
from salvage.fit.check.lies import cloth_faults, gap_faults, lie_faults
from salvage.fit.check.panels import panel_faults
from salvage.fit.check.strips import strip_faults
from salvage.project.project import Project


def check(
    garments: Sequence[Garment],
    project: Project,
    placements: Sequence[Placement],
    *,
    shrunk_by: float = 0.0,
    partial: bool = False,
) -> tuple[str, ...]:
    """The faults of a layout, as sentences; empty when it is right.

    shrunk_by: mm to take in all usable cloth first, to check a spare. partial: True for a layout that
    leaves something out; then how many there are, and whether parts make their panel, isn't asked.
    """
    faults = cloth_faults(garments, project, placements, shrunk_by)
    faults += gap_faults(placements, project.cutting_gap)
    known = {each.name for each in project.panels} | {each.name for each in project.strips}
    faults += [
        f"{each.panel}: the project has no such panel" for each in placements if each.panel not in known
    ]
    for panel in project.panels:
        of_panel = [each for each in placements if each.panel == panel.name]
        faults += lie_faults(garments, panel, of_panel)
        faults += [] if partial else panel_faults(panel, of_panel)
        faults += kept_faults(garments, panel, of_panel)
    for strip in project.strips:
        of_strip = [each for each in placements if each.panel == strip.name]
        faults += lie_faults(garments, strip, of_strip)
        faults += [] if partial else strip_faults(strip, of_strip)
    return tuple(faults)

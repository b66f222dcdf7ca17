"""A project as the page draws it: each panel's outline with its sizes in words."""

from __future__ import annotations

from typing import Any

from salvage.project.project import Panel, Project, Strip
from salvage.report.say.words import exact_size, grain_words, items_of
from salvage.units import format_exact


def project_data(project: Project) -> dict[str, Any]:
    """Name, notes, and each panel and strip with its cut outline in mm (x right, y up, the grain of `along` upward)."""
    return {
        "name": project.name,
        "units": str(project.unit),
        "notes": list(project.notes),
        "parts": [_part(each, project) for each in items_of(project)],
    }


def _part(item: Panel | Strip, project: Project) -> dict[str, Any]:
    if isinstance(item, Panel):
        xs, ys = zip(*item.outline, strict=True)
        size = max(xs) - min(xs), max(ys) - min(ys)
        outline = [[round(x - min(xs), 2), round(y - min(ys), 2)] for x, y in item.outline]
        count = "many" if item.many else item.cut
    else:
        size = item.cut_width, item.length
        outline = [[0.0, 0.0], [size[0], 0.0], [size[0], size[1]], [0.0, size[1]]]
        count = "many" if item.many else item.cut
    return {
        "name": item.name,
        "strip": isinstance(item, Strip),
        "fabric": item.fabric,
        "cut": count,
        "outline": outline,
        "allowance": round(item.seam_allowance, 2),
        "allowance_said": format_exact(item.seam_allowance, project.unit),
        "size": exact_size(size, project.unit),
        "grain": grain_words(item),
        "mirrored": bool(getattr(item, "mirrored", False)),
    }

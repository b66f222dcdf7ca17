"""A project as the page draws it: each panel's outline with its sizes in words."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from salvage.desk.project.table import project_of
from salvage.errors import SalvageError
from salvage.project.project import Panel, Project, Strip
from salvage.report.say.words import grain_words, items_of
from salvage.units import format_exact, format_exact_size


def project_data(project: Project) -> dict[str, Any]:
    """Name, notes, and each panel and strip with its cut outline in mm (x right, y up, the grain of `along` upward)."""
    return {
        "name": project.name,
        "units": str(project.unit),
        "notes": list(project.notes),
        "parts": [_part(each, project) for each in items_of(project)],
    }


def drawn_rows(table: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Each row of a table that is being typed, drawn by itself: what one row lacks yet keeps no other from being seen.

    rows: for panels, strips and parts, a row's shapes as "parts", or what is wrong with it as "error"; an empty row
    has neither. notes: on the whole, once all of it can be read.
    """
    top = {key: value for key, value in table.items() if key not in _ROWS}
    rows: dict[str, list[dict[str, Any]]] = {}
    for kind in _ROWS:
        made = list(table.get(kind) or ())
        rows[kind] = [_drawn(top, kind, made[: n + 1], folder) for n in range(len(made))]
    try:
        notes = list(project_of(table, folder).notes)
    except SalvageError:
        notes = []
    return {"rows": rows, "notes": notes}


_ROWS = ("panels", "strips", "parts")


def _drawn(top: Mapping[str, Any], kind: str, rows: list[Any], folder: Path) -> dict[str, Any]:
    """The last of the rows; a part may be of another one before it, a lining of a bag."""
    if not _begun(rows[-1]):
        return {"parts": []}
    before = [row for row in rows[:-1] if _begun(row)] if kind == "parts" else []
    try:
        there = {each["name"] for each in _parts(top, kind, before, folder)} if before else set()
        return {
            "parts": [
                each for each in _parts(top, kind, [*before, rows[-1]], folder) if each["name"] not in there
            ]
        }
    except SalvageError as error:
        return {"parts": [], "error": str(error)}


def _parts(top: Mapping[str, Any], kind: str, rows: list[Any], folder: Path) -> list[dict[str, Any]]:
    return list(project_data(project_of({**top, kind: rows}, folder))["parts"])


def _begun(row: Any) -> bool:
    """Whether all is typed that a shape needs: sizes, or what came with the file."""
    if not isinstance(row, Mapping):
        return False
    measures = row.get("measures")
    if isinstance(measures, Mapping):
        return any(str(value).strip() for value in measures.values())
    sizes = [str(row.get(key) or "").strip() for key in ("width", "length")]
    return all(sizes) or bool(row.get("more"))


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
        "size": format_exact_size(size, project.unit),
        "grain": grain_words(item),
        "mirrored": bool(getattr(item, "mirrored", False)),
    }

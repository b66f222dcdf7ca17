"""A change that would help, done to a project's table: what the answer tells as edits, in the words of the file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from salvage.desk.project.table import project_of, table_of
from salvage.errors import SalvageError, UsageError
from salvage.project.project import Panel, Project, Strip
from salvage.project.read import read_project
from salvage.report.say.words import items_of
from salvage.units import Unit, format_exact

Table = dict[str, Any]
Edits = Sequence[Mapping[str, Any]]

_AS_THEY_ARE = ("grain", "joins", "join", "fabric")  # a row of the table has them under the same name


def helped(path: Path, edits: Edits, percent: float | None = None) -> Table:
    """The table of a project file with a change done, its name telling that.

    edits: item, key and after, lengths in mm, as `fit --json` gives them. percent: of all sizes, where that is the change.
    Raises UsageError where it can't be done in the table: to a shape that is drawn, or to what a [[part]] works out.
    """
    project, table = read_project(path), table_of(path)
    unit = project.unit
    if percent is not None:
        for item in items_of(project):
            _scale(_row_of(table, item.name), item, percent / 100, table, unit)
    for edit in edits:
        _edit(table, project, edit, unit)
    if not (edits or percent):
        raise UsageError("that is no change of the project.")
    table["name"] = f"{project.name}, changed"
    try:
        project_of(table, path.parent)
    except SalvageError as error:
        raise UsageError(f"that change can't be done here: {error}") from error
    return table


def can_be_done(path: Path, edits: Edits, percent: float | None = None) -> bool:
    """Whether `helped` can do a change."""
    try:
        helped(path, edits, percent)
    except SalvageError:
        return False
    return True


def _edit(table: Table, project: Project, edit: Mapping[str, Any], unit: Unit) -> None:
    name, key, after = str(edit["item"]), str(edit["key"]), edit["after"]
    row, item = _row_of(table, name), _item_of(project, name)
    if key in _AS_THEY_ARE:
        row[key] = after
    elif key == "cut":
        _cut(table, row, int(after))
    elif key == "from":
        row["more"].pop("from", None)
    elif key == "shortest":
        row["more"]["shortest"] = f"{float(after):g}mm"
    elif key in ("finished", "size") and isinstance(item, Panel):
        width, length = (float(each) for each in after)
        _resize(row, item, (width, length), key == "finished", table, unit)
    elif key == "length" and isinstance(item, Strip):
        _lengthen(row, item, float(after), table, unit)
    else:
        raise UsageError(f"{key} can't be changed here.")


def _cut(table: Table, row: Table, number: int) -> None:
    if number > 0:
        row["cut"] = number
        return
    for kind in ("panels", "strips"):
        table[kind] = [each for each in table[kind] if each is not row]


def _resize(
    row: Table, panel: Panel, size: tuple[float, float], finished: bool, table: Table, unit: Unit
) -> None:
    """Write a size into a panel's row, as the row has it: finished, or with the allowance."""
    if str(row.get("width", "")).strip() == "":
        raise UsageError(f"{panel.name} is drawn, so its size can't be typed.")
    as_finished = (row.get("sizes") or table["sizes"]) == "finished"
    more = 2 * panel.seam_allowance * ((not as_finished) - (not finished))
    row["width"], row["length"] = (_written(each + more, unit) for each in size)


def _lengthen(row: Table, strip: Strip, length: float, table: Table, unit: Unit) -> None:
    """Write a cut length into a strip's row."""
    as_cut = (row.get("lengths") or row.get("sizes") or table["sizes"]) == "cut"
    row["length"] = _written(length if as_cut else length - 2 * strip.seam_allowance, unit)


def _scale(row: Table, item: Panel | Strip, factor: float, table: Table, unit: Unit) -> None:
    """Every finished size at this factor; allowances stay."""
    ends = 2 * item.seam_allowance
    if isinstance(item, Panel):
        xs, ys = zip(*item.outline, strict=True)
        size = ((max(each) - min(each) - ends) * factor for each in (xs, ys))
        _resize(row, item, (next(size), next(size)), True, table, unit)
        return
    if item.longest:
        raise UsageError(f"{item.name} is as long as the cloth gives.")
    _lengthen(row, item, (item.length - ends) * factor + ends, table, unit)
    if item.finished_width is not None:
        row["width"] = _written(item.finished_width * factor, unit)


def _written(length: float, unit: Unit) -> str:
    """As the file writes it. What is told is rounded down to what a person writes, so this changes nothing of it."""
    return format_exact(length, unit, with_unit=False)


def _row_of(table: Table, name: str) -> Table:
    for kind in ("panels", "strips"):
        for row in table[kind]:
            if row["name"] == name:
                return row
    raise UsageError(f"{name} follows from a part's measures: change those.")


def _item_of(project: Project, name: str) -> Panel | Strip:
    return next(each for each in items_of(project) if each.name == name)

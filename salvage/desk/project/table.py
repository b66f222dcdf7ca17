"""A project as a table that somebody types, to the same file that they could write, and back.

A table is plain data as a form sends it, numbers as texts or not: name, units, seam_allowance, cutting_gap, sizes
("finished" or "cut", what widths and lengths mean), and lists of rows: panels, strips, parts. A panel has name, cut,
width, length, fabric, grain, mirrored, joins; a strip name, cut, width, folds, length, fabric, join; a part kind, name,
fabric and its finished measures under "measures". A row's own "sizes" goes before the table's. What a file says beyond
that stands under "more" and goes back into it as it was, comments too.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from salvage.errors import UsageError, shown
from salvage.files import read_text
from salvage.project.parts.kinds import KINDS
from salvage.project.project import Project
from salvage.project.read import project_from, read_project

Table = Mapping[str, Any]

MOST_ROWS = 500
_TOP = ("name", "units", "seam_allowance", "cutting_gap")
_KINDS = {"panels": "panel", "strips": "strip", "parts": "part", "seams": "seam"}
_NUMBER = re.compile(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)\s*")
_HEADER = re.compile(r"\s*\[\[?\s*([\w-]+)\s*\]\]?")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def project_of(table: Table, folder: Path) -> Project:
    """The project of a table. folder: where drawings are looked for. Raises UsageError for what is no table, and
    SalvageError, in the words of the file, for what is wrong in it."""
    data = tomllib.loads(project_text(table))
    return project_from(data, folder=folder, fallback_name="project")


def project_text(table: Table) -> str:
    """The file of a table. Raises UsageError for what is no table."""
    if not isinstance(table, Mapping):
        raise UsageError("a project is a table.")
    lines = _comments(table)
    top = {key: table[key] for key in _TOP if _there(table.get(key))}
    for key in ("seam_allowance", "cutting_gap"):
        if key in top:
            top[key] = _length(top[key])
    lines += _keys(top | dict(_more(table)))
    for kind, header in _KINDS.items():
        for row in _rows(table, kind):
            keys = _ENTRIES[kind](row, str(row.get("sizes") or table.get("sizes") or "finished"))
            lines += ["", *_comments(row), f"[[{header}]]", *_keys(keys | dict(_more(row)))]
    return "\n".join(lines).strip("\n") + "\n"


def table_of(path: Path) -> dict[str, Any]:
    """The table of a project file. Raises SalvageError where it can't be read."""
    read_project(path)  # says what is wrong in it
    text = read_text(path, "a project (.toml)")
    data = tomllib.loads(text)
    comments = _comments_in(text)
    table: dict[str, Any] = {key: data.pop(key) for key in _TOP if key in data}
    table["units"] = str(table.get("units", "mm"))
    table.setdefault("name", path.stem)
    table["comments"] = comments[0]
    entries = {kind: data.pop(header, []) for kind, header in _KINDS.items()}
    table["more"] = data
    table["sizes"] = "cut" if any("size" in each for each in entries["panels"]) else "finished"
    order = iter(comments[1:])
    by_header: dict[str, list[list[str]]] = {}
    for header, said in zip(_headers_in(text), order, strict=True):
        by_header.setdefault(header, []).append(said)
    for kind, header in _KINDS.items():
        rows = [_ROWS[kind](dict(each), table["sizes"]) for each in entries[kind]]
        of_rows = by_header.get(header, [])
        for n, row in enumerate(rows):
            row["comments"] = of_rows[n] if n < len(of_rows) else []
        table[kind] = rows
    return table


def part_kinds() -> list[dict[str, Any]]:
    """The common parts that can be had from finished measures: what each needs, and what it may be told besides."""
    return [
        {"kind": each.name, "said": each.said, "needs": list(each.needs), "may": list(each.may)}
        for each in KINDS.values()
    ]


# --- rows to entries of the file ---------------------------------------------------------------------


def _panel(row: Table, sizes: str) -> dict[str, Any]:
    keys = _named(row)
    if _there(row.get("width")) or _there(row.get("length")):
        size = [_length(row.get("width", "")), _length(row.get("length", ""))]
        keys["size" if sizes == "cut" else "finished"] = size
    if row.get("grain") not in (None, "", "along"):
        keys["grain"] = str(row["grain"])
    if row.get("mirrored"):
        keys["mirrored"] = True
    if _there(row.get("joins")) and str(row["joins"]).strip() != "0":
        keys["joins"] = _whole(row["joins"])
    return keys


def _strip(row: Table, sizes: str) -> dict[str, Any]:
    keys = _named(row)
    if sizes == "cut":
        keys["cut_width"] = _length(row.get("width", ""))
    else:
        keys["finished_width"] = _length(row.get("width", ""))
        if _there(row.get("folds")):
            keys["folds"] = _whole(row["folds"])
    length = row.get("length", "")
    told = row.get("lengths") or sizes
    cut = told == "cut" or str(length).strip() == "longest"
    keys["length" if cut else "finished_length"] = _length(length)
    if row.get("join") not in (None, ""):
        keys["join"] = str(row["join"])
    return keys


def _part(row: Table, sizes: str) -> dict[str, Any]:
    measures = row.get("measures", {})
    if not isinstance(measures, Mapping):
        raise UsageError("the measures of a part are a table.")
    keys: dict[str, Any] = {"kind": str(row.get("kind", "")), "name": str(row.get("name", ""))}
    if _there(row.get("fabric")) and row["fabric"] != "shell":
        keys["fabric"] = str(row["fabric"])
    return keys | {str(key): _length(value) for key, value in measures.items() if _there(value)}


def _seam(row: Table, sizes: str) -> dict[str, Any]:
    return {key: str(row[key]) for key in ("sew", "to") if key in row}


def _named(row: Table) -> dict[str, Any]:
    keys: dict[str, Any] = {"name": str(row.get("name", "")), "fabric": str(row.get("fabric") or "shell")}
    if _there(row.get("cut")):
        keys["cut"] = _whole(row["cut"])
    return keys


_ENTRIES = {"panels": _panel, "strips": _strip, "parts": _part, "seams": _seam}


# --- entries of the file to rows ---------------------------------------------------------------------


def _panel_row(entry: dict[str, Any], sizes: str) -> dict[str, Any]:
    row = {
        "name": entry.pop("name", ""), "fabric": entry.pop("fabric", "shell"), "cut": entry.pop("cut", 1), "width": "", "length": "",
        "grain": entry.pop("grain", "along"), "mirrored": entry.pop("mirrored", False), "joins": entry.pop("joins", 0),
    }  # fmt: skip
    own = next((key for key in ("finished", "size") if key in entry), None)
    if own is not None:
        row["width"], row["length"] = entry.pop(own)
        if (own == "size") != (sizes == "cut"):
            row["sizes"] = "cut" if own == "size" else "finished"
    return row | {"more": entry}


def _strip_row(entry: dict[str, Any], sizes: str) -> dict[str, Any]:
    finished = "finished_width" in entry
    row = {
        "name": entry.pop("name", ""), "fabric": entry.pop("fabric", "shell"), "cut": entry.pop("cut", 1),
        "width": entry.pop("finished_width" if finished else "cut_width"), "folds": entry.pop("folds", 1),
        "length": "", "join": entry.pop("join", "bias"),
    }  # fmt: skip
    if finished != (sizes == "finished"):
        row["sizes"] = "finished" if finished else "cut"
    if "length" in entry:
        row["length"] = entry.pop("length")
        if finished:
            row["lengths"] = "cut"
    else:
        row["length"] = entry.pop("finished_length")
        if not finished:
            row["lengths"] = "finished"
    return row | {"more": entry}


def _part_row(entry: dict[str, Any], sizes: str) -> dict[str, Any]:
    row = {"kind": str(entry.pop("kind")), "name": entry.pop("name"), "fabric": entry.pop("fabric", "shell")}
    kind = KINDS[row["kind"].strip().lower()]
    measures = {key: entry.pop(key) for key in (*kind.needs, *kind.may) if key in entry}
    return row | {"measures": measures, "more": entry}


def _seam_row(entry: dict[str, Any], sizes: str) -> dict[str, Any]:
    return entry


_ROWS = {"panels": _panel_row, "strips": _strip_row, "parts": _part_row, "seams": _seam_row}


# --- values ------------------------------------------------------------------------------------------


def _rows(table: Table, kind: str) -> Sequence[Table]:
    rows = table.get(kind, ())
    if not isinstance(rows, Sequence) or isinstance(rows, str) or len(rows) > MOST_ROWS:
        raise UsageError(f"{kind} is a list of at most {MOST_ROWS} rows.")
    for row in rows:
        if not isinstance(row, Mapping):
            raise UsageError(f"a row of {kind} is a table.")
    return rows


def _more(row: Table) -> Table:
    more = row.get("more", {})
    if not isinstance(more, Mapping) or any(key in _KINDS.values() for key in more):
        raise UsageError("'more' is a table of further keys.")
    return more


def _there(value: Any) -> bool:
    return value is not None and str(value).strip() != ""


def _length(value: Any) -> Any:
    """As the file has it: a number, else a text such as "3/8"."""
    if isinstance(value, str):
        return _plain_number(value) if _NUMBER.fullmatch(value) else value.strip()
    return value


def _whole(value: Any) -> Any:
    """A count as the file has it; what is none is left to the file's reader to complain of."""
    return _length(value)


def _plain_number(text: str) -> int | float:
    value = float(text)
    return int(value) if value.is_integer() and abs(value) < 1e12 else value


def _keys(entries: Mapping[str, Any]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in entries.items()]


def _key(key: Any) -> str:
    return str(key) if _BARE_KEY.fullmatch(str(key)) else _string(str(key))


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, Sequence):
        return "[" + ", ".join(map(_value, value)) + "]"
    raise UsageError(f"{shown(value)!r} can't stand in a project.")


def _string(text: str) -> str:
    """A basic string of TOML 1.0: quotes, backslashes and control characters are escaped."""
    if any("\ud800" <= letter <= "\udfff" for letter in text):
        raise UsageError("a text holds half a letter. Write it anew.")
    made = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in made) + '"'


# --- comments ----------------------------------------------------------------------------------------


def _comments(row: Table) -> list[str]:
    said = row.get("comments", ())
    if not isinstance(said, Sequence) or isinstance(said, str):
        raise UsageError("comments are lines.")
    found = []
    for line in said:
        kept = "".join(c for c in str(line) if c == "\t" or (ord(c) >= 32 and ord(c) != 127))
        found.append(f"# {kept}".rstrip())
    return found


def _headers_in(text: str) -> list[str]:
    return [match[1] for line in text.splitlines() if (match := _HEADER.match(line))]


def _comments_in(text: str) -> list[list[str]]:
    """What is said behind # in a file: before its first table, and in each table; that above a table's header is its."""
    found: list[list[str]] = [[]]
    above: list[str] = []
    for line in text.splitlines():
        said = _comment_of(line)
        if _HEADER.match(line):
            found.append([*above, *([said] if said else [])])
            above = []
        elif not line.strip():
            continue
        elif line.lstrip().startswith("#"):
            above.append(said)
        else:
            found[-1] += above + ([said] if said else [])
            above = []
    found[-1] += above
    return found


def _comment_of(line: str) -> str:
    """What stands behind the first # that is in no quotes."""
    quote = ""
    before = ""
    for n, letter in enumerate(line):
        if quote:
            if letter == quote and before != "\\":
                quote = ""
        elif letter in "\"'":
            quote = letter
        elif letter == "#":
            return line[n + 1 :].strip()
        before = "" if before == "\\" else letter
    return ""

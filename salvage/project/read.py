"""Read a project file (TOML) into a Project; say what is wrong with it in the words of the file."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from shapely.geometry import Polygon

from salvage.errors import SalvageError, shown
from salvage.files import read_text
from salvage.project.kept import joins_where, kept_of, without_allowance
from salvage.project.keys import (
    LARGEST,
    SMALLEST,
    choice_of,
    count_of,
    flag_of,
    length_of,
    number_of,
    only_distinct,
    only_known,
    pair_of,
    size_of,
    tables_of,
    text_of,
)
from salvage.project.outlines import grown, ring_of
from salvage.project.parts.measures import Made
from salvage.project.project import Grain, Join, Panel, Part, Point, Project, Seam, Strip
from salvage.project.sides import SIDES, side_of, uneven, with_notches
from salvage.project.traps import notes_on
from salvage.trade.sewing import cut_size, strip_cut_width
from salvage.units import Unit

MOST_JOINS = 9  # in one panel; pieced from more than ten, it is patchwork and no longer that panel
MANY, LONGEST = "many", "longest"  # written for a number or a length that the cloth decides
_MOST_BYTES = 1_000_000
_MOST_PARTS, _MOST_POINTS = 2_000, 20_000  # panels and strips; corners of an outline
_MOST_FOLDS, _MOST_TURNS = 100, 720
SHORTEST_DEFAULT = 100.0  # mm, common practice: shorter lengths make more joins than strap

# a.a.a ...: the reader of TOML needs memory by the square of a key's parts, and no key of ours has two.
_ENDLESS_KEY = re.compile(r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){50}""")

_PROJECT_KEYS = {
    "name", "units", "seam_allowance", "cutting_gap", "panel", "strip", "part", "seam", "notes",
}  # fmt: skip
_SEAM_KEYS = {"sew", "to"}
_SHAPE_KEYS = ("finished", "size", "outline", "drawing")
_PANEL_KEYS = {
    "name", "fabric", "cut", *_SHAPE_KEYS, "grain", "mirrored", "flip", "joins", "joins_where", "rotations", "off_grain",
    "seam_allowance", "add_allowance", "narrowest_part", "from",
    "around", "at", "tolerance", "edge", "edge_side",
}  # fmt: skip
_STRIP_KEYS = {
    "name", "fabric", "cut", "finished_width", "folds", "cut_width", "length", "finished_length", "join",
    "shortest", "grain", "seam_allowance", "from",
}  # fmt: skip


def read_project(path: Path) -> Project:
    """Read the project file at path. Raises SalvageError saying which entry is wrong and what to write."""
    text = read_text(path, "a project (.toml)", most_bytes=_MOST_BYTES)
    if _ENDLESS_KEY.search(text):
        raise SalvageError(f"{path}: is not a project file: it has a key of dozens of parts. Take it out.")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SalvageError(
            f"{path}: is not a project file: {shown(error)}. Mend that line; texts stand in quotes, a panel begins with "
            "[[panel]]."
        ) from error
    except (RecursionError, ValueError) as error:
        deep = isinstance(error, RecursionError)
        what = "lists or tables within each other without end" if deep else "a number of too many digits"
        raise SalvageError(f"{path}: is not a project file: it has {what}. Take them out.") from error
    try:
        return project_from(data, folder=path.parent, fallback_name=path.stem)
    except SalvageError as error:
        raise SalvageError(f"{path}: {error}") from error


def project_from(data: Mapping[str, Any], *, folder: Path, fallback_name: str = "project") -> Project:
    """Build a Project from the parsed file. folder: where drawings are looked for."""
    only_known(data, _PROJECT_KEYS, "the project")
    unit = choice_of(data, "units", Unit, Unit.MM, "the project")
    allowance = length_of(data, "seam_allowance", unit, "the project", default=0.0)
    number = sum(len(tables_of(data, kind)) for kind in ("panel", "strip", "part", "seam"))
    if number > _MOST_PARTS:
        raise SalvageError(
            f"has {number} panels, strips, parts and seams; {_MOST_PARTS} is the most. Write equal ones once, with cut."
        )
    panels = tuple(
        _panel(entry, unit, allowance, folder, _which("panel", entry, number))
        for number, entry in enumerate(tables_of(data, "panel"), 1)
    )
    strips = tuple(
        _strip(entry, unit, allowance, _which("strip", entry, number))
        for number, entry in enumerate(tables_of(data, "strip"), 1)
    )
    parts = list(_parts(data, unit, allowance))
    panels += tuple(panel for _, made in parts for panel in made.panels)
    strips += tuple(strip for _, made in parts for strip in made.strips)
    if not panels and not strips:
        raise SalvageError(
            "has no [[panel]], no [[strip]] and no [[part]]: there is nothing to cut. Add at least one."
        )
    only_distinct([p.name for p in panels] + [s.name for s in strips])
    items: dict[str, Panel | Strip] = {each.name: each for each in panels}
    items |= {each.name: each for each in strips}
    told = tuple(
        _seam(entry, items, f"seam number {number}")
        for number, entry in enumerate(tables_of(data, "seam"), 1)
    )
    return with_notches(
        Project(
            name=text_of(data, "name", "the project", default=fallback_name),
            panels=panels,
            strips=strips,
            unit=unit,
            seam_allowance=allowance,
            cutting_gap=length_of(data, "cutting_gap", unit, "the project", default=0.0),
            notes=(*notes_on(data, panels, strips, unit), *uneven(items, told, unit)),
            parts=tuple(part for part, _ in parts),
            seams=(*(seam for _, made in parts for seam in made.seams), *told),
        )
    )


def _parts(data: Mapping[str, Any], unit: Unit, allowance: float) -> Iterator[tuple[Part, Made]]:
    """What each [[part]] gives, in the order of the file."""
    from salvage.project.parts.kinds import make_part

    earlier: dict[str, Mapping[str, Any]] = {}
    for number, entry in enumerate(tables_of(data, "part"), 1):
        where = _which("part", entry, number)
        name = text_of(entry, "name", where)
        if name in earlier:
            raise SalvageError(f"the name {name!r} is used for more than one part. Give each its own name.")
        own = length_of(entry, "seam_allowance", unit, where, default=allowance)
        yield make_part(entry, unit, own, _pieces(entry, where), where, earlier)
        earlier[name] = entry


def _seam(entry: Mapping[str, Any], items: Mapping[str, Panel | Strip], where: str) -> Seam:
    """`sew = "pocket, bottom"`, `to = "back, top"`."""
    only_known(entry, _SEAM_KEYS, where)
    return Seam(*_side(entry, "sew", items, where), *_side(entry, "to", items, where))


def _side(
    entry: Mapping[str, Any], key: str, items: Mapping[str, Panel | Strip], where: str
) -> tuple[str, str]:
    name, comma, side = text_of(entry, key, where).rpartition(",")
    name, side = name.strip(), side.strip().lower()
    if not comma or side not in SIDES:
        raise SalvageError(
            f'{where}: {key} must be a panel and one of its sides ({", ".join(SIDES)}), such as "pocket, bottom".'
        )
    if name not in items:
        near = difflib.get_close_matches(name, items, n=1)
        hint = f"Did you mean {near[0]!r}?" if near else f"There are: {shown(', '.join(items))}."
        raise SalvageError(f"{where}: {key}: there is no panel or strip called {shown(name)!r}. {hint}")
    if side_of(items[name], side).is_empty:
        raise SalvageError(f"{where}: {key}: {shown(name)!r} has no side that looks to the {side}.")
    return name, side


def _which(kind: str, entry: Mapping[str, Any], number: int) -> str:
    """`panel 'flap'`; one without a name by its place in the file."""
    name = entry.get("name")
    return f"{kind} {shown(name)!r}" if name else f"{kind} number {number}"


def _panel(entry: Mapping[str, Any], unit: Unit, project_allowance: float, folder: Path, where: str) -> Panel:
    only_known(entry, _PANEL_KEYS, where)
    name = text_of(entry, "name", where)
    allowance = length_of(entry, "seam_allowance", unit, where, default=project_allowance)
    outline, finished = _panel_outline(entry, unit, allowance, folder, where)
    around, edge = kept_of(entry, unit, allowance if "finished" in entry else 0.0, outline, where)
    stitching: tuple[Point, ...] = ()
    if edge is not None and "finished" in entry and finished is not None:
        outline, stitching = without_allowance(finished, allowance, edge.side)
    mirrored = flag_of(entry, "mirrored", where)
    cut, many = _cut(entry, where, least=2 if mirrored else 1)
    if mirrored and cut % 2:
        raise SalvageError(
            f"{where}: mirrored means half of the copies are mirror images, but cut = {cut} is odd."
        )
    return Panel(
        name=name,
        outline=outline,
        fabric=text_of(entry, "fabric", where, default="shell"),
        cut=cut,
        grain=choice_of(entry, "grain", Grain, Grain.ALONG, where),
        mirrored=mirrored,
        flip=flag_of(entry, "flip", where),
        joins=count_of(entry, "joins", where, default=0, least=0, most=MOST_JOINS),
        joins_where=joins_where(entry, where),
        rotations=_angles(entry, where),
        off_grain=number_of(entry, "off_grain", where, default=0.0, most=45.0),
        finished=finished,
        narrowest_part=length_of(entry, "narrowest_part", unit, where, default=40.0),
        seam_allowance=allowance,
        pieces=_pieces(entry, where),
        many=many,
        stitching=stitching,
        around=around,
        edge=edge,
    )


def _panel_outline(
    entry: Mapping[str, Any], unit: Unit, allowance: float, folder: Path, where: str
) -> tuple[tuple[Point, ...], tuple[float, float] | None]:
    given = [key for key in _SHAPE_KEYS if key in entry]
    if len(given) != 1:
        raise SalvageError(
            f"{where}: give its shape once, as one of finished, size, outline or drawing "
            f"(found {' and '.join(given) or 'none'})."
        )
    key = given[0]
    if key in ("finished", "size"):
        if flag_of(entry, "add_allowance", where):
            raise SalvageError(
                f"{where}: add_allowance is for outline and drawing; write finished instead of size."
            )
        width, length = pair_of(entry[key], unit, f"{where}: {key}")
        finished: tuple[float, float] | None
        if key == "finished":
            finished = (width, length)
            width, length = cut_size(width, allowance), cut_size(length, allowance)
        else:
            finished = (width - 2 * allowance, length - 2 * allowance)
            finished = finished if allowance and min(finished) > 0 else None
        return ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length)), finished
    if key == "outline":
        outline = _simple_ring(entry["outline"], unit, where)
    else:
        if not isinstance(entry["drawing"], str):
            raise SalvageError(f'{where}: drawing must be text such as "flap.svg#flap".')
        outline = _drawn_outline(entry["drawing"], folder, unit)
    polygon = Polygon(outline)
    if flag_of(entry, "add_allowance", where):
        let_out = grown(outline, allowance)
        _check_size(Polygon(let_out), where)
        return let_out, _bounds_size(polygon)
    _check_size(polygon, where)
    inner = polygon.buffer(-allowance, join_style="mitre")
    return outline, _bounds_size(inner) if allowance and not inner.is_empty else None


def _drawn_outline(reference: str, folder: Path, unit: Unit) -> tuple[Point, ...]:
    """salvage.project.drawing.read_drawing, imported only when a project has a drawing."""
    from salvage.project.drawing import read_drawing

    return read_drawing(reference, folder, unit)


def _strip(entry: Mapping[str, Any], unit: Unit, project_allowance: float, where: str) -> Strip:
    only_known(entry, _STRIP_KEYS, where)
    allowance = length_of(entry, "seam_allowance", unit, where, default=project_allowance)
    folds = count_of(entry, "folds", where, default=1, least=1, most=_MOST_FOLDS)
    if ("finished_width" in entry) == ("cut_width" in entry):
        raise SalvageError(f"{where}: give either finished_width (with folds) or cut_width.")
    finished_width: float | None = None
    if "finished_width" in entry:
        finished_width = size_of(entry, "finished_width", unit, where)
        # Folded strips hide their raw edges in the fold; a single layer is turned in or sewn at both edges.
        cut_width = (
            strip_cut_width(finished_width, folds) if folds > 1 else cut_size(finished_width, allowance)
        )
    else:
        cut_width = size_of(entry, "cut_width", unit, where)
    if cut_width > LARGEST:
        raise SalvageError(
            f"{where}: would be cut more than {LARGEST / 1000:.0f} m wide. Check folds and its units."
        )
    if ("length" in entry) == ("finished_length" in entry):
        raise SalvageError(
            f"{where}: give either length (as cut and joined) or finished_length (allowances are added)."
        )
    longest = entry.get("length") == LONGEST
    if longest:  # no shorter than a length that is worth cutting
        length = length_of(entry, "shortest", unit, where, default=SHORTEST_DEFAULT)
        if length <= 0:
            raise SalvageError(f"{where}: shortest must be more than 0.")
    elif "length" in entry:
        length = size_of(entry, "length", unit, where)
    else:
        length = cut_size(size_of(entry, "finished_length", unit, where), allowance)
    cut, many = _cut(entry, where, least=1)
    shortest = length_of(entry, "shortest", unit, where, default=min(SHORTEST_DEFAULT, length))
    if shortest > length:
        raise SalvageError(f"{where}: shortest is longer than the strip itself.")
    return Strip(
        name=text_of(entry, "name", where),
        cut_width=cut_width,
        length=length,
        fabric=text_of(entry, "fabric", where, default="shell"),
        cut=cut,
        join=choice_of(entry, "join", Join, Join.BIAS, where),
        shortest=shortest,
        grain=choice_of(entry, "grain", Grain, Grain.ALONG, where),
        finished_width=finished_width,
        folds=folds,
        seam_allowance=allowance,
        pieces=_pieces(entry, where),
        many=many,
        longest=longest,
    )


def _simple_ring(value: Any, unit: Unit, where: str) -> tuple[Point, ...]:
    if isinstance(value, list) and len(value) > _MOST_POINTS:
        raise SalvageError(
            f"{where}: outline has {len(value)} points. Draw it with fewer, {_MOST_POINTS} at most."
        )
    if not isinstance(value, list) or len(value) < 3:
        raise SalvageError(f"{where}: outline needs at least three points [[x, y], ...].")
    points = [pair_of(point, unit, f"{where}: outline", signed=True) for point in value]
    if max(abs(v) for point in points for v in point) > 2 * LARGEST:
        raise SalvageError(
            f"{where}: its outline reaches beyond {2 * LARGEST / 1000:.0f} m. Check its units."
        )
    polygon = Polygon(points)
    if not polygon.is_valid or polygon.area < SMALLEST**2:
        raise SalvageError(
            f"{where}: its outline crosses itself or has no area. List its corners in order, once round."
        )
    return ring_of(polygon)


def _bounds_size(polygon: Any) -> tuple[float, float]:
    left, bottom, right, top = polygon.bounds
    return right - left, top - bottom


def _check_size(polygon: Polygon, where: str) -> None:
    if max(_bounds_size(polygon)) > LARGEST:
        raise SalvageError(f"{where}: is more than {LARGEST / 1000:.0f} m long. Check its units.")


def _cut(entry: Mapping[str, Any], where: str, *, least: int) -> tuple[int, bool]:
    """How many copies, and whether it is as many as there is cloth for: then the least is given."""
    if entry.get("cut") == MANY:
        return least, True
    if isinstance(entry.get("cut"), str):
        raise SalvageError(f'{where}: cut must be a whole number, 1 or more, or "{MANY}".')
    return count_of(entry, "cut", where, default=1, least=1), False


def _angles(entry: Mapping[str, Any], where: str) -> tuple[float, ...] | None:
    value = entry.get("rotations")
    if value is None:
        return None
    if "grain" in entry:
        raise SalvageError(f"{where}: give grain or rotations, not both.")
    numbers = isinstance(value, list) and all(
        isinstance(angle, (int, float)) and not isinstance(angle, bool) and abs(angle) < 1e6
        for angle in value
    )
    if not numbers or not 0 < len(value) <= _MOST_TURNS:
        raise SalvageError(f"{where}: rotations must be a list of angles in degrees, such as [0, 90].")
    return tuple(sorted({float(angle) % 360 for angle in value}))


def _pieces(entry: Mapping[str, Any], where: str) -> tuple[str, ...]:
    """Names of the pieces under `from`; one name may stand without brackets."""
    value = entry.get("from", [])
    names = [value] if isinstance(value, str) else value
    good = isinstance(names, list) and all(isinstance(name, str) and name.strip() for name in names)
    if not good or ("from" in entry and not names):
        raise SalvageError(
            f'{where}: from must be a list of names of pieces, such as ["left sleeve", "back"].'
        )
    return tuple(dict.fromkeys(name.strip() for name in names))

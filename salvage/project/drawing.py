"""Panels from drawings: a closed path in an SVG file or a DXF file.

Curves become polygons that may only grow: chords lie within FLATTENING of the curve, points are then
thinned by as much, and the polygon is let out by both, so that what is planned contains what was drawn.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from salvage.errors import SalvageError, shown
from salvage.files import allowed, closed
from salvage.project.project import Point
from salvage.project.svg_bounds import TooMuchError, check_svg
from salvage.units import MM_PER_INCH, MM_PER_UNIT, Unit

FLATTENING = 0.15  # mm, a small part of the width of a chalk line; finer costs the search time
CLOSING = 0.5  # mm, ends nearer than this are one point

LARGEST = 20_000.0  # mm from the drawing's corner; nobody sews anything larger
_MOST_BYTES = 10_000_000
_MOST_POINTS, _MOST_ENTITIES = 20_000, 3_000  # of one outline; in one drawing
_HIGHEST_DEGREE = 10  # of a spline; drawing programs write 2, 3 or 5
_DXF_LINES = {
    "LINE",
    "ARC",
    "CIRCLE",
    "ELLIPSE",
    "LWPOLYLINE",
    "POLYLINE",
    "SPLINE",
    "SOLID",
    "TRACE",
    "3DFACE",
}

# CSS Values and Units Level 3, section 5.2: 1 in = 96 px; SVG user units without a physical size are px.
MM_PER_CSS_PX = MM_PER_INCH / 96

# DXF reference, header variable $INSUNITS: 1 inches, 2 feet, 4 millimetres, 5 centimetres, 6 metres.
MM_PER_INSUNIT = {1: MM_PER_INCH, 2: 12 * MM_PER_INCH, 4: 1.0, 5: 10.0, 6: 1000.0}


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed path of a drawing. corners: mm, its own points or what bounds it; empty where they are no numbers.

    flatten: its polygon in mm, first point not repeated; only the path that is wanted is flattened, for a drawing
    may hold anything.
    """

    name: str
    corners: tuple[Point, ...]
    flatten: Callable[[], list[Point]]


def read_drawing(reference: str, folder: Path, unit: Unit) -> tuple[Point, ...]:
    """The outline named by `file.svg#id` or `file.dxf#layer`, in mm, counter-clockwise, y up.

    The part after # may be left out when the drawing holds one closed path only. folder: where the
    project file lies. unit: what a DXF drawing without a unit is in. Raises SalvageError.
    """
    file_name, _, wanted = reference.partition("#")
    path = folder / file_name
    readers = {".svg": _svg_outlines, ".dxf": _dxf_outlines}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise SalvageError(f"{shown(path)}: a drawing must be an .svg or a .dxf file.")
    _check_file(path)
    outlines = reader(path, unit)
    if not outlines:
        raise SalvageError(f"{path}: has no closed path. Close the panel's outline and save it again.")
    names = shown(", ".join(sorted({each.name for each in outlines if each.name})) or "none with a name")
    matching = [each for each in outlines if each.name == wanted] if wanted else outlines
    if not matching:
        raise SalvageError(f"{path}: no closed path called {shown(wanted)!r}. It has: {names}.")
    if len(matching) > 1 and wanted:
        raise SalvageError(
            f"{path}: {len(matching)} closed lines are called {shown(wanted)!r}, and a panel is one. Give each its own "
            "id (SVG) or layer (DXF), and leave out holes."
        )
    if len(matching) > 1:
        raise SalvageError(
            f"{path}: has {len(matching)} closed paths ({names}). Name the one that is meant: {path.name}#name."
        )
    return _let_out(_points(matching[0], path), path)


def _check_file(path: Path) -> None:
    """Raise SalvageError for what can't be a drawing, without opening it."""
    try:
        size = path.stat().st_size
    except PermissionError:
        raise closed(path) from None
    except (OSError, ValueError):
        raise SalvageError(
            f"{shown(path)}: no such drawing. Put it beside the project file or correct 'drawing'."
        ) from None
    allowed(path, "a drawing (.svg or .dxf)")
    if size > _MOST_BYTES:
        raise SalvageError(f"{path}: is larger than {_MOST_BYTES // 1_000_000} MB. Save the panels alone.")


def _points(outline: Outline, path: Path) -> list[Point]:
    """The outline as a polygon's points. Raises SalvageError where it is too large or no polygon of sane size."""
    corners = outline.corners
    nowhere = SalvageError(
        f"{path}: {shown(outline.name) or 'the path'} reaches beyond {LARGEST / 1000:.0f} m or nowhere. Check its units."
    )
    if not corners or not _sane(corners):
        raise nowhere
    if len(corners) <= _MOST_POINTS:
        points = outline.flatten()
        if not _sane(points):  # between its corners a curve may be anywhere
            raise nowhere
        ring = [p for i, p in enumerate(points) if math.dist(p, points[i - 1]) > 1e-6]
        if len(ring) <= _MOST_POINTS:
            return ring
    raise SalvageError(
        f"{path}: {shown(outline.name) or 'the path'} has too many points. Draw it with fewer."
    )


def _sane(points: Iterable[Point]) -> bool:
    return all(math.isfinite(v) and abs(v) < LARGEST for point in points for v in point)


def _let_out(points: list[Point], path: Path) -> tuple[Point, ...]:
    polygon = Polygon(points) if len(points) > 2 else Polygon()
    if not polygon.is_valid or polygon.area < 1.0:
        raise SalvageError(
            f"{path}: the outline crosses itself or has no area. Draw it as one simple closed line."
        )
    # Straight-sided drawings lose nothing in flattening and must stay exact.
    if len(points) > 12:
        polygon = polygon.simplify(FLATTENING).buffer(2 * FLATTENING, join_style="mitre")
    ring = list(orient(polygon).exterior.coords)[:-1]
    return tuple((float(x), float(y)) for x, y in ring)


def _svg_outlines(path: Path, _unit: Unit) -> list[Outline]:
    from svgelements import SVG, Shape
    from svgelements import Path as SvgPath

    try:
        check_svg(path.read_bytes())
        drawing = SVG.parse(str(path), ppi=96.0)
        if not isinstance(drawing, SVG):
            raise TooMuchError("its first element is no svg element. Save it again as SVG.")
        found = []
        for element in drawing.elements():
            if isinstance(element, Shape):
                parts = [SvgPath(part) for part in SvgPath(element).as_subpaths()]
                found += [_svg_outline(str(element.id or ""), part) for part in parts if _is_closed(part)]
    except TooMuchError as error:
        raise SalvageError(f"{path}: {error}") from error
    except MemoryError:
        raise
    except Exception as error:  # the parser raises many kinds, none of them its own
        raise SalvageError(f"{path}: is not an SVG drawing that can be read ({shown(error)}).") from error
    return found


def _is_closed(path: Any) -> bool:
    ends = [segment.end for segment in path if segment.end is not None]
    return len(path) > 2 and len(ends) > 1 and math.dist(ends[0], ends[-1]) * MM_PER_CSS_PX <= CLOSING


def _svg_outline(name: str, path: Any) -> Outline:
    def mm(x: float, y: float) -> Point:
        return float(x) * MM_PER_CSS_PX, -float(y) * MM_PER_CSS_PX

    def flatten() -> list[Point]:
        return [mm(x, y) for x, y in _flatten_svg(path)][:-1]

    try:
        left, top, right, bottom = path.bbox()
        corners = (mm(left, top), mm(right, bottom), *(mm(*segment.end) for segment in path if segment.end))
    except (ArithmeticError, TypeError, ValueError):
        corners = ()
    return Outline(name, corners, flatten)


def _flatten_svg(path: Any) -> list[Point]:
    from svgelements import Arc, Close, Line, Move

    within_px = FLATTENING / MM_PER_CSS_PX
    points: list[Point] = []
    for segment in path:
        if isinstance(segment, (Move, Line, Close)):
            if segment.end is not None:
                points.append((segment.end.x, segment.end.y))
            continue
        if isinstance(segment, Arc):
            # A chord over an angle a of a circle of radius r is off by r (1 - cos(a / 2)) at most.
            radius = max(abs(segment.rx), abs(segment.ry), within_px)
            steps = abs(segment.sweep) / (2 * math.acos(max(0.0, 1 - within_px / radius)) or 1e-9)
            count = _whole(steps)
            points += [(p.x, p.y) for p in (segment.point(i / count) for i in range(1, count + 1))]
        else:
            given = (
                segment.start,
                *(getattr(segment, each, None) for each in ("control", "control1", "control2")),
            )
            points += _bezier([(p.x, p.y) for p in (*given, segment.end) if p is not None], within_px)
        if len(points) > _MOST_POINTS:
            break  # told of by the caller
    return points


def _dxf_outlines(path: Path, unit: Unit) -> list[Outline]:
    import ezdxf
    from ezdxf import path as dxf_path

    try:
        document = ezdxf.readfile(path)
        entities = [each for each in document.modelspace() if each.dxftype() in _DXF_LINES]
    except MemoryError:
        raise
    except Exception as error:  # beside its own errors the reader raises whatever a broken file makes it
        raise SalvageError(f"{path}: is not a DXF drawing that can be read ({shown(error)}).") from error
    if len(entities) > _MOST_ENTITIES:
        raise SalvageError(f"{path}: has {len(entities)} lines. Save the panels alone.")
    scale = MM_PER_UNIT[unit]
    if b"$INSUNITS" in path.read_bytes():  # where the file has none, the reader makes one up
        with suppress(TypeError, ValueError):
            scale = MM_PER_INSUNIT.get(int(document.header.get("$INSUNITS", 0)), scale)
    found: list[Outline] = []
    loose: dict[str, list[Any]] = {}
    entity: Any
    for entity in entities:
        layer = str(entity.dxf.layer)
        try:
            if entity.dxftype() == "SPLINE" and (
                entity.dxf.degree > _HIGHEST_DEGREE or len(entity.knots) > _MOST_POINTS
            ):
                raise ValueError("a spline of too high a degree")
            drawn = dxf_path.make_path(entity)
            if not all(math.isfinite(v) for point in drawn.control_vertices() for v in (point.x, point.y)):
                raise ValueError("a line that goes nowhere")
        except MemoryError:
            raise
        except Exception:  # numbers that are none; told of if this is the line that is wanted
            found.append(Outline(layer, (), list))
            continue
        if drawn.is_closed:
            found.append(_dxf_outline(layer, drawn, scale))
        else:
            loose.setdefault(layer, []).append(drawn)
    for layer, parts in loose.items():
        found += [_dxf_outline(layer, each, scale) for each in _joined_ends(parts, CLOSING / scale)]
    return [each for each in found if not each.corners or len(each.corners) > 2]


def _dxf_outline(layer: str, drawn: Any, scale: float) -> Outline:
    def flatten() -> list[Point]:
        points = [(x * scale, y * scale) for x, y in _flatten_dxf(drawn, FLATTENING / scale)]
        return points[:-1] if len(points) > 3 else []

    corners = tuple((float(p.x) * scale, float(p.y) * scale) for p in drawn.control_vertices())
    return Outline(layer, corners, flatten)


def _flatten_dxf(path: Any, within: float) -> list[Point]:
    """As polygon; by counted steps, since halving a curve until it is flat never ends where its heights are endless."""
    points: list[Point] = [(path.start.x, path.start.y)]
    for command in path.commands():
        given = [getattr(command, each, None) for each in ("ctrl", "ctrl1", "ctrl2")]
        curve = [points[-1], *((p.x, p.y) for p in (*given, command.end) if p is not None)]
        points += _bezier(curve, within)
        if len(points) > _MOST_POINTS:
            break  # told of by the caller
    return points


def _bezier(corners: list[Point], within: float) -> list[Point]:
    """Points along a Bezier curve of any degree, its start left out; chords are within `within` of it."""
    if len(corners) == 2:
        return corners[1:]
    count = _steps(corners, within)
    t = np.linspace(0.0, 1.0, count + 1)[1:, None, None]
    rows = np.broadcast_to(np.array(corners, float), (count, len(corners), 2))
    with np.errstate(invalid="ignore", over="ignore"):  # a curve that leads nowhere is told of by the caller
        while rows.shape[1] > 1:  # de Casteljau
            rows = (1 - t) * rows[:, :-1] + t * rows[:, 1:]
    return [(float(x), float(y)) for x, y in rows[:, 0]]


def _steps(corners: list[Point], within: float) -> int:
    """Into how many chords a Bezier curve is cut.

    n parts of a curve of degree d are off by at most d (d - 1) / (8 n^2) times its largest second difference
    (Wang; as in Farin, Curves and Surfaces for CAGD, 5th ed., section 5.6).
    """
    degree = len(corners) - 1
    bend = max(
        math.hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1])
        for a, b, c in zip(corners, corners[1:], corners[2:], strict=False)
    )
    return _whole(math.sqrt(degree * (degree - 1) * bend / (8 * within)))


def _whole(steps: float) -> int:
    """A number of chords; of a curve that leads nowhere any will do, since the caller tells of it."""
    return max(4, math.ceil(min(steps, _MOST_POINTS))) if math.isfinite(steps) else 4


def _joined_ends(parts: list[Any], gap: float) -> list[Any]:
    """Lines and arcs of one layer put end to end, those that close. gap: between ends that are one point."""
    from ezdxf import edgeminer

    edges = [edgeminer.make_edge(each.start, each.end, payload=each) for each in parts]
    deposit = edgeminer.Deposit(edges, gap_tol=gap)
    joined = []
    for chain in edgeminer.find_all_simple_chains(deposit):
        if not edgeminer.is_loop(chain, gap_tol=gap):
            continue
        whole = None
        for edge in chain:
            part = edge.payload.reversed() if edge.is_reverse else edge.payload.clone()
            if whole is None:
                whole = part
            else:
                whole.append_path(part)  # bridges a gap by a line
        joined.append(whole)
    return joined

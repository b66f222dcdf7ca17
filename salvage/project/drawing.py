"""Panels from drawings: a closed path in an SVG file or a DXF file.

Curves become polygons that may only grow: chords lie within FLATTENING of the curve, points are then
thinned by as much, and the polygon is let out by both, so that what is planned contains what was drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from salvage.errors import SalvageError
from salvage.project.project import Point
from salvage.units import MM_PER_INCH, MM_PER_UNIT, Unit

FLATTENING = 0.15  # mm, a small part of the width of a chalk line; finer costs the search time
CLOSING = 0.5  # mm, ends nearer than this are one point

# CSS Values and Units Level 3, section 5.2: 1 in = 96 px; SVG user units without a physical size are px.
MM_PER_CSS_PX = MM_PER_INCH / 96

# DXF reference, header variable $INSUNITS: 1 inches, 2 feet, 4 millimetres, 5 centimetres, 6 metres.
MM_PER_INSUNIT = {1: MM_PER_INCH, 2: 12 * MM_PER_INCH, 4: 1.0, 5: 10.0, 6: 1000.0}


def read_drawing(reference: str, folder: Path, unit: Unit) -> tuple[Point, ...]:
    """The outline named by `file.svg#id` or `file.dxf#layer`, in mm, counter-clockwise, y up.

    The part after # may be left out when the drawing holds one closed path only. folder: where the
    project file lies. unit: what a DXF drawing without a unit is in. Raises SalvageError.
    """
    file_name, _, wanted = reference.partition("#")
    path = folder / file_name
    if not path.is_file():
        raise SalvageError(f"{path}: no such drawing. Put it beside the project file or correct 'drawing'.")
    readers = {".svg": _svg_outlines, ".dxf": _dxf_outlines}
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise SalvageError(f"{path}: a drawing must be an .svg or a .dxf file.")
    outlines = reader(path, unit)
    if not outlines:
        raise SalvageError(f"{path}: has no closed path. Close the panel's outline and save it again.")
    if wanted:
        matching = [points for name, points in outlines if name == wanted]
        if not matching:
            names = ", ".join(sorted({name for name, _ in outlines if name}))
            raise SalvageError(
                f"{path}: no closed path called {wanted!r}. It has: {names or 'none with a name'}."
            )
    else:
        matching = [points for _, points in outlines]
    if len(matching) > 1 and wanted:
        raise SalvageError(
            f"{path}: {len(matching)} closed lines are called {wanted!r}, and a panel is one. Give each its own "
            "id (SVG) or layer (DXF), and leave out holes."
        )
    if len(matching) > 1:
        names = ", ".join(sorted({name for name, _ in outlines if name})) or "none with a name"
        raise SalvageError(
            f"{path}: has {len(matching)} closed paths ({names}). Name the one that is meant: {path.name}#name."
        )
    return _let_out(matching[0], path)


def _let_out(points: list[Point], path: Path) -> tuple[Point, ...]:
    polygon = Polygon(points)
    if not polygon.is_valid or polygon.area < 1.0:
        raise SalvageError(
            f"{path}: the outline crosses itself or has no area. Draw it as one simple closed line."
        )
    # Straight-sided drawings lose nothing in flattening and must stay exact.
    if len(points) > 12:
        polygon = polygon.simplify(FLATTENING).buffer(2 * FLATTENING, join_style="mitre")
    ring = list(orient(polygon).exterior.coords)[:-1]
    return tuple((float(x), float(y)) for x, y in ring)


def _svg_outlines(path: Path, _unit: Unit) -> list[tuple[str, list[Point]]]:
    from svgelements import SVG, Shape
    from svgelements import Path as SvgPath

    try:
        drawing = SVG.parse(str(path), ppi=96.0)
    except Exception as error:  # the parser raises many kinds, none of them its own
        raise SalvageError(f"{path}: is not an SVG drawing that can be read ({error}).") from error
    found = []
    for element in drawing.elements():
        if not isinstance(element, Shape):
            continue
        for part in SvgPath(element).as_subpaths():
            points = _flatten_svg(SvgPath(part))
            ring = _closed_ring([(x * MM_PER_CSS_PX, -y * MM_PER_CSS_PX) for x, y in points])
            if ring:
                found.append((str(element.id or ""), ring))
    return found


def _flatten_svg(path: Any) -> list[Point]:
    from svgelements import Close, Line, Move

    points: list[Point] = []
    for segment in path:
        if isinstance(segment, Move):
            points.append((segment.end.x, segment.end.y))
        elif isinstance(segment, (Line, Close)):
            if segment.end is not None:
                points.append((segment.end.x, segment.end.y))
        else:
            # A chord over a n-th of a curve of length L is off by at most about L * angle / (8 n^2).
            length = segment.length(error=1e-3)
            steps = max(4, math.ceil(math.sqrt(length * math.pi / 8 / (FLATTENING / MM_PER_CSS_PX))))
            points += [(p.x, p.y) for p in (segment.point(i / steps) for i in range(1, steps + 1))]
    return points


def _dxf_outlines(path: Path, unit: Unit) -> list[tuple[str, list[Point]]]:
    import ezdxf
    from ezdxf import path as dxf_path

    try:
        document = ezdxf.readfile(path)
    except (OSError, ezdxf.DXFError) as error:
        raise SalvageError(f"{path}: is not a DXF drawing that can be read ({error}).") from error
    scale = MM_PER_INSUNIT.get(int(document.header.get("$INSUNITS", 0)), MM_PER_UNIT[unit])
    found: list[tuple[str, list[Point]]] = []
    loose: dict[str, list[Any]] = {}
    for entity in document.modelspace():
        try:
            drawn = dxf_path.make_path(entity)
        except TypeError:
            continue  # text, dimensions and the like are no outlines
        layer = str(entity.dxf.layer)
        if drawn.is_closed:
            found += _rings([drawn], layer, scale)
        else:
            loose.setdefault(layer, []).append(drawn)
    for layer, parts in loose.items():
        found += _rings(_joined_ends(parts), layer, scale)
    return found


def _joined_ends(parts: list[Any]) -> list[Any]:
    """Lines and arcs of one layer, put end to end."""
    remaining = list(parts)
    chains = []
    while remaining:
        chain = remaining.pop()
        grown = True
        while grown:
            grown = False
            for index, other in enumerate(remaining):
                if chain.end.isclose(other.start, abs_tol=1e-3):
                    following = other
                elif chain.end.isclose(other.end, abs_tol=1e-3):
                    following = other.reversed()
                else:
                    continue
                chain.append_path(following)
                del remaining[index]
                grown = True
                break
        chains.append(chain)
    return chains


def _rings(paths: Iterable[Any], layer: str, scale: float) -> list[tuple[str, list[Point]]]:
    found = []
    for drawn in paths:
        points = [(p.x * scale, p.y * scale) for p in drawn.flattening(FLATTENING / scale, segments=8)]
        ring = _closed_ring(points)
        if ring:
            found.append((layer, ring))
    return found


def _closed_ring(points: list[Point]) -> list[Point] | None:
    """The points without the repeated last one, or None where the line doesn't close."""
    if len(points) < 4 or math.dist(points[0], points[-1]) > CLOSING:
        return None
    ring = points[:-1]
    return [p for i, p in enumerate(ring) if math.dist(p, ring[i - 1]) > 1e-6]

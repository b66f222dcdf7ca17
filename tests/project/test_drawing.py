"""Drawings: ends put together within a tolerance in mm, curves that contain what was drawn, nothing endless.

Truth: the drawings are written by ezdxf, the shapes' areas are those of plane geometry.
"""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing
from ezdxf.layouts import Modelspace
from shapely.geometry import Point, Polygon

from salvage.errors import SalvageError
from salvage.project.drawing import FLATTENING, read_drawing
from salvage.units import Unit

CORNERS = [(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]


def drawing(folder: Path, *, inch: bool = False) -> tuple[Drawing, Modelspace, Path]:
    document = ezdxf.new(units=1 if inch else 4)
    return document, document.modelspace(), folder / "panel.dxf"


def lines(
    space: Modelspace, corners: list[tuple[float, float]], *, gap: float = 0.0, layer: str = "front"
) -> None:
    """A ring of separate lines; each ends short of the next corner by `gap`. Every other one runs backwards."""
    for index, (a, b) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True)):
        length = math.dist(a, b)
        end = (b[0] - (b[0] - a[0]) * gap / length, b[1] - (b[1] - a[1]) * gap / length)
        first, last = (a, end) if index % 2 else (end, a)
        space.add_line(first, last, dxfattribs={"layer": layer})


@pytest.mark.parametrize("gap", [0.0, 0.05, 0.4])
def test_lines_that_end_near_each_other_close(tmp_path: Path, gap: float) -> None:
    document, space, path = drawing(tmp_path)
    lines(space, CORNERS, gap=gap)
    document.saveas(path)
    area = Polygon(read_drawing("panel.dxf#front", tmp_path, Unit.MM)).area
    assert area == pytest.approx(300 * 200, abs=0.5 * gap * 500 + 1e-6)


def test_a_gap_that_shows_is_no_closed_line(tmp_path: Path) -> None:
    document, space, path = drawing(tmp_path)
    lines(space, CORNERS, gap=1.0)
    document.saveas(path)
    with pytest.raises(SalvageError, match="closed"):
        read_drawing("panel.dxf", tmp_path, Unit.MM)


def test_the_tolerance_is_in_mm_whatever_the_drawing_is_in(tmp_path: Path) -> None:
    document, space, path = drawing(tmp_path, inch=True)
    lines(space, [(x / 25.4, y / 25.4) for x, y in CORNERS], gap=0.4 / 25.4)
    document.saveas(path)
    assert Polygon(read_drawing("panel.dxf", tmp_path, Unit.MM)).area == pytest.approx(60_000, abs=150)
    document, space, path = drawing(tmp_path, inch=True)
    lines(space, [(x / 25.4, y / 25.4) for x, y in CORNERS], gap=1.0 / 25.4)
    document.saveas(path)
    with pytest.raises(SalvageError, match="closed"):
        read_drawing("panel.dxf", tmp_path, Unit.MM)


def test_a_line_that_leads_away_from_the_outline_is_no_part_of_it(tmp_path: Path) -> None:
    document, space, path = drawing(tmp_path)
    lines(space, CORNERS)
    space.add_line((0, 0), (100, 90), dxfattribs={"layer": "front"})
    document.saveas(path)
    assert Polygon(read_drawing("panel.dxf#front", tmp_path, Unit.MM)).area == pytest.approx(60_000)


def test_arcs_and_lines_make_a_rounded_end_that_contains_what_was_drawn(tmp_path: Path) -> None:
    document, space, path = drawing(tmp_path)
    space.add_line((0, 0), (200, 0), dxfattribs={"layer": "tab"})
    space.add_arc((200, 50), 50, 270, 90, dxfattribs={"layer": "tab"})
    space.add_line((200, 100), (0, 100), dxfattribs={"layer": "tab"})
    space.add_line((0, 100), (0, 0), dxfattribs={"layer": "tab"})
    document.saveas(path)
    read = Polygon(read_drawing("panel.dxf", tmp_path, Unit.MM))
    true = Polygon([(0, 0), (200, 0), (200, 100), (0, 100)]).union(Point(200, 50).buffer(50, quad_segs=2000))
    assert read.buffer(0.02).covers(true)  # an arc of a drawing is a cubic, off by 0.03 % of its radius
    assert read.area == pytest.approx(200 * 100 + math.pi * 50**2 / 2, abs=3 * FLATTENING * read.length)


def test_an_outline_of_no_height_at_all_is_refused(tmp_path: Path) -> None:
    """Halved until it is flat, in height too, such an arc never ended."""
    document, space, path = drawing(tmp_path)
    arc = space.add_lwpolyline([(0, 0, 0, 0, 1), (200, 0, 0, 0, 1)], close=True)
    arc.dxf.elevation = math.nan
    document.saveas(path)
    with pytest.raises(SalvageError, match="closed"):
        read_drawing("panel.dxf", tmp_path, Unit.MM)


def test_a_height_that_is_far_off_does_not_matter(tmp_path: Path) -> None:
    document, space, path = drawing(tmp_path)
    arc = space.add_lwpolyline([(0, 0, 0, 0, 1), (200, 0, 0, 0, 1)], close=True)
    arc.dxf.elevation = 1e300
    document.saveas(path)
    read = Polygon(read_drawing("panel.dxf", tmp_path, Unit.MM))
    assert read.area == pytest.approx(math.pi * 100**2, rel=0.01)


def test_an_svg_curve_drawn_to_nowhere_is_refused(tmp_path: Path) -> None:
    """Its ends are where they should be; what pulls the curve between them is no number."""
    path = tmp_path / "panel.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><path id="f" d="M0 0 L300 0 C300 1e999 200 -1e999 0 200 Z"/></svg>'
    )
    with pytest.raises(SalvageError, match="nowhere"):
        read_drawing("panel.svg#f", tmp_path, Unit.MM)

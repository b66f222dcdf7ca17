"""What a panel keeps of the garment, on its template: read back from PDF, SVG (svgelements) and DXF (GDAL)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import shapely
from shapely.geometry import Polygon, box
from template_files import read_dxf, read_svg

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.project.project import Project
from salvage.project.read import project_from
from salvage.report.template.layout import layout_sheet
from salvage.report.template.write import patterns_of, templates
from salvage.units import Unit

EXACT = 0.2  # mm
ROUND_POCKET = {"name": "front", "finished": [200, 240], "around": "pocket", "at": [100, 90], "tolerance": 12}
SIDES = ["bottom", "top", "left", "right"]


def made(panel: dict[str, Any]) -> Project:
    return project_from({"seam_allowance": 10, "panel": [panel]}, folder=Path())


def on_hem(side: str) -> Project:
    return made({"name": "skirt", "finished": [210, 150], "edge": "hem", "edge_side": side})


def garment() -> Garment:
    pocket = Blocked(BlockedKind.POCKET, box(200, 150, 310, 270), 3.0, what="patch pocket")
    return Garment("coat", (Piece("front", box(0, 0, 500, 600), blocked=(pocket,)),))


def text_of(data: bytes) -> str:
    document = pypdfium2.PdfDocument(data)
    return " ".join(page.get_textpage().get_text_range() for page in document)


@pytest.mark.parametrize("read", [read_svg, read_dxf])
def test_where_a_kept_thing_may_lie_is_drawn_on_its_own_layer(read: Any, tmp_path: Path) -> None:
    """A square of the tolerance about the wanted place, measured from the cut line's corner."""
    ending = ".svg" if read is read_svg else ".dxf"
    layers = read(templates(made(ROUND_POCKET), ending, Unit.MM), tmp_path)
    cut = next(each for each in layers["cut"] if each.geom_type == "Polygon")
    (square,) = (each for each in layers["kept"] if each.geom_type == "Polygon")
    x, y = cut.bounds[0] + 10 + 100, cut.bounds[1] + 10 + 90
    assert square.hausdorff_distance(box(x - 12, y - 12, x + 12, y + 12)) < EXACT
    crosses = [each for each in layers["kept"] if each.geom_type == "LineString"]
    assert len(crosses) == 2
    assert all(each.centroid.distance(shapely.Point(x, y)) < EXACT for each in crosses)


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("read", [read_svg, read_dxf])
def test_the_finished_edge_is_drawn_on_its_own_layer(read: Any, side: str, tmp_path: Path) -> None:
    """It runs along that side of the cut line, from corner to corner, and no allowance lies outside it."""
    ending = ".svg" if read is read_svg else ".dxf"
    layers = read(templates(on_hem(side), ending, Unit.MM), tmp_path)
    (cut,), (stitch,), (edge,) = layers["cut"], layers["stitch"], layers["edge"]
    assert edge.length == pytest.approx(230 if side in ("bottom", "top") else 170, abs=EXACT)
    assert edge.hausdorff_distance(shapely.intersection(cut.exterior, edge.buffer(EXACT))) < 2 * EXACT
    assert shapely.intersection(stitch.exterior, edge.buffer(EXACT)).length >= 150 - EXACT
    middle = edge.centroid
    left, bottom, right, top = cut.bounds
    at = {
        "bottom": middle.y - bottom,
        "top": top - middle.y,
        "left": middle.x - left,
        "right": right - middle.x,
    }
    assert at[side] < EXACT


def test_the_paper_says_what_is_kept() -> None:
    round_pocket = text_of(templates(made(ROUND_POCKET), ".pdf", Unit.MM))
    assert "middle of the pocket, 12 mm off at most" in round_pocket
    assert "Thick dots" in round_pocket
    edge = text_of(templates(on_hem("bottom"), ".pdf", Unit.MM))
    assert "lay on the hem, no allowance" in edge
    assert "allowance 10 mm included, none on the hem" in edge
    assert "finished edge" in edge
    plain = text_of(templates(made({"name": "front", "finished": [100, 100]}), ".pdf", Unit.MM))
    assert "Thick" not in plain


def test_anywhere_inside_is_said_where_no_place_is_wanted() -> None:
    anywhere = {key: value for key, value in ROUND_POCKET.items() if key not in ("at", "tolerance")}
    assert "whole inside the stitching, anywhere" in text_of(templates(made(anywhere), ".pdf", Unit.MM))


def test_the_thing_itself_is_drawn_where_it_shall_lie() -> None:
    """Of the garment's own size, its middle where it is wanted."""
    (drawing,) = patterns_of(made(ROUND_POCKET), Unit.MM, strips=False, garments=[garment()])
    rings = [Polygon(line.points) for line in drawing.lines if line.layer == "kept" and line.closed]
    pocket = max(rings, key=lambda each: each.area)
    assert pocket.hausdorff_distance(box(110 - 55, 100 - 60, 110 + 55, 100 + 60)) < EXACT


def test_a_layout_at_full_size_shows_what_lies_in_the_panel() -> None:
    project = made(ROUND_POCKET)
    outline = Polygon(project.panels[0].outline)
    shape = shapely.transform(outline, lambda p: p - outline.bounds[:2] + [145.0, 110.0])
    answer = Answer(Verdict.YES, (), (Placement("front", 1, None, 0, "front", 1, 0.0, False, shape),))
    drawing = layout_sheet(answer, [garment()], project, Unit.MM)
    assert drawing is not None
    kept = [Polygon(line.points) for line in drawing.lines if line.layer == "kept" and line.closed]
    assert any(each.area == pytest.approx(110 * 120) for each in kept)
    assert any(each.area == pytest.approx(24 * 24) for each in kept)
    # words keep off what is drawn there
    texts = [
        shapely.Point(text.at) for text in drawing.texts if "front" in text.text and "coat" not in text.text
    ]
    assert texts
    assert all(each.exterior.distance(at) > 1.0 for each in kept for at in texts)

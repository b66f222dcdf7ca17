"""Templates are exact to 0.2 mm: PDF pages rendered and measured, SVG and DXF read back by other libraries than
wrote them (svgelements; GDAL through pyogrio)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import shapely
from paper import PX_PER_MM, offset, rendered, stations
from shapely import affinity
from shapely.geometry import Polygon
from template_files import read_dxf, read_svg

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.project.project import Project
from salvage.project.read import project_from
from salvage.report.template.lay import frame_of, tiled
from salvage.report.template.layout import layout_sheet
from salvage.report.template.pdf import sheet_pdf
from salvage.report.template.vector import to_dxf, to_svg
from salvage.report.template.write import patterns_of, templates
from salvage.units import Unit

EXACT = 0.2  # mm

BAG = {"name": "tote", "kind": "bag", "width": 260, "height": 240, "depth": 80}
HAT = {"name": "hat", "kind": "hat", "head": 570, "crown": 170, "brim": 55, "slope": 25}
SMALL = {"name": "tag", "kind": "flat pocket", "width": 40, "height": 50, "hem": 0}


def made(*parts: dict[str, Any]) -> Project:
    return project_from({"seam_allowance": 10, "part": list(parts)}, folder=Path())


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter"])
@pytest.mark.parametrize("part", [BAG, HAT])
def test_the_cut_line_runs_true_over_all_sheets(part: dict[str, Any], paper: str) -> None:
    """Each sheet measured by itself: wherever the line lies on it, it lies where the tiling says."""
    project = made(part)
    frame = frame_of(paper)
    groups = tiled(patterns_of(project, Unit.MM, strips=False), frame)
    data = templates(project, ".pdf", Unit.MM, paper=paper)
    document = pypdfium2.PdfDocument(data)
    first = len(document) - sum(len(group.tiles) for group in groups)
    seen: dict[tuple[str, int], list[float]] = {}
    for group in groups:
        notches = shapely.union_all(
            [shapely.LineString(line.points) for line in group.drawing.lines if line.layer == "notch"]
        ).buffer(2.0)  # a notch begins on the line and would pull its middle inward
        rings = [line.points for line in group.drawing.lines if line.layer == "cut"]
        for tile in group.tiles:
            picture = rendered(data, first + tile.number - 1)
            shift = np.array(frame.low) - tile.at
            for number, ring in enumerate(rings):
                for index, (x, y, normal) in enumerate(stations(list(ring), 11.0, off=1.0)):
                    px, py = np.array((x, y)) + shift
                    inside = all(
                        low + 1.0 < at < low + room - 1.0
                        for at, low, room in zip((px, py), frame.low, frame.size, strict=True)
                    )
                    if inside and not notches.intersects(shapely.Point(x, y)):
                        off = offset(picture, px, py, normal)
                        if off is not None:
                            seen.setdefault((f"{group.names[0]}{number}", index), []).append(off)
                        else:
                            seen.setdefault((f"{group.names[0]}{number}", index), [])
    missing = [key for key, offs in seen.items() if not offs]
    assert not missing
    assert len(seen) > 60
    assert max(abs(off) for offs in seen.values() for off in offs) < EXACT


@pytest.mark.parametrize(("unit", "side"), [(Unit.MM, 100.0), (Unit.INCH, 101.6)])
def test_the_test_square_measures_what_it_says(unit: Unit, side: float) -> None:
    """Its four sides found in the rendered first page; beyond them is white."""
    data = templates(made(SMALL), ".pdf", unit)
    picture = rendered(data, 0)
    rows = np.flatnonzero((picture > 0.4).sum(axis=1) > 0.95 * side * PX_PER_MM)
    columns = np.flatnonzero((picture > 0.4).sum(axis=0) > 0.95 * side * PX_PER_MM)
    # the lowest and the highest of the long lines of each direction; the rule under a heading is longer
    long_rows = [row for row in rows if (picture[row] > 0.4).sum() < 1.05 * side * PX_PER_MM]
    assert (max(columns) - min(columns)) / PX_PER_MM == pytest.approx(side, abs=EXACT + 0.2)
    assert (max(long_rows) - min(long_rows)) / PX_PER_MM == pytest.approx(side, abs=EXACT + 0.2)


def test_crosses_on_two_sheets_lie_on_each_other() -> None:
    """The strip that two sheets share shows the same on both."""
    project = made(BAG)
    frame = frame_of("A4")
    (group,) = tiled(patterns_of(project, Unit.MM, strips=False), frame)
    data = templates(project, ".pdf", Unit.MM)
    left = next(tile for tile in group.tiles if (tile.column, tile.row) == (0, 0))
    right = next(tile for tile in group.tiles if (tile.column, tile.row) == (1, 0))
    pictures = [rendered(data, tile.number, 6.0) for tile in (left, right)]
    strip = 10.0
    ends = (frame.low[0] + frame.size[0] - strip, frame.low[0])
    low, high = (int(v * 6) for v in (frame.low[1] + 1, frame.low[1] + frame.size[1] - 1))
    cut = [
        picture[low:high, round((x + 1.0) * 6) : round((x + 1.0) * 6) + int(6 * (strip - 2))]
        for picture, x in zip(pictures, ends, strict=True)
    ]
    assert (cut[0] > 0.5).sum() > 300  # the crosses and the cut lines are there
    differ = np.abs(cut[0] - cut[1]) > 0.5
    assert differ.mean() < 0.004  # half a pixel's rounding along the lines


def test_no_sheet_is_empty() -> None:
    """An L over four sheets: the one in its notch is left out, and what is printed carries something."""
    corner = [[0, 0], [330, 0], [330, 100], [100, 100], [100, 450], [0, 450]]
    project = project_from({"panel": [{"name": "l", "outline": corner}]}, folder=Path())
    frame = frame_of("A4")
    (group,) = tiled(patterns_of(project, Unit.MM, strips=False), frame)
    assert len(group.tiles) == 3
    data = templates(project, ".pdf", Unit.MM)
    document = pypdfium2.PdfDocument(data)
    assert len(document) == 1 + 3
    low_x, low_y = (int(v * 4) + 8 for v in frame.low)
    for number in range(1, 4):
        inside = rendered(data, number, 4.0)[low_y:-60, low_x:-low_x]
        assert (inside > 0.4).sum() > 200


def test_small_templates_share_a_sheet() -> None:
    parts = [SMALL | {"name": f"tag {k}"} for k in range(6)]
    groups = tiled(patterns_of(made(*parts), Unit.MM, strips=False), frame_of("A4"))
    assert [len(group.tiles) for group in groups] == [1]
    shapes = [Polygon(line.points) for line in groups[0].drawing.lines if line.layer == "cut"]
    assert len(shapes) == 6
    assert all(a.distance(b) > 5 for a in shapes for b in shapes if a is not b)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])
def test_a_sheet_says_what_the_panel_is(unit: Unit) -> None:
    document = pypdfium2.PdfDocument(templates(made(BAG), ".pdf", unit))
    pages = [document[i].get_textpage().get_text_range() for i in range(len(document))]
    whole = " ".join(pages)
    for words in (
        "tote wall",
        "cut 2",
        "fabric: shell",
        "grain: along",
        "included",
        "sheet 1 of 4",
        "boxed corner",
    ):
        assert words in whole
    size = "360 × 300 mm" if unit is Unit.MM else "14.17 × 11.81 in"
    assert f"cut size {size}" in whole


def same_shape(found: Polygon, wanted: Polygon) -> float:
    """How far two outlines are apart when laid on each other by their boxes, mm."""
    moved = affinity.translate(found, wanted.bounds[0] - found.bounds[0], wanted.bounds[1] - found.bounds[1])
    return float(moved.exterior.hausdorff_distance(wanted.exterior))


@pytest.mark.parametrize("part", [BAG, HAT, SMALL])
@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_drawings_read_back_as_the_project_cuts_it(part: dict[str, Any], kind: str, tmp_path: Path) -> None:
    project = made(part)
    data = templates(project, f".{kind}", Unit.MM)
    layers = read_svg(data, tmp_path) if kind == "svg" else read_dxf(data, tmp_path)
    assert len(layers["cut"]) == len(project.panels)
    for panel in project.panels:
        cut = min(same_shape(shape, Polygon(panel.outline)) for shape in layers["cut"])
        stitch = min(same_shape(shape, Polygon(panel.stitching)) for shape in layers["stitch"])
        assert cut < 0.001
        assert stitch < 0.001
    assert (
        len(layers["notch"]) == sum(len(panel.notches) for panel in project.panels)
        if part is not SMALL
        else True
    )
    assert layers["grain"]
    if kind == "dxf":
        assert layers["text"]


def test_svg_has_a_group_for_each_kind_of_line_and_says_millimetres() -> None:
    (drawing,) = patterns_of(made(SMALL), Unit.MM, strips=False)
    text = to_svg(drawing)
    for layer in ("cut", "stitch"):
        assert f'id="{layer}"' in text
    assert 'width="66.0000mm"' in text  # 40 + 2 x 10, and 3 of white on either side


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_the_whole_layout_lies_as_the_answer_has_it(
    answer: Answer, coat: Garment, project: Project, kind: str, tmp_path: Path
) -> None:
    """Each shape, and where it lies to the others of its piece; pieces stand grain-up."""
    drawing = layout_sheet(answer, [coat], project, Unit.MM)
    assert drawing is not None
    layers = (
        read_svg(to_svg(drawing).encode(), tmp_path) if kind == "svg" else read_dxf(to_dxf(drawing), tmp_path)
    )
    cuts = layers["cut"]
    assert len(cuts) == len(answer.placements)
    (edge,) = (s for s in layers["cloth"] if same_shape(s, coat.pieces[0].outline) < 0.01)
    at = np.array(edge.bounds[:2])
    for placement in answer.placements:
        if placement.piece == "back":
            wanted = affinity.translate(placement.shape, *at)
            assert min(s.symmetric_difference(wanted).area for s in cuts) < 0.5


def test_a_mirrored_panel_keeps_its_notches_on_the_right_edge(tmp_path: Path) -> None:
    """A panel with one notch, laid mirrored and turned a quarter: the notch begins on the placed edge."""
    from salvage.cloth.garment import Garment, Piece
    from salvage.fit.answer import Answer, Placement, Verdict

    project = project_from(
        {
            "seam_allowance": 10,
            "panel": [{"name": "a", "outline": [[0, 0], [200, 0], [120, 150], [0, 150]], "flip": True}],
            "seam": [{"sew": "a, right", "to": "a, right"}],
        },
        folder=Path(),
    )
    (panel,) = project.panels
    placed = affinity.scale(Polygon(panel.outline), -1, 1, origin=(0, 0))
    placed = affinity.translate(affinity.rotate(placed, 90, origin=(0, 0)), 300, 400)
    answer = Answer(Verdict.YES, (), (Placement("a", 1, None, 0, "sheet", 1, 90.0, True, placed),))
    cloth = Garment("cloth", (Piece("sheet", shapely.box(0, 0, 600, 700)),))
    drawing = layout_sheet(answer, [cloth], project, Unit.MM)
    assert drawing is not None
    (notch,) = (line for line in drawing.lines if line.layer == "notch")
    (cut,) = (line for line in drawing.lines if line.layer == "cut")
    edge = Polygon(cut.points)
    assert shapely.Point(notch.points[0]).distance(edge.exterior) < 0.01
    assert edge.buffer(0.01).covers(shapely.LineString(notch.points))


def test_one_sheet_for_a_plotter_is_as_wide_as_the_roll() -> None:
    document = pypdfium2.PdfDocument(templates(made(BAG, HAT), ".pdf", Unit.MM, roll=610.0))
    assert len(document) == 1
    assert document[0].get_width() * 25.4 / 72 == pytest.approx(610, abs=0.1)


def test_the_ruler_of_a_sheet_is_true() -> None:
    (drawing,) = patterns_of(made(SMALL), Unit.MM, strips=False)
    picture = rendered(sheet_pdf(drawing, Unit.MM), 0)
    ends = np.flatnonzero(picture[int(4 * PX_PER_MM)] > 0.4)
    assert (ends.max() - ends.min()) / PX_PER_MM == pytest.approx(100, abs=EXACT)

"""What is put on a leaf is shown where it belongs: the PDF by another program, the drawing read back by another library."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import Polygon, box
from svgelements import SVG, Path

from salvage.report.pen.leaf import POINTS_PER_MM, Leaf
from salvage.report.pen.marks import Across, Area, Casing, Mark, Stroke, Up, Words
from salvage.report.pen.paint import painting_of
from salvage.report.pen.pdf import pdf_of
from salvage.report.pen.svg import svg_of

WIDE, HIGH = 120.0, 90.0  # mm
PX_PER_MM = 10.0


def shown(*leaves: Leaf) -> list[NDArray[np.float64]]:
    """Each page, (h, w, 3), row 0 at its lower edge."""
    document = pypdfium2.PdfDocument(pdf_of(leaves, "leaves"))
    pages = [page.render(scale=PX_PER_MM / POINTS_PER_MM, rev_byteorder=True).to_numpy() for page in document]
    return [page[::-1, :, :3].astype(float) for page in pages]


def dark(picture: NDArray[np.float64]) -> tuple[float, float, float, float]:
    """The box of what is drawn, mm."""
    rows, columns = np.nonzero(picture.min(axis=2) < 128)
    left, low, right, high = columns.min(), rows.min(), columns.max() + 1, rows.max() + 1
    return left / PX_PER_MM, low / PX_PER_MM, right / PX_PER_MM, high / PX_PER_MM


def leaf_with(*marks: Mark) -> Leaf:
    leaf = Leaf(WIDE, HIGH)
    pen = leaf.pen()
    for mark in marks:
        pen.put(mark)
    return leaf


def run(*points: tuple[float, float]) -> NDArray[np.float64]:
    return np.array(points, float)


def test_a_field_s_units_fill_it() -> None:
    leaf = Leaf(WIDE, HIGH)
    leaf.field(20, 10, 80, 40).pen(-100, 200, 700, 600).put(Area((box(0, 300, 600, 500),), "#000000"))
    assert dark(*shown(leaf)) == pytest.approx((30, 20, 90, 40), abs=0.15)


def test_areas_and_lines_end_at_the_edge_of_their_field_and_at_a_pen_s_own() -> None:
    leaf = Leaf(WIDE, HIGH)
    inner = leaf.field(20, 10, 80, 40).pen(0, 0, 80, 40)
    inner.put(Area((box(-30, -30, 200, 20),), "#000000"))
    inner.put(Stroke((run((-50, 30), (300, 30)),), "#000000", 2.0))
    other = Leaf(WIDE, HIGH)
    other.pen((20, 10, 100, 50)).put(Area((box(0, 0, 200, 200),), "#000000"))
    first, second = shown(leaf, other)
    assert dark(first)[:3] == pytest.approx((20, 10, 100), abs=0.15)
    assert dark(second) == pytest.approx((20, 10, 100, 50), abs=0.15)


def test_what_a_later_pen_puts_lies_on_top_and_so_does_a_higher_order() -> None:
    leaf = Leaf(WIDE, HIGH)
    below, above = leaf.pen(), leaf.pen()
    above.put(Area((box(10, 10, 30, 30),), "#00ff00"))
    below.put(Area((box(10, 10, 60, 30),), "#ff0000", order=9))
    below.put(Area((box(10, 10, 90, 30),), "#0000ff", order=2))
    (page,) = shown(leaf)
    assert [page[200, x].tolist() for x in (200, 500, 800)] == [[0, 255, 0], [255, 0, 0], [0, 0, 255]]


def test_a_picture_fills_its_field_and_marks_lie_on_it() -> None:
    leaf = Leaf(WIDE, HIGH)
    field = leaf.field(10, 20, 60, 40)
    pixels = np.zeros((40, 60, 3), np.uint8)
    pixels[:20] = (200, 30, 30)  # its upper half
    field.lay(pixels)
    field.pen(0, 0, 60, 40).put(Area((box(0, 0, 10, 40),), "#ffffff"))
    (page,) = shown(leaf)
    assert page[550, 600] == pytest.approx([200, 30, 30], abs=6)
    assert page[250, 600] == pytest.approx([0, 0, 0], abs=6)
    assert page[550, 150] == pytest.approx([255, 255, 255], abs=1)
    assert page[700, 600].min() == 255


def test_words_can_be_searched_with_their_accents_also_where_a_halo_is_drawn() -> None:
    said = ["Täschchen für Žofie – ¾ × 5″", "Ωж", "AVAT kerned", "袋"]
    marks = [
        Words(60, 20 + 15 * k, text, 11, "#000000", halo="#ffffff" if k == 2 else None, halo_width=2)
        for k, text in enumerate(said)
    ]
    document = pypdfium2.PdfDocument(pdf_of([leaf_with(*marks)], "Žofie"))
    text = document[0].get_textpage().get_text_range()
    assert all(each in text for each in said)
    assert document.get_metadata_dict()["Title"] == "Žofie"


@pytest.mark.parametrize("text", ["caf\udce9", "a\tb\x00c\u200b", "\u0301", "👜 \U0010fffd", " "])
def test_whatever_a_name_holds_a_page_is_written(text: str) -> None:
    leaf = leaf_with(Words(60, 20, text, 11, "#000000", halo="#ffffff"), Words(60, 50, "bag", 11, "#000000"))
    document = pypdfium2.PdfDocument(pdf_of([leaf], text))
    assert "bag" in document[0].get_textpage().get_text_range()
    assert svg_of(leaf).startswith(b"<svg")


def test_the_same_leaves_give_the_same_file() -> None:
    leaf = leaf_with(Words(60, 20, "flap", 11, "#000000"), Area((box(10, 40, 50, 60),), "#56b4e9", alpha=0.6))
    assert pdf_of([leaf], "") == pdf_of([leaf], "")
    assert svg_of(leaf) == svg_of(leaf)


# --- drawings ------------------------------------------------------------------------------------

PLACES: tuple[tuple[Across, Up, float, bool], ...] = (
    ("center", "center_baseline", 33.0, True),
    ("left", "baseline", 0.0, False),
    ("right", "top", 90.0, False),
)


def in_svg(leaf: Leaf) -> list[Path]:
    """The shapes of a drawing, mm with y up, without the paper."""
    read = SVG.parse(io.BytesIO(svg_of(leaf)), ppi=96)
    paths = [each for each in read.elements() if isinstance(each, Path)]
    return [
        abs(path * f"scale({25.4 / 96}, {-25.4 / 96}) translate(0, {-leaf.height * 96 / 25.4})")
        for path in paths
    ][1:]


def boxes(paths: list[Path]) -> tuple[float, float, float, float]:
    found = np.array([path.bbox() for path in paths])
    left, low = found[:, :2].min(axis=0)
    right, high = found[:, 2:].max(axis=0)
    return float(left), float(low), float(right), float(high)


def test_a_drawing_measures_what_was_drawn() -> None:
    ring = Polygon(box(20, 30, 70, 60).exterior, [box(40, 40, 50, 50).exterior.coords])
    paths = in_svg(leaf_with(Area((ring,), "#56b4e9"), Stroke((run((10, 5), (100, 80)),), "#22303c", 1.0)))
    drawn = [path for path in paths if path.bbox() is not None]
    assert boxes(drawn[:1]) == pytest.approx((20, 30, 70, 60), abs=0.02)
    assert len(list(drawn[0].as_subpaths())) == 2
    assert boxes(drawn[1:]) == pytest.approx((10, 5, 100, 80), abs=0.02)


@pytest.mark.parametrize(("across", "up", "turn", "anchored"), PLACES)
def test_a_drawing_s_words_stand_where_the_pdf_s_do(
    across: Across, up: Up, turn: float, anchored: bool
) -> None:
    leaf = leaf_with(Words(60, 45, "AV 2 yoke, ½", 14, "#000000", True, across, up, turn, anchored))
    letters = [path for path in in_svg(leaf) if path.bbox() is not None][-9:]  # signs without the blanks
    left, low, right, high = boxes(letters)
    printed = dark(*shown(leaf))
    assert (left, low, right, high) == pytest.approx(printed, abs=0.25)


def test_a_leaf_of_many_shapes_becomes_a_picture_of_its_size() -> None:
    leaf = leaf_with(
        Area((box(20, 30, 70, 60),), "#000000", edge="#22303c", hatch="oo"),
        Stroke((run((10, 5), (100, 5)),), "#000000", 2.0, (3, 2), Casing("#ffffff", 4.0, 0.7)),
    )
    picture = Image.open(io.BytesIO(painting_of(leaf, PX_PER_MM / POINTS_PER_MM).png()))
    assert picture.size == (WIDE * PX_PER_MM, HIGH * PX_PER_MM)
    left, low, right, high = dark(np.asarray(picture).astype(float)[::-1])
    assert (left, right, high) == pytest.approx((10, 100, 60), abs=0.2)
    assert low == pytest.approx(5 - 1 / POINTS_PER_MM, abs=0.2)


@pytest.mark.parametrize("hatch", ["//", "..", "oo", "xx"])
def test_a_hatching_of_a_drawing_covers_its_area_and_no_more(hatch: str) -> None:
    paths = in_svg(leaf_with(Area((box(20, 30, 70, 60),), edge="#22303c", hatch=hatch)))
    left, low, right, high = boxes([path for path in paths if path.bbox() is not None])
    beyond = 0.5  # mm: a ring whose middle lies within
    assert 20 - beyond < left < 24.5
    assert 65.5 < right < 70 + beyond
    assert 30 - beyond < low < 34.5
    assert 55.5 < high < 60 + beyond

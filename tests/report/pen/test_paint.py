"""What the pen of pixels paints, beside what it should cover and beside what the PDF of the same marks shows."""

from __future__ import annotations

import cv2
import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from salvage.report.pen.leaf import Leaf
from salvage.report.pen.marks import Across, Area, Casing, Mark, Stroke, Up, Words, rgba
from salvage.report.pen.paint import Painting
from salvage.report.pen.pdf import pdf_of

SIDE = 300  # page units, pixels and points: one size for all


def painted(*marks: Mark, finer: int = 1, under: int = 255) -> NDArray[np.float64]:
    painting = Painting(np.full((SIDE, SIDE, 3), under, np.uint8), finer=finer)
    pen = painting.pen(1.0, 1.0, SIDE)
    for mark in marks:
        pen.put(mark)
    return painting.painted()[..., :3].astype(float)


def printed(*marks: Mark) -> NDArray[np.float64]:
    """As another program shows it."""
    leaf = Leaf(SIDE * 25.4 / 72, SIDE * 25.4 / 72)
    pen = leaf.field().pen(0.0, 0.0, SIDE, SIDE)
    for mark in marks:
        pen.put(mark)
    page = pypdfium2.PdfDocument(pdf_of([leaf], "marks"))[0]
    return page.render(scale=1, rev_byteorder=True).to_numpy()[..., :3].astype(float)


def run(*points: tuple[float, float]) -> NDArray[np.float64]:
    return np.array(points, float)


@pytest.mark.parametrize("width", [0.7, 2.0, 5.3, 11.0])
def test_a_line_covers_its_width(width: float) -> None:
    dark = 1 - painted(Stroke((run((50, 40), (58, 260)),), "#000000", width))[..., 0] / 255
    assert dark[100:200].sum(axis=1).mean() == pytest.approx(width, abs=0.25)


def test_an_area_covers_what_it_is_and_its_hole_stays_open() -> None:
    ring = Polygon(box(60, 60, 220, 200).exterior, [box(100, 100, 150, 160).exterior.coords])
    dark = 1 - painted(Area((ring,), face="#000000"))[..., 0] / 255
    assert dark.sum() == pytest.approx(ring.area, rel=0.01)
    assert dark[SIDE - 150 : SIDE - 110, 110:140].max() == 0.0


@pytest.mark.parametrize("alpha", [0.34, 0.75])
def test_what_can_be_seen_through_lets_so_much_of_the_picture_through(alpha: float) -> None:
    seen = painted(Area((box(20, 20, 280, 280),), face="#ff0000", alpha=alpha), under=100)[150, 150]
    assert seen == pytest.approx([100 + alpha * 155, 100 * (1 - alpha), 100 * (1 - alpha)], abs=1.0)


def test_nothing_but_what_is_painted_on_changes_also_where_it_is_painted_finer() -> None:
    mark = Area((box(100, 100, 200, 200),), face="#00ff00")
    for finer in (1, 3):
        changed = np.abs(painted(mark, finer=finer, under=90) - 90).max(axis=2) > 0
        assert changed[SIDE - 198 : SIDE - 102, 102:198].all()
        changed[SIDE - 202 : SIDE - 98, 98:202] = False
        assert not changed.any()


def test_of_one_order_the_later_lies_on_top_and_a_higher_order_over_both() -> None:
    marks = [
        Area((box(50, 50, 250, 250),), face="#0000ff", order=3),
        Area((box(50, 50, 250, 250),), face="#ff0000", order=1),
        Area((box(50, 50, 150, 250),), face="#00ff00", order=3),
    ]
    seen = painted(*marks)
    assert seen[150, 100].tolist() == [0, 255, 0]
    assert seen[150, 200].tolist() == [0, 0, 255]


PLACES: tuple[tuple[Across, Up, float, bool], ...] = (
    ("center", "center_baseline", 0.0, True),
    ("left", "center", 0.0, False),
    ("right", "top", 0.0, False),
    ("left", "baseline", 0.0, False),
    ("center", "center_baseline", 33.0, True),
    ("right", "center", 90.0, False),
    ("center", "center", 90.0, False),
)
MARKS: dict[str, tuple[Mark, ...]] = {
    "dashes with a casing": (
        Stroke((run((30, 40), (250, 90), (200, 270)),), "#7fd4ff", 4.0, (4, 2), Casing("#10161c", 7.0, 0.75)),
    ),
    "an area with edge and dashes": (
        Area((box(60, 60, 240, 200),), "#56b4e9", "#22303c", 3.0, (3, 2), alpha=0.6),
    ),
    **{
        f"hatching {hatch}": (Area((box(40, 50, 250, 230),), edge="#22303c", hatch=hatch),)
        for hatch in ("//", "\\\\", "--", "||", "xx")
    },
    **{
        f"words {across} {up} {turn} {anchored}": (
            Words(150, 150, "2 yoke, 30 mm", 16, "#000000", True, across, up, turn, anchored, "#ffd400", 5.0),
        )
        for across, up, turn, anchored in PLACES
    },
}


@pytest.mark.parametrize("name", [name for name in MARKS if not name.startswith("words")])
def test_both_pens_make_the_same_of_a_mark(name: str) -> None:
    """As seen from a little farther off: their soft edges differ, and where a hatching begins."""
    one, other = (
        cv2.GaussianBlur(picture(*MARKS[name]), (0, 0), 12 if "hatching" in name else 1.5)
        for picture in (painted, printed)
    )
    drawn = np.abs(other - 255).max(axis=2) > 20
    assert drawn.sum() > 500
    assert np.abs(one - other)[drawn].mean() < 12.0
    assert np.abs(one - other)[~drawn].mean() < 2.0


@pytest.mark.parametrize("name", [name for name in MARKS if name.startswith("words")])
def test_both_pens_write_at_one_place(name: str) -> None:
    """Letters and their halo: what is yellow or black lies within the same box, but for how letters are hinted."""
    for channel in (0, 2):  # black alone, and with the yellow
        boxes = []
        for picture in (painted(*MARKS[name], finer=4), printed(*MARKS[name])):  # as finely as pictures are
            rows, columns = np.nonzero(picture[..., channel] < 128)
            boxes.append([rows.min(), rows.max(), columns.min(), columns.max()])
        assert np.abs(np.array(boxes[0]) - boxes[1]).max() <= 2


@pytest.mark.parametrize("hatch", ["..", "oo"])
def test_dots_are_spread_over_all_of_an_area(hatch: str) -> None:
    dark = 1 - painted(Area((box(40, 50, 250, 230),), edge="#000000", hatch=hatch))[..., 0] / 255
    for rows in range(75, 245, 20):
        for columns in range(45, 245, 20):
            assert 0.01 < dark[rows : rows + 13, columns : columns + 13].mean() < 0.7
    assert not dark[:60].any()


@pytest.mark.parametrize("colour", ["red", "#12", "#gggggg"])
def test_what_is_no_colour_is_refused(colour: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        rgba(colour)

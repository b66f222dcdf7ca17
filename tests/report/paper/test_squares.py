"""Printed squares are exact: the PDF is rendered by another library and measured."""

from __future__ import annotations

import cv2
import numpy as np
import pypdfium2
import pytest

from salvage.errors import UsageError
from salvage.report.paper.squares import largest_side, rulers, square_pdf
from salvage.report.pen.leaf import Leaf
from salvage.report.pen.marks import Stroke, Words

PX_PER_MM = 12.0  # so that 0.1 mm, the promise, is more than a pixel


def render(pdf: bytes, page: int = 0) -> np.ndarray:
    """A page as grey pixels."""
    document = pypdfium2.PdfDocument(pdf)
    return document[page].render(scale=PX_PER_MM * 25.4 / 72, grayscale=True).to_numpy().squeeze()


def black_squares(page: np.ndarray, side: float) -> list[tuple[float, float]]:
    """(width, height) in mm of the outlines of everything black that is about as large as a square."""
    contours, _ = cv2.findContours((page < 128).view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    boxes = [cv2.boundingRect(contour) for contour in contours]
    return [(w / PX_PER_MM, h / PX_PER_MM) for _, _, w, h in boxes if min(w, h) > 0.9 * side * PX_PER_MM]


@pytest.mark.parametrize(("side", "paper"), [(150.0, "A4"), (6 * 25.4, "Letter"), (34.925, "A4")])
def test_side_is_exact_to_a_tenth_of_a_millimetre(side: float, paper: str) -> None:
    [measured] = black_squares(render(square_pdf(side=side, paper=paper)), side)
    assert measured == pytest.approx((side, side), abs=0.1)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_page_has_the_size_of_the_paper(paper: str) -> None:
    # ISO 216:2007 and ANSI/ASME Y14.1, trimmed sizes in mm, typed from the standards
    size = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[paper]
    page = pypdfium2.PdfDocument(square_pdf(side=100.0, paper=paper))[0]
    assert [v / 72 * 25.4 for v in page.get_size()] == pytest.approx(size, abs=0.05)


def test_rulers_are_100_mm_and_4_inches() -> None:
    page = render(square_pdf(side=60.0)) < 160
    lengths = {}
    for row in page[int(page.shape[0] * 0.8) :]:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
        middles = (edges[1::2] + edges[::2]) / 2
        lengths[len(middles)] = np.ptp(middles) / PX_PER_MM if len(middles) else 0.0
    assert lengths[101] == pytest.approx(100.0, abs=0.1)  # a stroke every millimetre
    assert lengths[33] == pytest.approx(101.6, abs=0.1)  # and every eighth of an inch


def test_whole_units_of_the_rulers_have_the_longest_strokes_and_their_number() -> None:
    pen = Leaf(210.0, 297.0).pen()
    rulers(pen)
    numbers = {(each.x, each.text) for each in pen.marks if isinstance(each, Words) and each.text.isdigit()}
    assert numbers == {(15.0 + 10 * k, str(10 * k)) for k in range(11)} | {
        (15.0 + 25.4 * k, str(k)) for k in range(5)
    }
    strokes: dict[tuple[float, float], set[float]] = {}
    for line in (each for each in pen.marks if isinstance(each, Stroke)):
        ((x, low), (other, high)) = line.runs[0].tolist()
        if x == other:
            strokes.setdefault((float(low), round(float(high - low), 6)), set()).add(
                round(float(x) - 15.0, 6)
            )
    whole = {y: at for (y, length), at in strokes.items() if length == 7.0}
    assert sorted(map(sorted, whole.values())) == [
        [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0],
        [0.0, 25.4, 50.8, 76.2, 101.6],
    ]


@pytest.mark.parametrize(
    ("side", "count", "pages"), [(150.0, 2, 2), (80.0, 4, 1), (80.0, 2, 1), (100.0, 2, 2)]
)
def test_as_many_squares_as_asked_for_on_few_pages(side: float, count: int, pages: int) -> None:
    pdf = square_pdf(side=side, count=count, paper="A4")
    assert len(pypdfium2.PdfDocument(pdf)) == pages
    found = [square for page in range(pages) for square in black_squares(render(pdf, page), side)]
    assert len(found) == count


def test_every_square_is_read_back_with_its_own_number() -> None:
    # OpenCV's detector is the outside check: it knows the family from its authors' table.
    page = cv2.resize(render(square_pdf(side=80.0, count=4, paper="A4")), None, fx=0.4, fy=0.4)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h10)
    _, numbers, _ = cv2.aruco.ArucoDetector(family, cv2.aruco.DetectorParameters()).detectMarkers(page)
    assert sorted(int(n) for n in np.ravel(numbers)) == [640, 641, 642, 643]  # 8 x 80 mm + copy


def test_white_margin_is_a_module_wide() -> None:
    side = 80.0
    page = render(square_pdf(side=side)) < 128
    rows = np.flatnonzero(page[:, page.shape[1] // 2 - 10])
    top = rows[rows > 40 * PX_PER_MM].min()
    above = page[
        int(top - 0.95 * side / 8 * PX_PER_MM) : top - 2,
        int(page.shape[1] * 0.35) : int(page.shape[1] * 0.65),
    ]
    assert not above.any()


def test_largest_side_fits_and_a_larger_one_is_refused_with_a_word() -> None:
    largest = largest_side("A4")
    [measured] = black_squares(render(square_pdf(side=largest)), largest)
    assert measured == pytest.approx((largest, largest), abs=0.1)
    with pytest.raises(UsageError, match="does not fit"):
        square_pdf(side=largest + 1)


@pytest.mark.parametrize(
    "wrong", [{"side": 100.0, "paper": "A5"}, {"side": 100.0, "count": 0}, {"side": 5.0}, {"side": 100.4}]
)
def test_what_can_not_be_printed_is_refused(wrong: dict) -> None:
    with pytest.raises(UsageError):
        square_pdf(**wrong)

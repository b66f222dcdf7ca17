"""Reference squares to print: a PDF with markers of exact size and a ruler to check the printer with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from salvage.errors import UsageError
from salvage.report.pen.leaf import POINTS_PER_MM, Leaf
from salvage.report.pen.marks import Area, Pen, Stroke, Words
from salvage.report.pen.pdf import pdf_of
from salvage.scale.finders.found import MODULES_ACROSS
from salvage.scale.finders.printed import CODED, COPIES, number_of
from salvage.shapes import polygons_of
from salvage.trade.paper import FOR_SQUARES, PAPER
from salvage.units import MM_PER_INCH

SMALLEST_SIDE = 30.0  # below this a square is too small in any photograph of a garment
MOST_SQUARES = COPIES

_MARGIN_MODULES = 1.0  # white round the black border, in modules; the family's detectors need one
_UNPRINTABLE = 5.0  # what common printers leave white along the paper's edges (common practice)
_HEADER, _FOOTER = 38.0, 46.0  # mm kept for words at the top and rulers at the bottom
_METRIC_Y, _INCH_Y = 31.0, 15.0  # where the rulers stand
_RULER = 100.0
_RULER_INCHES = 4


@dataclass(frozen=True, slots=True)
class _Place:
    """Lower left corner of one square's black border on its page, mm from the page's, and which copy it is."""

    page: int
    x: float
    y: float
    copy: int


def largest_side(paper: str) -> float:
    """The largest square that fits a sheet with its white margin, mm, rounded down to whole mm."""
    width, height = PAPER[paper]
    room = min(width, height - _HEADER - _FOOTER)
    return float(np.floor(min(room / (1 + 2 * _MARGIN_MODULES / MODULES_ACROSS), width - 2 * _UNPRINTABLE)))


def square_pdf(*, side: float, count: int = 1, paper: str = "A4") -> bytes:
    """A PDF of `count` reference squares, as many on a page as fit, vector and exact at 100 %.

    side: across the black border, mm, which the square's number says (`finders.printed.number_of`). Each copy
    bears another number. Raises UsageError for a paper, side or count that can't be.
    """
    _check(side, count, paper)
    width, height = PAPER[paper]
    places = list(_places(side, count, width, height))
    leaves = []
    for page in range(places[-1].page + 1):
        leaf = Leaf(width, height)
        pen = leaf.pen()
        _words(pen, side, count, paper, height)
        rulers(pen)
        for place in places:
            if place.page == page:
                _draw_square(pen, place, side, width)
        leaves.append(leaf)
    return pdf_of(leaves, "Reference squares")


def _check(side: float, count: int, paper: str) -> None:
    if paper not in FOR_SQUARES:
        raise UsageError(
            f"{paper!r} is not a sheet that squares are laid out for. Use {' or '.join(FOR_SQUARES)}."
        )
    if not 1 <= count <= MOST_SQUARES:
        raise UsageError(f"{count} squares can't be asked for. Ask for 1 to {MOST_SQUARES}; two are best.")
    largest = largest_side(paper)
    if not SMALLEST_SIDE <= side <= largest:
        raise UsageError(
            f"A square of {_mm(side)} does not fit: on {paper} the side can be {SMALLEST_SIDE:.0f} to "
            f"{largest:.0f} mm. Give another --side or --paper."
        )
    if number_of(side) is None:
        low, high = int(np.floor(side)), int(np.ceil(side))
        raise UsageError(
            f"A square of {_mm(side)} can't say its side: its pattern knows whole millimetres and eighths of an inch. "
            f"Print one of {low} or {high} mm."
        )


def _places(side: float, count: int, width: float, height: float) -> Iterator[_Place]:
    """Squares in rows from the top left, the whole grid in the middle of the page's width."""
    cell = side * (1 + 2 * _MARGIN_MODULES / MODULES_ACROSS)
    columns = max(int((width - 2 * _UNPRINTABLE) // cell), 1)
    rows = max(int((height - _HEADER - _FOOTER) // cell), 1)
    columns = min(columns, count)
    left = (width - columns * cell) / 2
    for copy in range(count):
        page, slot = divmod(copy, columns * rows)
        row, column = divmod(slot, columns)
        margin = (cell - side) / 2
        yield _Place(page, left + column * cell + margin, height - _HEADER - (row + 1) * cell + margin, copy)


def marker_modules(number: int) -> NDArray[np.bool_]:
    """(8, 8) which modules of a marker are black, its border included, row 0 at the top."""
    family = cv2.aruco.getPredefinedDictionary(CODED)
    return cv2.aruco.generateImageMarker(family, number, MODULES_ACROSS) < 128


def _draw_square(pen: Pen, place: _Place, side: float, page_width: float) -> None:
    module = side / MODULES_ACROSS
    number = number_of(side, place.copy)
    assert number is not None  # _check saw to it
    pen.put(Area(_black_outline(place, number, module), face="black"))
    margin = _MARGIN_MODULES * module
    if place.x - margin >= _UNPRINTABLE and place.x + side + margin <= page_width - _UNPRINTABLE:
        cut = box(place.x - margin, place.y - margin, place.x + side + margin, place.y + side + margin)
        pen.put(Stroke((np.asarray(cut.exterior.coords),), "#999999", 0.4, (6, 4)))
    size = min(7.0, margin * 0.35 * POINTS_PER_MM)
    pen.put(
        Words(
            place.x + side / 2,
            place.y - 0.7 * margin,
            f"{_mm(side)} across the black border",
            size,
            "#8c8c8c",
        )
    )


def _black_outline(place: _Place, number: int, module: float) -> tuple[Polygon, ...]:
    """All black modules as one area, so that no hairline is left where two of them touch."""
    black = marker_modules(number)
    boxes = []
    for row, column in zip(*np.nonzero(black), strict=True):
        x, y = place.x + column * module, place.y + (MODULES_ACROSS - 1 - row) * module
        boxes.append(box(x, y, x + module, y + module))
    return tuple(polygons_of(unary_union(boxes)))


def _words(pen: Pen, side: float, count: int, paper: str, height: float) -> None:
    left = 12.0
    title = f"Reference square, side {_mm(side)} ({_inches(side)})"
    pen.put(Words(left, height - 9, title, 14, "black", across="left", up="top"))
    lines = [
        f'Print at 100 % on {paper}, without "fit to page", and check the rulers below with your own.',
        "The side is measured across the black border. Its pattern says how long it is: --side may be left out.",
        "Lay two squares flat at opposite sides of the garment, each whole in the picture with its white margin.",
        "Two are surer than one by far." + (" Print another with --count 2." if count == 1 else ""),
    ]
    for k, line in enumerate(lines):
        pen.put(Words(left, height - 16.5 - 4.4 * k, line, 8, "black", across="left", up="top"))


def rulers(pen: Pen) -> None:
    """100 mm and 4 inches, with their ends as long strokes that a ruler can be laid to."""
    left = 15.0
    strokes: list[tuple[float, float, float]] = []
    numbers: list[tuple[float, float, str]] = []
    for mm in range(int(_RULER) + 1):
        strokes.append((left + mm, _METRIC_Y, 7.0 if mm % 10 == 0 else 5.0 if mm % 5 == 0 else 3.0))
        if mm % 10 == 0:
            numbers.append((left + mm, _METRIC_Y, f"{mm}"))
    for eighth in range(_RULER_INCHES * 8 + 1):
        x, length = (
            left + eighth * MM_PER_INCH / 8,
            7.0 if eighth % 8 == 0 else 5.0 if eighth % 4 == 0 else 3.0,
        )
        strokes.append((x, _INCH_Y, length))
        if eighth % 8 == 0:
            numbers.append((x, _INCH_Y, f"{eighth // 8}"))
    for x, y, length in strokes:
        _line(pen, (x, y), (x, y + length))
    for x, y, number in numbers:
        pen.put(Words(x, y + 8, number, 6, "black", up="bottom"))
    end = left + _RULER_INCHES * MM_PER_INCH
    _line(pen, (left, _METRIC_Y), (left + _RULER, _METRIC_Y))
    _line(pen, (left, _INCH_Y), (end, _INCH_Y))
    for y, said in ((_METRIC_Y, "100 mm"), (_INCH_Y, "4 in")):
        pen.put(Words(end + 5, y + 3, f"{said}, first to last stroke", 8, "black", across="left"))


def _line(pen: Pen, start: tuple[float, float], end: tuple[float, float]) -> None:
    pen.put(Stroke((np.array([start, end]),), "black", 0.35))


def _mm(length: float) -> str:
    return f"{length:.1f}".removesuffix(".0") + " mm"


def _inches(length: float) -> str:
    return f"{length / MM_PER_INCH:.2f}".rstrip("0").rstrip(".") + " in"

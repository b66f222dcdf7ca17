"""Nothing that is written lies on anything else that is: boxes by a property, plans and pictures as printed."""

from __future__ import annotations

import string
from collections.abc import Callable
from itertools import combinations

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_kit import TiltedCamera, placed, rectangle
from shapely import affinity
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Polygon, box
from written import inks_of, overlapping, texts_of

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece
from salvage.fit.answer import Answer, Verdict
from salvage.photo.photo import Photo
from salvage.project.project import Panel, Project
from salvage.report.cutting.chart import spreads
from salvage.report.drawing.ground import canvas, ground
from salvage.report.drawing.picture import draw_layout, marked_painting
from salvage.report.drawing.plan import plan_leaf
from salvage.report.pen.draw import Page, text_box, text_width, write
from salvage.report.pen.labels import Labels
from salvage.report.pen.leaf import Leaf
from salvage.report.pen.paint import Painting
from salvage.report.pen.pdf import pdf_of
from salvage.scale.square import Square
from salvage.units import Unit

WIDE, HIGH = 180.0, 240.0  # mm of paper
POINTS_PER_MM = 72 / 25.4


def bare_page() -> tuple[Page, Painting]:
    painting = Painting(np.full((680, 510, 3), 255, np.uint8), finer=4)  # as a picture so small is painted
    return Page(painting.pen(510 / WIDE, 1.0, 680.0), POINTS_PER_MM), painting


def bare_leaf() -> tuple[Page, Leaf]:
    leaf = Leaf(WIDE, HIGH)
    return Page(leaf.pen(), POINTS_PER_MM), leaf


def ink_of(drawn: Painting | Leaf) -> np.ndarray:
    """Where the one text on it leaves ink; that of a leaf as another program shows its PDF."""
    if isinstance(drawn, Painting):
        ((_, ink),) = inks_of(drawn)
        return ink
    page = pypdfium2.PdfDocument(pdf_of([drawn], ""))[0]
    return page.render(scale=3, grayscale=True).to_numpy().squeeze() < 255 * 0.75


spots = st.tuples(
    st.floats(0, WIDE - 40), st.floats(0, HIGH - 40), st.floats(1, 40), st.floats(1, 40), st.floats(0, 180)
)


@given(st.lists(spots, min_size=1, max_size=40), st.integers(1, 14))
@settings(max_examples=15, deadline=None, derandomize=True)
def test_no_two_names_lie_on_each_other_and_none_is_missing(
    shapes: list[tuple[float, float, float, float, float]], letters: int
) -> None:
    """Wherever the shapes lie, one on the other too."""
    page, _ = bare_page()
    room = box(0, 0, WIDE, HIGH)
    labels = Labels(page, room)
    for number, (x, y, wide, high, turn) in enumerate(shapes, start=1):
        shape = affinity.rotate(box(x, y, x + wide, y + high), turn)
        name = f"{number}  {'panel of many words'[:letters]}"
        assert labels.write(page, shape, ((name, "230 × 280 mm"), (name,), (str(number),))) is not None
    assert len(labels.taken) == len(shapes)
    assert all(room.covers(each) for each in labels.taken)
    assert not any(one.intersects(other) for one, other in combinations(labels.taken, 2))


@given(
    st.text(string.ascii_letters + string.digits + " ×°–", min_size=1, max_size=16),
    st.floats(5, 12),
    st.sampled_from([0.0, 90.0, 33.0]),
    st.sampled_from([bare_page, bare_leaf]),
)
@settings(max_examples=20, deadline=None, derandomize=True)
def test_the_box_of_a_text_holds_all_its_ink(
    text: str, size: float, turn: float, bare: Callable[[], tuple[Page, Painting | Leaf]]
) -> None:
    page, drawn = bare()
    write(page, 90.0, 120.0, text, size, rotation=turn, anchored=True, va="center_baseline", bold=True)
    if not texts_of(drawn):
        return  # blanks only
    ink = ink_of(drawn)
    rows, columns = np.nonzero(ink)
    if not len(rows):
        return
    # what a label keeps free for one line: 4 points more than its letters are wide, 1.25 of their size and 3 more
    held = text_box(page, 90.0, 120.0, text_width(text, size, bold=True) + 4, 1.25 * size + 3, turn)
    high, wide = ink.shape
    inks = np.column_stack([(columns + 0.5) / wide * WIDE, HIGH - (rows + 0.5) / high * HIGH])
    inside = held.buffer(0.5 / POINTS_PER_MM)
    assert inside.covers(MultiPoint(inks))


def crowded() -> tuple[Answer, Garment, Project]:
    """Thirteen flags and forty small panels on one back, beside a pocket, buttons and seams."""
    flags = [placed("flag", k + 1, 20 + 85 * (k % 7), 470 + 100 * (k // 7), 80, 95) for k in range(13)]
    small = [
        placed(f"keeper of ring {k}", 1, 250 + 15 * (k % 10), 340 + 20 * (k // 10), 12, 16) for k in range(40)
    ]
    panels = (
        Panel("flag", rectangle(80, 95), cut=13, seam_allowance=5),
        *(Panel(f"keeper of ring {k}", rectangle(12, 16)) for k in range(40)),
    )
    blocked = (
        Blocked(BlockedKind.POCKET, box(100, 100, 220, 240), 3.0, what="patch pocket", number=3),
        *(
            Blocked(
                BlockedKind.CLOSURE,
                box(300, 40 + 40 * k, 316, 56 + 40 * k),
                3.0,
                what="button",
                number=10 + k,
            )
            for k in range(6)
        ),
        Blocked(BlockedKind.SEAM, LineString([(0, 300), (640, 300)]), 6.0, what="seam", number=4),
    )
    back = Piece("back", box(0, 0, 640, 700), blocked=blocked)
    return Answer(Verdict.YES, (), (*flags, *small)), Garment("coat", (back,)), Project("bunting", panels)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])
def test_a_crowded_plan_names_all_and_overwrites_nothing(unit: Unit) -> None:
    answer, coat, project = crowded()
    (spread,) = spreads(answer, [coat], project)
    leaf = plan_leaf(spread, MultiPolygon([box(6, 6, 634, 694)]), unit=unit)
    assert overlapping(leaf) == []
    words = " ".join(texts_of(leaf)).split()
    assert {str(number) for number in range(1, 54)} <= set(words)
    assert {mark.letter for mark in spread.marks} <= set(words)


def test_a_crowded_photograph_names_all_and_overwrites_nothing(photo: Photo, camera: TiltedCamera) -> None:
    answer, coat, project = crowded()
    laid = spreads(answer, [coat], project)
    base = ground(photo, 1600)
    sheet = canvas(base)
    draw_layout(sheet.page, base, camera, laid, unit=Unit.MM)
    words = " ".join(texts_of(sheet.painting)).split()
    assert overlapping(sheet.painting) == []
    assert {str(number) for number in range(1, 54)} <= set(words)


def test_a_marked_picture_with_a_hundred_marks_overwrites_nothing(
    photo: Photo, camera: TiltedCamera, square: Square
) -> None:
    """Lines close beside each other, spots on spots, and small pieces."""
    marks = [
        *(
            Blocked(BlockedKind.SEAM, LineString([(10, 20 + 4 * k), (60, 20 + 4 * k)]), 6.0, number=20 + k)
            for k in range(40)
        ),
        *(
            Blocked(BlockedKind.CLOSURE, box(300 + 3 * k, 300, 308 + 3 * k, 308), 3.0, number=100 + k)
            for k in range(40)
        ),
        *(
            Blocked(BlockedKind.WORN, box(400, 100 + 3 * k, 420, 101 + 3 * k), 3.0, number=200 + k)
            for k in range(20)
        ),
    ]
    pieces = [Piece("back", box(0, 0, 520, 700), blocked=tuple(marks), number=1)]
    pieces += [
        Piece(
            f"left sleeve {k}",
            box(530 + 24 * (k % 5), 40 * (k // 5), 550 + 24 * (k % 5), 36 + 40 * (k // 5)),
            number=2 + k,
        )
        for k in range(15)
    ]
    coat = Garment("coat", tuple(pieces))
    outline = MultiPolygon([Polygon(camera.to_px(rectangle(520, 700)))])
    edge = LineString(camera.to_px([(0, 0), (0, 700)]))
    painting = marked_painting(
        photo, camera, coat, squares=[square], outline_px=outline, doubtful_px=edge, unit=Unit.MM
    )
    words = set(texts_of(painting))
    assert overlapping(painting) == []
    assert {str(each.number) for each in marks} <= words
    assert all(any(word.startswith(f"{2 + k} ") for word in words) for k in range(15))

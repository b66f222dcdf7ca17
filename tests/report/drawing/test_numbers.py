"""Numbers in the marked picture: each thing's once, on it or with a line that leads there, and none on another."""

from __future__ import annotations

import pytest
from collected import Collected
from shapely.geometry import LineString, Point, box

from salvage.cloth.garment import Blocked, BlockedKind, Piece, Question
from salvage.report.drawing.numbers import draw_numbers
from salvage.report.pen.draw import text_box, text_width
from salvage.report.pen.labels import Labels

ROOM = box(0, 0, 600, 600)
POCKET = Blocked(BlockedKind.POCKET, box(100, 100, 220, 240), 3.0, number=4)
SEAM = Blocked(BlockedKind.SEAM, LineString([(300, 20), (300, 580)]), 6.0, number=5)
SPECK = Blocked(BlockedKind.WORN, Point(450, 300).buffer(2), 3.0, number=6)


def drawn(*blocked: Blocked, questions: tuple[Question, ...] = ()) -> Collected:
    pen = Collected()
    page = pen.page()
    pieces = [Piece("back", box(0, 0, 600, 600), blocked=blocked)]
    draw_numbers(page, pieces, questions, lambda shape: shape, Labels(page, ROOM))
    return pen


@pytest.mark.parametrize("thing", [POCKET, SEAM], ids=["area", "line"])
def test_a_number_stands_on_its_thing_where_there_is_room(thing: Blocked) -> None:
    (word,) = drawn(thing).words
    assert word.text == str(thing.number)
    assert thing.shape.distance(Point(word.x, word.y)) < 1e-6


def test_a_number_beside_a_speck_is_near_it() -> None:
    pen = drawn(SPECK)
    (word,) = pen.words
    assert SPECK.shape.distance(Point(word.x, word.y)) < 30


def test_many_numbers_are_each_there_once_and_none_on_another() -> None:
    specks = [
        Blocked(BlockedKind.WORN, Point(200 + 5 * (n % 5), 200 + 5 * (n // 5)).buffer(2), 3.0, number=10 + n)
        for n in range(15)
    ]
    pen = drawn(POCKET, SEAM, *specks)
    assert sorted(int(each.text) for each in pen.words) == [4, 5, *range(10, 25)]
    page = pen.page()
    boxes = [
        text_box(page, w.x, w.y, text_width(w.text, w.size, bold=True), w.size * 0.7, 0.0) for w in pen.words
    ]
    for n, one in enumerate(boxes):
        assert not any(one.intersects(other) for other in boxes[:n])


def test_a_thing_on_two_pieces_has_one_number_and_one_without_a_number_none() -> None:
    pen = Collected()
    page = pen.page()
    half = [
        Piece("a", box(0, 0, 300, 600), blocked=(SEAM,)),
        Piece("b", box(300, 0, 600, 600), blocked=(SEAM,)),
    ]
    draw_numbers(page, half, (), lambda shape: shape, Labels(page, ROOM))
    assert [each.text for each in pen.words] == ["5"]
    assert drawn(Blocked(BlockedKind.WORN, box(9, 9, 40, 40), 3.0)).words == []


def test_questions_are_written_first_and_as_such() -> None:
    asks = Question(2, "?", "x", POCKET.shape)
    pen = drawn(POCKET, questions=(asks,))
    assert [each.text for each in pen.words] == ["Q2?", "4"]
    assert pen.words[0].size > pen.words[1].size
    assert POCKET.shape.distance(Point(pen.words[0].x, pen.words[0].y)) < 1e-6


def test_places_are_those_of_the_page() -> None:
    pen = Collected()
    page = pen.page()
    draw_numbers(
        page, [Piece("a", box(0, 0, 9, 9), blocked=(POCKET,))], (), lambda shape: shape.buffer(0).envelope.intersection(box(0, 0, 160, 160)), Labels(page, ROOM)
    )  # fmt: skip
    (word,) = pen.words
    assert box(100, 100, 160, 160).contains(Point(word.x, word.y))

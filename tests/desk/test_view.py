"""A garment as the page draws it, taken back from its pixels to the plane: it lies where the record has it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from desk_garments import COAT, PHOTO, PLANE, SHOT, SIZE_PX
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from salvage.cloth.garment import Garment, Piece, Question, Reply
from salvage.desk.view import FINEST, garment_view, shape_px
from salvage.rail.note import mark_used
from salvage.units import Unit

OTHER = replace(SHOT, file="inside.jpg", content="beef")


def view(garment: Garment = COAT, unit: Unit = Unit.MM) -> dict[str, Any]:
    return garment_view(garment, unit)


def on_plane(rings: list[list[list[float]]]) -> Polygon:
    """Rings of the picture in mm; of a piece's rings the first is its edge, the others are holes in it."""
    first, *holes = (PLANE.to_mm(np.array(ring)) for ring in rings)
    return Polygon(first, holes)


def test_pieces_lie_where_the_record_has_them() -> None:
    told = view()
    assert [each["index"] for each in told["pieces"]] == [0, 1, 2]
    for piece, each in zip(COAT.pieces, told["pieces"], strict=True):
        assert on_plane(each["rings"]).symmetric_difference(piece.outline).area < 5
        assert (each["name"], each["number"], each["photo"]) == (piece.name, piece.number, PHOTO)
    assert told["photos"] == [
        {"file": PHOTO, "size_px": list(SIZE_PX), "mm_per_px": pytest.approx(PLANE.mm_per_px, abs=1e-4)}
    ]


def test_a_hole_stays_a_hole() -> None:
    holed = box(0, 0, 300, 400).difference(box(100, 100, 150, 150))
    garment = replace(COAT, pieces=(replace(COAT.pieces[0], outline=holed, blocked=()),))
    (piece,) = view(garment)["pieces"]
    assert len(piece["rings"]) == 2
    assert all(ring[0] != ring[-1] for ring in piece["rings"])
    assert on_plane(piece["rings"]).symmetric_difference(holed).area < 8
    assert on_plane(piece["usable"]).symmetric_difference(holed).area < 8


def test_usable_cloth_is_what_the_margins_leave() -> None:
    back = box(0, 0, 300, 400).difference(LineString([(300, 0), (300, 400)]).buffer(6))
    back = back.difference(LineString([(0, 8), (300, 8)]).buffer(6)).difference(
        box(200, 200, 240, 240).buffer(3)
    )
    shown = view()["pieces"][0]
    rings = [Polygon(PLANE.to_mm(np.array(ring))) for ring in shown["usable"]]
    whole = rings[0]
    for ring in rings[1:]:
        whole = whole.symmetric_difference(ring)  # areas and the holes in them
    assert whole.symmetric_difference(back).area < back.length * FINEST
    assert view(unit=Unit.INCH)["pieces"][0]["usable_said"].endswith("sq in")
    assert int(shown["usable_said"].split()[0].replace(",", "")) == pytest.approx(back.area / 100, abs=2)


def test_the_arrow_runs_along_the_grain_through_sound_cloth() -> None:
    for grain in (90.0, 30.0, 200.0):
        garment = replace(COAT, pieces=(replace(COAT.pieces[0], grain=grain), *COAT.pieces[1:]))
        piece = view(garment)["pieces"][0]
        start, end = PLANE.to_mm(np.array(piece["grain_px"]))
        turn = math.atan2(end[1] - start[1], end[0] - start[0])
        assert math.cos(turn - math.radians(grain)) > math.cos(math.radians(0.2))
        middle = Point(PLANE.to_mm(np.array([piece["label_px"]]))[0])
        assert middle.distance(LineString([start, end])) < 0.2
        assert box(3, 14, 294, 397).contains(middle)
        assert not box(197, 197, 243, 243).intersects(middle)
        reach = np.hypot(*np.subtract(*piece["grain_px"]))
        assert piece["room_px"] == pytest.approx(reach, abs=0.06)


def test_each_mark_is_told_once_on_all_its_pieces_and_bends_with_the_lens() -> None:
    marks = {each["number"]: each for each in view()["marks"]}
    assert sorted(marks) == [4, 5, 6]
    assert [marks[n]["pieces"] for n in (4, 5, 6)] == [[0, 1], [0], [0]]
    assert [marks[n]["kind"] for n in (4, 5, 6)] == ["seam", "hem", "worn"]
    (line,) = marks[4]["lines"]
    seen = PLANE.to_mm(np.array(line))
    assert np.abs(seen[:, 0] - 300).max() < 0.02
    assert np.hypot(*np.diff(seen, axis=0).T).max() < 25.1
    assert marks[4]["rings"] == marks[6]["lines"] == []
    assert on_plane(marks[6]["rings"]).symmetric_difference(box(200, 200, 240, 240)).area < 2
    at = PLANE.to_mm(np.array([marks[6]["at_px"]]))[0]
    assert at == pytest.approx([220, 220], abs=0.1)


def test_pieces_that_were_typed_in_lie_on_a_ground_of_their_own() -> None:
    """A pixel a millimetre, rows downward; its origin is the plane's place of pixel (0, 0)."""
    typed = Garment(
        "scraps", (Piece("a", box(-30, 10, 70, 60), number=1), Piece("b", box(100, 0, 150, 90), number=2))
    )
    told = view(typed)
    (ground,) = told["photos"]
    x0, y0 = ground["origin"]
    for piece, each in zip(typed.pieces, told["pieces"], strict=True):
        ring = np.array(each["rings"][0])
        assert Polygon(np.column_stack([x0 + ring[:, 0], y0 - ring[:, 1]])).equals(piece.outline)
        width, height = ground["size_px"]
        assert box(1, 1, width - 1, height - 1).contains(Polygon(ring))
        assert each["photo"] == ""
    assert ground["mm_per_px"] == 1.0
    assert ground["why"] == []


def test_a_photograph_whose_camera_is_damaged_is_told_and_its_pieces_are_drawn_all_the_same() -> None:
    spoilt = replace(OTHER, camera={"focal": "long"})
    garment = replace(COAT, pieces=(*COAT.pieces, Piece("lining", box(0, 0, 90, 60), photo=spoilt, number=9)))
    asks = Question(1, "?", "x", box(0, 0, 9, 9), "inside.jpg")
    told = view(replace(garment, questions=(asks,)))
    assert [each["file"] for each in told["photos"]] == [PHOTO, ""]
    assert len(told["photos"][1]["why"]) == 1
    ring = Polygon(told["pieces"][3]["rings"][0])
    assert ring.area == pytest.approx(90 * 60)
    assert told["questions"] == []  # there is no place to show it


def test_questions_are_where_they_ask_and_ask_for_what_the_page_can_do() -> None:
    stain = Question(
        3, "Which way? Else set grain in the record.", "x", box(50, 60, 70, 80), PHOTO, 1.0, 0.456, Reply.YES
    )
    (told,) = view(replace(COAT, questions=(stain,)))["questions"]
    assert (told["number"], told["answer"], told["confidence"], told["photo"]) == (3, "yes", 0.46, PHOTO)
    assert "record" not in told["text"]
    assert on_plane(told["rings"]).symmetric_difference(box(50, 60, 70, 80)).area < 1


def test_the_garment_in_words() -> None:
    taken = replace(
        COAT, pieces=COAT.pieces[:2], removed=COAT.pieces[2:], cautions=("glue",), warnings=("dark",)
    )
    told = view(mark_used(taken, purpose="Bag", date="2026-11-26"))
    assert (told["name"], told["cautions"], told["warnings"]) == ("coat", ["glue"], ["dark"])
    assert told["used"] == "cut for Bag on 2026-11-26"
    (removed,) = told["removed"]
    assert (removed["number"], removed["name"]) == (0, "cuff")
    assert on_plane(removed["rings"]).symmetric_difference(COAT.pieces[2].outline).area < 2


def test_two_layers_are_twice_the_cloth() -> None:
    plain = Garment("a", (Piece("p", box(0, 0, 200, 100), number=1),))
    twice = replace(plain, pieces=(replace(plain.pieces[0], layers=2),))
    assert [view(each)["usable"] for each in (plain, twice)] == ["200 cm²", "400 cm²"]
    assert (
        view(plain, Unit.INCH)["usable"] == view(plain, Unit.INCH)["pieces"][0]["usable_said"] == "31 sq in"
    )
    assert view(twice)["pieces"][0]["usable_said"] == "400 cm²"


def test_a_shape_of_many_parts_is_told_part_by_part() -> None:
    areas = MultiPolygon([box(0, 0, 10, 10), box(20, 0, 50, 10).difference(box(30, 2, 40, 8))])
    both = shapely.GeometryCollection([areas, LineString([(0, 50), (60, 50)])])
    told = shape_px(both, lambda points: points)
    assert sorted(Polygon(ring).area for ring in told["rings"]) == [60, 100, 300]
    (line,) = told["lines"]
    assert LineString(line).equals(LineString([(0, 50), (60, 50)]))
    assert max(np.hypot(*np.diff(np.array(line), axis=0).T)) <= 25.0


def test_what_was_drawn_before_is_not_shown_of_another_plane() -> None:
    """Pieces are kept from the last time: the same piece on another camera is drawn anew."""
    first = view()
    moved = replace(
        COAT, pieces=tuple(replace(p, outline=affinity.translate(p.outline, 7, 0)) for p in COAT.pieces)
    )
    again = view(moved)
    for one, other, piece in zip(first["pieces"], again["pieces"], moved.pieces, strict=True):
        assert one["rings"] != other["rings"]
        assert on_plane(other["rings"]).symmetric_difference(piece.outline).area < 5
    assert view() == first

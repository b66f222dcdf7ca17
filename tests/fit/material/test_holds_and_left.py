"""How much cloth there is, and how much a layout leaves."""

from __future__ import annotations

import json

import pytest
from shapely.geometry import MultiPolygon, Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.fit.answer import Placement
from salvage.fit.material.holds import holds, holds_to_json
from salvage.fit.material.lay import lay_of, plus_minus_of
from salvage.fit.material.left import left_over
from salvage.units import Unit


def piece(name: str, *polygons: Polygon, **more: object) -> Piece:
    outline = MultiPolygon(polygons).convex_hull  # usable cloth lies within it
    return Piece(name, outline, usable=MultiPolygon(polygons), **more)  # type: ignore[arg-type]


COAT = Garment(
    "coat",
    (
        piece("back", box(0, 0, 300, 500), box(400, 0, 500, 120)),
        piece("front", box(0, 0, 200, 200), layers=2),
        piece("lining back", box(0, 0, 250, 250), fabric="Lining"),
    ),
)


def test_area_by_fabric_counts_every_layer() -> None:
    shell, lining = holds([COAT]).fabrics
    assert (shell.fabric, lining.fabric) == ("shell", "Lining")
    assert shell.area == pytest.approx(300 * 500 + 100 * 120 + 2 * 200 * 200)
    assert (shell.pieces, shell.stretches) == (3, 4)


def test_largest_rectangles_and_strips() -> None:
    shell = holds([COAT]).fabrics[0]
    assert shell.largest is not None
    assert (shell.largest.width, shell.largest.length) == pytest.approx((300, 500), abs=0.01)
    squares = dict(shell.by_ratio)
    assert squares[1.0].width == pytest.approx(300, abs=0.01)
    assert squares[2.0].length == pytest.approx(500, abs=3)
    for strip in shell.strips:
        assert strip.longest == pytest.approx(500, abs=0.01)
    forty = next(each for each in shell.strips if each.width == 40.0)
    # 40 mm wide and 1 mm apart: 12 of 300 across the back, 2 of 120 in the small part, 4 of 200 a layer
    assert forty.total == pytest.approx(12 * 300 + 2 * 120 + 2 * 4 * 200, abs=0.1)


def test_a_bias_strip_in_a_square() -> None:
    """A strip of width w across the corners of a square of side s is at most s * sqrt(2) - w long."""
    lining = holds([COAT]).fabrics[1]
    assert len(lining.strips) >= 2
    for strip in lining.strips:
        assert strip.longest_bias == pytest.approx(250 * 2**0.5 - strip.width, abs=3.0)


def test_holds_as_json() -> None:
    data = json.loads(json.dumps(holds_to_json(holds([COAT]))))
    assert data["format"] == "salvage holds 1"
    assert data["fabrics"]["shell"]["largest"]["piece"] == "back"


def test_left_over_is_what_the_layout_does_not_cover() -> None:
    shape = box(0, 0, 300, 200)
    placed = Placement("body", 1, None, 0, "back", 1, 0.0, False, shape)
    on_layer_two = Placement("base", 1, None, 0, "front", 2, 0.0, False, box(0, 0, 200, 200))
    left = left_over([COAT], [placed, on_layer_two])
    assert left["shell"].area == pytest.approx(300 * 300 + 100 * 120 + 200 * 200)
    sizes = [(round(width), round(length)) for width, length, _, _ in left["shell"].rectangles]
    assert sizes == [(300, 300), (200, 200), (100, 120)]
    assert left["Lining"].area == pytest.approx(62500)


def test_shrinking_the_lay() -> None:
    lay = lay_of([COAT])
    true = 280 * 480 + 80 * 100 + 2 * 180 * 180
    assert 0.998 * true <= lay.shrunk(10).area("shell") <= true
    assert lay.shrunk(55).area("shell") == pytest.approx(
        190 * 390 + 2 * 90 * 90, rel=1e-2
    )  # the small part is gone


def test_plus_minus_adds_edge_and_scale_as_squares() -> None:
    lay = lay_of([Garment("coat", (piece("back", box(0, 0, 800, 100), plus_minus=PlusMinus(1.0, 3.0)),))])
    assert plus_minus_of(lay.where[0], 800.0) == pytest.approx(5.0)


def test_area_is_what_the_record_has_even_where_the_lay_leaves_scraps_out() -> None:
    ragged = box(0, 0, 300, 300).union(box(300, 100, 301, 140))
    coat = Garment("coat", (piece("back", ragged, box(400, 0, 410, 8)),))
    assert holds([coat]).fabrics[0].area == pytest.approx(300 * 300 + 40 + 80)


def test_strips_have_widths_that_the_persons_ruler_shows() -> None:
    coat = Garment("coat", (piece("back", box(0, 0, 300, 300)),))
    widths = [strip.width / 25.4 for strip in holds([coat], Unit.INCH).fabrics[0].strips]
    assert widths == pytest.approx([1, 1.5, 2.5, 3, 4])


def test_many_stretches_are_answered_in_time_and_what_is_uncounted_is_told() -> None:
    scraps = tuple(piece(f"p{n}", box(0, 0, 300 - n, 200)) for n in range(12))
    (shell,) = holds([Garment("pile", scraps)], seconds=0.0).fabrics
    assert shell.uncounted == 11
    assert shell.largest is not None
    assert (shell.largest.piece, shell.largest.shape.area) == ("p0", pytest.approx(60000, rel=0.02))
    (whole,) = holds([Garment("pile", scraps)], seconds=60.0).fabrics
    assert whole.uncounted == 0
    assert whole.strips[0].longest == pytest.approx(shell.strips[0].longest)
    assert whole.strips[0].total > 9 * shell.strips[0].total

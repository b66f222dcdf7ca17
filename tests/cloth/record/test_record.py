"""The garment record: round trips, refusals a person understands, and nothing lost."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.garment import (
    Blocked,
    BlockedKind,
    Cleared,
    FoundBy,
    Garment,
    Piece,
    PiecePhoto,
    PlusMinus,
    Question,
)
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.errors import SalvageError

# The record of the design's own example, with `usable` left out.
EXAMPLE: dict[str, Any] = {
    "format": "salvage garment 1", "units": "mm", "name": "work coat",
    "pieces": [{
        "name": "back", "fabric": "shell", "layers": 1, "grain": 90.0, "one_way": False,
        "outline": {"type": "Polygon", "coordinates": [[[0, 0], [620, 0], [620, 700], [0, 700], [0, 0]]]},
        "blocked": [{"kind": "pocket", "margin": 3.0, "found_by": "photo",
                     "shape": {"type": "Polygon",
                               "coordinates": [[[100, 100], [200, 100], [200, 220], [100, 220], [100, 100]]]}}],
        "plus_minus": {"scale_percent": 0.4, "edge": 2.0},
        "photo": {"file": "back.jpg", "side": 150.0, "camera": {}, "mm_to_pixel": {}},
    }],
}  # fmt: skip


def changed(**fields: Any) -> str:
    data = json.loads(json.dumps(EXAMPLE))
    data["pieces"][0].update(fields)
    return json.dumps(data)


def test_reads_the_designs_example() -> None:
    piece = garment_from_json(json.dumps(EXAMPLE)).pieces[0]
    assert (piece.name, piece.fabric, piece.layers, piece.grain) == ("back", "shell", 1, 90.0)
    assert piece.blocked[0].kind is BlockedKind.POCKET
    assert piece.plus_minus == PlusMinus(0.4, 2.0)
    assert piece.photo is not None
    assert piece.photo.file == "back.jpg"
    # 106 x 126 mm and round corners are taken out of 620 x 700 mm
    assert usable(piece).area == pytest.approx(620 * 700 - 106 * 126, rel=1e-3)


def test_writing_and_reading_again_changes_nothing() -> None:
    once = garment_to_json(garment_from_json(json.dumps(EXAMPLE)))
    assert garment_to_json(garment_from_json(once)) == once


def test_everything_a_piece_can_hold_comes_back() -> None:
    piece = Piece(
        name="left sleeve", outline=box(0, 0, 90, 400), fabric="lining", layers=2, grain=72.5, one_way=True,
        blocked=(
            Blocked(BlockedKind.SEAM, LineString([(0, 0), (90, 400)]), 6.0, FoundBy.PERSON, "dart", 0.4),
            Blocked(BlockedKind.WORN, box(10, 10, 20, 20), 3.0),
        ),
        plus_minus=PlusMinus(0.5, 1.5), photo=PiecePhoto("a.jpg", 150.0, {"f": 1}, {"h": [1, 2]}),
        confidence=0.7, by_person=("grain",), cleared=(Cleared(box(30, 30, 40, 40), patch=True), Cleared(LineString([(0, 9), (9, 9)]), BlockedKind.SEAM)),
    )  # fmt: skip
    garment = Garment("coat", (piece,), kind="denim", cautions=("Mind the pin.",), warnings=("blurred",))
    again = garment_from_json(garment_to_json(garment))
    assert again.pieces[0].blocked[0] == piece.blocked[0]
    assert again.kind == "denim"
    assert (again.cautions, again.warnings) == (garment.cautions, garment.warnings)
    assert again.pieces[0].cleared == piece.cleared
    assert again.pieces[0].by_person == ("grain",)
    assert again.pieces[0].photo == piece.photo


def test_a_question_may_name_a_piece_with_a_long_name() -> None:
    """The names of two pieces stand in a question's sentence, and each may be as long as a name may be."""
    text = f"is there a seam between the {'good side ' * 18}and the {'left one ' * 18}?"
    asked = replace(
        garment_from_json(json.dumps(EXAMPLE)), questions=(Question(1, text, "b1", box(0, 0, 9, 9)),)
    )
    assert garment_from_json(garment_to_json(asked)).questions[0].text == text


def test_unknown_fields_are_kept() -> None:
    data = json.loads(json.dumps(EXAMPLE))
    data["shelf"] = 7
    data["pieces"][0]["colour"] = "navy"
    data["pieces"][0]["blocked"][0]["note"] = "inked"
    again = json.loads(garment_to_json(garment_from_json(json.dumps(data))))
    assert again["shelf"] == 7
    assert again["pieces"][0]["colour"] == "navy"
    assert again["pieces"][0]["blocked"][0]["note"] == "inked"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "not valid JSON"),
        ("[1]", "not a garment record"),
        ('{"format": "salvage garment 9"}', "salvage garment 1"),
        (json.dumps({**EXAMPLE, "units": "in"}), "units"),
        (json.dumps({**EXAMPLE, "pieces": []}), "no pieces"),
        (changed(outline={"type": "Point", "coordinates": [0, 0]}), "one Polygon"),
        (changed(outline={"type": "Polygon", "coordinates": [[[0, 0], [1]]]}), "coordinates"),
        (changed(outline={"type": "Polygon", "coordinates": [[[0, 0], [9e6, 0], [0, 5]]]}), "mm"),
        (changed(outline={"type": "Polygon", "coordinates": [[[0, 0], [90, 90], [90, 0], [0, 90]]]}), "crosses itself"),
        (changed(layers=0), "layers"),
        (changed(layers=1.5), "layers"),
        (changed(grain="up"), "grain"),
        (changed(grain=float("nan")), "grain"),
        (changed(one_way="no"), "one_way"),
        (changed(blocked=[{"kind": "seam"}]), "no shape"),
        (changed(blocked=[{"kind": "moth", "shape": EXAMPLE["pieces"][0]["outline"]}]), "moth"),
        (changed(blocked=[{"kind": "seam", "margin": -1, "shape": EXAMPLE["pieces"][0]["outline"]}]), "margin"),
        (changed(photo={"side": 150}), "names no file"),
        (changed(plus_minus={"edge": -2}), "plus-minus"),
    ],
)  # fmt: skip
def test_refusals_name_what_is_wrong(text: str, says: str) -> None:
    with pytest.raises(SalvageError, match=says):
        garment_from_json(text, "coat.json")


def test_refusals_name_the_file(tmp_path: Path) -> None:
    with pytest.raises(SalvageError, match=r"missing\.json"):
        read_garment(tmp_path / "missing.json")
    (tmp_path / "bad.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SalvageError, match=r"bad\.json"):
        read_garment(tmp_path / "bad.json")


def test_a_harmless_crossing_is_mended() -> None:
    corners = [[0, 0], [620, 0], [620, 700], [619, 701], [620.5, 701], [618, 700], [0, 700], [0, 0]]
    piece = garment_from_json(changed(outline={"type": "Polygon", "coordinates": [corners]})).pieces[0]
    assert piece.outline.is_valid
    assert piece.outline.area == pytest.approx(620 * 700, rel=0.005)


def test_a_blocked_area_that_crosses_itself_blocks_all_it_goes_round() -> None:
    bow = {"type": "Polygon", "coordinates": [[[100, 100], [200, 200], [200, 100], [100, 200], [100, 100]]]}
    piece = garment_from_json(changed(blocked=[{"kind": "other", "shape": bow}])).pieces[0]
    assert piece.blocked[0].shape.is_valid
    assert piece.blocked[0].shape.area == pytest.approx(5000)


def test_usable_beyond_the_outline_is_cut_back() -> None:
    wide = {"type": "Polygon", "coordinates": [[[-50, 0], [100, 0], [100, 100], [-50, 100], [-50, 0]]]}
    piece = garment_from_json(changed(usable=wide)).pieces[0]
    assert piece.usable is not None
    assert piece.outline.covers(piece.usable)
    assert piece.usable.area == pytest.approx(100 * 100)


def test_margin_left_out_is_the_tables() -> None:
    line = {"type": "LineString", "coordinates": [[0, 0], [100, 100]]}
    piece = garment_from_json(changed(blocked=[{"kind": "seam", "shape": line}])).pieces[0]
    assert piece.blocked[0].margin == 6.0


def test_outline_without_closing_point_is_read() -> None:
    piece = garment_from_json(
        changed(outline={"type": "Polygon", "coordinates": [[[0, 0], [50, 0], [50, 50]]]})
    ).pieces[0]
    assert piece.outline.equals(Polygon([(0, 0), (50, 0), (50, 50)]))

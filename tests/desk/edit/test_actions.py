"""Actions: what each does to a garment, in pixels of its photograph and in mm, and what can't be done."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from desk_garments import COAT, PHOTO, px
from shapely.geometry import box

from salvage.cloth.garment import BlockedKind, FoundBy, Garment
from salvage.cloth.record.numbers import numbered
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.desk.edit.actions import ACTIONS, apply, needs_finding
from salvage.desk.edit.marks import mark_numbered, marks
from salvage.errors import UsageError


def done(*actions: dict[str, Any], garment: Garment = COAT) -> Garment:
    for action in actions:
        garment = apply(garment, action)
    return garment


def names(garment: Garment) -> list[str]:
    return [each.name for each in garment.pieces]


def test_every_mark_has_a_number_and_keeps_it_when_others_go() -> None:
    before = {each.number: (each.kind, each.what) for each in marks(COAT)}
    assert sorted(before) == list(range(1, len(before) + 1))
    stain = next(n for n, (kind, _) in before.items() if kind == "worn")
    after = done({"do": "not", "mark": stain}, {"do": "stain", "px": px((150, 150), (170, 150), (170, 170))})
    now = {each.number: (each.kind, each.what) for each in marks(after)}
    assert {n: what for n, what in now.items() if n in before} == {
        n: what for n, what in before.items() if n != stain
    }
    assert now[len(before) + 1] == ("worn", "stain")


def test_a_seam_on_two_pieces_is_one_mark_and_its_number_outlives_the_record() -> None:
    again = garment_from_json(garment_to_json(COAT))
    assert marks(again) == marks(COAT)
    between = [each for each in marks(COAT) if len(each.places) == 2]
    assert [each.kind for each in between] == ["seam"]


def test_a_find_that_is_not_there_is_remembered() -> None:
    stain = next(each for each in marks(COAT) if each.kind == "worn")
    after = done({"do": "not", "mark": stain.number})
    assert [each.kind for each in after.pieces[0].cleared] == [BlockedKind.WORN]
    assert usable(after.pieces[0]).contains(stain.shape.centroid)


def test_pieces_that_only_a_false_seam_parted_hang_together() -> None:
    seam = next(each for each in marks(COAT) if len(each.places) == 2)
    after = done({"do": "not", "mark": seam.number})
    assert names(after) == ["back", "cuff"]
    assert after.pieces[0].outline.area == pytest.approx(400 * 400, rel=1e-4)


def test_a_piece_that_is_not_there_is_taken_out_and_can_be_put_back() -> None:
    cuff = next(each for each in marks(COAT) if each.what == "cuff")
    after = done({"do": "not", "mark": cuff.number})
    assert names(after) == ["back", "side"]
    back = done({"do": "put_back", "removed": 0}, garment=after)
    assert names(back) == ["back", "side", "cuff"]
    assert next(each for each in marks(back) if each.what == "cuff").number == cuff.number


def test_a_seam_drawn_in_pixels_across_a_piece_parts_it_though_its_ends_are_short_of_the_edge() -> None:
    after = done({"do": "seam", "px": px((8, 250), (150, 252), (290, 250))})
    assert names(after) == ["back", "back 2", "side", "cuff"]
    larger, smaller = after.pieces[:2]
    assert larger.outline.area == pytest.approx(300 * 250, rel=0.02)
    assert smaller.outline.area == pytest.approx(300 * 150, rel=0.02)
    drawn = [each for each in marks(after) if each.found_by == "person" and each.kind == "seam"]
    assert len(drawn) == 1
    assert {piece for piece, _ in drawn[0].places} == {0, 1}


def test_a_seam_that_ends_on_another_one_inside_the_piece_parts_it_with_that() -> None:
    after = done(
        {"do": "seam", "px": px((2, 200), (150, 200))},
        {"do": "seam", "px": px((150, 2), (150, 195))},
    )
    assert names(after) == ["back", "back 2", "side", "cuff"]
    assert after.pieces[1].outline.area == pytest.approx(150 * 200, rel=0.02)


def test_a_seam_over_two_pieces_parts_both() -> None:
    after = done({"do": "seam", "px": px((5, 250), (395, 250))})
    assert names(after) == ["back", "back 2", "side", "side 2", "cuff"]


def test_a_line_that_parts_nothing_only_blocks() -> None:
    after = done(
        {"do": "seam", "px": px((100, 150), (200, 150))}, {"do": "hem", "px": px((0, 250), (300, 250))}
    )
    assert names(after) == names(COAT)
    assert [each.kind for each in after.pieces[0].blocked[-2:]] == [BlockedKind.SEAM, BlockedKind.HEM]


def test_patches_and_strokes_of_a_brush_block_at_once() -> None:
    after = done(
        {"do": "pocket", "px": px((40, 40), (80, 40), (80, 90), (40, 90))},
        {"do": "stain", "px": px((200, 50), (220, 50)), "brush": 6.0},
        {"do": "worn", "px": px((250, 300)), "brush": 5.0},
        {"do": "other", "px": px((20, 300), (40, 300), (40, 320)), "what": "badge"},
        {"do": "closure", "px": px((100, 100), (100, 160)), "what": "zip"},
    )
    assert [b.what for b in after.pieces[0].blocked[-2:]] == ["badge", "zip"]
    drawn = after.pieces[0].blocked[-5:-2]
    assert [(b.kind, b.found_by) for b in drawn] == [
        (BlockedKind.POCKET, FoundBy.PERSON), (BlockedKind.WORN, FoundBy.PERSON), (BlockedKind.WORN, FoundBy.PERSON)
    ]  # fmt: skip
    assert drawn[0].shape.area == pytest.approx(2000, rel=0.01)
    for each in drawn:
        assert not usable(after.pieces[0]).intersects(each.shape)


def test_a_ring_that_crosses_itself_blocks_all_that_it_goes_round() -> None:
    after = done({"do": "stain", "px": px((40, 40), (80, 80), (80, 40), (40, 80))})
    assert after.pieces[0].blocked[-1].shape.area == pytest.approx(800, rel=0.02)


def test_a_clear_patch_frees_a_stain() -> None:
    after = done({"do": "clear", "px": px((190, 190), (250, 190), (250, 250), (190, 250))})
    assert not any(b.kind is BlockedKind.WORN for b in after.pieces[0].blocked)
    assert after.pieces[0].cleared[-1].patch


def test_an_outline_drawn_over_a_neighbour_takes_its_cloth_so_that_none_is_there_twice() -> None:
    after = done({"do": "outline", "piece": 0, "mm": [[0, 0], [330, 0], [330, 400], [0, 400]]})
    assert after.pieces[0].outline.area == pytest.approx(330 * 400)
    assert after.pieces[1].outline.area == pytest.approx(70 * 400)


def test_points_of_an_outline_are_moved_added_and_deleted() -> None:
    after = done({"do": "move", "piece": "cuff", "point": 0, "mm": [130, 440]})
    assert (130.0, 440.0) in after.pieces[2].outline.exterior.coords
    count = len(COAT.pieces[2].outline.exterior.coords)
    added = done({"do": "add", "piece": "cuff", "point": 1, "mm": [140, 470]})
    assert len(added.pieces[2].outline.exterior.coords) == count + 1
    fewer = done({"do": "delete", "piece": "cuff", "point": 1}, garment=added)
    assert fewer.pieces[2].outline.equals(COAT.pieces[2].outline)


def test_a_point_moved_with_a_reach_draws_its_neighbours_after_it() -> None:
    ring = [[x, 450] for x in range(0, 121, 10)] + [[120, 500], [0, 500]]
    garment = done({"do": "outline", "piece": "cuff", "mm": ring})
    after = done({"do": "move", "piece": "cuff", "point": 6, "mm": [60, 430], "reach": 30}, garment=garment)
    heights = {x: y for x, y in after.pieces[2].outline.exterior.coords if y < 460}
    assert heights[60.0] == 430.0
    assert heights[50.0] == heights[70.0] == pytest.approx(450 - 20 * 2 / 3)
    assert heights[20.0] == 450.0


def test_pieces_are_split_joined_named_and_set() -> None:
    after = done(
        {"do": "split", "piece": "back", "px": px((0, 100), (300, 100)), "seam": False},
        {"do": "set", "piece": "back 2", "name": "yoke", "fabric": "canvas", "layers": 2, "one_way": True},
        {"do": "set", "piece": "side", "grain": 450.0},
    )
    yoke = next(each for each in after.pieces if each.name == "yoke")
    assert (yoke.fabric, yoke.layers, yoke.one_way) == ("canvas", 2, True)
    assert after.pieces[2].grain == 90.0
    joined = done({"do": "join", "pieces": ["back", "yoke"]}, garment=after)
    assert names(joined) == ["back", "side", "cuff"]


def test_the_grain_is_drawn_as_an_arrow_on_the_photograph() -> None:
    after = done({"do": "grain", "piece": "side", "px": px((350, 100), (360, 300))})
    assert after.pieces[1].grain == pytest.approx(np.degrees(np.arctan2(200, 10)), abs=0.3)
    assert "grain" in after.pieces[1].by_person


def test_a_find_is_redrawn_or_called_something_else_and_keeps_its_number() -> None:
    stain = next(each for each in marks(COAT) if each.kind == "worn")
    after = done(
        {"do": "shape", "mark": stain.number, "px": px((50, 300), (90, 300), (90, 340), (50, 340))},
        {"do": "kind", "mark": stain.number, "kind": "other", "what": "badge"},
    )
    mark = mark_numbered(after, stain.number)
    assert (mark.kind, mark.what, mark.found_by) == ("other", "badge", "person")
    assert mark.shape.symmetric_difference(box(50, 300, 90, 340)).area < 20
    assert after.pieces[0].cleared


def test_a_seam_redrawn_elsewhere_parts_the_cloth_there() -> None:
    seam = next(each for each in marks(COAT) if len(each.places) == 2)
    after = done({"do": "shape", "mark": seam.number, "px": px((250, -5), (250, 405))})
    assert sorted(round(each.outline.area, -3) for each in after.pieces[:2]) == [60_000, 100_000]
    assert mark_numbered(after, seam.number).kind == "seam"


def test_usable_cloth_is_drawn_and_given_back() -> None:
    after = done({"do": "usable", "piece": 0, "px": px((20, 20), (100, 20), (100, 100), (20, 100))})
    assert usable(after.pieces[0]).area == pytest.approx(6400, rel=0.02)
    assert done({"do": "usable", "piece": 0, "px": None}, garment=after).pieces[0].usable is None


def test_hints_are_kept_in_the_record_and_ask_for_finding() -> None:
    action = {"do": "cloth", "px": px((10, 10), (20, 20))}
    after = done(action, {"do": "floor", "px": px((450, 10))})
    again = garment_from_json(garment_to_json(after))
    assert again.hints == after.hints
    assert again.hints[0].photo == PHOTO
    assert (len(again.hints[0].cloth[0]), len(again.hints[0].floor[0])) == (2, 1)
    assert needs_finding(action)
    assert not needs_finding({"do": "not", "mark": 1})
    assert done({"do": "forget_hints"}, garment=after).hints == ()


def test_the_garment_is_called_and_its_cloth_told() -> None:
    after = done({"do": "garment", "name": "uncle's coat", "kind": "denim"})
    assert (after.name, after.kind) == ("uncle's coat", "denim")
    assert "kind" in after.by_person


@pytest.mark.parametrize(
    ("says", "action"),
    [
        ("nothing that can be done", {"do": "fly"}),
        ("nothing that can be done", {}),
        ("needs 'mark'", {"do": "not"}),
        ("no mark 99", {"do": "not", "mark": 99}),
        ("whole number", {"do": "not", "mark": "7"}),
        ("takes no", {"do": "not", "mark": 1, "colour": "red"}),
        ("2 points or more", {"do": "seam", "px": [[1, 2]]}),
        ("no length", {"do": "seam", "px": [[5, 5], [5, 5]]}),
        ("is no point", {"do": "seam", "px": [[1, 2], ["a", 2]]}),
        ("is no point", {"do": "seam", "px": [[1, 2], [float("nan"), 2]]}),
        ("list of points", {"do": "seam", "px": "here"}),
        ("far outside", {"do": "seam", "px": [[1, 2], [99999, 5]]}),
        ("beside the cloth", {"do": "stain", "px": px((600, 600), (620, 600), (620, 620))}),
        ("beside the cloth", {"do": "clear", "px": px((600, 600), (620, 600), (620, 620))}),
        ("encloses nothing", {"do": "stain", "px": [[1, 1], [1, 1], [1, 1]]}),
        ("more than 0", {"do": "stain", "px": px((9, 9)), "brush": 0}),
        ("no piece called", {"do": "set", "piece": "hat", "name": "x"}),
        ("no piece 9", {"do": "remove", "piece": 9}),
        ("already", {"do": "set", "piece": "side", "name": "back"}),
        ("whole number", {"do": "set", "piece": "side", "layers": 1.5}),
        ("true or false", {"do": "set", "piece": "side", "one_way": "yes"}),
        ("one of name", {"do": "set", "piece": "side"}),
        ("crosses itself", {"do": "outline", "piece": 0, "mm": [[0, 0], [50, 50], [50, 0], [0, 50]]}),
        ("cross itself", {"do": "move", "piece": 2, "point": 0, "mm": [60, 600]}),
        ("no point 77", {"do": "move", "piece": 2, "point": 77, "mm": [60, 600]}),
        ("nothing of side", {"do": "outline", "piece": 0, "mm": [[0, 0], [500, 0], [500, 400], [0, 400]]}),
        ("right across", {"do": "split", "piece": 0, "px": px((100, 100), (200, 100))}),
        ("two pieces", {"do": "join", "pieces": [0]}),
        ("taken out", {"do": "put_back", "removed": "hat"}),
        ("two points", {"do": "grain", "piece": 0, "px": px((1, 1), (2, 2), (3, 3))}),
        ("one place", {"do": "grain", "piece": 0, "px": px((1, 1), (1, 1))}),
        ("no photograph", {"do": "stain", "photo": "b.jpg", "px": px((9, 9), (19, 9), (19, 19))}),
        ("no question", {"do": "answer", "question": 3, "reply": "yes"}),
        ("no answer", {"do": "answer", "question": 3, "reply": "perhaps"}),
        ("outside the picture", {"do": "cloth", "px": [[-5, 5]]}),
        ("no kind", {"do": "kind", "mark": 4, "kind": "hole"}),
        ("is a piece", {"do": "kind", "mark": 1, "kind": "worn"}),
    ],
)  # fmt: skip
def test_what_can_not_be_done_is_said(says: str, action: dict[str, Any]) -> None:
    with pytest.raises(UsageError, match=says):
        apply(COAT, action)


def test_no_action_changes_the_garment_that_it_is_given() -> None:
    before = garment_to_json(COAT)
    done({"do": "seam", "px": px((8, 250), (290, 250))}, {"do": "set", "piece": 0, "name": "x"})
    assert garment_to_json(COAT) == before
    assert numbered(COAT) == COAT


def test_every_action_is_tried_here() -> None:
    text = Path(__file__).read_text(encoding="utf-8")
    assert not [name for name in ACTIONS if f'"do": "{name}"' not in text]

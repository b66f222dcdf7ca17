"""Any edit by hand survives any measuring again: a list of edits that people make, and edits made at random."""

from __future__ import annotations

import json
import os
import random
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
import shapely
from hand_edits import EDITS, Still, usable_within
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record import edits
from salvage.cloth.record.anew.merge import merge, merge_all
from salvage.cloth.record.parse import garment_from_json
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable

SHOT = PiecePhoto("coat.jpg", 150.0, {"size_px": [1600, 1200]}, {}, "c0ffee")


def seam(*points: tuple[float, float], kind: BlockedKind = BlockedKind.SEAM, name: str = "") -> Blocked:
    return Blocked(kind, LineString(points), 6.0, id=name)


def found() -> Garment:
    """Three pieces side by side, with seams between them that both record, a hem and spots."""
    back = Piece(
        "back", box(0, 0, 300, 400), photo=SHOT, confidence=0.8,
        blocked=(
            seam((300, 0), (300, 400), name="coat.jpg 1.1"),
            seam((100, 60), (100, 390)),
            seam((114, 60), (114, 390)),  # beside the one before it: the two rows of a felled seam
            seam((0, 8), (300, 8), kind=BlockedKind.HEM),
            seam((0, 4), (300, 4)),  # along the hem
            Blocked(BlockedKind.WORN, box(200, 200, 240, 240), 3.0),
            Blocked(BlockedKind.POCKET, box(150, 300, 180, 330), 3.0, confidence=0.5),
        ),
    )  # fmt: skip
    side = Piece(
        "side", box(300, 0, 420, 400), photo=SHOT,
        blocked=(seam((300, 0), (300, 400), name="coat.jpg 1.1"), Blocked(BlockedKind.CLOSURE, box(350, 100, 360, 300), 3.0)),
    )  # fmt: skip
    cuff = Piece("cuff", box(0, 450, 120, 500), photo=SHOT)
    return Garment(
        "coat", (back, side, cuff), cautions=("Mind the pin.",), warnings=("coat.jpg: blurred by 3 px.",)
    )


def shaken(garment: Garment, seed: int, by: float = 1.5) -> Garment:
    """The same garment as another measuring would find it: everything a little elsewhere."""
    rng = random.Random(seed)

    def moved(shape: Any) -> Any:
        return shapely.affinity.translate(shape, rng.uniform(-by, by), rng.uniform(-by, by))

    pieces = tuple(
        replace(
            each,
            outline=moved(each.outline),
            blocked=tuple(replace(b, shape=moved(b.shape)) for b in each.blocked),
        )
        for each in garment.pieces
    )
    return replace(garment, pieces=pieces)


def read(data: Any) -> Garment:
    return garment_from_json(json.dumps(data))


def data_of(garment: Garment) -> Any:
    return json.loads(garment_to_json(garment))


def again(data: Any, *measurings: Garment) -> Any:
    for new in measurings:
        data = data_of(merge(read(data), new))
    return data


@pytest.mark.parametrize("measurings", [(0,), (1, 2, 0)], ids=["same", "shaken"])
@pytest.mark.parametrize(("kind", "name", "change"), EDITS, ids=[f"{k}: {n}" for k, n, _ in EDITS])
def test_an_edit_survives_measuring_again(
    kind: str, name: str, change: Any, measurings: tuple[int, ...]
) -> None:
    data = data_of(found())
    still: Still = change(data)
    after = again(data, *(shaken(found(), seed) if seed else found() for seed in measurings))
    assert still(after)
    assert usable_within(after)


def test_what_nobody_touched_is_as_measured_last() -> None:
    new = shaken(found(), 5)
    after = merge(read(data_of(found())), new)
    assert data_of(after) == data_of(new)


def test_measuring_the_same_again_changes_nothing() -> None:
    data = data_of(found())
    for _, _, change in EDITS[:12]:
        edited = deepcopy(data)
        change(edited)
        once = again(edited, found())
        assert again(once, found()) == once


# --- photographs ------------------------------------------------------------------------------------------


def as_file(garment: Garment, file: str, content: str) -> Garment:
    shot = replace(SHOT, file=file, content=content)
    return replace(garment, pieces=tuple(replace(each, photo=shot) for each in garment.pieces))


def test_a_photograph_moved_or_renamed_doubles_nothing_and_keeps_edits() -> None:
    data = data_of(found())
    data["pieces"][0]["grain"] = 77.0
    after = read(again(data, as_file(found(), "photos/IMG_7.jpg", "c0ffee")))
    assert [each.name for each in after.pieces] == ["back", "side", "cuff"]
    assert after.pieces[0].grain == 77.0
    assert {each.photo.file for each in after.pieces if each.photo} == {"photos/IMG_7.jpg"}


def test_another_photograph_is_added() -> None:
    after = merge(found(), as_file(found(), "inside.jpg", "beef"))
    assert len(after.pieces) == 6
    assert len({each.name for each in after.pieces}) == 6


def test_another_picture_under_the_old_name_never_takes_what_was_drawn_on_the_old_one() -> None:
    data = data_of(found())
    data["pieces"][0]["grain"] = 77.0
    with pytest.raises(Exception, match="is another picture"):
        merge(read(data), as_file(found(), "coat.jpg", "beef"))
    # Where nobody drew anything there is nothing to lose.
    assert len(merge(found(), as_file(found(), "coat.jpg", "beef")).pieces) == 3


def test_warnings_of_a_photograph_not_measured_again_stay_and_its_own_are_renewed() -> None:
    both = merge(found(), as_file(replace(found(), warnings=("inside.jpg: dark.",)), "inside.jpg", "beef"))
    assert set(both.warnings) == {"coat.jpg: blurred by 3 px.", "inside.jpg: dark."}
    after = merge(read(data_of(both)), replace(found(), warnings=("coat.jpg: tilted.",)))
    assert set(after.warnings) == {"coat.jpg: tilted.", "inside.jpg: dark."}


def test_a_warning_taken_out_stays_out_though_its_numbers_differ() -> None:
    data = data_of(found())
    data["warnings"] = []
    after = again(data, replace(found(), warnings=("coat.jpg: blurred by 4 px.",)), found())
    assert after.get("warnings", []) == []


# --- other pieces than before -----------------------------------------------------------------------------


def two_for_one() -> Garment:
    """Measured again, the back is seen as two pieces."""
    back, side, cuff = found().pieces
    lower = replace(back, name="lower back", outline=box(0, 0, 300, 280), blocked=())
    upper = replace(back, name="yoke", outline=box(0, 280, 300, 400), blocked=())
    return replace(found(), pieces=(lower, upper, side, cuff))


def one_for_two() -> Garment:
    """Measured again, back and side hang together."""
    back, _, cuff = found().pieces
    return replace(
        found(), pieces=(replace(back, name="body", outline=box(0, 0, 420, 400), blocked=()), cuff)
    )


def test_what_was_said_of_a_piece_holds_for_both_that_it_turns_out_to_be() -> None:
    data = data_of(found())
    data["pieces"][0] |= {"grain": 77.0, "name": "my back"}
    after = {each.name: each for each in read(again(data, two_for_one())).pieces}
    assert {"my back", "yoke"} <= set(after)
    assert after["my back"].grain == after["yoke"].grain == 77.0


def test_a_piece_that_was_touched_stays_where_the_new_measuring_sees_it_hang_together_with_another() -> None:
    data = data_of(found())
    data["pieces"][1] |= {"grain": 77.0, "fabric": "lining"}
    after = read(again(data, one_for_two()))
    side = next(each for each in after.pieces if each.fabric == "lining")
    assert (side.grain, side.outline.bounds) == (77.0, (300, 0, 420, 400))
    assert sum(each.outline.area for each in after.pieces) == pytest.approx(420 * 400 + 120 * 50, rel=0.001)


def test_all_taken_out_and_nothing_left_is_told() -> None:
    garment = edits.remove_piece(edits.remove_piece(found(), 0), 0)
    new = replace(found(), pieces=found().pieces[:2])
    cuff_only = replace(garment, pieces=())
    with pytest.raises(Exception, match="nothing is left"):
        merge(cuff_only, new)


def test_a_piece_taken_out_is_named_when_it_stays_out_and_can_be_put_back() -> None:
    garment = read(data_of(edits.remove_piece(found(), 2)))
    merged = merge_all(garment, found())
    assert merged.left_out == ("cuff",)
    assert [each.name for each in edits.put_back(merged.garment, 0).pieces] == ["back", "side", "cuff"]


def test_a_piece_put_back_by_copying_is_there_once() -> None:
    data = data_of(edits.remove_piece(found(), 2))
    data["pieces"].append(data["removed"][0])
    after = again(data, found(), shaken(found(), 3))
    assert [each["name"] for each in after["pieces"]] == ["back", "side", "cuff"]


# --- at random --------------------------------------------------------------------------------------------

FEW = settings(max_examples=int(os.environ.get("SALVAGE_EXAMPLES", "25")))  # 500 for a night's run
PLACES = st.tuples(st.floats(5, 380), st.floats(5, 380), st.floats(3, 90), st.floats(3, 90))
KINDS = st.sampled_from(list(BlockedKind))


@st.composite
def garments(draw: st.DrawFn) -> Garment:
    """A row of pieces with seams and spots, as a photograph might give them."""
    widths = draw(st.lists(st.integers(60, 200), min_size=1, max_size=4))
    left, pieces = 0.0, []
    for number, width in enumerate(widths):
        spots = draw(st.lists(st.tuples(KINDS, PLACES), max_size=4))
        blocked = tuple(
            Blocked(kind, box(left + x % width, y, left + x % width + w, y + h), 3.0)
            for kind, (x, y, w, h) in spots
        )
        edge = seam((left, 0), (left, 500))
        pieces.append(
            Piece(f"piece {number}", box(left, 0, left + width, 500), blocked=(edge, *blocked), photo=SHOT)
        )
        left += width
    return Garment("coat", tuple(pieces))


@st.composite
def measurings(draw: st.DrawFn, garment: Garment) -> Garment:
    """The same photograph measured again: shaken, its pieces perhaps parted or hanging together, all else new."""
    how = draw(st.sampled_from(["same", "shaken", "parted", "hanging", "another"]))
    if how == "another":
        return draw(garments())
    new = garment if how == "same" else shaken(garment, draw(st.integers(1, 9)))
    if how == "parted":
        first = new.pieces[0]
        x0, y0, x1, y1 = first.outline.bounds
        cut = y0 + (y1 - y0) * draw(st.floats(0.1, 0.9))
        parts = (
            replace(first, outline=box(x0, y0, x1, cut)),
            replace(first, name="new", outline=box(x0, cut, x1, y1)),
        )
        new = replace(new, pieces=(*parts, *new.pieces[1:]))
    elif how == "hanging" and len(new.pieces) > 1:
        first, second = new.pieces[:2]
        whole = first.outline.union(second.outline).convex_hull
        new = replace(new, pieces=(replace(first, outline=whole), *new.pieces[2:]))
    return new


@st.composite
def histories(draw: st.DrawFn) -> tuple[Garment, list[Garment]]:
    garment = draw(garments())
    return garment, [draw(measurings(garment)) for _ in range(draw(st.integers(1, 2)))]


def measured_again(garment: Garment, news: list[Garment]) -> Garment:
    """Through the record's text each time, as on disk."""
    for new in news:
        garment = merge(read(data_of(garment)), new)
    return garment


def overlap(garment: Garment, region: Any) -> float:
    """How much of a region is there more than once."""
    parts = [each.outline.intersection(region) for each in garment.pieces]
    return sum(each.area for each in parts) - float(shapely.union_all(parts).area)


@given(histories(), st.data())
@FEW
def test_any_setting_survives_any_measuring_again(
    history: tuple[Garment, list[Garment]], data: st.DataObject
) -> None:
    garment, news = history
    number = data.draw(st.integers(0, len(garment.pieces) - 1))
    fields = {"grain": 33.0, "fabric": "mine", "layers": 3, "one_way": True, "name": "my piece"}
    chosen = data.draw(st.sets(st.sampled_from(sorted(fields)), min_size=1))
    edited = edits.at(
        garment, number, lambda piece: edits.set_fields(piece, **{n: fields[n] for n in chosen})
    )
    region = garment.pieces[number].outline.buffer(-8.0)
    after = measured_again(edited, news)
    here = [each for each in after.pieces if each.outline.intersection(region).area > 0.5 * region.area]
    assert here
    for name in chosen - {"name"}:
        assert all(getattr(each, name) == fields[name] for each in here)
    assert any(all(getattr(each, name) == fields[name] for name in chosen) for each in after.pieces)
    assert overlap(after, region) < 0.02 * region.area


@given(histories(), KINDS, PLACES, st.integers(0, 3))
@FEW
def test_any_drawn_area_survives_any_measuring_again(
    history: tuple[Garment, list[Garment]], kind: BlockedKind, place: tuple[float, ...], number: int
) -> None:
    garment, news = history
    number %= len(garment.pieces)
    x, y, w, h = place
    drawn = box(x, y, x + w, y + h)
    edited = edits.at(garment, number, lambda piece: edits.block(piece, kind, drawn, what="mine"))
    after = measured_again(edited, news)
    mine = [b for each in after.pieces for b in each.blocked if b.what == "mine"]
    assert mine
    assert all(
        b.kind is kind and b.found_by is FoundBy.PERSON and b.shape.symmetric_difference(drawn).area < 0.1
        for b in mine
    )
    for each in after.pieces:
        if any(b.what == "mine" for b in each.blocked):
            assert not usable(each).buffer(-0.1).intersects(drawn)


@given(histories(), st.data())
@FEW
def test_any_area_taken_out_stays_out(history: tuple[Garment, list[Garment]], data: st.DataObject) -> None:
    garment, _ = history
    number = data.draw(st.integers(0, len(garment.pieces) - 1))
    piece = garment.pieces[number]
    which = data.draw(st.integers(0, len(piece.blocked) - 1))
    gone = piece.blocked[which]
    twins = sum(
        each.kind is gone.kind and each.shape.buffer(10).intersects(gone.shape) for each in piece.blocked
    )
    edited = edits.at(garment, number, lambda each: edits.unblock(each, which))
    after = measured_again(edited, [garment, shaken(garment, data.draw(st.integers(1, 9)), by=0.8), garment])
    now = after.pieces[number].blocked
    assert len(now) >= len(piece.blocked) - 1  # of two that are the same, one stays
    if twins == 1:
        assert len(now) == len(piece.blocked) - 1
        assert not any(each.kind is gone.kind and each.shape.equals(gone.shape) for each in now)


@given(histories(), st.data())
@FEW
def test_any_piece_taken_out_stays_out(history: tuple[Garment, list[Garment]], data: st.DataObject) -> None:
    garment, news = history
    number = data.draw(st.integers(0, len(garment.pieces) - 1))
    strap = Piece("strap", box(0, 0, 50, 50))  # so that something is left
    edited = edits.remove_piece(replace(garment, pieces=(*garment.pieces, strap)), number)
    after = measured_again(edited, news)
    region = garment.pieces[number].outline.buffer(-8.0)
    back = sum(each.outline.intersection(region).area for each in after.pieces if each.photo is not None)
    assert back < 0.05 * region.area


@given(histories(), st.data())
@FEW
def test_any_outline_drawn_anew_stays_and_nothing_comes_back_beside_it(
    history: tuple[Garment, list[Garment]], data: st.DataObject
) -> None:
    garment, news = history
    number = data.draw(st.integers(0, len(garment.pieces) - 1))
    x0, y0, x1, y1 = garment.pieces[number].outline.bounds
    w, h = data.draw(st.tuples(st.floats(0.1, 1.0), st.floats(0.1, 1.0)))
    drawn = box(x0, y0, x0 + w * (x1 - x0), y0 + h * (y1 - y0))
    after = measured_again(edits.at(garment, number, lambda piece: edits.draw_outline(piece, drawn)), news)
    assert sum(each.outline.symmetric_difference(drawn).area < 0.01 for each in after.pieces) == 1
    found_there = garment.pieces[number].outline.buffer(-8.0)
    there = [each.outline.intersection(found_there) for each in after.pieces]
    assert shapely.union_all(there).difference(drawn).area < 0.05 * found_there.area
    assert overlap(after, drawn) < 1.0


@given(histories(), PLACES, st.integers(0, 3))
@FEW
def test_any_usable_cloth_drawn_is_never_grown(
    history: tuple[Garment, list[Garment]], place: tuple[float, ...], number: int
) -> None:
    garment, news = history
    number %= len(garment.pieces)
    region = garment.pieces[number].outline
    _, y, w, h = place
    left = region.bounds[0]
    drawn = box(left, y, left + w, y + h).intersection(region)
    mine = MultiPolygon([drawn]) if isinstance(drawn, Polygon) and drawn.area > 0 else MultiPolygon()
    after = measured_again(edits.at(garment, number, lambda piece: edits.draw_usable(piece, mine)), news)
    cloth = shapely.union_all([usable(each) for each in after.pieces]).intersection(region.buffer(-8.0))
    assert cloth.difference(mine.buffer(0.1)).area < 1.0
    assert usable_within(data_of(after))


@given(histories(), st.floats(0.2, 0.8))
@FEW
def test_a_piece_parted_or_joined_by_hand_stays_so(
    history: tuple[Garment, list[Garment]], share: float
) -> None:
    garment, news = history
    x0, y0, x1, y1 = garment.pieces[0].outline.bounds
    across = y0 + share * (y1 - y0)
    parted = edits.split_piece(garment, 0, LineString([(x0 - 1, across), (x1 + 1, across)]))
    after = measured_again(parted, news)
    for part in parted.pieces[:2]:
        assert sum(each.outline.symmetric_difference(part.outline).area < 0.01 for each in after.pieces) == 1
    region = garment.pieces[0].outline
    assert overlap(after, region) < 1.0
    if len(garment.pieces) > 1:
        joined = edits.join_pieces(garment, 0, 1)
        after = measured_again(joined, news)
        assert (
            sum(
                each.outline.symmetric_difference(joined.pieces[0].outline).area < 0.01
                for each in after.pieces
            )
            == 1
        )
        assert overlap(after, joined.pieces[0].outline) < 1.0

"""Whether a find is one that a person took out: cloth must not come free by resemblance, nor be lost by it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Blocked, BlockedKind, Cleared, FoundBy, Garment, Piece, PiecePhoto
from salvage.cloth.record.anew.alike import known_away, move_between, readable, same_photograph
from salvage.errors import SalvageError
from salvage.scale.plane import Plane
from salvage.scale.solving.camera import Camera

SEAM, STAIN = BlockedKind.SEAM, BlockedKind.WORN
LINE = LineString([(100, 0), (100, 400)])
SPOT = Point(200, 200).buffer(15)


def piece(*blocked: Blocked, cleared: tuple[Cleared, ...] = ()) -> Piece:
    return Piece("back", box(0, 0, 400, 400), blocked=blocked, cleared=cleared)


def found(shape: BaseGeometry, kind: BlockedKind = SEAM, margin: float = 6.0) -> Blocked:
    return Blocked(kind, shape, margin)


@pytest.mark.parametrize("aside", [0.0, 5.0, -5.0])
def test_a_seam_that_was_taken_out_stays_out_a_little_beside(aside: float) -> None:
    out = piece(cleared=(Cleared(LINE, SEAM),))
    assert known_away(found(affinity.translate(LINE, aside, 0)), out)


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        (affinity.translate(LINE, 15, 0), SEAM),  # another seam beside it
        (LineString([(0, 200), (400, 200)]), SEAM),  # one across
        (LINE, BlockedKind.HEM),  # another kind at that place
        (LineString([(100, 0), (100, 400), (350, 400)]), BlockedKind.CLOSURE),
    ],
)
def test_what_is_not_that_seam_blocks(shape: LineString, kind: BlockedKind) -> None:
    assert not known_away(found(shape, kind), piece(cleared=(Cleared(LINE, SEAM),)))


def test_without_its_kind_told_the_place_is_enough() -> None:
    assert known_away(found(LINE, BlockedKind.HEM), piece(cleared=(Cleared(LINE),)))


def test_a_patch_found_sound_is_no_find_taken_out() -> None:
    assert not known_away(found(SPOT, STAIN, 3.0), piece(cleared=(Cleared(SPOT, patch=True),)))


def test_of_two_seams_side_by_side_the_one_that_stays_comes_back() -> None:
    other = affinity.translate(LINE, 8, 0)
    old = piece(found(other), cleared=(Cleared(LINE, SEAM),))
    assert not known_away(found(other), old)
    assert known_away(found(LINE), old)
    assert not known_away(found(affinity.translate(LINE, 3.8, 0)), old)  # it can't be told which: it blocks


def test_a_stain_much_larger_than_the_one_taken_out_blocks() -> None:
    old = piece(cleared=(Cleared(SPOT, STAIN),))
    assert known_away(found(Point(203, 200).buffer(16), STAIN, 3.0), old)
    assert not known_away(found(Point(200, 200).buffer(60), STAIN, 3.0), old)


def test_what_a_person_drew_covers_what_is_found_in_it() -> None:
    drawn = Blocked(STAIN, SPOT.buffer(20), 3.0, found_by=FoundBy.PERSON)
    assert known_away(found(SPOT, STAIN, 3.0), piece(drawn))
    assert not known_away(found(affinity.translate(SPOT, 40, 0), STAIN, 3.0), piece(drawn))
    assert not known_away(
        found(SPOT, STAIN, 30.0), piece(drawn)
    )  # its margin reaches farther than what was drawn
    assert not known_away(found(SPOT, STAIN, 3.0), piece(replace(drawn, found_by=FoundBy.PHOTO)))


def test_a_find_with_a_wider_margin_is_covered_by_less() -> None:
    drawn = Blocked(STAIN, SPOT, 3.0, found_by=FoundBy.PERSON)
    assert known_away(found(SPOT, STAIN, 5.0), piece(drawn))
    assert not known_away(found(SPOT.buffer(6), STAIN, 5.0), piece(drawn))


def shot(name: str, content: str = "") -> PiecePhoto:
    return PiecePhoto(name, 150.0, content=content)


BACK = box(0, 0, 300, 400)


def coat(*photos: PiecePhoto, at: Polygon = BACK) -> Garment:
    return Garment("coat", tuple(Piece(f"p{n}", at, photo=photo) for n, photo in enumerate(photos)))


def test_a_photograph_is_known_by_its_content_wherever_it_lies() -> None:
    before, moved, other = shot("a.jpg", "c1"), shot("else/b.jpg", "c1"), shot("a.jpg", "c2")
    assert same_photograph(before, coat(before), coat(other, moved), drawn_on=True) == moved


def test_another_picture_of_the_same_name_is_refused_where_a_person_drew() -> None:
    before, other = shot("a.jpg", "c1"), shot("a.jpg", "c2")
    with pytest.raises(SalvageError, match=r"a\.jpg: is another picture"):
        same_photograph(before, coat(before), coat(other), drawn_on=True)
    assert same_photograph(before, coat(before), coat(other), drawn_on=False) == other


def test_no_photograph_is_none() -> None:
    before = shot("a.jpg", "c1")
    assert same_photograph(before, coat(before), coat(shot("b.jpg", "c2")), drawn_on=True) is None


def test_nothing_moves_where_the_camera_is_the_same_or_not_known() -> None:
    same = replace(shot("a.jpg"), camera={"k": 1}, mm_to_pixel={"m": 2})
    for before, after in ((shot("a.jpg"), shot("a.jpg")), (same, same), (same, shot("a.jpg"))):
        assert move_between(before, after)(LINE) is LINE


def test_a_spoilt_camera_is_told() -> None:
    spoilt = replace(shot("a.jpg"), camera={"k": 1}, mm_to_pixel={"m": 2})
    other = replace(spoilt, camera={"k": 3})
    assert not readable(spoilt)
    with pytest.raises(SalvageError, match=r"a\.jpg: the record's camera for it is spoilt"):
        move_between(spoilt, other)


def of_plane(plane: Plane) -> PiecePhoto:
    camera, mm_to_pixel = plane.to_record()
    return PiecePhoto("a.jpg", 150.0, camera=camera, mm_to_pixel=mm_to_pixel)


CAMERA = Camera(1400.0, 0.1, 0.15, 1800.0, 1195.0, 905.0, 0.02)
PLANE = Plane.over(CAMERA, (2400, 1800), 5.0, np.diag([1e-6] * 9))


def test_a_picture_saved_at_half_its_size_moves_nothing() -> None:
    moved = move_between(of_plane(PLANE), of_plane(PLANE.scaled(0.5)))(LINE)
    assert moved is not LINE
    assert np.abs(shapely.get_coordinates(moved) - shapely.get_coordinates(LINE)).max() < 1e-3


def test_what_was_drawn_goes_with_the_picture_onto_a_plane_begun_elsewhere() -> None:
    x, y = PLANE.origin
    moved = move_between(of_plane(PLANE), of_plane(replace(PLANE, origin=(x + 30.0, y - 20.0))))(LINE)
    by = shapely.get_coordinates(moved) - shapely.get_coordinates(LINE)
    assert by == pytest.approx(np.array([[-30.0, 20.0]] * 2), abs=1e-3)


def test_a_picture_saved_anew_is_known_by_its_cloth() -> None:
    """Other bytes and another name, the same cloth at the same place of the picture; and not where it lies elsewhere."""
    before, after = replace(of_plane(PLANE), content="c1"), replace(of_plane(PLANE.scaled(0.5)), content="c2")
    old, new = coat(before), coat(replace(after, file="a.jpg"))
    assert same_photograph(before, old, new, drawn_on=True) == new.pieces[0].photo
    with pytest.raises(SalvageError, match="is another picture"):
        same_photograph(before, old, coat(after, at=box(100, 0, 400, 400)), drawn_on=True)

"""From a photograph to a garment: what is told of the whole, beside what its rooms find."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box

from salvage import job
from salvage.cloth.garment import Garment, Piece, PiecePhoto
from salvage.errors import SalvageError
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.scale.known import KnownLength
from salvage.telling import Telling

BLANK = Photo(Path("blank.png"), np.zeros((30, 40, 3), np.uint8))


@pytest.mark.parametrize(
    ("lengths", "doubted"),
    [
        ((800.0,), False),
        ((149.0,), True),
        ((150.0,), False),
        ((1500.0,), False),
        ((1501.0,), True),
        ((149.0, 600.0), False),  # the longest counts: a cuff is short on every garment
        ((600.0, 1501.0), True),
        ((), False),
    ],
)
@pytest.mark.parametrize("lying", [False, True])
def test_a_piece_of_a_size_that_no_garment_has_is_doubted(
    lengths: tuple[float, ...], doubted: bool, lying: bool
) -> None:
    pieces = [
        Piece("p", box(0, 0, length, 100) if lying else box(50, 50, 150, 50 + length)) for length in lengths
    ]
    said = job._odd_size(pieces)
    assert bool(said) is doubted
    if doubted:
        assert f"{max(lengths):.0f} mm long" in said[0]
        assert "--side" in said[0]


@given(
    st.floats(1.01, 6.0),
    st.tuples(st.floats(-0.5, 39.5), st.floats(-0.5, 29.5)),
    st.tuples(st.floats(-0.5, 39.5), st.floats(-0.5, 29.5)),
)
def test_pixels_told_of_a_large_file_point_at_the_same_place(
    by: float, one: tuple[float, float], other: tuple[float, float]
) -> None:
    photo = Photo(Path("large.png"), BLANK.pixels, reduced_by=by)

    def in_file(point: tuple[float, float]) -> tuple[float, float]:
        # a pixel covers half a pixel each way round its centre: edges of the picture stay edges
        return (point[0] + 0.5) * by - 0.5, (point[1] + 0.5) * by - 0.5

    known = KnownLength(in_file(one), in_file(other), 560.0)
    told = Telling(known=(known,), square_at=(in_file(one),), cloth_at=(in_file(other),), floor_at=())
    read = job._for_pixels(told, photo)
    assert read.square_at[0] == pytest.approx(one, abs=1e-6)
    assert read.cloth_at[0] == pytest.approx(other, abs=1e-6)
    assert read.floor_at == ()
    assert read.known[0].from_px == pytest.approx(one, abs=1e-6)
    assert read.known[0].to_px == pytest.approx(other, abs=1e-6)
    assert read.known[0].said_px == (*known.from_px, *known.to_px)  # messages speak of the person's pixels


def look(*problems: Problem) -> job.Look:
    return job.Look(BLANK, (), None, None, problems)


def test_a_photograph_is_refused_with_every_error_and_no_warning() -> None:
    dark = Problem(Code.TOO_DARK, Level.ERROR, "It is too dark.")
    blurred = Problem(Code.BLURRED, Level.ERROR, "It is blurred.")
    tilted = Problem(Code.TILTED, Level.WARNING, "It is tilted.")
    with pytest.raises(SalvageError) as refused:
        job.refuse_bad(look(dark, tilted, blurred))
    assert str(refused.value) == "blank.png: can't be measured. It is too dark. It is blurred."
    assert not look(dark, tilted).ok
    assert look(tilted).ok


def test_without_a_scale_it_says_how_to_give_one() -> None:
    with pytest.raises(SalvageError, match=r"blank\.png: .*--side"):
        job.refuse_bad(look())


def test_pieces_of_one_name_are_numbered_and_the_first_keeps_its_own() -> None:
    cloth = box(0, 0, 300, 300)
    named = job._distinctly_named([Piece(name, cloth) for name in ("sleeve", "back", "sleeve", "sleeve")])
    names = [each.name for each in named]
    assert names[:2] == ["sleeve", "back"]
    assert len(set(names)) == 4
    assert all(name.startswith("sleeve") for name in names[2:])


def told_by_record(content: str, tmp_path: Path, camera: dict[str, Any]) -> Telling:
    file = tmp_path / "coat.jpg"
    file.write_bytes(b"the photograph")
    photo = Photo(file, BLANK.pixels)
    shot = PiecePhoto("old name.jpg", 150.0, camera, {}, content or job.known_by(photo))
    garment = Garment("coat", (Piece("back", box(0, 0, 300, 300), photo=shot),))
    return job.told_before(photo, Telling(), garment)


def test_a_renamed_photograph_is_told_of_as_before_and_another_is_not(tmp_path: Path) -> None:
    camera: dict[str, Any] = {"told": {"side": 150.0}}
    assert told_by_record("", tmp_path, camera).side == 150.0
    assert told_by_record("another's hash", tmp_path, camera) == Telling()


def test_what_a_record_tells_and_nobody_can_read_is_said(tmp_path: Path) -> None:
    with pytest.raises(SalvageError, match=r"coat: what the record keeps as told about old name\.jpg"):
        told_by_record("", tmp_path, {"told": {"known": "spoilt"}})

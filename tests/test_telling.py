"""What a person tells beside a photograph, kept and read back."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.scale.known import KnownLength
from salvage.telling import Telling

pixels = st.tuples(st.floats(0, 9000), st.floats(0, 9000))
hints = st.lists(pixels, max_size=3).map(tuple)
tellings = st.builds(
    Telling,
    side=st.none() | st.floats(20, 1000),
    paper=st.none() | st.just("A4"),
    known=st.lists(st.builds(KnownLength, pixels, pixels, st.floats(10, 3000)), max_size=2).map(tuple),
    square_at=hints,
    cloth_at=hints,
    floor_at=hints,
    height=st.none() | st.floats(0, 100),
)


@given(tellings)
def test_what_is_kept_is_read_back(told: Telling) -> None:
    assert Telling().with_record(json.loads(json.dumps(told.to_record()))) == told


def test_a_new_scale_replaces_the_old_one_and_leaves_the_hints() -> None:
    before = Telling(known=(KnownLength((0, 0), (9, 9), 560.0),), cloth_at=((5.0, 5.0),))
    now = Telling(side=150.0).with_record(before.to_record())
    assert now == Telling(side=150.0, cloth_at=((5.0, 5.0),))


def test_new_hints_replace_the_old_ones() -> None:
    before = Telling(side=150.0, cloth_at=((5.0, 5.0),), floor_at=((1.0, 1.0),))
    assert Telling(floor_at=((2.0, 2.0),)).with_record(before.to_record()).cloth_at == ()


@pytest.mark.parametrize(
    "spoilt",
    [
        {"side": "x"},
        {"side": -1},
        {"known": [[1, 2]]},
        {"known": [[0, 0, 1, 1, 0]]},
        {"cloth": [[1]]},
        {"floor": 3},
    ],
)
def test_what_was_spoilt_is_told(spoilt: dict) -> None:
    with pytest.raises((TypeError, ValueError)):
        Telling().with_record(spoilt)

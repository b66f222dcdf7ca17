"""A key by the object itself: equal things that are two are two, and a key keeps its thing alive."""

from __future__ import annotations

import gc
import weakref

from salvage.same import Same


class Thing:
    """Equal to each of its kind, and too slow to ask."""

    def __eq__(self, other: object) -> bool:
        raise AssertionError("things are never compared")

    def __hash__(self) -> int:
        raise AssertionError("things are never hashed")


def test_one_object_is_the_same_under_two_keys_and_another_is_not() -> None:
    thing, other = Thing(), Thing()
    made = {Same(thing): 1, Same(other): 2}
    assert made == {Same(other): 2, Same(thing): 1}
    assert made[Same(thing)] == 1
    assert Same(thing) != Same(other)


def test_a_key_is_equal_to_nothing_but_a_key() -> None:
    assert Same(1) != 1
    assert {Same(1): 0}.get(1) is None  # type: ignore[call-overload]


def test_as_long_as_a_key_lives_no_other_thing_can_stand_in_the_place_of_its_own() -> None:
    thing = Thing()
    key, seen = Same(thing), weakref.ref(thing)
    del thing
    gc.collect()
    assert seen() is key.thing

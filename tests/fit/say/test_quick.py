"""What a quick answer says, against numbers rounded by hand."""

from __future__ import annotations

from salvage.fit.say.quick import of_clearance, of_left_out
from salvage.units import Unit


def test_what_found_no_place_is_named_once() -> None:
    told = of_left_out(["back", "flap", "back"], "", pinned=False)
    assert told == "No place was found yet for: back, flap."
    assert of_left_out(["back"], "", pinned=True) == "No place was found yet for: back. What is pinned stays."


def test_a_fault_of_what_is_pinned_is_told_before_anything_else() -> None:
    told = of_left_out(["back"], "back 1 leaves the cloth", pinned=True)
    assert "back 1 leaves the cloth" in told
    assert "No place" not in told


def test_how_far_it_keeps_off_the_edges() -> None:
    enough = of_clearance(12.4, 4.0, Unit.MM, enough=True)
    assert "12 mm or more from every edge" in enough
    assert "only" not in enough
    close = of_clearance(3.1, 4.0, Unit.MM, enough=False)
    assert "only 3 mm from an edge" in close
    assert "known to 4 mm" in close
    assert "1/2 in" in of_clearance(12.7, 4.0, Unit.INCH, enough=True)

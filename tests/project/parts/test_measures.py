"""What a part says is read in its unit, what is missing or unknown is named, and panels come with their allowance."""

from __future__ import annotations

from dataclasses import replace

import pytest
from part_of import part_of
from shapely.geometry import Polygon

from salvage.errors import SalvageError
from salvage.project.parts.kinds import KINDS
from salvage.project.parts.measures import Measures
from salvage.project.project import Grain, Join
from salvage.units import Unit

TRIANGLE = ((0.0, 0.0), (90.0, 0.0), (0.0, 60.0))
SQUARE = ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0))


def test_lengths_are_in_the_unit_of_the_file_unless_they_name_their_own() -> None:
    inches = replace(part_of("strap", width=2, length="30cm"), unit=Unit.INCH)
    assert inches.size("width") == pytest.approx(50.8)
    assert inches.size("length") == pytest.approx(300)
    assert inches.length("ease", 7.0) == 7.0


@pytest.mark.parametrize(
    ("kind", "entry", "said"),
    [
        ("strap", {"width": 20}, "a strap needs width and length; length is not given"),
        ("zip pocket", {"depth": 90}, "needs zip and depth; zip is not given"),
        ("bag", {"width": 20, "depth": 3}, "needs width, height and depth; height is not given"),
        ("lining", {}, "a lining needs of; of is not given"),
        ("strap", {"width": 20, "length": 90, "lenght": 3}, "'lenght' means nothing here"),
        ("flat pocket", {"width": 20, "height": 90, "join": "bias"}, "'join' means nothing here"),
    ],
)
def test_a_key_that_is_missing_or_unknown_is_named(kind: str, entry: dict[str, object], said: str) -> None:
    asked = Measures({"name": "x", "kind": kind, **entry}, KINDS[kind], Unit.MM, "part 'x'", 10.0, (), {})
    with pytest.raises(SalvageError, match=said):
        asked.check()


def test_a_size_of_nothing_is_refused() -> None:
    asked = part_of("strap", width=0, length=90)
    with pytest.raises(SalvageError, match="width must be more than 0"):
        asked.size("width")


def test_a_panel_has_its_allowance_all_round() -> None:
    panel = part_of("flat pocket", width=1, height=1, cut=3).panel("flap", TRIANGLE, cut=2)
    sewn, cut = Polygon(panel.stitching), Polygon(panel.outline)
    assert sewn.equals(Polygon(TRIANGLE))
    assert cut.exterior.distance(sewn) == pytest.approx(10)
    assert cut.buffer(1e-6).covers(sewn.buffer(10, quad_segs=32))
    assert (panel.name, panel.cut, panel.finished, panel.seam_allowance) == ("x flap", 6, (90.0, 60.0), 10.0)


def test_a_deeper_edge_above_is_added_there_alone() -> None:
    panel = part_of("flat pocket", width=1, height=1).panel("", SQUARE, top=35.0)
    assert Polygon(panel.outline).bounds == pytest.approx((-10, -10, 60, 85))
    assert Polygon(panel.stitching).equals(Polygon(SQUARE))
    assert panel.name == "x"


def test_without_an_allowance_it_is_cut_where_it_ends() -> None:
    panel = part_of("flat pocket", allowance=0.0, width=1, height=1).panel("", TRIANGLE)
    assert Polygon(panel.outline).equals(Polygon(TRIANGLE))
    assert panel.stitching == ()


def test_what_the_file_says_of_fabric_and_grain_holds() -> None:
    asked = part_of(
        "strap", width=1, length=1, fabric="wool", grain="bias", join="straight", cut=4, shortest=60
    )
    panel, strip = asked.panel("a", SQUARE), asked.strip("b", 40.0, 500.0)
    assert (panel.fabric, panel.grain, strip.fabric, strip.grain) == ("wool", Grain.BIAS, "wool", Grain.BIAS)
    assert (strip.join, strip.cut, strip.shortest, strip.name) == (Join.STRAIGHT, 4, 60.0, "x b")
    plain = part_of("strap", width=1, length=1)
    assert plain.panel("a", SQUARE, fabric="felt").fabric == "felt"
    assert plain.strip("b", 40.0, 500.0).shortest == 100.0
    assert plain.strip("b", 40.0, 80.0).shortest == 80.0  # no length is longer than the strip

"""What a panel keeps: each key read, each pair of keys that can't go together refused."""

from __future__ import annotations

from typing import Any

import pytest
from shapely.geometry import Polygon

from salvage.errors import SalvageError
from salvage.project.kept import TOLERANCE, joins_where, kept_of, without_allowance
from salvage.project.project import Around, Edge
from salvage.units import Unit

OUTLINE = ((-10.0, -10.0), (210.0, -10.0), (210.0, 310.0), (-10.0, 310.0))  # 200 x 300 and 10 all round


def kept(unit: Unit = Unit.MM, **entry: Any) -> tuple[Around | None, Edge | None]:
    return kept_of(entry, unit, 10.0, OUTLINE, "panel 'bag'")


def test_nothing_is_kept_where_nothing_is_said() -> None:
    assert kept(cut=2, flip=True) == (None, None)


def test_where_its_middle_lies_is_told_from_the_finished_corner() -> None:
    around, edge = kept(around=" zip ", at=[60, 80], tolerance=4)
    assert (around, edge) == (Around("zip", (60.0, 80.0), 4.0), None)
    inches, _ = kept(Unit.INCH, around="zip", at=[1, 2])
    assert inches is not None
    assert inches.at == pytest.approx((25.4, 50.8))
    assert inches.tolerance == TOLERANCE


def test_a_number_means_one_of_the_marked_picture() -> None:
    around, _ = kept(around=7)
    assert around == Around("7", None, TOLERANCE)


@pytest.mark.parametrize("at", [[-10.5, 50], [210.5, 50], [60, 310.5], [60, -11]])
def test_a_place_outside_the_panel_is_refused(at: list[float]) -> None:
    with pytest.raises(SalvageError, match="lies outside of the panel"):
        kept(around="zip", at=at)
    inside = [min(max(at[0], -9), 209), min(max(at[1], -9), 309)]
    assert kept(around="zip", at=inside)[0] is not None


def test_a_side_on_a_hem() -> None:
    assert kept(edge="hem")[1] == Edge("hem", "bottom")
    assert kept(edge="hem", edge_side="Left")[1] == Edge("hem", "left")
    assert kept(edge="hem", edge_side="top", mirrored=True)[1] == Edge("hem", "top")


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"at": [1, 2]}, "at says more about around"),
        ({"tolerance": 5}, "tolerance says more about around"),
        ({"edge_side": "top"}, "edge_side says more about edge"),
        ({"around": "zip", "edge": "hem"}, "around or edge, not both"),
        ({"around": "zip", "flip": True}, "around and flip don't go together"),
        ({"edge": "hem", "rotations": [0]}, "edge and rotations don't go together"),
        ({"around": "zip", "off_grain": 3}, "around and off_grain don't go together"),
        ({"edge": "hem", "cut": "many"}, 'edge and cut = "many" don\'t go together'),
        ({"around": ""}, "around must be a text"),
        ({"around": 0}, "around must be a text"),
        ({"around": True}, "around must be a text"),
        ({"edge": "hem", "edge_side": "middle"}, "is none of"),
        ({"edge": "hem", "edge_side": "left", "mirrored": True}, "at the top or the bottom"),
    ],
)
def test_what_can_not_be_is_refused_by_name(entry: dict[str, Any], said: str) -> None:
    with pytest.raises(SalvageError, match=f"panel 'bag': .*{said}"):
        kept(**entry)


def test_where_joins_lie() -> None:
    assert joins_where({"joins": 1}, "panel 'bag'") == ""
    assert joins_where({"joins": 1, "joins_where": "TOP"}, "panel 'bag'") == "top"
    with pytest.raises(SalvageError, match="it allows none"):
        joins_where({"joins_where": "top"}, "panel 'bag'")
    with pytest.raises(SalvageError, match="is none of"):
        joins_where({"joins": 1, "joins_where": "inside"}, "panel 'bag'")


@pytest.mark.parametrize(
    ("side", "size", "off"),
    [
        ("bottom", (220, 310), (10, 0, 10, 10)),
        ("top", (220, 310), (10, 10, 10, 0)),
        ("left", (210, 320), (0, 10, 10, 10)),
        ("right", (210, 320), (10, 10, 0, 10)),
    ],
)
def test_the_side_on_the_hem_has_no_allowance(
    side: str, size: tuple[float, float], off: tuple[float, float, float, float]
) -> None:
    """By hand for 200 x 300 with 10 on the other three sides: what lies between both lines, left, below, right, above."""
    cut, sewn = map(Polygon, without_allowance((200.0, 300.0), 10.0, side))
    assert cut.bounds == pytest.approx((0, 0, *size))
    left, bottom, right, top = sewn.bounds
    assert (right - left, top - bottom) == pytest.approx((200, 300))
    assert (left, bottom, size[0] - right, size[1] - top) == pytest.approx(off)

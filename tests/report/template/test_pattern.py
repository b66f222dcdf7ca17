"""The template of one panel: where its words may stand, its notches, and which way its warp runs."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from salvage.project.project import Grain, Notch, Panel
from salvage.project.read import project_from
from salvage.report.pen.draw import text_width
from salvage.report.template.pattern import notch_lines, pattern_of, warp_of, worded
from salvage.units import Unit

RECTANGLE = ((0.0, 0.0), (220.0, 0.0), (220.0, 320.0), (0.0, 320.0))


def panel(**more: object) -> Panel:
    return Panel("body", RECTANGLE, **more)  # type: ignore[arg-type]


def room_of(item: Panel) -> BaseGeometry:
    wording = pattern_of(item, Unit.MM).wording
    assert wording is not None
    return wording.room


def test_words_stand_within_the_stitching_where_there_is_one() -> None:
    (sewn,) = project_from(
        {"panel": [{"name": "body", "finished": [200, 300]}], "seam_allowance": 10}, folder=Path()
    ).panels
    assert room_of(sewn).equals(box(10, 10, 210, 310))
    assert room_of(panel()).equals(box(0, 0, 220, 320))


def test_words_keep_off_guides() -> None:
    data = {"part": [{"name": "z", "kind": "zip pocket", "zip": 180, "depth": 150}], "seam_allowance": 10}
    (pocket,) = project_from(data, folder=Path()).panels
    room = room_of(pocket)
    assert pocket.guides
    for guide in pocket.guides:
        assert room.distance(LineString(guide.points)) > 3.0
    assert Polygon(pocket.outline).contains(room)


def test_a_notch_stays_clear_of_the_stitching_and_its_number_beyond_it() -> None:
    notch = Notch((50.0, 0.0), (0.0, 1.0), "3")
    line, text = notch_lines(notch, 10.0)
    assert line.points == ((50.0, 0.0), (50.0, pytest.approx(6.0)))
    assert text.at[1] > 10.0
    bare, _ = notch_lines(notch, 0.0)
    assert LineString(bare.points).length == pytest.approx(4.0)


def test_a_long_name_takes_several_lines_and_leaves_room_for_how_often_it_is_cut() -> None:
    long = (
        "a name that somebody pastes out of an instruction sheet with all of it and nothing left out, twice"
    )
    outline = ((0.0, 0.0), (140.0, 0.0), (140.0, 80.0), (0.0, 80.0))
    drawn = worded(pattern_of(Panel(long, outline, cut=3), Unit.MM))
    assert "cut 3" in [text.text for text in drawn.texts]
    assert max(text_width(text.text, text.height, bold=text.bold) for text in drawn.texts) < 140
    assert all(0 < text.at[1] < 80 for text in drawn.texts)
    assert " ".join(text.text for text in drawn.texts).startswith(long)


@pytest.mark.parametrize(
    ("item", "warp"),
    [
        (panel(), 90.0), (panel(grain=Grain.ACROSS), 0.0), (panel(grain=Grain.BIAS), 45.0), (panel(grain=Grain.ANY), None),
        (panel(rotations=(30.0, 90.0)), 60.0),
    ],
)  # fmt: skip
def test_the_warp_in_the_panels_own_frame(item: Panel, warp: float | None) -> None:
    assert warp_of(item) == warp

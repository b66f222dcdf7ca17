"""Lines and places of the look at the whole garment, on a look drawn here."""

from __future__ import annotations

from unittest.mock import Mock

import cv2
import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from salvage.cloth.finders.found import Found, Seam, Spot
from salvage.cloth.finders.lines.whole_lines import (
    _ways_on,
    borne_out,
    find,
    not_over,
    pockets_borne_out,
    whole_lines,
    whole_spots,
)
from salvage.cloth.finders.sight import Sight
from salvage.cloth.flat.axis import find_axis
from salvage.cloth.flat.whole import LINES, PARTS, SPOTS, Whole
from salvage.cloth.garment import BlockedKind

STEP = 4.0
CLOTH = box(40.0, -960.0, 960.0, -40.0)  # mm; grid pixel (0, 0) lies at (0, 0)


def seen(
    lines: dict[str, list[tuple[float, float, float, float]]],
    spots: dict[str, tuple] | None = None,
    chance: float = 0.9,
) -> Whole:
    """A look in which ridges run between points (mm) and discs (mm: x, y, radius) lie, all as likely."""

    def drawn(runs: list[tuple[float, float, float, float]]) -> np.ndarray:
        canvas = np.zeros((256, 256), np.float32)
        for x0, y0, x1, y1 in runs:
            first, last = ((round(x / STEP), round(-y / STEP)) for x, y in ((x0, y0), (x1, y1)))
            cv2.line(canvas, first, last, 1.0, 2)
        soft = cv2.GaussianBlur(canvas, (0, 0), 0.8)
        return (chance * soft / max(float(soft.max()), 1e-6)).astype(np.float32)

    def disc(x: float, y: float, radius: float) -> np.ndarray:
        canvas = np.zeros((256, 256), np.float32)
        cv2.circle(canvas, (round(x / STEP), round(-y / STEP)), round(radius / STEP), chance, -1)
        return canvas

    parts = np.zeros((len(PARTS), 256, 256), np.float32)
    parts[PARTS.index("body")] = 1.0
    nothing = np.zeros((256, 256), np.float32)
    return Whole(
        lines={name: drawn(lines.get(name, [])) for name in LINES},
        spots={name: disc(*spots[name]) if spots and name in spots else nothing for name in SPOTS},
        parts=parts, landmarks={}, kinds={"jacket": 1.0}, faces={"front": 1.0}, padded=0.0, open_front=0.0,
        up=90.0, step=STEP, origin=(0.0, 0.0),
    )  # fmt: skip


def test_a_likely_line_is_a_seam_where_it_runs() -> None:
    (seam,) = whole_lines(seen({"seam": [(300, -200, 300, -800)]}), CLOTH, [], sharp=False)
    assert seam.line.length == pytest.approx(600, abs=40)
    assert np.abs(np.asarray(seam.line.coords)[:, 0] - 300).max() < STEP + 1
    assert seam.wide > 0


def test_lines_are_called_what_they_most_likely_are() -> None:
    found = whole_lines(
        seen({"fold": [(300, -200, 300, -800)], "closure": [(500, -100, 500, -900)]}), CLOTH, [], sharp=False
    )
    assert {each.kind for each in found} == {BlockedKind.OTHER, BlockedKind.CLOSURE}


def test_an_unlikely_line_is_none() -> None:
    assert whole_lines(seen({"seam": [(300, -200, 300, -800)]}, chance=0.3), CLOTH, [], sharp=False) == []


def test_what_the_fine_finders_found_is_not_found_again() -> None:
    known = [LineString([(305, -195), (305, -810)])]
    assert whole_lines(seen({"seam": [(300, -200, 300, -800)]}), CLOTH, known, sharp=False) == []


def test_in_a_sharp_photograph_a_line_that_only_the_whole_shows_needs_more() -> None:
    look = seen({"seam": [(300, -200, 300, -800)]}, chance=0.7)
    assert whole_lines(look, CLOTH, [], sharp=False)
    assert whole_lines(look, CLOTH, [], sharp=True) == []
    surer = seen({"seam": [(300, -200, 300, -800)]}, chance=0.95)
    assert whole_lines(surer, CLOTH, [], sharp=True)


def test_the_edge_between_two_parts_is_a_boundary() -> None:
    look = seen({"seam": [(398, -40, 398, -960)]}, chance=0.3)  # too faint to be a line by itself
    look.parts[PARTS.index("body"), :, :100] = 0.0
    look.parts[PARTS.index("sleeve_left"), :, :100] = 1.0
    (edge,) = whole_lines(look, CLOTH, [], sharp=False)
    assert edge.line.length > 850
    assert np.abs(np.asarray(edge.line.coords)[:, 0] - 99.5 * STEP).max() < 2 * STEP
    assert "left sleeve" in edge.what


def test_parts_whose_edge_shows_nothing_are_a_guess() -> None:
    look = seen({})
    look.parts[PARTS.index("body"), :128] = 0.0
    look.parts[PARTS.index("skirt"), :128] = 1.0
    assert whole_lines(look, CLOTH, [], sharp=False) == []


def test_in_a_coarse_photograph_the_fine_finders_lines_need_bearing_out() -> None:
    look = seen({"seam": [(300, -200, 300, -800)]})
    seams = [Seam(LineString([(x, -200), (x, -800)]), 0.8) for x in (300, 600)]
    (kept,) = borne_out(seams, look, CLOTH, sharp=False)
    assert kept.line == seams[0].line
    assert borne_out(seams, look, CLOTH, sharp=True) == seams


def test_in_a_coarse_photograph_the_whole_look_says_how_sure_a_fine_line_is() -> None:
    seams = [Seam(LineString([(300, -20), (300, -980)]), 0.9, fine=True)]
    plain, faint = (
        borne_out(seams, seen({"seam": [(300, -20, 300, -980)]}, chance=each), CLOTH, sharp=False)
        for each in (0.7, 0.4)
    )
    assert plain[0].parts
    assert not faint[0].parts
    assert not faint[0].fine  # it is weighed by the fine finders' worth no more


def test_in_a_coarse_photograph_a_pocket_that_the_whole_look_sees_none_in_is_a_print() -> None:
    look = seen({}, {"pocket": (300, -300, 80)})
    pockets = [
        Spot(BlockedKind.POCKET, Point(x, -300).buffer(60), "pocket", 0.7, fine=True) for x in (300, 600)
    ]
    assert pockets_borne_out(pockets, look, sharp=False) == pockets[:1]
    assert pockets_borne_out(pockets, look, sharp=True) == pockets


def test_pockets_and_buttons_are_places_and_not_twice() -> None:
    look = seen({}, {"pocket": (300, -300, 80), "hardware": (500, -500, 12)})
    found = whole_spots(look, CLOTH, sharp=False)
    assert {each.kind for each in found} == {BlockedKind.POCKET, BlockedKind.CLOSURE}
    assert [each.kind for each in not_over(found, found[:1])] == [BlockedKind.CLOSURE]


def test_a_line_whose_ends_lead_nowhere_is_weighed_less_than_one_from_edge_to_edge() -> None:
    across = [(20.0, -500.0, 580.0, -500.0)]
    within = [(200.0, -500.0, 400.0, -500.0)]
    (through,) = whole_lines(seen({"seam": across}, chance=0.6), CLOTH, [], sharp=False)
    (inner,) = whole_lines(seen({"seam": within}, chance=0.6), CLOTH, [], sharp=False)
    assert inner.confidence < through.confidence


def test_a_line_that_another_stops_at_has_no_free_end_there() -> None:
    look = {"seam": [(300.0, -200.0, 300.0, -800.0), (20.0, -500.0, 290.0, -500.0)]}
    found = whole_lines(seen(look, chance=0.6), CLOTH, [], sharp=False)
    (alone,) = whole_lines(seen({"seam": [(20, -500, 290, -500)]}, chance=0.6), CLOTH, [], sharp=False)
    short = min(found, key=lambda each: each.line.length)
    assert short.confidence > alone.confidence


def test_a_sure_line_goes_on_to_the_edge_where_there_is_some_chance_of_it_and_parts_nothing_there() -> None:
    look = seen({"seam": [(60, -500, 700, -500)]})
    (alone,) = whole_lines(look, CLOTH, [], sharp=False)
    look.lines["hem"][123:131, 181:242] = 0.2
    assert len(whole_lines(look, CLOTH, [], sharp=False)) == 1  # too little chance
    look.lines["hem"][123:131, 181:242] = 0.39
    on = whole_lines(look, CLOTH, [], sharp=False)
    rest = min(on, key=lambda each: each.confidence)
    assert not rest.parts
    assert max(x for x, _ in rest.line.coords) == pytest.approx(960, abs=8)
    assert alone.parts


def test_a_line_leads_on_as_its_last_stretch_runs() -> None:
    """A seam that bends: each end goes on the way it came in, not the way from end to end."""
    bent = LineString([(0.0, 0.0), (300.0, 0.0), (300.0, 200.0)])
    (top, up), (start, left) = _ways_on(bent)
    assert (top.x, top.y) == (300.0, 200.0)
    assert up == pytest.approx((0.0, 1.0))
    assert (start.x, start.y) == (0.0, 0.0)
    assert left == pytest.approx((-1.0, 0.0))
    [(_, along), _] = _ways_on(LineString([(0.0, 0.0), (3.0, 4.0)]))  # shorter than what counts as the last
    assert along == pytest.approx((0.6, 0.8))


@pytest.mark.parametrize(("sharp", "longest"), [(False, 960.0), (True, 700.0)])
def test_what_the_fine_finders_saw_goes_on_too_but_in_a_sharp_photograph_ends_where_it_ends(
    sharp: bool, longest: float
) -> None:
    look = seen({"seam": [(60, -500, 700, -500)]})
    look.lines["hem"][123:131, 178:242] = 0.39
    blank = Mock()  # the picture and what is seen near by, which this finder doesn't ask
    sight = Sight(CLOTH, blank, blank, (), blank, look, find_axis(CLOTH), sharp)
    fine = Seam(LineString([(45, -500), (700, -500)]), 0.9)
    found = find(sight, Found(seams=(fine,)))
    assert found.seams[0] == fine
    assert max(x for each in found.seams for x, _ in each.line.coords) == pytest.approx(longest, abs=8)
    assert not any(each.parts for each in found.seams[1:])

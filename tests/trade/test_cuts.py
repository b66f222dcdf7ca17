"""How garments are cut: the table against what drafting handbooks and pattern sizes say, from memory where told so."""

from __future__ import annotations

import re
from itertools import combinations
from typing import Any

import pytest

from salvage.trade import cuts
from salvage.trade.cuts import BANDS, JOINTS, PAIRS, RUNS, SIDES

# Figures of the basic blocks, mm, women's 6 to men's XXL (Aldrich, Metric Pattern Cutting, tables of sizes: from memory).
# Armhole depth 190 to 300 from the shoulder; body rise of trousers 250 to 340; a shirt's front from neck to hem 600 to 850,
# a long coat's to 1,250; a waist laid flat 280 to 560; a shirt's cuff 50 to 80 deep; a hem turned up once or twice 12 to 40.
HANDBOOK = {
    "armhole seam": (190.0, 300.0), "crotch seam": (250.0, 340.0), "front edge": (600.0, 1250.0), "waist seam": (280.0, 560.0),
}  # fmt: skip
KINDS = {"jacket", "coat", "shirt", "t-shirt", "jumper", "dress", "vest", "trousers", "shorts", "skirt"}
POINTS = re.compile(r"(underarm|shoulder|waist|hem|leg end|neck|crotch)( \{side\}| left| right)?")


@pytest.mark.parametrize("run", RUNS, ids=lambda run: run.name)
def test_a_seam_of_any_usual_size_is_taken_for_one(run: cuts.Run) -> None:
    low, high = HANDBOOK[run.name]
    assert run.long[0] <= low < high <= run.long[1]
    assert run.long[0] >= 0.3 * low  # and what is far shorter is a mistaken point
    assert 0 <= run.bow < 0.2
    assert 0 < run.off <= 25.0  # a front laps over by its button stand, 15 to 25 mm


def test_every_row_names_kinds_and_points_that_there_are_and_its_source() -> None:
    rows: tuple[Any, ...] = (*RUNS, *JOINTS, *SIDES, *PAIRS, *BANDS)
    for row in rows:
        assert row.kinds, row.name
        assert row.kinds <= KINDS, row.name
        assert re.search(r"common practice|block|from memory|ISO 4916", row.source), row.name
    lines: tuple[Any, ...] = (*RUNS, *SIDES)
    for line in lines:
        assert POINTS.fullmatch(line.start), line.name
        assert POINTS.fullmatch(line.end), line.name
        assert line.start != line.end


def test_what_a_garment_has_by_its_make() -> None:
    """A second telling of the table: each kind with the seams that anybody who sews names for it."""
    by_kind = {kind: {run.name for run in RUNS if kind in run.kinds} for kind in KINDS}
    assert by_kind["jacket"] == by_kind["shirt"] == {"armhole seam", "front edge"}
    assert by_kind["t-shirt"] == by_kind["jumper"] == {"armhole seam"}
    assert by_kind["vest"] == {"front edge"}
    assert by_kind["dress"] == {"armhole seam", "waist seam"}
    assert by_kind["trousers"] == by_kind["shorts"] == {"crotch seam"}
    assert by_kind["skirt"] == set()
    assert {side.name for side in SIDES if "trousers" in side.kinds} == {"inseam", "outseam"}
    assert {side.name for side in SIDES if "skirt" in side.kinds} == {"side seam"}
    assert {band.name for band in BANDS if "trousers" in band.kinds} == {"leg hem", "waistband"}
    assert {band.name for band in BANDS if "t-shirt" in band.kinds} == {"hem", "sleeve hem"}
    assert not any("t-shirt" in pair.kinds for pair in PAIRS)  # knits are cut without darts
    for kind in ("trousers", "shorts"):
        assert {j.name for j in JOINTS if kind in j.kinds} == {
            "yoke seam", "waistband seam", "crotch seam and inseam",
        }  # fmt: skip
    sewn = {(joint.one, joint.other) for joint in JOINTS if "shirt" in joint.kinds and not joint.over}
    assert {
        ("sleeve", "body"),
        ("sleeve", "yoke"),
        ("collar", "body"),
        ("cuff", "sleeve"),
        ("yoke", "body"),
    } <= sewn
    assert all(joint.one == "inside" for joint in JOINTS if joint.over)  # what lies within is lain over


def test_a_front_edge_is_on_fronts_only_and_needs_both_halves_seen() -> None:
    front = next(run for run in RUNS if run.name == "front edge")
    assert front.faces == {"front"}
    assert set(front.between) == {"body_left", "body_right"}
    for run in RUNS:
        assert run.faces <= {"front", "back"}
        assert (run.between == ("", "")) == (run is not front)


def test_hems_are_turned_and_cuffs_and_waistbands_are_sewn_on() -> None:
    for band in BANDS:
        assert band.hem == band.name.endswith("hem")
        low, high = band.depth
        assert 0 < low < high
        assert (low, high) == (12.0, 40.0) if band.hem else low >= 25.0
    cuff = next(band for band in BANDS if band.name == "cuff seam")
    assert cuff.depth == (50.0, 80.0)


def test_a_shirts_sleeve_ends_in_a_hem_or_in_a_cuff_and_never_in_both() -> None:
    ends = [band for band in BANDS if band.edge == "sleeve end" and "shirt" in band.kinds]
    assert {band.name for band in ends} == {"sleeve hem", "cuff seam"}
    for length in range(50, 1000, 25):
        assert sum(band.long[0] <= length + 0.5 < band.long[1] for band in ends) == 1
    for kind in KINDS - {"shirt"}:
        assert len([band for band in BANDS if band.edge == "sleeve end" and kind in band.kinds]) <= 1


def test_chances_and_shares_are_such() -> None:
    assert all(0.5 < side.usual < 1.0 for side in SIDES)
    for pair in PAIRS:
        assert 0 < pair.long < 1
        assert 0 < pair.steep < 45
        assert pair.aside > pair.off > 0  # else a seam in the middle were its own like
    assert cuts.WIDEST_FACING > 90.0 + 2 * 5.0  # 40 to 90 mm as sewn, with an allowance on each side
    assert cuts.LONGEST_CUFF > 160.0


def test_no_two_rows_are_the_same_seam_of_one_kind() -> None:
    tables: tuple[tuple[Any, ...], ...] = (RUNS, JOINTS, SIDES, BANDS)
    for table in tables:
        for one, other in combinations(table, 2):
            if one.name == other.name:
                parts = [(getattr(row, "one", 1), getattr(row, "other", 1)) for row in (one, other)]
                apart = not (one.kinds & other.kinds) or parts[0] != parts[1]
                assert apart, one.name

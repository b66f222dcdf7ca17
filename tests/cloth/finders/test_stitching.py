"""What is sewn on has its own stitching; a seam that runs by stays."""

from shapely.geometry import LineString, box

from salvage.cloth.finders.found import Seam, Spot
from salvage.cloth.finders.sewn.fittings import ZIP_OR_BAND
from salvage.cloth.finders.sewn.stitching import without_stitching
from salvage.cloth.garment import BlockedKind

POCKET = Spot(BlockedKind.POCKET, box(100, 100, 240, 260), "patch pocket", 0.9)
BESIDE_IT = Seam(LineString([(96, 105), (96, 255)]), 0.7)
THROUGH = Seam(LineString([(96, 0), (96, 600)]), 0.7)


def test_a_line_along_a_pockets_edge_is_its_stitching() -> None:
    assert without_stitching([BESIDE_IT], [POCKET]) == []


def test_a_seam_that_runs_on_past_a_pocket_stays() -> None:
    assert without_stitching([THROUGH], [POCKET]) == [THROUGH]


def test_a_pocket_that_is_asked_about_leaves_the_line() -> None:
    doubtful = Spot(BlockedKind.POCKET, POCKET.shape, "pocket", 0.5)
    assert without_stitching([BESIDE_IT], [doubtful]) == [BESIDE_IT]


def test_a_zip_has_stitching_and_a_button_none() -> None:
    line = Seam(LineString([(10, 0), (10, 300)]), 0.7)
    for what, left in ((ZIP_OR_BAND, []), ("button or snap", [line])):
        assert without_stitching([line], [Spot(BlockedKind.CLOSURE, box(0, 0, 12, 300), what, 0.9)]) == left


def test_the_outline_is_never_stitching() -> None:
    edge = Seam(LineString([(96, 105), (96, 255)]), 0.7, on_outline=True)
    assert without_stitching([edge], [POCKET]) == [edge]

"""A turned edge looks like a zip in the threads; only what the look at the whole garment bears out is kept there."""

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from salvage.cloth.finders.found import Spot
from salvage.cloth.finders.sewn.fittings import TAB_OR_LOOP
from salvage.cloth.finders.sewn.turned import borne_out
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.whole import FACES, KINDS, LINES, PARTS, SPOTS, Whole
from salvage.cloth.garment import BlockedKind

MASK = np.zeros((200, 300), bool)
MASK[20:180, 20:280] = True
FLAT = Flat(np.zeros((200, 300, 3), np.uint8), MASK, 1.0, 0.0, 199.0)
EDGE, WITHIN = box(60, 25, 180, 37), box(60, 80, 180, 92)


def whole_of(kind: str = "coat", witness: str = "", at: Polygon = EDGE) -> Whole:
    blank = np.zeros((256, 256), np.float32)
    lines, spots = dict.fromkeys(LINES, blank), dict.fromkeys(SPOTS, blank)
    seen = blank.copy()
    left, low, right, top = (round(each) for each in at.bounds)
    seen[199 - top : 200 - low, left : right + 1] = 0.4
    if witness:
        (lines if witness in lines else spots)[witness] = seen
    parts = np.zeros((len(PARTS), 256, 256), np.float32)
    kinds = {name: float(name == kind) for name in KINDS}
    return Whole(
        lines, spots, parts, {}, kinds, dict.fromkeys(FACES, 0.25), 0.0, 0.0, 90.0, 1.0, (0.0, 199.0)
    )


def closure(shape: Polygon = EDGE, confidence: float = 0.5, *, fine: bool = True) -> Spot:
    return Spot(BlockedKind.CLOSURE, shape, "zip or band", confidence, fine=fine)


def test_what_only_the_threads_show_along_the_edge_is_a_turned_edge() -> None:
    assert borne_out([closure()], whole_of(), FLAT) == []


@pytest.mark.parametrize("witness", ["closure", "hardware", "loops"])
def test_it_stays_where_the_look_at_the_whole_garment_sees_it(witness: str) -> None:
    assert borne_out([closure()], whole_of(witness=witness), FLAT) == [closure()]
    assert borne_out([closure()], whole_of(witness=witness, at=WITHIN), FLAT) == []


def test_a_pocket_along_the_edge_likewise() -> None:
    pocket = Spot(BlockedKind.POCKET, EDGE, "patch pocket", 0.4, fine=True)
    assert borne_out([pocket], whole_of(witness="closure"), FLAT) == []
    assert borne_out([pocket], whole_of(witness="pocket"), FLAT) == [pocket]


@pytest.mark.parametrize(
    "sewn_on",
    [
        closure(WITHIN),
        closure(confidence=0.9),  # the threads are clear
        closure(fine=False),  # found by the look at the whole garment itself
        Spot(BlockedKind.POCKET, WITHIN, "slit pocket", 0.5, fine=True),
        Spot(BlockedKind.OTHER, EDGE, "label or print", 0.5, fine=True),
    ],
)
def test_all_else_stays(sewn_on: Spot) -> None:
    assert borne_out([sewn_on], whole_of(), FLAT) == [sewn_on]


def test_of_a_cut_piece_the_look_at_the_whole_garment_knows_too_little() -> None:
    assert borne_out([closure()], whole_of("cloth"), FLAT) == [closure()]


def test_a_tab_that_straight_lines_alone_show_is_hardly_believed() -> None:
    tab = Spot(BlockedKind.CLOSURE, WITHIN, TAB_OR_LOOP, 0.6, fine=True)
    (kept,) = borne_out([tab], whole_of(), FLAT)
    assert (kept.shape, kept.confidence < 0.3) == (tab.shape, True)
    assert borne_out([tab], whole_of(witness="loops", at=WITHIN), FLAT) == [tab]

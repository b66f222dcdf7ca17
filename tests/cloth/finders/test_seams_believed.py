"""Which lines and areas in drawn maps of chances are taken for seams, edge seams and pockets."""

from collections.abc import Sequence

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.finders.found import Seam, Spot
from salvage.cloth.finders.lines.seams import find_edge_seams, find_seams
from salvage.cloth.finders.sewn.fittings import find_fittings
from salvage.cloth.flat.chances import OUTPUTS, Chances
from salvage.cloth.flat.picture import Flat
from salvage.cloth.flat.printed import Repeat
from salvage.cloth.flat.thread import is_drawn
from salvage.cloth.garment import BlockedKind

Way = Sequence[tuple[float, float]]  # points in mm, y up
Lines = Sequence[Way]

SIZE = 600  # mm and flat pixels
CLOTH = box(40, 40, 560, 560)


def flat_of(cloth: Polygon, thread: Lines = (), dark: int = 70) -> Flat:
    """Grey cloth with a weave. thread: lines of points in mm, y up, drawn 2 mm wide."""
    picture = (
        np.random.default_rng(5).normal(120, 3, (SIZE, SIZE, 1)).clip(0, 255).astype(np.uint8).repeat(3, 2)
    )
    for line in thread:
        points = np.array(line, float) * (1, -1) + (0, SIZE - 1)
        cv2.polylines(picture, [np.round(points).astype(np.int32)], False, (dark,) * 3, 2)
    mask = Flat(picture, np.ones((SIZE, SIZE), bool), 1.0, 0.0, SIZE - 1.0).raster(cloth)
    return Flat(picture, mask, 1.0, 0.0, SIZE - 1.0)


def chances_of(**maps: NDArray[np.float32]) -> Chances:
    nothing = np.zeros((SIZE // 2, SIZE // 2), np.float32)
    return Chances(*(maps.get(name, nothing) for name in OUTPUTS))


def lines_drawn(*ways: Way, chance: float) -> NDArray[np.float32]:
    """Each way: points in mm, y up."""
    drawn = np.zeros((SIZE // 2, SIZE // 2), np.float32)
    for way in ways:
        points = (np.array(way, float) * (1, -1) + (0, SIZE - 1)) / 2
        cv2.polylines(drawn, [np.round(points).astype(np.int32)], False, chance, 3)
    return drawn


def seams_with(*ways: Way, chance: float, flat: Flat | None = None) -> list[Seam]:
    flat = flat_of(CLOTH, thread=ways) if flat is None else flat
    return find_seams(chances_of(seam=lines_drawn(*ways, chance=chance)), flat, CLOTH)


def test_a_faint_wisp_in_the_middle_is_a_crease() -> None:
    assert seams_with([(250, 300), (330, 310)], chance=0.65) == []


def test_a_faint_wisp_is_left_out_and_the_seam_beside_it_stays() -> None:
    found = seams_with([(250, 200), (330, 210)], [(40, 400), (560, 400)], chance=0.65)
    assert len(found) == 1
    assert found[0].line.length == pytest.approx(520, abs=12)


@pytest.mark.parametrize(
    ("way", "chance"),
    [
        ([(250, 300), (330, 310)], 0.95),  # short, but plain to see
        ([(150, 300), (450, 310)], 0.65),  # long
        ([(300, 90), (310, 40)], 0.65),  # a dart: it starts at the edge
    ],
)
def test_a_short_line_stays_where_it_is_clear_or_long_or_starts_at_the_edge(way: Way, chance: float) -> None:
    assert len(seams_with(way, chance=chance)) == 1


def test_a_short_line_that_hangs_on_a_seam_stays() -> None:
    assert len(seams_with([(40, 400), (560, 400)], [(300, 400), (305, 320)], chance=0.65)) >= 2


CHECK = (Repeat(CLOTH, (np.array([36.0, 0.0]), np.array([0.0, 36.0]))),)


@pytest.mark.parametrize(
    ("way", "chance", "print_", "count"),
    [
        ([(40, 300), (160, 300)], 0.6, CHECK, 0),
        ([(40, 300), (160, 300)], 0.6, (), 1),  # plain cloth
        ([(40, 300), (130, 390)], 0.6, CHECK, 1),  # across the check
        ([(40, 300), (160, 300)], 0.95, CHECK, 1),  # plain to see
        ([(40, 300), (340, 300)], 0.6, CHECK, 1),  # long, a placket for instance
        ([(40, 440), (160, 560)], 0.6, CHECK, 1),
    ],
)
def test_a_short_faint_line_along_a_check_is_what_the_print_left(
    way: Way, chance: float, print_: tuple[Repeat, ...], count: int
) -> None:
    seen = chances_of(seam=lines_drawn(way, chance=chance))
    assert len(find_seams(seen, flat_of(CLOTH, thread=[way]), CLOTH, print_)) == count


def test_a_cuffs_seam_from_edge_to_edge_stays_though_the_check_runs_so() -> None:
    cuff = box(200, 100, 320, 500)
    way = [(200, 300), (320, 300)]
    seen = chances_of(seam=lines_drawn(way, chance=0.6))
    assert len(find_seams(seen, flat_of(cuff, thread=[way]), cuff, (Repeat(cuff, CHECK[0].ways),))) == 1


ACROSS = [(40, 300), (560, 330)]


def crease(cloth: Polygon, way: Way, wide: float = 12.0, deep: float = 25.0) -> Flat:
    """The cloth with a soft shadow along a line."""
    flat = flat_of(cloth)
    line = flat_of(cloth, thread=[way], dark=0).rgb[..., 0] < 10
    shadow = cv2.GaussianBlur(line.astype(np.float32), (0, 0), wide)
    rgb = flat.rgb - (deep * shadow / shadow.max())[..., None]
    return Flat(rgb.clip(0, 255).astype(np.uint8), flat.mask, 1.0, 0.0, SIZE - 1.0)


def test_a_line_without_a_thin_line_in_the_picture_is_a_creases_shadow() -> None:
    assert seams_with(ACROSS, chance=0.58, flat=crease(CLOTH, ACROSS)) == []
    assert len(seams_with(ACROSS, chance=0.58)) == 1


def test_a_line_where_two_colours_meet_is_a_seam_without_any_thread() -> None:
    flat = flat_of(CLOTH)
    rgb = flat.rgb.copy()
    rgb[: SIZE // 2] = (150, 90, 60)
    two = Flat(rgb, flat.mask, 1.0, 0.0, SIZE - 1.0)
    assert len(seams_with([(40, 299), (560, 299)], chance=0.58, flat=two)) == 1


@settings(deadline=None, max_examples=25)
@given(turn=st.floats(0, 180), off=st.floats(-3, 3), dark=st.sampled_from([40, 70, 90, 170]))
def test_a_thread_is_seen_whichever_way_it_runs_and_a_crease_is_not(
    turn: float, off: float, dark: int
) -> None:
    way, aside = (
        np.array([f(np.radians(turn)), g(np.radians(turn))]) for f, g in ((np.cos, np.sin), (np.sin, np.cos))
    )
    aside = aside * (-1, 1)
    ends = [(300 + far * way[0], 300 + far * way[1]) for far in (-200, 200)]
    found = LineString([end + off * aside for end in ends])
    flat = flat_of(CLOTH, thread=[ends], dark=dark)
    assert is_drawn(found, flat.lab, flat, 4)
    soft = crease(CLOTH, ends)
    assert not is_drawn(found, soft.lab, soft, 4)


def test_lines_of_a_print() -> None:
    assert Repeat(CLOTH, (np.array([0.0, 20.0]),)).lines == pytest.approx((0,))  # stripes across
    assert sorted(CHECK[0].lines) == pytest.approx([0, 90])
    assert Repeat(CLOTH, (np.array([20.0, 0.0]), np.array([20.0, 20.0]))).lines == ()


def ragged(seed: int = 3) -> Polygon:
    """The cloth with edges torn off: about a mm in and out every few mm."""
    rng = np.random.default_rng(seed)
    ring = CLOTH.exterior
    points = [np.array(ring.interpolate(at).coords[0]) for at in np.arange(0, ring.length, 5.0)]
    return Polygon([p + rng.normal(0, 1.2, 2) for p in points])


def edge_seams(cloth: Polygon, chance: float) -> list[Seam]:
    edge = lines_drawn(CLOTH.exterior.coords, chance=chance)
    return find_edge_seams(chances_of(edge=edge), flat_of(cloth), cloth)


def test_a_ragged_edge_is_no_seam_unless_it_is_clear() -> None:
    assert edge_seams(CLOTH, 0.65) != []
    assert edge_seams(ragged(), 0.65) == []
    assert edge_seams(ragged(), 0.95) != []


def test_a_stretch_of_edge_must_be_likely_as_a_whole() -> None:
    assert edge_seams(CLOTH, 0.45) == []
    assert edge_seams(CLOTH, 0.6) != []


def only_pockets(found: list[Spot]) -> list[Spot]:
    return [each for each in found if each.kind is BlockedKind.POCKET]


def pockets_with(shape: Polygon, chance: float, sewn: bool = True) -> list[Spot]:
    flat = flat_of(CLOTH, thread=[shape.exterior.coords] if sewn else [])
    pocket = np.where(flat.raster(shape, 2), chance, 0).astype(np.float32)
    return only_pockets(find_fittings(chances_of(pocket=pocket), flat, [], []))


LOBED = box(200, 200, 330, 240).union(box(280, 200, 330, 320))


@pytest.mark.parametrize(
    ("shape", "chance", "count"),
    [
        (box(200, 200, 340, 350), 0.9, 1),
        (box(200, 200, 340, 350), 0.56, 1),
        (LOBED, 0.9, 1),  # what is clear may be of any shape
    ],
)
def test_pockets_found(shape: Polygon, chance: float, count: int) -> None:
    assert len(pockets_with(shape, chance)) == count


def test_a_pocket_has_an_edge_that_is_seen() -> None:
    assert pockets_with(box(200, 200, 340, 350), 0.9, sewn=False) == []


def test_a_faint_lobed_shadow_is_no_pocket_and_a_faint_square_is() -> None:
    def faint(shape: Polygon) -> list[Spot]:
        flat = flat_of(CLOTH, thread=[shape.exterior.coords])
        pocket = np.where(flat.raster(shape, 2), 0.4, 0).astype(np.float32)
        core = flat.raster(shape.buffer(-18), 2)
        pocket[core] = 0.6
        return only_pockets(find_fittings(chances_of(pocket=pocket), flat, [], []))

    assert len(faint(box(200, 200, 300, 300))) == 1
    assert faint(LOBED) == []
    assert faint(box(200, 200, 250, 250)) == []  # no hand goes in

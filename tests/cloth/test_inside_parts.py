"""The parts of looking inside the outline, on drawn shapes with known answers."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

from salvage.cloth import inside
from salvage.cloth.finders.found import Seam
from salvage.cloth.finders.wear.odd import odd_places
from salvage.cloth.flat import lines
from salvage.cloth.flat.areas import outlined, sides
from salvage.cloth.flat.axis import find_axis, length_way
from salvage.cloth.flat.picture import Flat, flatten
from salvage.cloth.flat.printed import repeats_of, without_print
from salvage.cloth.garment import Blocked, BlockedKind, FoundBy
from salvage.cloth.pieces.fabrics import fabrics_of
from salvage.cloth.pieces.falling import fall_apart
from salvage.cloth.pieces.grain import grain_of, is_sleeve
from salvage.cloth.pieces.names import names_of

SHIRT = Polygon(
    [(-250, 0), (250, 0), (250, 420), (330, 60), (430, 90), (300, 640), (80, 680), (70, 740), (-70, 740), (-80, 680), (-300, 640),
     (-430, 90), (-330, 60), (-250, 420)]
)  # fmt: skip
TROUSERS = Polygon([(-250, 0), (-60, 0), (0, 600), (60, 0), (250, 0), (200, 900), (-200, 900)])


def apart(a: float, b: float, full: float = 180.0) -> float:
    return abs((a - b + full / 2) % full - full / 2)


def flat_of(colours: NDArray[np.uint8], mask: NDArray[np.bool_] | None = None) -> Flat:
    mask = np.ones(colours.shape[:2], bool) if mask is None else mask
    return Flat(colours, mask, 1.0, 0.0, float(colours.shape[0] - 1))


def cloth_picture(height: int = 420, width: int = 520, seed: int = 1) -> NDArray[np.uint8]:
    rng = np.random.default_rng(seed)
    weave = rng.normal(0, 3, (height, width, 1))
    shade = 12 * np.sin(np.arange(width) / 60)[None, :, None]
    return np.clip(np.array([70, 95, 140]) + weave + shade, 0, 255).astype(np.uint8)


class Straight:
    """A camera straight above: 2 pixels a mm, y up on the plane."""

    def to_px(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([points[:, 0] * 2, 800 - points[:, 1] * 2], 1)


def striped(period: float, turn: float = 0.0, height: int = 520, width: int = 480) -> NDArray[np.uint8]:
    """Dark stripes 3 px wide on a light cloth; turn: degrees clockwise from upright."""
    y, x = np.mgrid[0:height, 0:width]
    across = x * np.cos(np.radians(turn)) + y * np.sin(np.radians(turn))
    rng = np.random.default_rng(3)
    dark = np.clip(1.5 - np.abs((across + period / 2) % period - period / 2), 0, 1)
    grey = 190 - 110 * dark + rng.normal(0, 3, (height, width))
    return np.clip(np.repeat(grey[..., None], 3, 2), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("period", [11.0, 13.0, 12.4])
@pytest.mark.parametrize("turn", [0.0, 7.0])
def test_stripes_repeat_across_alone_and_their_repeat_is_known_to_a_fraction_of_a_pixel(
    period: float, turn: float
) -> None:
    flat = flat_of(striped(period, turn))
    (found,) = repeats_of(flat, box(0, 0, 479, 519))
    (way,) = found.ways
    assert np.linalg.norm(way) == pytest.approx(period, abs=0.15)
    assert apart(found.lines[0], 90 - turn) < 1.5


def test_a_stripe_taken_off_leaves_a_stain() -> None:
    colours = striped(13.0, 3.0)
    cv2.circle(colours, (200, 300), 35, (150, 140, 110), -1)
    flat = flat_of(colours)
    plain = without_print(flat, repeats_of(flat, box(0, 0, 479, 519)))
    assert plain.rgb[60:-60, 60:-60][:150].std() < 0.4 * flat.rgb[60:-60, 60:-60][:150].std()
    assert abs(int(plain.rgb[300, 200].mean()) - int(plain.rgb[100, 200].mean())) > 20


def test_flatten_puts_a_pixel_where_it_belongs() -> None:
    photo = np.zeros((801, 801, 3), np.uint8)
    cv2.circle(photo, (300, 500), 6, (255, 255, 255), -1)
    flat = flatten(photo, Straight(), box(50, 50, 350, 350), 1.0)
    rows, columns = np.nonzero(flat.rgb[..., 0] > 128)
    middle = flat.to_mm(np.array([[columns.mean(), rows.mean()]]))[0]
    assert middle == pytest.approx((150, 150), abs=0.3)
    assert flat.mask.sum() == pytest.approx(300 * 300, rel=0.01)
    assert flat.to_flat_px(flat.to_mm(np.array([[3.5, 7.25]])))[0] == pytest.approx((3.5, 7.25))


@given(st.floats(0, 359.9))
@settings(max_examples=25, deadline=None)
def test_axis_of_a_shirt_follows_it_round(turn: float) -> None:
    axis = find_axis(rotate(SHIRT, turn, origin=(0, 0)))
    assert axis.sure
    assert not axis.legs
    assert apart(axis.up, 90 + turn, 360) < 3


@given(st.floats(0, 359.9))
@settings(max_examples=15, deadline=None)
def test_legs_hang_down(turn: float) -> None:
    axis = find_axis(rotate(TROUSERS, turn, origin=(0, 0)))
    assert axis.legs
    assert apart(axis.up, 90 + turn, 360) < 3


def test_a_lopsided_scrap_has_no_axis() -> None:
    scrap = Polygon([(0, 0), (300, 20), (90, 110), (60, 260), (10, 170)])
    assert not find_axis(scrap).sure


@given(st.floats(1, 179))
@settings(max_examples=20, deadline=None)
def test_length_way_of_a_strip(turn: float) -> None:
    assert apart(length_way(rotate(box(0, 0, 300, 50), turn)), turn) < 1.0


def test_a_shirt_falls_into_named_pieces() -> None:
    armholes = [LineString([(x, 420), (x * 0.95, 530), (x * 1.2, 640)]) for x in (-250, 250)]
    seams = [Seam(line, 1.0) for line in armholes] + [Seam(LineString([(0, 10), (0, 732)]), 1.0)]
    seams.append(Seam(LineString([(-240, 30), (240, 30)]), 1.0, hem=True))
    parts = fall_apart(SHIRT, seams, [])
    assert len(parts) == 4
    assert sum(part.area for part in parts) == pytest.approx(SHIRT.area, rel=1e-6)
    axis = find_axis(SHIRT)
    names = names_of(parts, SHIRT, axis, opens_in_front=True)
    assert sorted(names) == ["left front", "left sleeve", "right front", "right sleeve"]
    left = parts[names.index("left front")]
    assert left.centroid.x < 0
    assert sum(is_sleeve(part, axis, parts[0].area) for part in parts) == 2


def test_a_seam_that_ends_beside_the_tip_of_an_underarm_parts_the_sleeve() -> None:
    # A notch 1 mm wide from the right, as between a sleeve and the body it lies beside; its tip is at (0, 0).
    cloth = Polygon([(-200, -300), (300, -300), (300, -0.5), (0, 0), (300, 0.5), (300, 300), (-200, 300)])
    for aside in (3.0, 6.0, 11.0):
        seam = Seam(LineString([(-5.3, 299), (-5.3, 3.3 + aside / 10)]), 1.0)
        parts = fall_apart(cloth, [seam], [])
        assert len(parts) == 2, aside
        assert parts[1].area == pytest.approx(305 * 300, rel=0.02)


def test_hems_and_edge_seams_cut_nothing() -> None:
    hem = Seam(LineString([(-260, 30), (260, 30)]), 1.0, hem=True)
    edge = Seam(LineString([(-250, 0), (250, 0)]), 1.0, on_outline=True)
    assert len(fall_apart(SHIRT, [hem, edge], [])) == 1


@given(st.lists(st.tuples(st.floats(-400, 400), st.floats(0, 680), st.floats(0, 180)), max_size=6))
@settings(max_examples=30, deadline=None)
def test_falling_apart_loses_no_cloth(cuts: list[tuple[float, float, float]]) -> None:
    seams = []
    for x, y, turn in cuts:
        seams.append(Seam(rotate(LineString([(x - 300, y), (x + 300, y)]), turn), 1.0))
    parts = fall_apart(SHIRT, seams, [])
    assert sum(part.area for part in parts) == pytest.approx(SHIRT.area, rel=1e-3)
    for i, a in enumerate(parts):
        for b in parts[i + 1 :]:
            assert a.intersection(b).area < 1.0


def test_equal_names_are_numbered() -> None:
    names = names_of(
        [box(0, 0, 300, 300), box(300, 0, 420, 120), box(0, 300, 80, 420)], SHIRT, find_axis(SHIRT), False
    )
    assert len(set(names)) == 3


def test_stripes_put_the_grain_right() -> None:
    turn = np.radians(5.0)
    y, x = np.mgrid[0:420, 0:520]
    wave = 135 + 95 * np.sin((x * np.cos(turn) - y * np.sin(turn)) * 2 * np.pi / 14)
    picture = np.repeat(wave[..., None], 3, axis=2).astype(np.uint8)
    flat = flat_of(picture)
    piece = box(10, 10, 510, 410)
    axis = find_axis(TROUSERS)
    found = grain_of(piece, axis, piece.area, flat).way
    assert apart(found, 95.0) < 1.0  # the way the stripes run, y up


def test_a_stain_on_plain_cloth_is_odd_and_clean_cloth_is_not() -> None:
    clean = cloth_picture()
    assert odd_places(flat_of(clean), np.ones(clean.shape[:2], bool)) == []
    stained = clean.copy()
    cv2.circle(stained, (300, 200), 30, (95, 70, 50), -1)
    found = odd_places(flat_of(stained), np.ones(clean.shape[:2], bool))
    assert len(found) == 1
    truth = Polygon([(300 + 30 * np.cos(t), 219 + 30 * np.sin(t)) for t in np.linspace(0, 6.2, 40)])
    shape = found[0][0]
    assert shape.intersection(truth).area > 0.85 * truth.area
    assert shape.area < 1.4 * truth.area


def bare_of(flat: Flat, cloth: Polygon) -> Flat:
    return without_print(flat, repeats_of(flat, cloth))


def checked(height: int = 420, width: int = 520) -> NDArray[np.uint8]:
    picture = cloth_picture(height, width).astype(int)
    y, x = np.mgrid[0:height, 0:width]
    picture[np.mod(x, 36) < 12] += [90, 60, 10]
    picture[np.mod(y, 30) < 10] -= [40, 50, 60]
    return np.clip(picture, 0, 255).astype(np.uint8)


def test_a_check_is_no_stain_but_a_stain_on_it_is() -> None:
    clean = checked()
    stained = clean.copy()
    cv2.circle(stained, (300, 200), 30, (60, 45, 40), -1)
    whole = np.ones(clean.shape[:2], bool)
    cloth = box(0, 0, 519, 419)
    assert odd_places(bare_of(flat_of(clean), cloth), whole) == []
    found = odd_places(bare_of(flat_of(stained), cloth), whole)
    assert len(found) == 1
    assert found[0][0].contains(Polygon([(285, 210), (315, 210), (315, 230), (285, 230)]))


def test_a_print_is_taken_off_and_plain_cloth_left_alone() -> None:
    cloth = box(0, 0, 519, 419)
    flat = flat_of(checked())
    bare = bare_of(flat, cloth)
    assert (
        bare.rgb[60:-60, 60:-60].std(axis=(0, 1)).max()
        < 0.5 * flat.rgb[60:-60, 60:-60].std(axis=(0, 1)).max()
    )
    plain = flat_of(cloth_picture())
    assert bare_of(plain, cloth) is plain


def test_another_colour_is_another_fabric_and_shade_is_not() -> None:
    picture = cloth_picture(400, 600)
    picture[:, 400:] = (190, 180, 150)
    picture[:, 200:400] = (picture[:, 200:400] * 0.9).astype(np.uint8)  # the same cloth in shade
    parts = [box(0, 0, 200, 399), box(200, 0, 400, 399), box(400, 0, 599, 399)]
    assert fabrics_of(parts, box(0, 0, 599, 399), flat_of(picture), "shell") == ["shell", "shell", "lining"]
    # who photographs a lining and says so means most of what lies there, and its facings are no lining
    assert fabrics_of(parts, box(0, 0, 599, 399), flat_of(picture), "lining") == ["lining", "lining", "shell"]


def test_ridges_become_lines_and_gaps_are_joined() -> None:
    chance = np.zeros((200, 300), np.float32)
    cv2.line(chance, (20, 100), (130, 100), 1.0, 3)
    cv2.line(chance, (160, 100), (280, 100), 1.0, 3)
    found = lines.trace(chance, 0.3, 0.6, 7)
    assert len(found) == 2
    joined = lines.join(found, 40, 25, lambda a, b: True)
    assert len(joined) == 1
    assert lines.length(joined[0]) == pytest.approx(260, abs=6)
    assert len(lines.join(found, 40, 25, lambda a, b: False)) == 2
    assert len(lines.join(found, 20, 25, lambda a, b: True)) == 2


def test_a_line_is_run_on_to_its_goal() -> None:
    goal = np.zeros((100, 200), bool)
    goal[:, 180:] = True
    line = np.array([[50.0, 50.0], [100.0, 50.0], [160.0, 50.0]])
    assert lines.extend(line, goal, 30)[-1] == pytest.approx((180, 50), abs=1)
    assert lines.extend(line, goal, 10) == pytest.approx(line)


def test_outlines_of_a_mask_lie_round_its_pixels() -> None:
    mask = np.zeros((50, 60), bool)
    mask[10:20, 20:40] = True
    (shape, pixels), *others = outlined(mask, flat_of(np.zeros((50, 60, 3), np.uint8)), 1)
    assert others == []
    assert shape.area == pytest.approx(200, rel=0.02)
    assert len(pixels[0]) == 200
    assert sides(shape) == pytest.approx((20, 10), abs=0.5)


def test_assumed_hems_of_one_name_are_one_thing_and_all_else_is_one_by_itself() -> None:
    line = LineString([(0, 0), (100, 0)])

    def named(kind: BlockedKind, what: str, found_by: FoundBy = FoundBy.TRADE) -> Blocked:
        return Blocked(kind, line, 6.0, found_by, what)

    found = inside._numbered(
        [
            named(BlockedKind.HEM, "sleeve hem, assumed"),
            named(BlockedKind.HEM, "hem, assumed"),
            named(BlockedKind.HEM, "sleeve hem, assumed"),
            named(BlockedKind.HEM, "sleeve hem", FoundBy.PHOTO),
            named(BlockedKind.SEAM, "left armhole seam, assumed"),
            named(BlockedKind.SEAM, "cuff seam, assumed"),
            named(BlockedKind.SEAM, "cuff seam, assumed"),
        ]
    )
    assert [each.id for each in found] == ["1", "2", "1", "4", "5", "6", "6"]

"""References are found where they were drawn, nothing else is, and what can't be measured from is said."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_photo import (
    Camera,
    Scene,
    boards,
    checks,
    diamonds,
    marker,
    plain_floor,
    rectangle,
    tiles,
)

from salvage.photo.problem import Code, Level
from salvage.scale.find import Finding, find_squares
from salvage.scale.square import SquareKind

SIZE = (960, 720)
CAMERA = Camera(SIZE, 26.0, 1050.0, tilt=8.0, toward=70.0, turn=4.0, k1=-0.03)
WHITE, BLACK, GREEN, RED = (0.68, 0.68, 0.66), (0.02, 0.02, 0.02), (0.02, 0.22, 0.1), (0.5, 0.03, 0.03)
SHIRT = checks(((0.5, 0.1, 0.08), (0.6, 0.6, 0.55), (0.5, 0.3, 0.2)), step=22.0, turn=8.0)
FLOORS = {
    "wood": boards((0.35, 0.2, 0.1)),
    "tiles": tiles((0.4, 0.37, 0.33), side=200.0),
    "chequer": tiles((0.55, 0.53, 0.5), other=(0.09, 0.08, 0.08), side=220.0, grout=2.0),
    "carpet": plain_floor((0.36, 0.32, 0.28), rough=0.3, grain=2.5),
    "sheet": plain_floor((0.45, 0.47, 0.5), rough=0.01),
    "rug": diamonds(
        ((0.03, 0.1, 0.12), (0.6, 0.25, 0.1), (0.5, 0.45, 0.35), (0.12, 0.05, 0.04), (0.5, 0.45, 0.35))
    ),
}
PLACES = ((-430.0, 150.0, 20.0), (420.0, -200.0, 65.0), (-400.0, -220.0, 40.0), (430.0, 210.0, 3.0))


def scene(floor: str = "wood", camera: Camera = CAMERA, *, shirt: bool = True) -> Scene:
    drawn = Scene.on(camera, FLOORS[floor])
    if shirt:
        drawn.lay(np.array([[-190, -260], [210, -250], [180, 270], [-170, 250]], float), SHIRT)
    return drawn


def with_cards(
    drawn: Scene, count: int, colour: tuple[float, float, float], side: float = 150.0
) -> list[np.ndarray]:
    cards = [rectangle(side, side, (x, y), turn) for x, y, turn in PLACES[:count]]
    for card in cards:
        drawn.lay(card, colour)
    return cards


def corner_errors(finding: Finding, cards: list[np.ndarray], camera: Camera = CAMERA) -> np.ndarray:
    """(n, 4) px distance of each found corner from the nearest drawn one; every card must be found once."""
    truth = np.array([camera.to_px(card) for card in cards])
    taken = set()
    errors = []
    for square in finding.squares:
        gaps = np.hypot(*np.moveaxis(truth.mean(axis=1) - square.corners_px.mean(axis=0), -1, 0))
        nearest = int(gaps.argmin())
        taken.add(nearest)
        corners = np.linalg.norm(square.corners_px[:, None] - truth[nearest][None], axis=-1)
        errors.append(corners.min(axis=1))
    assert taken == set(range(len(cards)))
    assert len(finding.squares) == len(cards)
    return np.array(errors)


def codes(finding: Finding) -> dict[Code, Level]:
    return {problem.code: problem.level for problem in finding.problems}


@pytest.mark.parametrize(
    ("floor", "colour", "count"),
    [
        ("tiles", RED, 2),
        ("sheet", WHITE, 2),
        ("rug", RED, 2),
        ("carpet", WHITE, 4),
    ],
)
def test_plain_cards_on_all_sorts_of_floors(
    floor: str, colour: tuple[float, float, float], count: int
) -> None:
    drawn = scene(floor)
    cards = with_cards(drawn, count, colour)
    finding = find_squares(drawn.photograph(seed=count), side=150.0)
    errors = corner_errors(finding, cards)
    # Strong colours stay up to half a pixel off: JPEG halves the resolution of what parts them from the floor.
    assert np.median(errors) < 0.55
    assert errors.max() < 1.1
    assert finding.problems == ()
    assert {square.kind for square in finding.squares} == {SquareKind.PLAIN}


def test_a_few_clear_figures_of_a_carpet_are_no_cards() -> None:
    """Eight figures of one kind; five lie in crosses, which makes them no cards, three look just like cards."""
    drawn = scene("sheet", shirt=False)
    figures = [(x, y) for x in (-420.0, -140.0, 140.0, 420.0) for y in (-10.0, 260.0)]
    for k, place in enumerate(figures):
        if k % 3:
            drawn.lay(rectangle(230, 92, place), (0.6, 0.25, 0.1))
            drawn.lay(rectangle(92, 230, place), (0.6, 0.25, 0.1))
        drawn.lay(rectangle(92, 92, place), (0.03, 0.1, 0.12))
    cards = [rectangle(150, 150, (x, -280.0), turn) for x, turn in ((-250.0, 20.0), (250.0, 65.0))]
    for card in cards:
        drawn.lay(card, (0.03, 0.08, 0.4))
    finding = find_squares(drawn.photograph(seed=1), side=150.0)
    assert corner_errors(finding, cards).max() < 1.1
    assert finding.problems == ()


def test_corners_run_counter_clockwise_as_seen_and_carry_their_edges() -> None:
    drawn = scene()
    with_cards(drawn, 1, WHITE)
    [square] = find_squares(drawn.photograph(), side=150.0).squares
    x, y = square.corners_px.T
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0  # y points down
    assert (square.width, square.length) == (150.0, 150.0)
    for i, points in enumerate(square.edge_points_px):
        a, b = square.corners_px[i], square.corners_px[(i + 1) % 4]
        normal = np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a))
        assert len(points) > 30
        assert np.abs((points - a) @ normal).max() < 1.0


def test_corner_doubt_is_about_as_large_as_the_errors() -> None:
    ratios = []
    for seed, floor in enumerate(("carpet", "sheet")):
        drawn = scene(floor)
        cards = with_cards(drawn, 3, RED)
        finding = find_squares(drawn.photograph(seed=seed), side=150.0)
        doubt = np.array([square.corner_sd_px for square in finding.squares])
        ratios.append(corner_errors(finding, cards) / doubt)
    # Errors are lengths in two directions, doubt is of one: a ratio of 1.25 is what is expected of an honest one.
    assert 0.3 < np.sqrt(np.mean(np.square(ratios))) < 2.2


def test_printed_squares_to_a_twentieth_of_a_pixel() -> None:
    drawn = scene("rug")
    squares = []
    for number, (x, y, turn) in enumerate(PLACES[:2]):
        corners = rectangle(120, 120, (x, y), turn)
        drawn.lay(rectangle(150, 150, (x, y), turn), WHITE)
        drawn.lay(corners, marker(corners, 40 + number))
        squares.append(corners)
    finding = find_squares(drawn.photograph(), side=120.0)
    assert corner_errors(finding, squares).max() < 0.15
    assert np.median(corner_errors(finding, squares)) < 0.05
    assert {square.kind for square in finding.squares} == {SquareKind.PRINTED}


def test_printed_square_begins_at_the_markers_own_corner_however_it_is_turned() -> None:
    first = []
    for turn in (10.0, 100.0, 190.0):
        drawn = scene("sheet", shirt=False)
        corners = rectangle(150, 150, (30, 20), turn)
        drawn.lay(rectangle(190, 190, (30, 20), turn), WHITE)
        drawn.lay(corners, marker(corners, 7))
        [square] = find_squares(drawn.photograph(), side=150.0).squares
        gaps = np.linalg.norm(CAMERA.to_px(corners) - square.corners_px[0], axis=1)
        first.append(int(gaps.argmin()))
    assert len(set(first)) == 1


def test_printed_squares_are_preferred_to_a_card() -> None:
    drawn = scene()
    with_cards(drawn, 1, RED)
    corners = rectangle(120, 120, (420, -200), 65)
    drawn.lay(rectangle(150, 150, (420, -200), 65), WHITE)
    drawn.lay(corners, marker(corners, 3))
    corner_errors(find_squares(drawn.photograph(), side=120.0), [corners])


def test_card_half_in_shadow() -> None:
    for colour in (WHITE, GREEN):
        drawn = scene()
        cards = with_cards(drawn, 1, colour)
        drawn.shade(rectangle(500, 170, (-430, 90), 30), 0.5, soft=40.0)
        assert corner_errors(find_squares(drawn.photograph(), side=150.0), cards).max() < 1.0


def test_paper_tiles_light_and_bits_of_cloth_are_no_squares() -> None:
    drawn = scene("tiles")
    drawn.lay(rectangle(105, 148, (-430, 150), 25), WHITE)  # a sheet of A6
    drawn.lay(rectangle(90, 200, (430, 200), 70), RED)
    drawn.shade(rectangle(220, 220, (400, -200), 15), 1.7, soft=25.0)  # what a window throws
    finding = find_squares(drawn.photograph(), side=150.0)
    assert finding.squares == ()
    assert codes(finding) == {Code.NO_SQUARE: Level.ERROR}


def test_a_windows_light_on_boards_is_no_square() -> None:
    drawn = scene("wood", Camera((1600, 1200), 26.0, 1400.0, tilt=9.0, toward=70.0, k1=-0.03))
    drawn.shade(rectangle(200, 200, (-480, 150), 20), 1.9, soft=14.0)
    finding = find_squares(drawn.photograph(), side=150.0)
    assert finding.squares == ()
    assert codes(finding) == {Code.NO_SQUARE: Level.ERROR}


def test_chequered_floor_and_patterned_rug_without_a_square() -> None:
    for floor in ("chequer", "rug"):
        finding = find_squares(scene(floor).photograph(), side=150.0)
        assert finding.squares == (), floor
        assert Level.ERROR in codes(finding).values()


@pytest.mark.parametrize("exif", [True, False])
def test_a_paper_beside_the_card_is_left_alone(exif: bool) -> None:
    drawn = scene()
    cards = with_cards(drawn, 1, WHITE)
    drawn.lay(rectangle(105, 148, (430, -150), 35), WHITE)
    finding = find_squares(drawn.photograph(exif=exif), side=150.0)
    corner_errors(finding, cards)
    assert finding.problems == ()


def test_two_readings_are_said_and_pointing_settles_it() -> None:
    drawn = scene()
    card = rectangle(150, 150, (-430, 100), 20)
    coaster = rectangle(95, 95, (420, -150), 50)
    drawn.lay(card, WHITE)
    drawn.lay(coaster, RED)
    photo = drawn.photograph()
    finding = find_squares(photo, side=150.0)
    assert codes(finding) == {Code.SQUARE_UNSURE: Level.WARNING}
    for x, y in (CAMERA.to_px(card).mean(axis=0), CAMERA.to_px(coaster).mean(axis=0)):
        assert f"{x:.0f},{y:.0f}" in finding.problems[0].message
    for thing in (card, coaster):
        x, y = CAMERA.to_px(thing).mean(axis=0)
        pointed = find_squares(photo, side=150.0, pointed_at=[(float(x) + 9, float(y) - 7)])
        corner_errors(pointed, [thing])
        assert pointed.problems == ()


@pytest.mark.parametrize("kind", ["plain", "printed"])
@pytest.mark.parametrize("out", [0.4])
def test_square_cut_by_the_frame(kind: str, out: float) -> None:
    drawn = scene()
    edge = CAMERA.floor_of_pixels()[SIZE[1] // 2, 0]
    corners = rectangle(150, 150, (float(edge[0]) + 75 - 150 * out, float(edge[1])), 4)
    if kind == "printed":
        drawn.lay(rectangle(188, 188, tuple(corners.mean(axis=0)), 4), WHITE)
        drawn.lay(corners, marker(corners, 5))
    else:
        drawn.lay(corners, WHITE)
    finding = find_squares(drawn.photograph(), side=150.0)
    assert finding.squares == ()
    assert codes(finding) == {Code.SQUARE_CUT: Level.ERROR}


def test_a_further_square_that_is_cut_is_only_a_warning() -> None:
    drawn = scene()
    cards = with_cards(drawn, 1, WHITE)
    edge = CAMERA.floor_of_pixels()[SIZE[1] // 3, -1]
    drawn.lay(rectangle(150, 150, (float(edge[0]) - 5, float(edge[1])), 4), WHITE)
    finding = find_squares(drawn.photograph(), side=150.0)
    corner_errors(finding, cards)
    assert codes(finding) == {Code.SQUARE_CUT: Level.WARNING}


def test_square_that_is_small_in_the_picture() -> None:
    camera = Camera(SIZE, 26.0, 2600.0)
    drawn = scene("sheet", camera)
    card = rectangle(100, 100, (-600, 300), 30)
    drawn.lay(card, BLACK)
    finding = find_squares(drawn.photograph(), side=100.0)
    assert codes(finding) == {Code.SQUARE_SMALL: Level.ERROR}


def test_same_photograph_same_answer() -> None:
    drawn = scene("sheet", shirt=False)
    with_cards(drawn, 2, GREEN)
    photo = drawn.photograph()
    first, second = (find_squares(photo, side=150.0) for _ in range(2))
    assert len(first.squares) == 2
    for a, b in zip(first.squares, second.squares, strict=True):
        assert np.array_equal(a.corners_px, b.corners_px)

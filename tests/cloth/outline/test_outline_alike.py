import numpy as np
from shapely.geometry import MultiPolygon, Polygon

from salvage.cloth.outline.alike import alike, count_sides, hues
from salvage.cloth.outline.holes import true_rings
from salvage.cloth.outline.refine import Ring

SIZE = 160


def scene() -> np.ndarray:
    """Blue cloth on a beige floor, with a hole showing the floor on the left and a black band on the right."""
    rng = np.random.default_rng(3)
    picture = np.empty((SIZE, SIZE, 3), np.float32)
    picture[:] = (200, 180, 150)
    picture[30:130, 30:130] = (50, 70, 150)
    picture[60:100, 45:60] = (200, 180, 150)
    picture[60:100, 100:115] = (12, 12, 12)
    return np.clip(picture + rng.normal(0, 4, picture.shape), 0, 255).astype(np.uint8)


def box(left: float, top: float, right: float, bottom: float) -> np.ndarray:
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)


def ring(points: np.ndarray) -> Ring:
    return Ring(points, np.ones(len(points), np.float32))


CLOTH, FLOOR_HOLE, BAND = box(30, 30, 130, 130), box(45, 60, 60, 100), box(100, 60, 115, 100)


def test_a_hole_showing_the_floor_stays_and_a_black_band_is_cloth() -> None:
    rings = [ring(CLOTH), ring(FLOOR_HOLE), ring(BAND)]
    shape = MultiPolygon([Polygon(CLOTH, [FLOOR_HOLE, BAND])])
    kept = true_rings(scene(), rings, shape)
    assert [r is k for r, k in zip(rings[:2], kept, strict=True)] == [True, True]


def test_what_a_person_calls_floor_stays_a_hole() -> None:
    rings = [ring(CLOTH), ring(FLOOR_HOLE), ring(BAND)]
    shape = MultiPolygon([Polygon(CLOTH, [FLOOR_HOLE, BAND])])
    assert len(true_rings(scene(), rings, shape, floor_at=[(107.0, 80.0)])) == 3


def test_a_hue_is_nearly_the_same_in_shadow() -> None:
    rng = np.random.default_rng(5)
    lit = np.clip(rng.normal((200, 160, 110), 12, (60, 60, 3)), 0, 255)
    dim = 255 * ((lit / 255) ** 2.2 * 0.5) ** (1 / 2.2)
    other = np.clip(rng.normal((110, 160, 200), 12, (60, 60, 3)), 0, 255)
    found = hues(np.hstack([lit, dim, other]).astype(np.uint8))
    parts = [np.bincount(found[:, at : at + 50].ravel(), minlength=24) / 3000 for at in (5, 65, 125)]
    assert np.minimum(parts[0], parts[1]).sum() > 0.7
    assert np.minimum(parts[0], parts[2]).sum() < 0.02


def test_an_outline_with_a_shadow_in_it_looks_more_like_the_floor() -> None:
    picture = scene()
    shadow = picture[30:130, 131:150].astype(np.float32) / 255
    picture[30:130, 131:150] = (255 * (shadow**2.2 * 0.5) ** (1 / 2.2)).astype(np.uint8)
    right = np.zeros((SIZE, SIZE), bool)
    right[30:130, 30:130] = True
    wrong = right.copy()
    wrong[30:130, 130:150] = True
    _, honest, *_ = alike(count_sides(picture, right, ~right))
    _, fooled, *_ = alike(count_sides(picture, wrong, ~wrong))
    assert fooled > honest + 0.05


def test_nothing_or_everything_being_cloth_is_the_worst_sign() -> None:
    picture, none = scene(), np.zeros((SIZE, SIZE), bool)
    assert alike(count_sides(picture, none, ~none))[0] == 1.0
    assert alike(count_sides(picture, ~none, none))[0] == 1.0

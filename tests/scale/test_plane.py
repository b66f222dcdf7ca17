"""The plane: there and back, lengths and their plus-minus, drawing it from above, keeping it in a record."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.scale.plane import Plane
from salvage.scale.solving.camera import Camera

SIZE = (2400, 1800)


def plane(
    *,
    tilt: float = 12.0,
    turned: float = 40.0,
    k1: float = 0.0,
    k2: float = 0.0,
    sd: float = 1e-3,
    height: float = 5.0,
) -> Plane:
    slant = math.sin(math.radians(tilt))
    x, y = slant * math.cos(math.radians(turned)), slant * math.sin(math.radians(turned))
    camera = Camera(1400.0, x, y, 1800.0, 1195.0, 905.0, k1, k2)
    covariance = np.diag([sd, sd, sd, sd, 10.0, 10.0, 3.0 * sd, sd, 2.0]) ** 2
    return Plane.over(camera, SIZE, height, covariance)


@given(
    tilt=st.floats(0.0, 35.0),
    turned=st.floats(0.0, 360.0),
    k1=st.floats(-0.08, 0.08),
    k2=st.floats(-0.01, 0.01),
    x=st.floats(0.0, SIZE[0] - 1.0),
    y=st.floats(0.0, SIZE[1] - 1.0),
)
@settings(max_examples=60, deadline=None)
def test_there_and_back(tilt: float, turned: float, k1: float, k2: float, x: float, y: float) -> None:
    p = plane(tilt=tilt, turned=turned, k1=k1, k2=k2)
    again = p.to_px(p.to_mm([[x, y]]))
    assert again == pytest.approx(np.array([[x, y]]), abs=1e-6)


@given(tilt=st.floats(0.0, 30.0), turned=st.floats(0.0, 360.0), k1=st.floats(-0.08, 0.08))
@settings(max_examples=40, deadline=None)
def test_x_runs_right_and_y_up_and_the_picture_is_positive(tilt: float, turned: float, k1: float) -> None:
    p = plane(tilt=tilt, turned=turned, k1=k1)
    middle, right, up = p.to_mm([[1200, 900], [1300, 900], [1200, 800]])
    assert right[0] > middle[0]
    assert up[1] > middle[1]
    assert abs(right[1] - middle[1]) < 0.3 * (right[0] - middle[0])
    frame = np.array([[0, 0], [2399, 0], [2399, 1799], [0, 1799], [1200, 0], [1200, 1799]])
    assert p.to_mm(frame).min() > -1e-6


def test_higher_cloth_looks_bigger_by_height_over_camera_height() -> None:
    low, high = plane(tilt=0.0, height=0.0), plane(tilt=0.0, height=14.0)
    ends = np.array([[600.0, 700.0], [1900.0, 1100.0]])
    assert high.length(*ends)[0] / low.length(*ends)[0] == pytest.approx(1.0 - 14.0 / 1400.0, rel=1e-12)


def test_mm_per_px_is_the_height_over_the_focal_length() -> None:
    assert plane(tilt=0.0, height=0.0).mm_per_px == pytest.approx(1400.0 / 1800.0, rel=1e-6)


def test_tilt_is_what_it_was_made_with() -> None:
    assert plane(tilt=17.0).tilt == pytest.approx(17.0, abs=1e-9)


def test_the_horizon_and_beyond_are_not_numbers() -> None:
    p = plane(tilt=80.0, turned=90.0)
    length, reach = p.length((1200.0, 1790.0), (1200.0, 5.0))
    known = np.isfinite(p.to_mm([[1200.0, 1790.0], [1200.0, 5.0]]))
    assert not known.all()
    assert math.isnan(length)
    assert math.isnan(reach)


def test_many_lengths_are_the_single_ones() -> None:
    p = plane(k1=0.03)
    a = np.array([[100.0, 200.0], [900.0, 1500.0], [500.0, 500.0]])
    b = np.array([[1700.0, 300.0], [1000.0, 200.0], [500.0, 500.0]])
    lengths, reaches = p.lengths(a, b)
    for k in range(3):
        assert p.length(a[k], b[k]) == (pytest.approx(lengths[k]), pytest.approx(reaches[k]))
    assert lengths[2] == 0.0
    assert reaches[2] > 0.0


def _drawn(p: Plane, rng: np.random.Generator) -> Plane:
    """A plane whose camera and height are drawn from the covariance of this one."""
    move = rng.multivariate_normal(np.zeros(9), p.covariance)
    return Plane(
        Camera.from_vector(p.camera.vector + move[:8]), p.size_px, p.height + move[8], p.origin, p.covariance
    )


def test_plus_minus_of_length_and_edges_is_that_of_drawn_cameras() -> None:
    """First-order propagation against 400 cameras drawn from the same covariance."""
    rng = np.random.default_rng(5)
    p = plane(sd=2e-3)
    bare = Plane(p.camera, p.size_px, p.height, p.origin, p.covariance, 0.0, 0.0)
    a, b = np.array([300.0, 400.0]), np.array([2000.0, 1500.0])
    ring = np.array([[500.0, 300.0], [1900.0, 350.0], [1800.0, 1400.0], [450.0, 1500.0]])
    ring_mm = p.to_mm(ring)
    drawn = [_drawn(bare, rng) for _ in range(400)]
    lengths = [q.length(a, b)[0] for q in drawn]
    shapes = [q.to_mm(ring) for q in drawn]
    assert bare.length(a, b)[1] == pytest.approx(1.96 * np.std(lengths), rel=0.12)
    strays = np.array([s - s.mean(axis=0) for s in shapes])
    worst = [1.96 * math.sqrt(np.linalg.eigvalsh(np.cov(strays[:, k].T))[-1]) for k in range(4)]
    assert bare.edge_plus_minus(ring_mm) == pytest.approx(worst, rel=0.12)


def test_what_is_marked_by_hand_and_how_high_it_lies_counts_too() -> None:
    p = plane(sd=1e-9)
    sure = Plane(p.camera, p.size_px, p.height, p.origin, np.zeros((9, 9)), 0.0, 0.0)
    assert sure.length((300.5, 300.5), (900.5, 900.5))[1] == 0.0
    clicked = Plane(p.camera, p.size_px, p.height, p.origin, np.zeros((9, 9)), 0.0, 1.0)
    assert clicked.length((1100.5, 900.5), (1300.5, 900.5))[1] == pytest.approx(
        1.96 * math.sqrt(2) * clicked.mm_per_px, rel=0.1
    )


def test_whole_pixels_are_less_sure_than_fractions() -> None:
    p = plane(tilt=0.0)
    clicked = Plane(p.camera, p.size_px, p.height, p.origin, np.zeros((9, 9)), 0.0, 0.2)
    rounded = clicked.length((1100, 900), (1300, 900))[1]
    exact = clicked.length((1100.4, 900.3), (1300.4, 900.3))[1]
    assert exact == pytest.approx(1.96 * math.sqrt(2) * 0.2 * clicked.mm_per_px, rel=0.1)
    assert rounded == pytest.approx(exact * math.hypot(0.2, 1 / math.sqrt(12)) / 0.2, rel=0.1)


def test_a_record_gives_the_same_plane_back() -> None:
    p = plane(k1=0.02)
    camera, mm_to_pixel = json.loads(json.dumps(p.to_record()))
    again = Plane.from_record(camera, mm_to_pixel)
    points = np.array([[100.0, 100.0], [2300.0, 1700.0]])
    assert again.to_mm(points) == pytest.approx(p.to_mm(points), abs=1e-9)
    assert again.length(*points) == pytest.approx(p.length(*points))


def test_the_record_says_enough_to_do_it_by_hand() -> None:
    p = plane(k1=0.04, k2=-0.003)
    camera, mm_to_pixel = p.to_record()
    x, y, w = np.array(mm_to_pixel["homography"]) @ [400.0, 300.0, 1.0]
    centre = np.array(camera["principal_point_px"])
    ideal = (np.array([x / w, y / w]) - centre) / camera["focal_px"]
    r2 = float(ideal @ ideal)
    by_hand = centre + camera["focal_px"] * ideal * (1 + camera["k1"] * r2 + camera["k2"] * r2**2)
    assert p.to_px([[400.0, 300.0]])[0] == pytest.approx(by_hand, abs=1e-6)


@pytest.mark.parametrize("spoil", [{"covariance": [[1.0]]}, {"size_px": "wide"}, {"normal": None}])
def test_a_spoilt_record_is_refused(spoil: dict[str, object]) -> None:
    camera, mm_to_pixel = plane().to_record()
    with pytest.raises(ValueError, match=r"camera|covariance"):
        Plane.from_record({**camera, **spoil}, mm_to_pixel)

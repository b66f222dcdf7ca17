"""Small geometry of convex outlines, on quadrilaterals whose corners are known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.scale.seeing.polygons import angles_at, four_corners, on_edges, sides_of

TRAPEZE = np.array([[10.0, 20.0], [310.0, 50.0], [290.0, 240.0], [30.0, 260.0]])


def test_sides_and_angles_of_a_right_triangle() -> None:
    triangle = np.array([[0.0, 0.0], [30.0, 0.0], [0.0, 40.0]])
    assert sides_of(triangle) == pytest.approx([30, 50, 40])
    assert angles_at(triangle) == pytest.approx(
        [90, np.degrees(np.arctan2(4, 3)), np.degrees(np.arctan2(3, 4))]
    )


@given(st.lists(st.floats(0.05, 1.0), min_size=3, max_size=9), st.floats(0, 6))
def test_angles_come_to_what_they_must(steps: list[float], start: float) -> None:
    turns = start + 2 * np.pi * np.cumsum(steps) / sum(steps)
    ring = 100 * np.column_stack([np.cos(turns), np.sin(turns)])  # on a circle, so convex
    assert angles_at(ring).sum() == pytest.approx(180 * (len(ring) - 2), abs=1e-3)


def hull_of(corners: np.ndarray, radius: float = 0.0) -> np.ndarray:
    """(m, 1, 2) outline of a drawn polygon; radius: of its rounded corners, px."""
    drawn = np.zeros((300, 340), np.uint8)
    cv2.fillConvexPoly(drawn, np.round(corners).astype(np.int32), 255)
    if radius:
        size = 2 * int(radius) + 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        drawn = np.asarray(cv2.morphologyEx(drawn, cv2.MORPH_OPEN, disc), np.uint8)
    outlines, _ = cv2.findContours(drawn, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return cv2.convexHull(outlines[0])


def nearest(found: np.ndarray, true: np.ndarray) -> np.ndarray:
    return np.linalg.norm(found[:, None] - true[None], axis=2).min(axis=0)


def test_four_corners_of_a_drawn_quadrilateral() -> None:
    found = four_corners(hull_of(TRAPEZE))
    assert found is not None
    assert nearest(found, TRAPEZE).max() < 2.0


def test_a_triangle_and_a_disc_have_no_four_corners() -> None:
    assert four_corners(hull_of(TRAPEZE[:3])) is None
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    disc = np.column_stack([150 + 100 * np.cos(turns), 150 + 100 * np.sin(turns)])
    found = four_corners(hull_of(disc))
    assert found is None or angles_at(found).max() < 100  # rough as it is, no quadrilateral with long sides


def test_rounded_corners_are_put_where_the_sides_meet() -> None:
    hull = hull_of(TRAPEZE, radius=20)
    rough = four_corners(hull)
    assert rough is not None
    moved = on_edges(hull.reshape(-1, 2).astype(float), rough)
    assert nearest(rough, TRAPEZE).max() > 4.0
    assert nearest(moved, TRAPEZE).max() < 1.5

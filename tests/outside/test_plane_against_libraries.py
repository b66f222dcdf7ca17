"""The plane's mapping against two libraries that compute the same by their own code.

Sources: scikit-image `ProjectiveTransform` (homography) and OpenCV `projectPoints` (pinhole
with Brown's radial distortion), at the versions installed.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from skimage.transform import ProjectiveTransform

from salvage.scale.plane import Plane
from salvage.scale.solving.camera import Camera, straighten

SIZE = (4032, 3024)

cameras = st.builds(
    lambda tilt, turned, height, focal, dx, dy, k1, k2: Camera(
        height,
        math.sin(tilt) * math.cos(turned),
        math.sin(tilt) * math.sin(turned),
        focal,
        2015.5 + dx,
        1511.5 + dy,
        k1,
        k2,
    ),
    tilt=st.floats(0.0, 0.6),
    turned=st.floats(0.0, 6.3),
    height=st.floats(600.0, 2500.0),
    focal=st.floats(2600.0, 4200.0),
    dx=st.floats(-80.0, 80.0),
    dy=st.floats(-80.0, 80.0),
    k1=st.floats(-0.08, 0.08),
    k2=st.floats(-0.01, 0.01),
)


def plane(camera: Camera, height: float = 6.0) -> Plane:
    return Plane.over(camera, SIZE, height, np.zeros((9, 9)))


def points_mm(p: Plane) -> np.ndarray:
    return p.to_mm(np.random.default_rng(1).uniform((0, 0), SIZE, (40, 2)))


@given(camera=cameras)
@example(camera=Camera(600.0, 1e-5, 0.0, 2600.0, 2015.5, 1511.5, 0.0, 0.0))
@settings(max_examples=25, deadline=None)
def test_against_opencv_project_points(camera: Camera) -> None:
    p = plane(camera)
    mm = points_mm(p)
    world = np.column_stack([mm + np.array(p.origin), np.full(len(mm), p.height)])
    # A turn by nearly half a circle costs its vector digits: look at the floor upside down, with its y and z
    # reversed. SciPy makes the vector: OpenCV's own `Rodrigues` takes any turn under 1e-5 for none at all.
    over = np.diag([1.0, -1.0, -1.0])
    turn = Rotation.from_matrix(camera.rotation @ over).as_rotvec()
    world = world @ over
    shift = camera.rotation @ np.array([0.0, 0.0, -camera.height])
    seen, _ = cv2.projectPoints(
        world, turn, shift, _matrix(camera), np.array([camera.k1, camera.k2, 0.0, 0.0, 0.0])
    )
    assert p.to_px(mm) == pytest.approx(seen.reshape(-1, 2), abs=1e-6)


@given(camera=cameras)
@settings(max_examples=20, deadline=None)
def test_a_straightened_point_is_bent_back_by_opencv(camera: Camera) -> None:
    px = np.random.default_rng(2).uniform((0, 0), SIZE, (40, 2))
    ideal = (straight_px(camera, px) - [camera.centre_x_px, camera.centre_y_px]) / camera.focal_px
    lens = np.array([camera.k1, camera.k2, 0.0, 0.0, 0.0])
    rays = np.column_stack([ideal, np.ones(len(ideal))])
    bent, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), _matrix(camera), lens)
    assert bent.reshape(-1, 2) == pytest.approx(px, abs=1e-6)


@given(camera=cameras)
@settings(max_examples=15, deadline=None)
def test_the_recorded_homography_against_scikit_image(camera: Camera) -> None:
    p = plane(camera)
    mm = points_mm(p)
    transform = ProjectiveTransform(np.array(p.to_record()[1]["homography"]))
    assert transform(mm) == pytest.approx(straight_px(camera, p.to_px(mm)), abs=1e-4)
    assert transform.inverse(straight_px(camera, p.to_px(mm))) == pytest.approx(mm, abs=1e-4)


def straight_px(camera: Camera, px: np.ndarray) -> np.ndarray:
    """Where a lens that bends nothing would show what is seen at these pixels."""
    centre = np.array([camera.centre_x_px, camera.centre_y_px])
    return straighten((px - centre) / camera.focal_px, camera.k1, camera.k2) * camera.focal_px + centre


def _matrix(camera: Camera) -> np.ndarray:
    f = camera.focal_px
    return np.array([[f, 0.0, camera.centre_x_px], [0.0, f, camera.centre_y_px], [0.0, 0.0, 1.0]])

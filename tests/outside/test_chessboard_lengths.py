"""A real camera: lengths of a chessboard from one, two and four of its squares.

Source: the 13 chessboard photographs `left*.jpg` and the camera file `left_intrinsics.yml` published with
OpenCV (see fixtures/chessboard/README.md). Known: the board's corners are 25 mm apart, and the published
focal length. The lens bends far more than a telephone's (published k1 = -0.27), so the belief in a straight
lens is loosened. The corners come from OpenCV's detector, not from ours.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from salvage.photo.photo import Photo
from salvage.scale.plane import Plane
from salvage.scale.solve import solve_plane
from salvage.scale.solving.sighting import THICKNESS
from salvage.scale.square import Square, SquareKind

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "chessboard"
SIDE = 25.0
ROWS, COLUMNS = 6, 9
CORNER_SD_PX = 0.1
AT = ((0, 0), (4, 7), (0, 7), (4, 0))  # row and column of the chess squares at the board's corners
ENDS = (
    ((0, 0), (0, 8)),
    ((5, 0), (5, 8)),
    ((0, 0), (5, 0)),
    ((0, 8), (5, 8)),
    ((0, 0), (5, 8)),
    ((0, 8), (5, 0)),
)
TRUE = np.array([SIDE * math.hypot(a[0] - b[0], a[1] - b[1]) for a, b in ENDS])


Boards = list[tuple[np.ndarray, np.ndarray]]  # grey picture and (6, 9, 2) corners of every photograph


@pytest.fixture(scope="module")
def published() -> dict[str, float]:
    store = cv2.FileStorage(str(FOLDER / "left_intrinsics.yml"), cv2.FILE_STORAGE_READ)
    matrix, lens = store.getNode("camera_matrix").mat(), store.getNode("distortion_coefficients").mat()
    return {"focal_px": float(matrix[0, 0]), "k1": float(lens.ravel()[0])}


@pytest.fixture(scope="module")
def boards() -> Boards:
    """Grey picture and (6, 9, 2) corners of every photograph."""
    found = []
    for path in sorted(FOLDER.glob("left*.jpg")):
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        assert grey is not None
        seen, corners = cv2.findChessboardCorners(grey, (COLUMNS, ROWS))
        assert seen
        enough = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 50, 1e-4)
        corners = cv2.cornerSubPix(grey, corners, (5, 5), (-1, -1), enough)
        found.append((np.asarray(grey), corners.reshape(ROWS, COLUMNS, 2).astype(float)))
    assert len(found) == 13
    return found


def chess_square(corners: np.ndarray, row: int, column: int) -> Square:
    ring = corners[[row, row, row + 1, row + 1], [column, column + 1, column + 1, column]]
    after = np.roll(ring, -1, axis=0)
    if np.sum(ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]) > 0:
        ring = ring[::-1]
    return Square(SquareKind.PLAIN, SIDE, SIDE, ring, np.full(4, CORNER_SD_PX))


def plane_from(grey: np.ndarray, corners: np.ndarray, squares: int, focal_px: float) -> Plane:
    focal_35mm = focal_px * math.hypot(24, 36) / math.hypot(*grey.shape)
    photo = Photo(Path("left.jpg"), np.repeat(grey[:, :, None], 3, axis=2), focal_35mm)
    solution = solve_plane(
        photo,
        [chess_square(corners, *at) for at in AT[:squares]],
        height=THICKNESS,
        height_sd=0.0,
        side_tolerance=0.05,
        use_floor_lines=False,
        lens_sd=0.25,
        focal_sd=0.005,
    )
    return replace(solution.plane, point_height_sd=0.0, click_sd_px=CORNER_SD_PX)


def errors_percent(boards: Boards, squares: int, focal_px: float) -> tuple[np.ndarray, np.ndarray]:
    """Errors and plus-minus of the board's sides and diagonals over all photographs, percent."""
    errors, reaches = [], []
    for grey, corners in boards:
        plane = plane_from(grey, corners, squares, focal_px)
        a, b = (np.array([corners[end[k]] for end in ENDS]) for k in (0, 1))
        lengths, reach = plane.lengths(a, b)
        errors.append(100.0 * (lengths / TRUE - 1.0))
        reaches.append(100.0 * reach / TRUE)
    return np.concatenate(errors), np.concatenate(reaches)


def homography_errors_percent(boards: Boards) -> np.ndarray:
    """What the easy way gives: the four-point homography of one chess square, nothing else."""
    errors = []
    flat = np.array([[0, 0], [SIDE, 0], [SIDE, SIDE], [0, SIDE]], dtype=np.float32)
    for _, corners in boards:
        matrix = cv2.getPerspectiveTransform(
            chess_square(corners, *AT[0]).corners_px.astype(np.float32), flat
        )
        mm = cv2.perspectiveTransform(corners.reshape(-1, 1, 2), matrix).reshape(ROWS, COLUMNS, 2)
        errors += [
            100.0 * (np.hypot(*(mm[a] - mm[b])) / true - 1.0) for (a, b), true in zip(ENDS, TRUE, strict=True)
        ]
    return np.array(errors)


def test_the_error_falls_with_every_square(boards: Boards, published: dict[str, float]) -> None:
    easy = np.median(np.abs(homography_errors_percent(boards)))
    medians, highs = [], []
    for squares in (1, 2, 4):
        errors, reaches = errors_percent(boards, squares, published["focal_px"])
        medians.append(float(np.median(np.abs(errors))))
        highs.append(float(np.percentile(np.abs(errors), 95)))
        inside = float(np.mean(np.abs(errors) < reaches))
        print(
            f"{squares} squares: median {medians[-1]:.2f} %, 95th {highs[-1]:.2f} %, inside {100 * inside:.0f} %"
        )
        assert inside >= 0.85
    assert medians[0] < easy / 3  # the table of the four-point homography against a pose: 9 to 10 times
    assert medians[1] < medians[0] / 2
    assert medians[2] < medians[1]
    assert highs[1] < highs[0] / 3
    assert medians[2] < 0.3
    assert highs[2] < 0.8


def test_four_squares_find_the_published_lens(boards: Boards, published: dict[str, float]) -> None:
    found = [plane_from(grey, corners, 4, published["focal_px"]).camera.k1 for grey, corners in boards]
    assert float(np.median(found)) == pytest.approx(published["k1"], abs=0.03)

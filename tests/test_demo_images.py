"""The demo photographs and their truth files agree with each other and with themselves."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps
from shapely.geometry import LineString, Polygon, shape
from shapely.ops import unary_union

FOLDER = Path(__file__).resolve().parents[1] / "demo_images"
NAMES = sorted(p.name.removesuffix(".truth.json") for p in FOLDER.glob("*.truth.json"))
FOCAL_35MM, EXIF_IFD = 0xA405, 0x8769


def truth_of(name: str) -> dict[str, Any]:
    return json.loads((FOLDER / f"{name}.truth.json").read_text())


def seen_by(camera: dict[str, Any], points: np.ndarray) -> np.ndarray:
    """The truth file's camera through OpenCV's projectPoints, an implementation that isn't ours."""
    matrix = np.array(
        [[camera["f_px"], 0, camera["centre_px"][0]], [0, camera["f_px"], camera["centre_px"][1]], [0, 0, 1]]
    )
    turn, _ = cv2.Rodrigues(np.array(camera["rotation"]))
    shift = np.array(camera["translation"])
    px, _ = cv2.projectPoints(points, turn, shift, matrix, np.array([camera["k1"], 0, 0, 0]))
    return px[:, 0]


def test_there_are_enough_of_them_and_the_folder_is_small() -> None:
    assert len(NAMES) >= 6
    assert {p.name for p in FOLDER.glob("*.jpg")} == {f"{n}.jpg" for n in NAMES}
    assert sum(p.stat().st_size for p in FOLDER.iterdir()) < 25e6
    sizes = [np.prod(truth_of(n)["camera"]["size_px"]) for n in NAMES]
    assert max(sizes) >= 12_000_000
    assert min(sizes) >= 2400 * 1800
    assert {len(truth_of(n)["squares"]) for n in NAMES} >= {1, 2, 4}
    assert {truth_of(n)["floor"] for n in NAMES} >= {"wood", "tiles", "carpet"}


@pytest.mark.parametrize("name", NAMES)
def test_file_and_truth_name_the_same_picture(name: str) -> None:
    known = truth_of(name)
    with Image.open(FOLDER / known["photo"]) as stored:
        exif = stored.getexif()
        assert exif.get(0x0112, 1) == known["exif"]["orientation"]
        assert exif.get_ifd(EXIF_IFD).get(FOCAL_35MM) == known["exif"]["focal_35mm"]
        width, height = stored.size
    if known["exif"]["orientation"] == 6:
        width, height = height, width
    assert [width, height] == known["camera"]["size_px"]
    if (told := known["exif"]["focal_35mm"]) is not None:
        assert known["camera"]["focal_35mm"] == pytest.approx(told, rel=0.02)


@pytest.mark.parametrize("name", NAMES)
def test_squares_are_square_and_fall_where_the_camera_puts_them(name: str) -> None:
    known = truth_of(name)
    for square in known["squares"]:
        corners = np.array(square["corners"])
        sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        assert sides == pytest.approx([square["side"]] * 4, abs=0.01)
        assert Polygon(corners[:, :2]).exterior.is_ccw
        np.testing.assert_allclose(seen_by(known["camera"], corners), square["corners_px"], atol=0.01)


@pytest.mark.parametrize("name", NAMES)
def test_pixels_and_millimetres_tell_of_one_outline(name: str) -> None:
    """Seen from the camera, the outline at its edge's height covers the outline in pixels."""
    known = truth_of(name)
    in_mm, in_px = (unary_union(shape(known["outline"][k])) for k in ("mm", "px"))
    ring = np.array(in_mm.exterior.coords)
    again = Polygon(seen_by(known["camera"], np.c_[ring, np.full(len(ring), known["edge_height"])])).buffer(0)
    assert again.intersection(in_px).area / again.union(in_px).area > 0.995


@pytest.mark.parametrize("name", NAMES)
def test_usable_cloth_lies_in_its_piece_and_clear_of_what_is_blocked(name: str) -> None:
    known = truth_of(name)
    away = [shape(b["shape"]["mm"]).buffer(b["margin"] - 0.1) for b in known["blocked"]]
    total: dict[str, float] = {}
    for piece in known["pieces"]:
        usable = shape(piece["usable"]["mm"])
        assert usable.difference(shape(piece["outline"]["mm"]).buffer(0.05)).area < 1.0
        assert usable.area == pytest.approx(piece["usable_area_mm2"], rel=1e-3, abs=5.0)
        assert usable.intersection(unary_union(away)).area < 5.0
        total[piece["fabric"]] = total.get(piece["fabric"], 0.0) + piece["usable_area_mm2"]
    assert total == pytest.approx(known["usable_area_mm2"], abs=1.0)
    whole = unary_union(shape(known["outline"]["mm"])).area
    assert sum(shape(p["outline"]["mm"]).area for p in known["pieces"]) == pytest.approx(whole, rel=0.002)


@pytest.mark.parametrize("name", NAMES)
def test_marked_distances_are_what_the_camera_sees_of_the_cloth(name: str) -> None:
    """From pixels back to the floor: as far apart as written, but for the folds' height (under 25 mm)."""
    known = truth_of(name)
    camera = known["camera"]
    matrix = np.array(
        [[camera["f_px"], 0, camera["centre_px"][0]], [0, camera["f_px"], camera["centre_px"][1]], [0, 0, 1]]
    )
    assert known["distances"]
    for pair in known["distances"]:
        px = np.array([pair["from_px"], pair["to_px"]])
        ideal = cv2.undistortPoints(px[:, None], matrix, np.array([camera["k1"], 0, 0, 0]))[:, 0]
        rays = np.c_[ideal, [1, 1]] @ np.array(camera["rotation"])
        eye = np.array(camera["position"])
        low, high = (
            np.linalg.norm(np.subtract(*(eye + rays * ((z - eye[2]) / rays[:, 2])[:, None])[:, :2]))
            for z in (25.0, 0.0)
        )
        assert low - 20 < pair["length"] < high + 20
        assert pair["length"] == pytest.approx((low + high) / 2, rel=0.02, abs=6)


@pytest.mark.parametrize("name", [n for n in NAMES if not truth_of(n)["expect"]])
def test_printed_tags_are_read_where_the_truth_says(name: str) -> None:
    """OpenCV's own marker reader on the saved JPEG: numbers and corners, within a pixel."""
    known = truth_of(name)
    printed = {s["tag"]: np.array(s["corners_px"]) for s in known["squares"] if s["kind"] == "printed"}
    if not printed:
        pytest.skip("no printed square in this photograph")
    picture = np.asarray(ImageOps.exif_transpose(Image.open(FOLDER / known["photo"])).convert("L"))
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX  # else corners are whole pixels of a contour
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    reader = cv2.aruco.ArucoDetector(family, how)
    corners, numbers, _ = reader.detectMarkers(picture)
    found = {int(n): c[0] for n, c in zip(numbers.ravel(), corners, strict=True)}
    assert set(printed) <= set(found)
    for number, expected in printed.items():
        away = np.linalg.norm(expected[:, None] - found[number][None], axis=2).min(axis=1)
        assert away.max() < 1.0


@pytest.mark.parametrize("name", NAMES)
def test_the_cloth_is_another_colour_inside_its_outline_than_outside(name: str) -> None:
    """Walking across the outline in the picture, colour changes there and not 14 px further in or out."""
    known = truth_of(name)
    if "blurred" in known["expect"]:
        pytest.skip("nothing has an edge in this photograph")
    with Image.open(FOLDER / known["photo"]) as stored:
        picture = np.asarray(ImageOps.exif_transpose(stored).convert("RGB")).astype(float)
    picture = cv2.blur(picture, (7, 7))  # a carpet's loops differ as much as cloth and floor do
    ring = LineString(unary_union(shape(known["outline"]["px"])).exterior.coords)
    steps = []
    for offset in (-14, 0, 14):
        jumps = []
        for s in np.arange(5, ring.length - 5, 25):
            at, ahead = (np.array(ring.interpolate(t).coords[0]) for t in (s, s + 1))
            out = np.array([ahead[1] - at[1], at[0] - ahead[0]])
            ends = [at + out * (offset + d) for d in (-5, 5)]
            if all(0 <= e[0] < picture.shape[1] - 1 and 0 <= e[1] < picture.shape[0] - 1 for e in ends):
                a, b = (picture[round(e[1]), round(e[0])] for e in ends)
                jumps.append(np.abs(a - b).mean())
        steps.append(np.median(jumps))
    assert steps[1] > 1.5 * steps[0]
    assert steps[1] > 1.5 * steps[2]

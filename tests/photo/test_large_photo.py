"""A picture larger than is measured in is reduced, and every pixel told or shown is still one of the file's."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from drawn_photo import Camera, Scene, boards, rectangle
from PIL import Image

from salvage.errors import SalvageError
from salvage.job import Look, look, measure
from salvage.photo import read
from salvage.photo.read import read_photo, reduced_size
from salvage.report.drawing.ground import ground
from salvage.scale.known import KnownLength
from salvage.scale.plane import Plane
from salvage.telling import Telling

SIZE = (1600, 1200)
TOLD = Telling(side=150.0)


@pytest.fixture(scope="module")
def drawn() -> np.ndarray:
    scene = Scene.on(Camera(SIZE, 26.0, 1050.0, tilt=8.0, toward=70.0, turn=4.0), boards((0.35, 0.2, 0.1)))
    scene.lay(np.array([[-190, -260], [210, -250], [180, 270], [-170, 250]], float), (0.05, 0.08, 0.3))
    for x, y, turn in ((-430.0, 150.0, 20.0), (420.0, -200.0, 65.0)):
        scene.lay(rectangle(150.0, 150.0, (x, y), turn), (0.68, 0.68, 0.66))
    return scene.photograph().pixels


def small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read, "ENOUGH_PIXELS", 1_000_000)


@pytest.fixture(scope="module")
def whole(drawn: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> Look:
    path = tmp_path_factory.mktemp("whole") / "p.png"
    Image.fromarray(drawn).save(path)
    return look(read_photo(path), TOLD)


@pytest.mark.parametrize("turned", [1, 3, 6, 8])
@pytest.mark.parametrize("ending", ["jpg", "png", "tif"])
def test_pixels_are_the_files_own(
    drawn: np.ndarray, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, turned: int, ending: str
) -> None:
    """A dark dot is where it was drawn, whichever way the camera was held."""
    small(monkeypatch)
    marked = np.full_like(drawn, 240)
    marked[300:316, 1200:1216] = 10
    exif = Image.Exif()
    exif[0x0112] = turned
    stored = np.rot90(marked, {1: 0, 3: 2, 6: 1, 8: 3}[turned])
    path = tmp_path / f"p.{ending}"
    Image.fromarray(np.ascontiguousarray(stored)).save(path, exif=exif)
    photo = read_photo(path)
    assert photo.reduced_by > 1
    assert photo.pixels.shape[0] * photo.pixels.shape[1] <= 1_000_000
    assert photo.full_px == SIZE
    dark = 240.0 - photo.pixels[:, :, 1]
    dark[dark < 40] = 0
    row, column = (np.array([(dark * grid).sum() for grid in np.indices(dark.shape)]) / dark.sum()).tolist()
    assert photo.to_full((column, row)) == pytest.approx((1207.5, 307.5), abs=0.6)
    assert photo.from_full(photo.to_full((column, row))) == pytest.approx((column, row))


def test_a_reduced_picture_is_seen_as_the_whole_one(
    drawn: np.ndarray, whole: Look, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small(monkeypatch)
    path = tmp_path / "p.png"
    Image.fromarray(drawn).save(path)
    seen = look(read_photo(path), TOLD)
    assert seen.photo.width_px < SIZE[0]
    centres, before = (np.array([s.corners_px.mean(axis=0) for s in each.squares]) for each in (seen, whole))
    assert len(centres) == len(before) == 2
    assert np.abs(centres[np.argsort(centres[:, 0])] - before[np.argsort(before[:, 0])]).max() < 1.0
    assert seen.outline is not None
    assert whole.outline is not None
    one, two = seen.outline.shape_px, whole.outline.shape_px
    assert one.intersection(two).area > 0.985 * one.union(two).area
    ends = [(500.0, 300.0), (1100.0, 900.0)]
    assert seen.solution is not None
    assert whole.solution is not None
    lengths = [each.solution.plane.lengths(ends[:1], ends[1:])[0][0] for each in (seen, whole)]  # type: ignore[union-attr]
    assert lengths[0] == pytest.approx(lengths[1], rel=0.003)
    assert seen.solution.plane.size_px == SIZE
    again = Plane.from_record(*seen.solution.plane.to_record())
    assert again.to_px(again.to_mm(ends)) == pytest.approx(np.array(ends), abs=1e-4)
    pieces = [measure([each], TOLD, name="g").garment.pieces for each in (seen, whole)]
    areas = [sum(piece.outline.area for piece in each) for each in pieces]
    assert areas[0] == pytest.approx(areas[1], rel=0.02)


def test_hints_are_pixels_of_the_file(
    drawn: np.ndarray, whole: Look, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small(monkeypatch)
    path = tmp_path / "p.png"
    Image.fromarray(drawn).save(path)
    photo = read_photo(path)
    x, y = whole.squares[0].corners_px.mean(axis=0)
    pointed = look(photo, replace(TOLD, square_at=((float(x), float(y)),)), outline=False)
    assert len(pointed.squares) == 1
    assert pointed.squares[0].corners_px.mean(axis=0) == pytest.approx((x, y), abs=1.0)
    known = KnownLength((500.0, 300.0), (1100.0, 900.0), 3 * 60.0)
    told = look(photo, replace(TOLD, known=(known,)), outline=False)
    assert told.known == (known,)
    wrong = " ".join(problem.message for problem in told.problems)
    assert "from 500,300 to 1100,900" in wrong


def test_a_drawing_lays_pixels_of_the_file_onto_the_picture(
    drawn: np.ndarray, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small(monkeypatch)
    path = tmp_path / "p.png"
    Image.fromarray(drawn).save(path)
    photo = read_photo(path)
    for window in (None, (401, 203, 1201, 1003)):
        base = ground(photo, 400, window)
        points = np.array([[700.0, 500.0], [900.0, 800.0]])
        assert base.to_px(base.points(points)) == pytest.approx(points)
        there = base.points(points)[0]
        seen = base.pixels[int(base.height - there[1]), int(there[0])].astype(int)
        assert np.abs(seen - drawn[500, 700].astype(int)).max() < 40
    left = ground(photo, 400, (401, 203, 1201, 1003)).corner_px[0]
    assert 401 - photo.reduced_by <= left <= 401


@pytest.mark.parametrize("size", [(12000, 9000), (16320, 12240), (8064, 6048), (9248, 6944), (4032, 3024)])
def test_sides_keep_their_ratio(size: tuple[int, int]) -> None:
    width, height = reduced_size(size)
    assert width * height <= read.ENOUGH_PIXELS
    assert abs(size[1] * width / size[0] - height) < 0.05
    assert (width, height) == size or width * height > 0.9 * read.ENOUGH_PIXELS


def test_a_plane_in_finer_pixels_says_the_same(whole: Look) -> None:
    assert whole.solution is not None
    plane = whole.solution.plane
    finer = plane.scaled(3.0)
    points = np.array([[300.0, 200.0], [1200.0, 900.0]])
    assert finer.to_mm((points + 0.5) * 3.0 - 0.5) == pytest.approx(plane.to_mm(points), abs=1e-6)
    assert finer.tilt == plane.tilt
    assert finer.mm_per_px == pytest.approx(plane.mm_per_px / 3.0, rel=1e-4)
    assert finer.plus_minus_percent == pytest.approx(plane.plus_minus_percent, rel=0.1)
    back = finer.scaled(1.0 / 3.0)
    assert back.covariance == pytest.approx(plane.covariance)
    assert math.dist(back.to_mm(points)[0], plane.to_mm(points)[0]) < 1e-6


def test_what_is_too_large_for_its_format_is_refused_with_a_way_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read, "MOST_PIXELS_OF_OTHERS", 100_000)
    path = tmp_path / "p.png"
    Image.fromarray(np.random.default_rng(0).integers(0, 255, (400, 500, 3), dtype=np.uint8)).save(path)
    with pytest.raises(SalvageError, match="Save it as JPEG"):
        read_photo(path)

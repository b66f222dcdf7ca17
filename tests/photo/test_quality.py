"""Blur, shake and exposure of known amounts are named, and good photographs are left alone."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from drawn_photo import Camera, Scene, boards, checks, encode, rectangle

from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level
from salvage.photo.quality import inspect


@pytest.fixture(scope="module")
def light() -> np.ndarray:
    """A checked shirt and a card on boards, in linear light, sharp."""
    scene = Scene.on(Camera((1200, 900), height=1200.0, tilt=8.0), boards((0.35, 0.2, 0.1)))
    scene.lay(rectangle(450, 600, (80, 0), 10), checks(((0.5, 0.1, 0.08), (0.6, 0.6, 0.55)), step=25))
    scene.lay(rectangle(150, 150, (-380, 100), 30), (0.65, 0.65, 0.62))
    return scene.light


def taken(light: np.ndarray, *, blur_px: float = 0.6, shake_px: float = 0.0, exposure: float = 1.0) -> Photo:
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    if shake_px:
        kernel = np.zeros((41, 41), np.float32)
        end = (round(20 + shake_px / 2 * 0.8), round(20 + shake_px / 2 * 0.6))
        cv2.line(kernel, (40 - end[0], 40 - end[1]), end, 1.0)
        light = cv2.filter2D(light, -1, kernel / kernel.sum())
    rng = np.random.default_rng(1)
    light = light * exposure + 0.006 * rng.standard_normal(light.shape, np.float32) * np.sqrt(light + 0.02)
    return Photo(Path("p.jpg"), np.rint(encode(light) * 255).astype(np.uint8))


def codes(photo: Photo) -> set[Code]:
    return {problem.code for problem in inspect(photo)}


@pytest.mark.parametrize("blur_px", [0.4, 0.75, 1.1])
def test_a_sharp_photograph_has_no_problem(light: np.ndarray, blur_px: float) -> None:
    assert codes(taken(light, blur_px=blur_px)) == set()


@pytest.mark.parametrize("blur_px", [2.5, 4.0])
def test_blur_is_named(light: np.ndarray, blur_px: float) -> None:
    assert Code.BLURRED in codes(taken(light, blur_px=blur_px))


@pytest.mark.parametrize("shake_px", [16.0, 24.0])
def test_shake_in_one_direction_is_named(light: np.ndarray, shake_px: float) -> None:
    assert Code.BLURRED in codes(taken(light, shake_px=shake_px))


def test_strong_blur_is_an_error_and_mild_blur_a_warning(light: np.ndarray) -> None:
    levels = {
        blur_px: [p.level for p in inspect(taken(light, blur_px=blur_px)) if p.code is Code.BLURRED]
        for blur_px in (2.2, 5.0)
    }
    assert levels == {2.2: [Level.WARNING], 5.0: [Level.ERROR]}


@pytest.mark.parametrize("exposure", [3.0, 5.0])
def test_too_much_light_is_named(light: np.ndarray, exposure: float) -> None:
    assert Code.BURNT_OUT in codes(taken(light, exposure=exposure))


def test_a_burnt_out_card_alone_is_no_reason_to_complain(light: np.ndarray) -> None:
    bright = light.copy()
    bright[400:530, 200:330] = 1.5  # 1.6 % of the picture
    assert codes(taken(bright)) == set()


def test_too_little_light_is_named(light: np.ndarray) -> None:
    assert Code.TOO_DARK in codes(taken(light, exposure=0.03))


def test_a_strong_colour_is_not_burnt_out() -> None:
    scene = Scene.on(Camera((900, 700)), boards((0.35, 0.2, 0.1)))
    scene.lay(rectangle(700, 600, (0, 0)), (1.3, 0.05, 0.03))
    assert Code.BURNT_OUT not in codes(scene.photograph())


def test_an_even_picture_has_low_contrast() -> None:
    grey = np.full((600, 800, 3), 130, np.uint8)
    assert Code.LOW_CONTRAST in codes(Photo(Path("p.jpg"), grey))


def test_a_large_photograph_is_judged_like_a_small_one(light: np.ndarray) -> None:
    # 1.5 px of blur at 4800 px is 0.75 px at 2400 px, where pictures are judged.
    large = cv2.resize(light, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
    assert codes(taken(large, blur_px=1.5)) == set()


def test_rendered_photographs_meant_to_be_refused_are_named_and_no_other(shared: Path) -> None:
    import json

    from salvage.photo.read import read_photo

    wanted = {"blurred": Code.BLURRED, "over-exposed": Code.BURNT_OUT}
    folders = sorted((shared / "photos" / "rendered").glob("[0-9]*"))
    assert folders
    for folder in folders:
        faults = json.loads((folder / "truth.json").read_text())["must_warn"]
        found = codes(read_photo(folder / "photo.jpg"))
        assert found == {wanted[fault] for fault in faults if fault in wanted}, folder.name

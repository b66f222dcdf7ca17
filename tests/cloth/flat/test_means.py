"""Means on a coarse grid are those of OpenCV's blur there."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from salvage.cloth.flat.means import means_at


@pytest.mark.parametrize(("size", "sigma_px"), [((90, 61), 6.0), ((33, 40), 10.0), ((70, 70), 2.5)])
def test_same_as_blurring_all_of_it(size: tuple[int, int], sigma_px: float) -> None:
    picture = np.random.default_rng(3).uniform(0, 100, (*size, 3)).astype(np.float32)
    whole = cv2.GaussianBlur(picture, (0, 0), sigma_px)[4::8, 4::8]
    assert np.allclose(means_at(picture, sigma_px, 8), whole, atol=1e-3)
    assert np.allclose(means_at(picture[..., 1], sigma_px, 8)[..., 0], whole[..., 1], atol=1e-3)

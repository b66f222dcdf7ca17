"""The curve of IEC 61966-2-1 against scikit-image's own, and there and back again."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.color import rgb2xyz

from salvage.photo.srgb import encoded, linear, linear_of_bytes


def test_grey_bytes_are_as_much_light_as_scikit_image_says() -> None:
    grey = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, 1)
    luminance = rgb2xyz(grey[None])[0, :, 1]  # of grey, the linear value itself, white being 1
    assert linear_of_bytes(grey)[:, 0] == pytest.approx(luminance, abs=2e-6)


def test_encoding_undoes_it() -> None:
    light = np.linspace(0, 1, 501)
    assert linear(encoded(light)) == pytest.approx(
        light, abs=1e-6
    )  # the standard's two pieces meet only so well

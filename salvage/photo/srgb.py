"""The curve between the numbers of a photograph and the amount of light they stand for.

Source: IEC 61966-2-1:1999 (sRGB), section 5.2.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def linear(encoded: NDArray[Any]) -> NDArray[Any]:
    """Encoded values, 0 to 1, as amounts of light, 0 to 1; less than 0 is taken for 0 on the curved part."""
    curved = ((np.maximum(encoded, 0) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, encoded / 12.92, curved)


def encoded(light: NDArray[Any]) -> NDArray[Any]:
    """Amounts of light as encoded values: what `linear` undoes. No light is less than none on the curved part."""
    curved = 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, curved)


LINEAR_OF_BYTE = linear(np.arange(256) / 255.0).astype(np.float32)


def linear_of_bytes(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """sRGB bytes of any shape as amounts of light, 0 to 1."""
    return np.asarray(LINEAR_OF_BYTE[pixels], np.float32)

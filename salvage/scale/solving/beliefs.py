"""What is believed about a camera before the picture is looked at: focal length, lens, principal point."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from salvage.photo.photo import DIAGONAL_35MM
from salvage.scale.solving.camera import CENTRE_X, CENTRE_Y, K1, K2, LN_FOCAL, NORMAL_X, NORMAL_Y
from salvage.scale.solving.leftover import LOCAL_SCALE_SD, NONE, Leftover

Floats = NDArray[np.float64]

# 35 mm equivalents are written in whole mm (1.1 % at 26 mm), and focusing near changes them a little more.
FOCAL_SD_EXIF = 0.015
# Main cameras of telephones: 23 to 30 mm, older ones and tablets to 33; common practice.
PHONE_35MM = 26.0
FOCAL_SD_PHONE = 0.12
FOCAL_SD_CROPPED = 0.5  # a crop of unknown size
CENTRE_SD = 0.006  # of the diagonal; a stabilised lens moves by up to 1 %
CENTRE_SD_CROPPED = 0.15
# Telephones straighten their pictures before they write them, but not wholly.
LENS_SD = 0.045
LENS_SD_K2 = 0.01
# Nobody holds a telephone over the floor at a steep slant without meaning to; wide, so that squares rule.
TILT_SD = 0.35


@dataclass(frozen=True, slots=True)
class Beliefs:
    """Normal beliefs: a middle and a standard deviation each; pixels for focal length and centre.

    focal_sd is relative (of the logarithm). leftover: what the lens does beyond these numbers.
    """

    focal_px: float
    focal_sd: float
    centre_px: tuple[float, float]
    centre_sd_px: float
    lens_sd: float = LENS_SD
    lens_sd_k2: float = LENS_SD_K2
    tilt_sd: float = TILT_SD
    leftover: Leftover = NONE

    @property
    def start(self) -> Floats:
        """(0,): no unknowns beyond the camera's."""
        return np.zeros(0)

    def residuals(self, camera: Floats, own: Floats) -> Floats:
        """How far a camera vector is from what is believed, in standard deviations: (7,)."""
        del own
        return np.array(
            [
                (camera[LN_FOCAL] - math.log(self.focal_px)) / self.focal_sd,
                (camera[CENTRE_X] - self.centre_px[0]) / self.centre_sd_px,
                (camera[CENTRE_Y] - self.centre_px[1]) / self.centre_sd_px,
                camera[K1] / self.lens_sd,
                camera[K2] / self.lens_sd_k2,
                camera[NORMAL_X] / self.tilt_sd,
                camera[NORMAL_Y] / self.tilt_sd,
            ]
        )

    def jacobian(self, camera: Floats, own: Floats) -> Floats:
        """(7, 8)."""
        del camera, own
        answer = np.zeros((7, 8))
        rows = (LN_FOCAL, CENTRE_X, CENTRE_Y, K1, K2, NORMAL_X, NORMAL_Y)
        spread = (
            self.focal_sd,
            self.centre_sd_px,
            self.centre_sd_px,
            self.lens_sd,
            self.lens_sd_k2,
            self.tilt_sd,
        )
        answer[np.arange(7), rows] = 1.0 / np.array([*spread, self.tilt_sd])
        return answer


def beliefs_of(
    size_px: tuple[int, int],
    focal_35mm: float | None,
    *,
    cropped: bool = False,
    lens_sd: float | None = None,
    focal_sd: float | None = None,
    local_scale_sd: float | None = None,
) -> Beliefs:
    """Beliefs for a picture of (width, height) px whose EXIF says focal_35mm (None: it says nothing)."""
    width, height = size_px
    diagonal_px = math.hypot(width, height)
    known = focal_35mm is not None and math.isfinite(focal_35mm) and focal_35mm > 0
    focal = (focal_35mm if known and focal_35mm is not None else PHONE_35MM) * diagonal_px / DIAGONAL_35MM
    spread = FOCAL_SD_EXIF if known else FOCAL_SD_PHONE
    if cropped:
        spread = FOCAL_SD_CROPPED
    lens = LENS_SD if lens_sd is None else lens_sd
    return Beliefs(
        focal_px=focal,
        focal_sd=spread if focal_sd is None else focal_sd,
        centre_px=((width - 1) / 2, (height - 1) / 2),
        centre_sd_px=(CENTRE_SD_CROPPED if cropped else CENTRE_SD) * diagonal_px,
        lens_sd=lens,
        lens_sd_k2=LENS_SD_K2 * lens / LENS_SD,
        leftover=Leftover.of(size_px, LOCAL_SCALE_SD if local_scale_sd is None else local_scale_sd),
    )

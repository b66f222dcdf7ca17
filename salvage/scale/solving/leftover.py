"""What is left of a lens after the telephone has straightened its picture: no camera's eight numbers say it.

Telephones straighten by tables and meshes, tied to the frame's corners and moved against shaking. What stays
is a small shift of every place of the picture that runs in waves (barrel here, pincushion there), so a scale
that is right on average is a little wrong at each place. It is taken as a random field: both coordinates of
the shift are normal, independent of each other, with covariance sd^2 exp(-d^2 / (2 reach^2)) between places d
apart. The local scale is the field's slope, whose standard deviation is then sd / reach.

That such residuals are smooth, differ from place to place and are missed by every model with a dozen
numbers: Schoeps, Larsson, Pollefeys, Sattler, "Why having 10,000 parameters in your camera model is better
than twelve", CVPR 2020. That small lenses, corrected where the picture ends, keep waves between barrel and
pincushion (wave distortion) is why ISO 17850:2015 measures local distortion all over the picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Straightened pictures are off by up to 1 % of local scale (common practice of those who judge telephones), which
# is taken as three standard deviations.
LOCAL_SCALE_SD = 0.0033
# Of the diagonal. With one whole wave from the picture's middle to its corner, the slopes at two places are
# unlike (correlation 0) a quarter of a wave apart, an eighth of the diagonal; in this field that is one reach.
# Common practice, from memory: lenses of few elements keep about one wave. What is measured hardly depends on
# it: half or twice either number moves the errors of lengths by a tenth of a percent.
REACH = 0.125


@dataclass(frozen=True, slots=True)
class Leftover:
    """sd_px: standard deviation of the shift in each direction. reach_px: how far one shift goes on."""

    sd_px: float
    reach_px: float

    @classmethod
    def of(cls, size_px: tuple[int, int], local_scale_sd: float = LOCAL_SCALE_SD) -> Leftover:
        """Of a telephone's picture of (width, height) px."""
        reach_px = REACH * math.hypot(*size_px)
        return cls(local_scale_sd * reach_px, reach_px)

    def likeness(self, a_px: Floats, b_px: Floats) -> Floats:
        """Correlation of the shifts at places (..., 2) and (..., 2), broadcast: 1 at one place, 0 far apart."""
        apart = a_px - b_px
        return np.asarray(np.exp(-0.5 * np.sum(apart * apart, axis=-1) / self.reach_px**2))

    def covariance(self, points_px: Floats, across: Floats) -> Floats:
        """(n, n), px^2: of the shifts of n places, each along its own unit direction; both (n, 2)."""
        alike = self.likeness(points_px[:, None], points_px[None])
        return self.sd_px**2 * alike * (across @ across.T)

    def waves(self, along_px: Floats) -> Floats:
        """(n, k), px: how a line of n places may be bent, in k ways that are independent, each of size 1.

        along_px: (n,) where on the line they are. The Fourier series of the covariance over the line and as much
        beyond as the field reaches, so that its ends don't know of each other.
        """
        if self.sd_px == 0.0:
            return np.zeros((len(along_px), 0))
        turn = 2.0 * math.pi / (float(np.ptp(along_px)) + 4.0 * self.reach_px)
        k = np.arange(math.ceil(3.0 / (turn * self.reach_px)) + 1)
        weight = np.exp(-0.5 * (k * turn * self.reach_px) ** 2)
        weight[1:] *= 2.0
        size = self.sd_px * np.sqrt(weight / weight.sum())
        angle = turn * along_px[:, None] * k
        return np.concatenate([size * np.cos(angle), size[1:] * np.sin(angle[:, 1:])], axis=1)

    def alike_among(self, middles_px: Floats) -> Floats:
        """(n,) for each of n parallel lines with these middles, (n, 2): so many count as one, being bent alike.

        Lines that are taken to be independent must be believed so much less.
        """
        return np.asarray(self.likeness(middles_px[:, None], middles_px[None]).sum(axis=1))

    def of_a_mean(self, length_px: Floats) -> Floats:
        """(n,) standard deviation, px, of the mean shift over lines of such lengths."""
        whole = math.sqrt(2.0 * math.pi) * self.reach_px
        return np.asarray(self.sd_px * np.sqrt(whole / (whole + length_px)))


NONE = Leftover(0.0, 1.0)  # a lens that the camera's numbers say wholly: drawn and rendered pictures

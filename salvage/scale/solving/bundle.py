"""Least squares of everything seen in one photograph: one camera, and several blocks of observations.

A block brings its own few unknowns (where a square lies, how a family of floor lines runs) and its
residuals, each divided by its standard deviation. Because a block depends on the camera and on its own
unknowns only, the Jacobian is filled block by block with finite differences, which is fast enough.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from salvage.scale.plane import DIFFERENCE_STEPS
from salvage.scale.solving.camera import NAMES
from salvage.scale.solving.least import Least, least_squares

Floats = NDArray[np.float64]

_CAMERA = len(NAMES)
_BEHIND = 1e3  # residual, standard deviations, for what this camera could not see at all


class Block(Protocol):
    """Observations that depend on the camera and on `start.size` unknowns of their own."""

    @property
    def start(self) -> Floats:
        """First guess of the block's unknowns."""

    def residuals(self, camera: Floats, own: Floats) -> Floats:
        """(n,) whitened residuals for the (8,) camera vector and the block's own unknowns."""

    def jacobian(self, camera: Floats, own: Floats) -> Floats:
        """(residuals, 8 + own)."""


class ManyAtOnce(Protocol):
    """A block whose residuals are worked out for many cameras at once."""

    def residuals(self, camera: Floats, own: Floats) -> Floats:
        """(..., n), for (..., 8) cameras and as many times the block's own unknowns."""


def differences(block: ManyAtOnce, camera: Floats, own: Floats, moves: Floats) -> Floats:
    """(residuals, 8 + k): of a block, by forward differences: by the camera, and by its own unknowns along each of k
    moves of them, (k, own)."""
    steps = np.concatenate([DIFFERENCE_STEPS, np.abs(moves).max(axis=1)])
    cameras = np.tile(camera, (1 + len(steps), 1))
    cameras[np.arange(1, 1 + _CAMERA), np.arange(_CAMERA)] += DIFFERENCE_STEPS
    owns = np.tile(own, (1 + len(steps), 1))
    owns[1 + _CAMERA :] += moves
    here, *moved = block.residuals(cameras, owns)
    return np.asarray((np.array(moved) - here).T / steps)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What the least squares found.

    camera: (8,) vector, order of camera.NAMES. covariance: (8, 8) of it, everything else marginalised.
    own: the unknowns of every block. residuals: of every block, in standard deviations.
    cost: half the robust sum of squares.
    """

    camera: Floats
    covariance: Floats
    own: tuple[Floats, ...]
    residuals: tuple[Floats, ...]
    cost: float


def solve(
    camera: Floats,
    blocks: Sequence[Block],
    *,
    own: Sequence[Floats] = (),
    outlier_sd: float = 3.0,
    rough: bool = False,
) -> Fit:
    """Fit camera and blocks together; residuals beyond `outlier_sd` count less than squared (soft L1).

    camera: (8,) first guess. own: first guesses of the unknowns of the first blocks, instead of their own.
    rough: stop early, where another fit follows.
    Raises ValueError if the residuals of the first guess are not numbers.
    """
    sizes = [block.start.size for block in blocks]
    ends = np.cumsum([_CAMERA, *sizes])

    def split(x: Floats) -> list[Floats]:
        return [x[a:b] for a, b in itertools.pairwise(ends)]

    def residuals(x: Floats) -> Floats:
        seen = x[:_CAMERA]
        return np.concatenate(
            [_known(b.residuals(seen, u), _BEHIND) for b, u in zip(blocks, split(x), strict=True)]
        )

    def jacobian(x: Floats) -> Floats:
        parts = []
        for block, unknowns, begin in zip(blocks, split(x), ends[:-1], strict=True):
            part = _known(block.jacobian(x[:_CAMERA], unknowns), 0.0)
            rows = np.zeros((len(part), x.size))
            rows[:, :_CAMERA] = part[:, :_CAMERA]
            rows[:, begin : begin + unknowns.size] = part[:, _CAMERA:]
            parts.append(rows)
        return np.concatenate(parts)

    def improved(x: Floats, outlier: float | None) -> Least:
        rule = 1e-5 if outlier is not None and not rough else 3e-4
        return least_squares(residuals, jacobian, x, outlier=outlier, cost_rule=rule)

    start = np.concatenate([camera, *own, *(b.start for b in blocks[len(own) :])])
    if not own:  # far from the answer all residuals are large, and a robust loss sees no slope
        start = improved(start, None).x
    answer = improved(start, outlier_sd)
    information = jacobian(answer.x)
    normal = information.T @ information
    # scale to unit diagonal: pixels, radians and millimetres differ by many orders of magnitude
    scale = 1.0 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    inverse = np.linalg.pinv(normal * np.outer(scale, scale), rcond=1e-13, hermitian=True) * np.outer(
        scale, scale
    )
    unknowns = tuple(split(answer.x))
    seen = answer.x[:_CAMERA]
    return Fit(
        camera=seen,
        covariance=inverse[:_CAMERA, :_CAMERA],
        own=unknowns,
        residuals=tuple(_known(b.residuals(seen, u), _BEHIND) for b, u in zip(blocks, unknowns, strict=True)),
        cost=answer.cost,
    )


def _known(values: Floats, instead: float) -> Floats:
    return (
        values
        if np.all(np.isfinite(values))
        else np.nan_to_num(values, nan=instead, posinf=instead, neginf=-instead)
    )

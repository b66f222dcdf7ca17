"""Nonlinear least squares: Levenberg and Marquardt's method, with a loss under which outliers count less.

For a few dozen unknowns and some hundreds of residuals. SciPy's would do as well, but takes a quarter of a second
to load, as long as the whole fit takes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_START, _MOST, _FAINTEST = 1e-3, 1e12, 1e-15  # how strongly steps are held back
_LEAST_CURVE = 1e-12  # of a residual's weight, where the loss bends over


@dataclass(frozen=True, slots=True, eq=False)
class Least:
    """The unknowns found, and half the sum of squares there (of the loss, where there is one)."""

    x: Floats
    cost: float


def least_squares(
    residuals: Callable[[Floats], Floats],
    jacobian: Callable[[Floats], Floats],
    x: Floats,
    *,
    outlier: float | None = None,
    cost_rule: float = 1e-5,
    step_rule: float = 1e-9,
    slope_rule: float = 1e-7,
    most: int = 60,
) -> Least:
    """The x that makes the sum of squares least, from a first guess.

    residuals: (n,) of x; jacobian: (n, len(x)). outlier: size from which a residual r counts less than squared, as
    2 outlier^2 (sqrt(1 + (r / outlier)^2) - 1); None for plain squares. cost_rule, step_rule: relative changes at
    which to end. slope_rule: largest slope of the cost that counts as none. most: times that residuals are asked for.
    Raises ValueError if the residuals of the first guess are not numbers.

    Source: Marquardt, Journal of the Society for Industrial and Applied Mathematics 11 (1963), scaled as in More, "The
    Levenberg-Marquardt algorithm" (1978); how steps are held back: Nielsen, "Damping parameter in Marquardt's
    method" (1999); the loss: Triggs et al., "Bundle adjustment - a modern synthesis" (2000), section 4.3.
    """
    here = residuals(x)
    if not np.all(np.isfinite(here)):
        raise ValueError("the residuals of the first guess are not numbers")
    cost = _cost(here, outlier)
    scale = np.zeros(len(x))
    held, factor, asked = _START, 2.0, 1
    while asked < most:
        slopes, weighed = _weighed(jacobian(x), here, outlier)
        down = -(slopes.T @ weighed)
        if float(np.abs(down).max(initial=0.0)) < slope_rule:
            break
        scale = np.maximum(scale, np.sqrt(np.sum(slopes**2, axis=0)))
        units = np.where(scale > 0, scale, 1.0)
        # In units of each unknown's own weight: pixels, radians and millimetres differ by many orders of magnitude.
        _, size, rows = np.linalg.svd(slopes / units, full_matrices=False)
        turn = rows.T
        lean = turn.T @ (down / units)
        ended = False
        while asked < most:
            step = (turn @ (lean / (size**2 + held))) / units
            there = residuals(x + step)
            asked += 1
            new = _cost(there, outlier) if np.all(np.isfinite(there)) else np.inf
            foreseen = 0.5 * float(step @ (held * units**2 * step + down))
            gained = cost - new
            ratio = gained / foreseen if foreseen > 0 else 0.0
            small = float(np.linalg.norm(step)) < step_rule * (step_rule + float(np.linalg.norm(x)))
            ended = small or (gained < cost_rule * cost and ratio > 0.25)
            if gained > 0:
                x, here, cost = x + step, there, new
                held = max(held * max(1.0 / 3.0, 1.0 - (2.0 * ratio - 1.0) ** 3), _FAINTEST)
                factor = 2.0
                break
            held, factor = min(held * factor, _MOST), 2.0 * factor
            if ended or held >= _MOST:
                ended = True
                break
        if ended:
            break
    return Least(x, cost)


def _cost(residuals: Floats, outlier: float | None) -> float:
    squares = residuals**2
    if outlier is None:
        return 0.5 * float(squares.sum())
    return float(outlier**2 * (np.sqrt(1.0 + squares / outlier**2) - 1.0).sum())


def _weighed(slopes: Floats, residuals: Floats, outlier: float | None) -> tuple[Floats, Floats]:
    """Slopes and residuals whose plain squares have the slope, and nearly the curve, of the loss."""
    if outlier is None:
        return slopes, residuals
    root = np.sqrt(1.0 + (residuals / outlier) ** 2)
    bent = np.sqrt(np.maximum(1.0 / root**3, _LEAST_CURVE))  # of the loss by the residual, twice: root^-3
    return slopes * bent[:, None], residuals / (root * bent)

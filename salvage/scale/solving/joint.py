"""One camera for all reference squares: first guesses, curled corners, squares or focal length that don't fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from salvage.photo.problem import Code, Level, Problem
from salvage.scale.solving.beliefs import FOCAL_SD_CROPPED, Beliefs
from salvage.scale.solving.bundle import Fit, solve
from salvage.scale.solving.camera import LN_FOCAL, Camera
from salvage.scale.solving.sighting import THICKNESS, Sightings, poses, sightings_of
from salvage.scale.square import Square

Floats = NDArray[np.float64]

# A tolerance is a limit: what is made well stays within it by three standard deviations; common practice.
TOLERANCE_SDS = 3.0
EDGE_BIAS_PX = 0.1  # standard deviation by which all edges of one square are seen too far in or out
_SAME_CAMERA = 0.03  # normals nearer than this are the same solution
_STRAY = 0.012  # a square strays if the others give it another side by so much of it
# and the fit of all costs so much more than the fits of them and of it: twice that is chi-square with at most
# eight degrees of freedom (one square's corners) where all are right, and beyond 26 in one case of a thousand
_STRAY_COST = 13.0
_LIFTED = 6.0  # gain in cost at which a corner is taken to be curled
_FOCAL_GAIN = 20.0  # gain in cost at which the focal length is taken to be another than EXIF says
_DOUBTFUL = 4.0  # how far from what is believed, standard deviations, the focal length is doubted at all
_ALIKE = 4.0  # twice the difference in cost below which two solutions can't be told apart


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """A fit of some squares.

    beliefs: those it was made with. rival: the next best fit, if it is a different camera.
    lifted: (square, corner) that don't lie flat.
    """

    squares: tuple[Square, ...]
    beliefs: Beliefs
    sightings: Sightings
    fit: Fit
    rival: Fit | None
    lifted: tuple[tuple[int, int], ...] = ()

    @property
    def unease(self) -> float:
        """Of the worst square: root mean square of its residuals, or half of its size's, standard deviations."""
        residuals = self.fit.residuals[1]
        sizes = np.abs(residuals[-len(self.squares) :]) / 2.0
        return float(max(self.sightings.misfits(residuals).max(), sizes.max()))

    @property
    def widened(self) -> Fit:
        """The fit; the chance that its rival is the true camera is added to its covariance."""
        if self.rival is None:
            return self.fit
        odds = math.exp(min(0.0, self.fit.cost - self.rival.cost))
        move = self.rival.camera - self.fit.camera
        covariance = self.fit.covariance + odds / (1.0 + odds) * np.outer(move, move)
        return replace(self.fit, covariance=covariance)

    @property
    def ambiguous(self) -> bool:
        return self.rival is not None and 2.0 * (self.rival.cost - self.fit.cost) < _ALIKE


def fit_agreeing(
    squares: Sequence[Square], beliefs: Beliefs, tolerance: float
) -> tuple[Joint, tuple[Problem, ...]] | None:
    """Fit all squares, leaving out the one that disagrees with the others, if there is one.

    tolerance: how far a square's side may be off at most, mm. None if no camera could have seen the squares so.
    """
    joint = fit_squares(squares, beliefs, tolerance)
    if joint is None:
        return None
    if freed := _with_free_focal(joint, tolerance):
        return freed
    strays = _strays(joint, tolerance)
    if not strays:
        return joint, ()
    if len(squares) == 2:
        return joint, (_two_disagree(squares, [stray.side for stray in strays]),)
    worst = max(strays, key=lambda stray: stray.cost)
    rest = fit_squares([s for k, s in enumerate(squares) if k != worst.index], beliefs, tolerance)
    if rest is None or _strays(rest, tolerance):
        return joint, (_all_disagree(len(squares)),)
    return rest, (_one_disagrees(squares[worst.index], worst),)


def fit_squares(squares: Sequence[Square], beliefs: Beliefs, tolerance: float) -> Joint | None:
    """Fit one camera to these squares; None if there is none."""
    size_sd = [size_sd_of(square, tolerance) for square in squares]
    fits = []
    for start in _starts(squares, beliefs)[:3]:
        sightings = sightings_of(squares, size_sd, Camera.from_vector(start), beliefs.leftover)
        fits.append(solve(start, [beliefs, sightings]))
    if not fits:
        return None
    fits.sort(key=lambda fit: fit.cost)
    best = fits[0]
    others = [f for f in fits[1:] if float(np.hypot(*(f.camera[1:3] - best.camera[1:3]))) > _SAME_CAMERA]
    sightings = sightings_of(squares, size_sd, Camera.from_vector(best.camera), beliefs.leftover)
    return _lifting(Joint(tuple(squares), beliefs, sightings, best, others[0] if others else None))


def size_sd_of(square: Square, tolerance: float) -> float:
    """Relative standard deviation of a square's own size: how it was cut, and how its edges were seen."""
    side = math.sqrt(square.width * square.length)
    corners = np.asarray(square.corners_px, dtype=float)
    side_px = float(np.mean(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)))
    return math.hypot(max(tolerance, 0.01) / TOLERANCE_SDS / side, 2.0 * EDGE_BIAS_PX / side_px)


def _lifting(joint: Joint) -> Joint:
    """Let the corners go that bend away, at most one of every square, where its edges show it."""
    allowed = np.array([[len(square.edge_points_px) == 4] * 4 for square in joint.squares])
    for _ in joint.squares:
        gains = joint.sightings.lift_gains(joint.beliefs, joint.fit.camera, joint.fit.own[1]) * allowed
        if gains.max() < _LIFTED:
            break
        square, corner = (int(k) for k in np.unravel_index(int(np.argmax(gains)), gains.shape))
        allowed[square] = False
        lifted = (*joint.lifted, (square, corner))
        camera = Camera.from_vector(joint.fit.camera)
        sightings = sightings_of(
            joint.squares, list(joint.sightings.size_sd), camera, joint.beliefs.leftover, lifted
        )
        fit = solve(joint.fit.camera, [joint.beliefs, sightings], own=joint.fit.own)
        joint = replace(joint, fit=fit, sightings=sightings, lifted=lifted)
    return joint


def _starts(squares: Sequence[Square], beliefs: Beliefs) -> list[Floats]:
    """First guesses of the camera vector, the likeliest first: those that give all squares their size."""
    guesses: list[tuple[float, Floats]] = []
    for square in squares:
        for height, x, y in poses(square, beliefs.focal_px, beliefs.centre_px):
            vector = np.array(
                [math.log(height), x, y, math.log(beliefs.focal_px), *beliefs.centre_px, 0.0, 0.0]
            )
            camera = Camera.from_vector(vector)
            misfits = [_size_misfit(other, camera) for other in squares]
            if not all(math.isfinite(m) for m in misfits):
                continue  # this camera would have some square above the horizon
            guesses.append((sum(m * m for m in misfits) + 0.01 * (x * x + y * y), vector))
    guesses.sort(key=lambda guess: guess[0])
    distinct: list[Floats] = []
    for _, vector in guesses:
        if all(float(np.hypot(*(vector[1:3] - other[1:3]))) > _SAME_CAMERA for other in distinct):
            distinct.append(vector)
    return distinct


def _size_misfit(square: Square, camera: Camera) -> float:
    floor = camera.unproject(square.corners_px)
    if not np.all(np.isfinite(floor)):
        return math.inf
    sides = np.hypot(*(np.roll(floor, -1, axis=0) - floor).T)
    ideal = np.array([square.width, square.length, square.width, square.length])
    return float(np.sqrt(np.mean(np.log(sides / ideal) ** 2)))


@dataclass(frozen=True, slots=True)
class _Stray:
    """A square that the others measure otherwise. side: what they give, mm. cost: of fitting it with them."""

    index: int
    side: float
    cost: float


def _strays(joint: Joint, tolerance: float) -> list[_Stray]:
    """Squares to which the others give another side than their label says."""
    count = len(joint.squares)
    if count == 1 or joint.fit.cost < _STRAY_COST:
        return []
    strays = []
    for k, square in enumerate(joint.squares):
        rest = fit_squares([s for i, s in enumerate(joint.squares) if i != k], joint.beliefs, tolerance)
        alone = fit_squares([square], joint.beliefs, tolerance)
        if rest is None or alone is None:
            continue
        side = _side_seen(square, Camera.from_vector(rest.fit.camera))
        cost = joint.fit.cost - rest.fit.cost - alone.fit.cost
        if cost > _STRAY_COST and not abs(side / _side(square) - 1.0) < _STRAY:
            strays.append(_Stray(k, side, cost))
    return strays


def _side_seen(square: Square, camera: Camera) -> float:
    """The side this camera gives the square, mm: the one of its four that is farthest from the label."""
    floor = camera.unproject(square.corners_px, THICKNESS)
    sides = np.hypot(*(np.roll(floor, -1, axis=0) - floor).T)
    labels = np.array([square.width, square.length, square.width, square.length])
    ratio = sides / labels
    return float(ratio[np.argmax(np.abs(ratio - 1.0))] * _side(square))


def _side(square: Square) -> float:
    return math.sqrt(square.width * square.length)


def _with_free_focal(joint: Joint, tolerance: float) -> tuple[Joint, tuple[Problem, ...]] | None:
    """The fit with another focal length than EXIF says, if the squares insist on it."""
    beliefs = joint.beliefs
    doubt = float(np.linalg.norm(joint.fit.residuals[0]))
    if beliefs.focal_sd >= FOCAL_SD_CROPPED or max(doubt, 2.0 * joint.unease) < _DOUBTFUL:
        return None
    free = fit_squares(joint.squares, replace(beliefs, focal_sd=FOCAL_SD_CROPPED), tolerance)
    if free is None or joint.fit.cost - free.fit.cost < _FOCAL_GAIN or _strays(free, tolerance):
        return None
    return free, (_focal_odd(math.exp(free.fit.camera[LN_FOCAL]) / beliefs.focal_px),)


def _two_disagree(squares: Sequence[Square], sides: Sequence[float]) -> Problem:
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.ERROR,
        f"The two squares disagree: measured by the one, a side of the other is {sides[0]:.1f} mm, not "
        f"{_side(squares[0]):.1f}. Their sides differ, or one doesn't lie flat. Press both flat, check that both "
        "sides are what --side says, and photograph again.",
    )


def _one_disagrees(square: Square, stray: _Stray) -> Problem:
    x, y = np.asarray(square.corners_px).mean(axis=0)
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.WARNING,
        f"Square {stray.index + 1} (at {x:.0f},{y:.0f} in the picture) disagrees with the others and was left out: "
        f"measured by them, a side of it is {stray.side:.1f} mm, not {_side(square):.1f}. Check its side and press "
        "it flat.",
    )


def _all_disagree(count: int) -> Problem:
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.ERROR,
        f"The {count} squares disagree and no one of them alone explains it. Check that all sides are what --side "
        "says and that all lie flat on the floor, and photograph again.",
    )


def _focal_odd(factor: float) -> Problem:
    return Problem(
        Code.FOCAL_ODD,
        Level.WARNING,
        f"The squares look as if taken with a focal length {100 * abs(factor - 1):.0f} % "
        f"{'longer' if factor > 1 else 'shorter'} than the photograph says; the plus-minus allows for it. Use the "
        "photograph as the camera wrote it, neither cropped nor zoomed, and check the square's side.",
    )

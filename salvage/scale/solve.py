"""From reference squares to the plane: where the camera stood, what its lens does, how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from salvage.errors import SalvageError
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.scale.advise import advice_for, problems_of
from salvage.scale.beliefs import Beliefs, beliefs_of
from salvage.scale.bundle import Fit, solve
from salvage.scale.camera import LN_HEIGHT, NAMES, Camera
from salvage.scale.floor_lines import FloorLines
from salvage.scale.floor_sort import fit_floor, sort_segments
from salvage.scale.plane import COVERAGE_FACTOR, Plane
from salvage.scale.segments import segments
from salvage.scale.sighting import Sightings, poses, sightings_of
from salvage.scale.square import Square

Floats = NDArray[np.float64]

# mm: a garment lying flat. Two layers with air and folds between lie 6 to 8 high in the middle, 2 to 3 at the edges
CLOTH_HEIGHT = 4.5
CLOTH_HEIGHT_SD = 2.0
_SAME_CAMERA = 0.03  # normals nearer than this are the same solution
_DISAGREE = (
    4.0  # a square that is so many standard deviations off doesn't lie on this floor or isn't that size
)
_LIFTED = 12.0  # gain in cost at which a corner is taken to be curled
_CONTRADICT = 30.0  # rise of the squares' sum of squares at which floor lines are not believed
_ALIKE = 4.0  # twice the difference in cost below which two solutions can't be told apart


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """The plane of one photograph, the squares it rests on, what is wrong with it and what would help."""

    plane: Plane
    squares: tuple[Square, ...]
    problems: tuple[Problem, ...] = ()
    advice: tuple[str, ...] = ()


def solve_plane(
    photo: Photo,
    squares: Sequence[Square],
    *,
    height: float | None = None,
    height_sd: float | None = None,
    side_tolerance: float = 0.5,
    use_floor_lines: bool = True,
    avoid_px: Sequence[ArrayLike] = (),
    lens_sd: float | None = None,
    focal_sd: float | None = None,
) -> Solution:
    """Fit one camera to all squares of a photograph and give the cloth's plane.

    height: of the cloth over the floor, mm (None: a garment lying flat). height_sd: its standard deviation.
    side_tolerance: how far a square's side may be from what its label says, mm, 95 %.
    use_floor_lines: let straight lines of the floor help where they are sure. avoid_px: rings of (n, 2) px,
    such as the garment's outline, inside which nothing belongs to the floor.
    lens_sd, focal_sd: belief in a straight lens and in the focal length (relative), for cameras that are
    no telephones or are known better.
    Raises SalvageError where no square was given or no camera could have seen them so.
    """
    if not squares:
        raise SalvageError(
            f"{photo.name}: no reference square was found in it. Lay a square of known side flat on the floor "
            "beside the cloth and photograph both."
        )
    size_px = (photo.width_px, photo.height_px)
    beliefs = beliefs_of(size_px, photo.focal_35mm, cropped=photo.cropped, lens_sd=lens_sd, focal_sd=focal_sd)
    used, joint, problems = _agreeing(photo, tuple(squares), beliefs, side_tolerance)
    with_lines = _with_floor_lines(photo, used, joint, beliefs, avoid_px) if use_floor_lines else None
    if with_lines is None:
        fit = _widened(joint)
        problems += _unsure_of(joint)
    else:
        fit = with_lines
    plane = _plane_of(fit, size_px, used, side_tolerance, height, height_sd)
    problems += problems_of(photo, plane, used, beliefs, len(squares))
    return Solution(plane, used, problems, advice_for(plane, used, curled=bool(joint.lifted)))


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """A fit of some squares, and the next best one if it is a different camera. lifted: (square, corner)."""

    fit: Fit
    rival: Fit | None
    sightings: Sightings
    lifted: tuple[tuple[int, int], ...] = ()


def _agreeing(
    photo: Photo, squares: tuple[Square, ...], beliefs: Beliefs, tolerance: float
) -> tuple[tuple[Square, ...], _Joint, tuple[Problem, ...]]:
    """Fit all squares; leave out the one that disagrees with the others, if there is one."""
    joint = _fit_squares(photo, squares, beliefs, tolerance)
    problems: tuple[Problem, ...] = ()
    if len(squares) > 1 and (worst := _misfit(joint)) > _DISAGREE:
        without = [
            _fit_squares(photo, squares[:i] + squares[i + 1 :], beliefs, tolerance)
            for i in range(len(squares))
        ]
        if len(squares) == 2:
            problems += (_two_disagree(squares, worst),)
        else:
            best = min(range(len(squares)), key=lambda i: without[i].fit.cost)
            if _misfit(without[best]) < _DISAGREE:
                problems += (_one_disagrees(squares[best], best),)
                squares, joint = squares[:best] + squares[best + 1 :], without[best]
            else:
                problems += (_all_disagree(len(squares)),)
    return squares, joint, problems


def _with_floor_lines(
    photo: Photo, squares: tuple[Square, ...], joint: _Joint, beliefs: Beliefs, avoid_px: Sequence[ArrayLike]
) -> Fit | None:
    """The fit with the floor's straight lines, where there are enough sure ones and the squares agree."""
    references = [_grown(square.corners_px, 1.4) for square in squares]
    found = segments(photo.pixels, [*references, *avoid_px])
    for before in (joint.fit, joint.rival):
        if before is None:
            continue
        runs = sort_segments(found, (photo.width_px, photo.height_px), before.camera)
        if runs is None:
            continue
        latest = [before]

        def fit(lines: FloorLines, latest: list[Fit] = latest) -> Fit:
            latest.append(solve(latest[-1].camera, [beliefs, joint.sightings, lines], own=latest[-1].own[:2]))
            return latest[-1]

        after = fit_floor(runs, fit)
        if after is not None and _squares_agree(before, after):
            return after
    return None


def _squares_agree(before: Fit, after: Fit) -> bool:
    """The lines may not pull the camera to where the squares and the focal length can't be."""
    rise = sum(
        float(a @ a) - float(b @ b) for a, b in zip(after.residuals[:2], before.residuals[:2], strict=True)
    )
    return rise < _CONTRADICT


def _grown(corners_px: Floats, factor: float) -> Floats:
    middle = np.asarray(corners_px).mean(axis=0)
    return np.asarray(middle + factor * (np.asarray(corners_px) - middle))


def _fit_squares(photo: Photo, squares: tuple[Square, ...], beliefs: Beliefs, tolerance: float) -> _Joint:
    starts = _starts(squares, beliefs)
    if not starts:
        raise SalvageError(
            f"{photo.name}: no camera can see the reference square so. Point at the square with --square X,Y, "
            "or take the photograph again from straight above."
        )
    size_sd = [_size_sd(square, tolerance) for square in squares]
    fits = []
    for start in starts[:3]:
        sightings = sightings_of(squares, size_sd, Camera.from_vector(start))
        fits.append((solve(start, [beliefs, sightings]), sightings))
    fits.sort(key=lambda item: item[0].cost)
    best, sightings = fits[0]
    others = [f for f, _ in fits[1:] if float(np.hypot(*(f.camera[1:3] - best.camera[1:3]))) > _SAME_CAMERA]
    joint = _Joint(best, others[0] if others else None, sightings)
    for _ in squares:
        gains = joint.sightings.lift_gains(beliefs, joint.fit.camera, joint.fit.own[1])
        if gains.max() < _LIFTED:
            break
        square, corner = np.unravel_index(int(np.argmax(gains)), gains.shape)
        lifted = (*joint.lifted, (int(square), int(corner)))
        sightings = sightings_of(squares, size_sd, Camera.from_vector(joint.fit.camera), lifted)
        fit = solve(joint.fit.camera, [beliefs, sightings], own=joint.fit.own)
        joint = _Joint(fit, joint.rival, sightings, lifted)
    return joint


def _starts(squares: tuple[Square, ...], beliefs: Beliefs) -> list[Floats]:
    """First guesses of the camera vector, the likeliest first: those that give all squares their size."""
    guesses: list[tuple[float, Floats]] = []
    for square in squares:
        for height, x, y in poses(square, beliefs.focal_px, beliefs.centre_px):
            vector = np.array(
                [math.log(height), x, y, math.log(beliefs.focal_px), *beliefs.centre_px, 0.0, 0.0]
            )
            camera = Camera.from_vector(vector)
            misfits = [_size_misfit(other, camera) for other in squares]
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
        return 10.0
    sides = np.hypot(*(np.roll(floor, -1, axis=0) - floor).T)
    ideal = np.array([square.width, square.length, square.width, square.length])
    return float(np.sqrt(np.mean(np.log(sides / ideal) ** 2)))


def _size_sd(square: Square, tolerance: float) -> float:
    """Relative standard deviation of one square's size, of its own: cut by hand or by the same printer."""
    return max(tolerance, 0.01) / COVERAGE_FACTOR / math.sqrt(square.width * square.length)


def _misfit(joint: _Joint) -> float:
    """How far the worst square is off, in standard deviations: the root mean square of its residuals."""
    return float(joint.sightings.misfits(joint.fit.residuals[1]).max())


def _widened(joint: _Joint) -> Fit:
    """The best fit; the chance that its rival is the true camera is added to its covariance."""
    fit, rival = joint.fit, joint.rival
    if rival is None:
        return fit
    odds = math.exp(min(0.0, fit.cost - rival.cost))
    move = rival.camera - fit.camera
    return replace(fit, covariance=fit.covariance + odds / (1.0 + odds) * np.outer(move, move))


def _plane_of(
    fit: Fit,
    size_px: tuple[int, int],
    squares: tuple[Square, ...],
    tolerance: float,
    height: float | None,
    height_sd: float | None,
) -> Plane:
    covariance = np.zeros((len(NAMES) + 1,) * 2)
    covariance[:-1, :-1] = fit.covariance
    level = CLOTH_HEIGHT if height is None else height
    spread = CLOTH_HEIGHT_SD if height is None else 0.0
    covariance[-1, -1] = (spread if height_sd is None else height_sd) ** 2
    # squares from one printer or one ruler are wrong together: that part doesn't average out
    size_sd = min(_size_sd(square, tolerance) for square in squares)
    known = 1.0 / len(squares)
    covariance[LN_HEIGHT, LN_HEIGHT] += size_sd**2 * (1.0 - known) * 0.5
    return Plane.over(Camera.from_vector(fit.camera), size_px, level, covariance)


def _two_disagree(squares: tuple[Square, ...], misfit: float) -> Problem:
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.ERROR,
        f"The two squares disagree ({misfit:.0f} times more than their corners allow): their sides differ, or one "
        "doesn't lie flat. Press both flat, check that both sides are what --side says, and photograph again.",
    )


def _one_disagrees(square: Square, index: int) -> Problem:
    x, y = np.asarray(square.corners_px).mean(axis=0)
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.WARNING,
        f"Square {index + 1} (at {x:.0f},{y:.0f} in the picture) disagrees with the others and was left out: its side "
        "differs, or it doesn't lie flat. Check its side and press it flat.",
    )


def _all_disagree(count: int) -> Problem:
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.ERROR,
        f"The {count} squares disagree and no one of them alone explains it. Check that all sides are what --side "
        "says and that all lie flat on the floor, and photograph again.",
    )


def _unsure_of(joint: _Joint) -> tuple[Problem, ...]:
    if joint.rival is None or 2.0 * (joint.rival.cost - joint.fit.cost) > _ALIKE:
        return ()
    return (
        Problem(
            Code.SQUARE_UNSURE,
            Level.WARNING,
            "The square could be seen from two sides: the picture doesn't say which way the floor slants. The "
            "plus-minus covers both. Put a second square at the other side of the garment.",
        ),
    )

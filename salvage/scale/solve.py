"""From reference squares to the plane: where the camera stood, what its lens does, how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from salvage.errors import SalvageError
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.scale.advise import advice_for, height_problems, tilt_problems
from salvage.scale.floor.lines import FloorLines
from salvage.scale.floor.sort import fit_floor, sort_segments
from salvage.scale.plane import Plane
from salvage.scale.seeing.segments import Rough, rough_segments, segments
from salvage.scale.solving.beliefs import Beliefs, beliefs_of
from salvage.scale.solving.bundle import Block, Fit, solve
from salvage.scale.solving.camera import LN_HEIGHT, NAMES, Camera
from salvage.scale.solving.joint import Joint, fit_agreeing, size_sd_of
from salvage.scale.square import Square

Floats = NDArray[np.float64]

# mm: a garment lying flat. Two layers with air and folds between lie 6 to 8 high in the middle, 2 to 3 at the edges
CLOTH_HEIGHT = 4.5
CLOTH_HEIGHT_SD = 2.0
# Rise of the squares' sum of squares at which floor lines are not believed, and at which it is no bad luck: chi-square
# with four degrees of freedom (the corners of a square that may lie anywhere) is beyond them in 7 and in 1 of 1000.
_CONTRADICT, _NOT_SQUARE = 14.0, 18.5
_UNSURE = Problem(
    Code.SQUARE_UNSURE,
    Level.WARNING,
    "The square could be seen from two sides: the picture doesn't say which way the floor slants. The plus-minus "
    "covers both. Put a second square at the other side of the garment.",
)
_NO_SQUARE = Problem(
    Code.SQUARE_UNSURE,
    Level.WARNING,
    "The reference and the straight lines of the floor don't go together: it may be no square, or not lie flat, or "
    "its side is another than --side says. Measure its four sides and both diagonals, and press it flat.",
)


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
    lens_sd: float | None = None,
    focal_sd: float | None = None,
    local_scale_sd: float | None = None,
) -> Solution:
    """Fit one camera to all squares of a photograph and give the cloth's plane.

    height: of the cloth over the floor, mm (None: a garment lying flat). height_sd: its standard deviation.
    side_tolerance: how far a square's side may be from what its label says at most, mm.
    use_floor_lines: let straight lines of the floor help where they are sure.
    lens_sd, focal_sd: belief in a straight lens and in the focal length (relative), for cameras that are
    no telephones or are known better. local_scale_sd: how far the scale of one place is from that of the
    others although the camera's numbers are right (0 for drawn and rendered pictures).
    Raises SalvageError where no square was given or no camera could have seen them so.
    """
    if not squares:
        raise SalvageError(
            f"{photo.name}: no reference square was found in it. Lay a square of known side flat on the floor "
            "beside the cloth and photograph both."
        )
    size_px = (photo.width_px, photo.height_px)
    beliefs = beliefs_of(
        size_px,
        photo.focal_35mm,
        cropped=photo.cropped,
        lens_sd=lens_sd,
        focal_sd=focal_sd,
        local_scale_sd=local_scale_sd,
    )
    with ThreadPoolExecutor(1) as other_core:
        rough = other_core.submit(rough_segments, photo.pixels) if use_floor_lines else None
        agreed = fit_agreeing(squares, beliefs, side_tolerance)
    if agreed is None:
        raise SalvageError(
            f"{photo.name}: no camera can see the reference square so. Point at the square with --square X,Y, "
            "or take the photograph again from straight above."
        )
    joint, problems = agreed
    fit, rise = (None, 0.0) if rough is None else _with_floor_lines(photo, joint, rough.result())
    if fit is None:
        fit = joint.widened
        problems += (_NO_SQUARE,) if rise > _NOT_SQUARE else (_UNSURE,) if joint.ambiguous else ()
    plane = _plane_of(fit, beliefs, size_px, joint.squares, side_tolerance, height, height_sd)
    advice = advice_for(plane, joint.squares, curled=bool(joint.lifted))
    problems += tilt_problems(plane) + height_problems(plane, joint.squares)
    return Solution(plane, joint.squares, problems, advice)


def _with_floor_lines(photo: Photo, joint: Joint, rough: Rough) -> tuple[Fit | None, float]:
    """The fit with the floor's straight lines, where there are enough sure ones and the squares agree.

    The lines of cloth may stay: they are too few in the picture's outer parts, or run the floor's way. With the
    fit comes by how much the squares' own misfit rises with the lines (0 where there are none).
    """
    found = segments(rough, [_grown(square.corners_px, 1.4) for square in joint.squares])
    rises = []
    for before in (joint.fit, joint.rival):
        if before is None:
            continue
        runs = sort_segments(found, (photo.width_px, photo.height_px), before.camera, joint.beliefs.leftover)
        if runs is None:
            continue
        latest = [before]

        def fit(lines: FloorLines, rough: bool, latest: list[Fit] = latest) -> Fit:
            blocks: list[Block] = [joint.beliefs, joint.sightings, lines]
            latest.append(solve(latest[-1].camera, blocks, own=latest[-1].own[:2], rough=rough))
            return latest[-1]

        after = fit_floor(runs, fit)
        if after is None:
            continue
        rises.append(_rise(before, after))
        if rises[-1] < _CONTRADICT:
            return after, rises[-1]
    return None, min(rises, default=0.0)


def _rise(before: Fit, after: Fit) -> float:
    """The lines may not pull the camera to where the squares and the focal length can't be."""
    return sum(
        float(a @ a) - float(b @ b) for a, b in zip(after.residuals[:2], before.residuals[:2], strict=True)
    )


def _grown(corners_px: Floats, factor: float) -> Floats:
    middle = np.asarray(corners_px).mean(axis=0)
    return np.asarray(middle + factor * (np.asarray(corners_px) - middle))


def _plane_of(
    fit: Fit,
    beliefs: Beliefs,
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
    size_sd = min(size_sd_of(square, tolerance) for square in squares)
    known = 1.0 / len(squares)
    covariance[LN_HEIGHT, LN_HEIGHT] += size_sd**2 * (1.0 - known) * 0.5
    return Plane.over(Camera.from_vector(fit.camera), size_px, level, covariance, beliefs.leftover)

"""From lengths that a person knows to the plane: instead of squares, or beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.scale.advise import HIGHEST, LOWEST, tilt_problems
from salvage.scale.known import KnownLength
from salvage.scale.plane import COVERAGE_FACTOR, POINT_HEIGHT_SD, Plane
from salvage.scale.solve import CLOTH_HEIGHT, Solution
from salvage.scale.solving.beliefs import beliefs_of
from salvage.scale.solving.camera import Camera
from salvage.scale.solving.draws import TILT_SD, Draws, draw, own_sd

_CHANCE = 1e-3  # lengths that fit together so badly only once in so many are told to disagree
_ONE_WAY = math.radians(30.0)  # lengths nearer than this to one direction say little of the tilt


def solve_known(photo: Photo, known: Sequence[KnownLength], *, height: float | None = None) -> Solution:
    """The plane of a photograph without a square, from one or more lengths that lie on the cloth.

    The camera's tilt isn't known: what a person who photographs a garment on the floor may do is in the
    plus-minus. Two or more lengths in different directions and places make it smaller.
    height: of the cloth over the floor, mm; nothing depends on it but what lies on the floor.
    """
    size_px = (photo.width_px, photo.height_px)
    beliefs = replace(beliefs_of(size_px, photo.focal_35mm, cropped=photo.cropped), tilt_sd=TILT_SD)
    draws = draw(known, beliefs, POINT_HEIGHT_SD)
    level = CLOTH_HEIGHT if height is None else height
    plane = replace(
        Plane.over(_raised(draws.middle, level), size_px, level, np.zeros((9, 9)), beliefs.leftover),
        drawn=np.array([[*_raised(one, level).vector, level] for one in draws.cameras]),
    )
    assert plane.drawn is not None
    plane = replace(plane, covariance=np.cov(plane.drawn.T))
    problems = _disagreeing(plane, known, draws)
    problems = problems or [*tilt_problems(plane), *_height_problems(plane, known)]
    return Solution(plane, (), (_weaker(plane, known), *problems), _advice(known))


def with_known(solution: Solution, known: Sequence[KnownLength]) -> Solution:
    """The plane that squares gave, made surer by known lengths on the cloth, or an error where they disagree.

    One step of a Kalman filter for each length (Kalman, Journal of Basic Engineering 82, 1960): to first order
    the same as fitting all together.
    """
    plane, problems = solution.plane, []
    if not known:
        return solution
    from scipy.special import chdtri  # of chi-square; slow to load, and most photographs have squares alone

    for one in known:
        seen, reach = plane.length(one.from_px, one.to_px)
        sd = math.hypot(reach / COVERAGE_FACTOR, own_sd(one) * one.length)
        if not abs(seen - one.length) < math.sqrt(chdtri(1, _CHANCE)) * sd:
            problems.append(_not_what_squares_say(one, seen, reach))
            continue
        plane = plane.told(one.from_px, one.to_px, one.length, own_sd(one) * one.length)
    return replace(solution, plane=plane, problems=(*solution.problems, *problems))


def _raised(vector: np.ndarray, level: float) -> Camera:
    """A camera over the cloth's level as one over the floor."""
    return replace(Camera.from_vector(vector), height=math.exp(vector[0]) + level)


def _weaker(plane: Plane, known: Sequence[KnownLength]) -> Problem:
    what = "one known length" if len(known) == 1 else f"{len(known)} known lengths"
    return Problem(
        Code.SQUARE_UNSURE,
        Level.WARNING,
        f"The scale rests on {what}, not on a square: how the camera was tilted isn't known, and lengths are good to "
        f"about {plane.plus_minus_percent:.0f} % only. Measure by hand before cutting, or photograph again with two "
        "squares.",
    )


def _disagreeing(plane: Plane, known: Sequence[KnownLength], draws: Draws) -> list[Problem]:
    """Lengths that no camera a person could hold sees together: one is mistyped, or its ends are."""
    from scipy.special import chdtri

    if draws.misfit < chdtri(len(known) + 1, _CHANCE):
        return []
    seen, _ = plane.lengths([k.from_px for k in known], [k.to_px for k in known])
    told = np.array([k.length for k in known])
    ratio = seen / told / np.exp(np.median(np.log(seen / told)))
    worst = int(np.argmax(np.abs(np.log(ratio)))) if len(known) > 2 else 1
    others = "the other" if len(known) == 2 else "the others"
    by_others = told[worst] * (ratio[worst] if len(known) > 2 else seen[1] / told[1] / (seen[0] / told[0]))
    return [
        Problem(
            Code.SQUARES_DISAGREE,
            Level.ERROR,
            f"The known lengths disagree: measured by {others}, the one {_between(known[worst])} is about "
            f"{by_others:.0f} mm, not {told[worst]:.0f} mm. Check each one's ends, length and unit (--known).",
        )
    ]


def _not_what_squares_say(one: KnownLength, seen: float, reach: float) -> Problem:
    return Problem(
        Code.SQUARES_DISAGREE,
        Level.ERROR,
        f"The known length {_between(one)} is told to be {one.length:.0f} mm, but by the reference square it is "
        f"{seen:.0f} mm, give or take {reach:.0f}. Check its ends, its length and unit (--known), and --side.",
    )


def _between(one: KnownLength) -> str:
    return "from {:g},{:g} to {:g},{:g}".format(*(one.said_px or (*one.from_px, *one.to_px)))


def _height_problems(plane: Plane, known: Sequence[KnownLength]) -> list[Problem]:
    """A camera that was where nobody photographs a garment from: the length's unit is wrong."""
    height = plane.camera.height - plane.height
    if LOWEST <= height <= HIGHEST:
        return []
    stood = f"{height:.0f} mm" if height < 1000.0 else f"{height / 1000.0:.0f} m"
    return [
        Problem(
            Code.SQUARE_UNSURE,
            Level.ERROR,
            f"If the length {_between(known[0])} is {known[0].length:.4g} mm, the camera was {stood} above the cloth, "
            "which can hardly be. Check the length and its unit, for example 560mm or 22in (--known).",
        )
    ]


def _advice(known: Sequence[KnownLength]) -> tuple[str, ...]:
    ways = np.array([np.arctan2(*np.subtract(k.to_px, k.from_px)[::-1]) for k in known])
    turned = np.abs((ways - ways[0] + np.pi / 2) % np.pi - np.pi / 2)
    if turned.max() < _ONE_WAY:
        return (
            "Tell a second known length that runs across the first, and far from it: both ways make it surer.",
        )
    return ()

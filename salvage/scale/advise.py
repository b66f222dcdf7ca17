"""What is wrong with a solved camera, by name, and what would make its plus-minus smaller."""

from __future__ import annotations

import numpy as np

from salvage.photo.problem import Code, Level, Problem
from salvage.scale.plane import Plane
from salvage.scale.square import Square

TILT_WARNING = 25.0
TILT_ERROR = 35.0
# Arms and ladders: a camera lower or higher than this was not over a garment, the side's unit is wrong.
LOWEST, HIGHEST = 300.0, 6000.0
LARGE_PERCENT = 1.5  # plus-minus of 300 mm that is more than hands cut: 4.5 mm
_SMALL_SHARE = 0.08  # a side shorter than this share of the picture's short side is read badly


def tilt_problems(plane: Plane) -> tuple[Problem, ...]:
    """A tilt that makes lengths unsure, or impossible to measure."""
    problems = []
    tilt = plane.tilt
    if tilt > TILT_ERROR:
        problems.append(
            Problem(
                Code.TILTED,
                Level.ERROR,
                f"The camera was tilted {tilt:.0f} degrees from straight down; over {TILT_ERROR:.0f} nothing can be "
                "measured. Stand over the garment and hold the phone level.",
            )
        )
    elif tilt > TILT_WARNING:
        problems.append(
            Problem(
                Code.TILTED,
                Level.WARNING,
                f"The camera was tilted {tilt:.0f} degrees from straight down, which makes lengths less sure. "
                "Stand over the garment and hold the phone level.",
            )
        )
    return tuple(problems)


def height_problems(plane: Plane, squares: tuple[Square, ...]) -> tuple[Problem, ...]:
    """A height of the camera that nobody photographs from: the reference has another side than was said.

    Too large a side is the worse error, for cloth then seems larger than it is.
    """
    height = plane.camera.height
    if LOWEST <= height <= HIGHEST:
        return ()
    side = squares[0].width
    stood = f"{height:.0f} mm" if height < 1000.0 else f"{height / 1000.0:.0f} m"
    return (
        Problem(
            Code.SQUARE_UNSURE,
            Level.WARNING if height < LOWEST else Level.ERROR,
            f"If the side of the square is {side:.4g} mm, the camera was {stood} above the floor, which can hardly be. "
            "Check --side and its unit, for example --side 150mm or --side 6in.",
        ),
    )


def advice_for(plane: Plane, squares: tuple[Square, ...], *, curled: bool = False) -> tuple[str, ...]:
    """Sentences that say what would make the plus-minus smaller; none where it is small and all lies flat."""
    advice = ["Press the square flat: a corner of it curls."] if curled else []
    percents = plane.typical_percents()
    if not percents or (np.median(percents) <= LARGE_PERCENT and max(percents) <= 2.0 * LARGE_PERCENT):
        return tuple(advice)
    if len(squares) == 1:
        advice.append("Put a second square at the other side of the garment.")
    elif _all_near_together(squares, plane.size_px):
        advice.append("Put the squares at opposite sides of the garment.")
    short_px = min(plane.size_px)
    if _mean_side_px(squares) < _SMALL_SHARE * short_px:
        advice.append("Use a larger square, or stand nearer so that it is larger in the picture.")
    if plane.tilt > 15.0:
        advice.append("Stand over the garment and hold the phone level.")
    if plane.camera.height < 1100.0:
        advice.append("Stand higher: from farther off, folds and the thickness of the cloth matter less.")
    return tuple(advice)


def _mean_side_px(squares: tuple[Square, ...]) -> float:
    sides = [np.hypot(*(np.roll(s.corners_px, -1, axis=0) - s.corners_px).T) for s in squares]
    return float(np.mean(sides))


def _all_near_together(squares: tuple[Square, ...], size_px: tuple[int, int]) -> bool:
    middles = np.array([np.asarray(s.corners_px).mean(axis=0) for s in squares])
    farthest = max(float(np.hypot(*(a - b))) for a in middles for b in middles)
    return farthest < 0.35 * max(size_px)

"""What every finder looks at: one stretch of cloth laid flat, and what the networks make of it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.flat.axis import Axis, axis_told, find_axis, is_across
from salvage.cloth.flat.chances import Chances, chances_of
from salvage.cloth.flat.picture import Flat, ToPixels, flatten
from salvage.cloth.flat.printed import Repeat, repeats_of, without_print
from salvage.cloth.flat.whole import Whole, look_whole

STEP = 1.0  # mm between pixels of the flat picture: a topstitch is about one wide
_STITCHES = 1.2  # mm a photo pixel may be at most to show stitches, which are 2 to 3 mm long


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """One stretch of cloth (mm on the plane) as it is seen.

    flat: the photograph laid flat. plain: the same without its print. repeats: the prints taken off it. Both know their
    CIELAB colours (`Flat.lab`), worked out once. chances: of threads, near by. whole: what the look at the whole
    garment tells. axis: the garment's own. sharp: the photograph shows stitches.
    """

    cloth: Polygon
    flat: Flat
    plain: Flat
    repeats: tuple[Repeat, ...]
    chances: Chances
    whole: Whole
    axis: Axis
    sharp: bool


def sight_of(pixels: NDArray[np.uint8], plane: ToPixels, cloth: Polygon) -> Sight:
    """Lay a photograph flat round the cloth (mm on the plane) and look at it, near by and as a whole."""
    flat = flatten(pixels, plane, cloth, STEP)
    with ThreadPoolExecutor(1) as other_core:
        looking = other_core.submit(_whole_of, flat, cloth)
        repeats = repeats_of(flat, cloth)
        plain = without_print(flat, repeats)
        chances = chances_of(plain)
        whole, axis = looking.result()
    return Sight(
        cloth,
        flat,
        plain,
        repeats,
        chances,
        whole,
        axis_told(cloth, whole.up, axis),
        _is_sharp(plane, cloth),
    )


def _whole_of(flat: Flat, cloth: Polygon) -> tuple[Whole, Axis]:
    """The look at the whole garment, and the axis of its outline; once more, as it says that the garment lies, where
    that is across this axis."""
    axis = find_axis(cloth)
    whole = look_whole(flat, axis)
    if axis.is_symmetric and is_across(axis.up, whole.up):
        whole = look_whole(flat, replace(axis, up=whole.up))
    return whole, axis


def _is_sharp(plane: ToPixels, cloth: Polygon) -> bool:
    """Whether a photo pixel is small enough to show stitches."""
    x, y = cloth.centroid.coords[0]
    ends = np.asarray(plane.to_px(np.array([[x - 50.0, y], [x + 50.0, y]])), float)
    return bool(100.0 / max(float(np.linalg.norm(ends[1] - ends[0])), 1e-9) <= _STITCHES)

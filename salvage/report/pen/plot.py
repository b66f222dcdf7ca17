"""The pen of vector pages: marks become artists of matplotlib's axes, which writes them as SVG or PDF."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from shapely.geometry import Polygon

from salvage.report.pen.fonts import families
from salvage.report.pen.marks import Area, Dashes, Mark, Stroke, Words


class PlotPen:
    """Puts marks into axes, whose units are the page's."""

    def __init__(self, axes: Axes) -> None:
        self._axes = axes

    def put(self, mark: Mark) -> None:
        if isinstance(mark, Area):
            self._area(mark)
        elif isinstance(mark, Stroke):
            self._line(mark)
        else:
            self._words(mark)

    def _area(self, area: Area) -> None:
        patch = PathPatch(
            _path(area.parts), facecolor=area.face, edgecolor=area.edge, linewidth=area.width,
            linestyle=_style(area.dashes), hatch=area.hatch or None, alpha=None if area.alpha == 1.0 else area.alpha,
            zorder=area.order,
        )  # fmt: skip
        self._axes.add_artist(patch)

    def _line(self, line: Stroke) -> None:
        path = Path.make_compound_path(*map(Path, line.runs))
        # Ends are square only of what casing could lengthen; dashes keep their own length either way.
        patch = PathPatch(
            path, fill=False, edgecolor=line.colour, linewidth=line.width, linestyle=_style(line.dashes),
            capstyle="butt", zorder=line.order,
        )  # fmt: skip
        if line.casing is not None:
            casing = line.casing
            under = patheffects.Stroke(linewidth=casing.width, foreground=casing.colour, alpha=casing.alpha)
            patch.set_path_effects([under, patheffects.Normal()])
        self._axes.add_artist(patch)

    def _words(self, words: Words) -> None:
        made = self._axes.text(
            words.x, words.y, words.text, fontsize=words.size, color=words.colour, family=families(words.text),
            weight="bold" if words.bold else "normal", ha=words.across, va=words.up, rotation=words.rotation,
            rotation_mode="anchor" if words.anchored else "default", zorder=words.order,
            parse_math=False,  # a name may hold a dollar sign
        )  # fmt: skip
        if words.halo is not None:
            made.set_path_effects([patheffects.withStroke(linewidth=words.halo_width, foreground=words.halo)])


def _style(dashes: Dashes) -> str | tuple[float, Dashes]:
    return (0, dashes) if dashes else "solid"


def _path(parts: Iterable[Polygon]) -> Path:
    rings = []
    for part in parts:
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)[:, :2]
            codes = np.full(len(points), Path.LINETO, dtype=Path.code_type)
            codes[0], codes[-1] = Path.MOVETO, Path.CLOSEPOLY
            rings.append(Path(points, codes))
    return Path.make_compound_path(*rings)


@contextmanager
def quiet_glyphs() -> Iterator[None]:
    """No warning on the terminal for a name in a script that the drawing font lacks."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*")
        yield

"""What the lines of a plan mean: one strip, for the page and for the PDF."""

from __future__ import annotations

import numpy as np
from shapely.geometry import LineString, Point, box

from salvage.cloth.garment import BlockedKind
from salvage.report.pen.draw import PLAIN, Page, Printing, arrow, fill, stroke, text_width, write
from salvage.report.pen.leaf import POINTS_PER_MM, Field, Leaf
from salvage.report.pen.palette import BLOCKED_LOOK, FAINT, INK, SOUND, TAPE, WASTE, panel_filling

_WORDS = (
    ("cut", "cut here"),
    ("stitch", "stitching line"),
    ("grain", "grain"),
    ("sound", "usable"),
    ("waste", "not usable"),
    ("seam", "seam or hem"),
    ("blocked", "in the way: pocket, closure"),
    ("worn", "worn or stained"),
    ("mark", "landmark for the tape"),
    ("corner", "corner that the tape lengths lead to"),
    ("tape", "tape"),
)
_OF_PANELS = ("cut", "stitch", "grain", "mark", "corner", "tape")  # drawn only where something is laid
_SIZE, _LINE, _SWATCH = 7.5, 12.0, 22.0  # points


def _entries(laid: bool) -> list[tuple[str, str]]:
    return [(name, words) for name, words in _WORDS if laid or name not in _OF_PANELS]


def legend_alt(*, laid: bool = True) -> str:
    """The legend in words. laid: whether a panel lies on any of the plans."""
    return "What the plans show: " + ", ".join(words for _, words in _entries(laid)) + "."


def _rows(width: float, letters: float, laid: bool) -> list[list[tuple[str, str, float]]]:
    """Entries with the x where each begins, points of usual letters, in rows."""
    room = width * POINTS_PER_MM / letters
    rows: list[list[tuple[str, str, float]]] = [[]]
    x = 4.0
    for name, words in _entries(laid):
        need = _SWATCH + 4 + text_width(words, _SIZE) + 12
        if rows[-1] and x + need > room:
            rows.append([])
            x = 4.0
        rows[-1].append((name, words, x))
        x += need
    return rows


def legend_height(width: float, printing: Printing = PLAIN, *, laid: bool = True) -> float:
    """Height of the legend, mm, at that width, mm. laid: whether a panel lies on any of the plans."""
    return (len(_rows(width, printing.letters, laid)) * _LINE + 4) * printing.letters / POINTS_PER_MM


def draw_legend(field: Field, width: float, printing: Printing = PLAIN, *, laid: bool = True) -> None:
    """Draw the legend into a field of width x legend_height mm."""
    letters = printing.letters
    high = legend_height(width, printing, laid=laid) * POINTS_PER_MM / letters
    pen = field.pen(0.0, 0.0, width * POINTS_PER_MM / letters, high)
    page = printing.page(pen, letters)
    y = high - 2 - _LINE / 2
    for row in _rows(width, letters, laid):
        for name, words, x in row:
            _swatch(page, name, x, y)
            write(page, x + _SWATCH + 4, y, words, _SIZE, ha="left")
        y -= _LINE


def legend_leaf(width: float, printing: Printing = PLAIN, *, laid: bool = True) -> Leaf:
    """The legend on a leaf of its own, so many mm wide."""
    leaf = Leaf(width, legend_height(width, printing, laid=laid))
    draw_legend(leaf.field(), width, printing, laid=laid)
    return leaf


def _swatch(page: Page, name: str, x: float, y: float) -> None:
    field = box(x, y - 4, x + _SWATCH, y + 4)
    run = LineString([(x + 1, y), (x + _SWATCH - 1, y)])
    middle = Point(x + _SWATCH / 2, y)
    if name == "cut":
        look = panel_filling(0)
        fill(page, field, facecolor=look.colour, alpha=0.62)
        stroke(page, field, INK, 1.3)
    elif name == "stitch":
        stroke(page, run, INK, 0.6, linestyle=(4, 2.5))
    elif name == "grain":
        arrow(page, np.array(run.coords[0]), np.array(run.coords[1]), both=True)
    elif name in ("sound", "waste"):
        fill(page, field, facecolor=SOUND if name == "sound" else WASTE, edgecolor=FAINT, linewidth=0.5)
    elif name == "seam":
        stroke(page, run, FAINT, 0.7, linestyle=(3, 1.6))
    elif name in ("blocked", "worn"):
        kind = BlockedKind.POCKET if name == "blocked" else BlockedKind.WORN
        hatch = BLOCKED_LOOK[kind].hatch
        fill(page, field, facecolor="#cfc8ba", edgecolor=INK, linewidth=0.5, hatch=hatch)
    elif name == "mark":
        fill(page, middle.buffer(4.6), facecolor=INK)
        write(page, middle.x, middle.y, "A", 6.2, color="white", bold=True, va="center_baseline")
    elif name == "corner":
        fill(page, middle.buffer(2.0), facecolor="white", edgecolor=INK, linewidth=0.9)
    else:
        stroke(page, run, TAPE, 0.7)

"""A leaf as a drawing (SVG 1.1): letters are drawn as lines, so that it looks the same wherever it is opened."""

from __future__ import annotations

from xml.sax.saxutils import quoteattr

import numpy as np
import shapely

from salvage.report.pen import letters
from salvage.report.pen.fonts import Font, runs_of
from salvage.report.pen.hatching import DOT, RING, dots, hatching, is_dotted
from salvage.report.pen.leaf import Leaf, Pasted
from salvage.report.pen.marks import NO_COLOUR, Area, Dashes, Run, Stroke, Words, line_start, rgba

_HATCH_WIDTH = 1.0  # points: as is well seen on a screen
_MITRE = 10  # as in a PDF


def svg_of(leaf: Leaf) -> bytes:
    """The same leaf gives the same bytes. It is for leaves that one drawing fills: what lies beyond them isn't seen,
    and no picture lies on them."""
    drawn = _Drawn(leaf.size[1])
    for mark, _ in leaf.marks():
        drawn.put(mark)
    wide, high = (f"{each:.2f}" for each in leaf.size)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" version="1.1" '
        f'width="{wide}pt" height="{high}pt" viewBox="0 0 {wide} {high}" stroke-miterlimit="{_MITRE}">'
    )
    paper = f'<path d="M0 0H{wide}V{high}H0z" fill="#ffffff"/>'
    outlines = [f'<path id="{key}" d="{path}"/>' for key, path in drawn.outlines.values()]
    return "\n".join([head, "<defs>", *outlines, "</defs>", paper, *drawn.said, "</svg>\n"]).encode()


class _Drawn:
    def __init__(self, height: float) -> None:
        self._height = height
        self.said: list[str] = []
        self.outlines: dict[tuple[Font, str], tuple[str, str]] = {}

    def put(self, mark: Area | Stroke | Words | Pasted) -> None:
        if isinstance(mark, Area):
            self._area(mark)
        elif isinstance(mark, Stroke):
            self._lines(mark)
        elif isinstance(mark, Words):
            self._words(mark)
        else:
            raise ValueError("a drawing has no room for pictures")

    def _add(self, path: str, **look: str | float) -> None:
        said = " ".join(f"{name.replace('_', '-')}={quoteattr(str(value))}" for name, value in look.items())
        self.said.append(f'<path d="{path}" {said}/>')

    def _path(self, run: Run) -> str:
        """A line, or a ring where it ends where it begins."""
        ring = len(run) > 2 and bool((run[0] == run[-1]).all())
        points = np.asarray(run[:-1] if ring else run, float) * (1.0, -1.0) + (0.0, self._height)
        return ("M%.2f %.2f" + "L%.2f %.2f" * (len(points) - 1) + "z" * ring) % tuple(points.ravel().tolist())

    def _area(self, area: Area) -> None:
        path = "".join(
            self._path(np.asarray(ring.coords)[:, :2])
            for part in area.parts
            for ring in (part.exterior, *part.interiors)
        )
        if area.face != NO_COLOUR:
            self._add(path, fill_rule="evenodd", **_filled(area.face, area.alpha))
        if area.edge == NO_COLOUR:
            return
        if area.hatch:
            self._hatching(area)
        if area.width > 0:
            self._add(path, **_drawn(area.edge, area.width, area.dashes, area.width, area.alpha))

    def _hatching(self, area: Area) -> None:
        whole = shapely.union_all([shapely.make_valid(part) for part in area.parts])
        if not is_dotted(area.hatch):
            runs = hatching(whole, area.hatch, 1.0, downwards=False)
            path, look = "".join(map(self._path, runs)), _drawn(area.edge, _HATCH_WIDTH, alpha=area.alpha)
        else:
            middles = [(each.x, self._height - each.y) for each in dots(whole, 1.0).geoms]
            if area.hatch[0] == ".":  # a line of no length with round ends is a dot
                path = "".join(f"M{x:.2f} {y:.2f}h0" for x, y in middles)
                look = _drawn(area.edge, 2 * DOT + _HATCH_WIDTH, alpha=area.alpha) | {
                    "stroke_linecap": "round"
                }
            else:
                half = f"a{RING} {RING} 0 0 1"
                path = "".join(
                    f"M{x - RING:.2f} {y:.2f}{half} {2 * RING} 0{half} {-2 * RING} 0" for x, y in middles
                )
                look = _drawn(area.edge, _HATCH_WIDTH, alpha=area.alpha)
        if path:
            self._add(path, **look)

    def _lines(self, line: Stroke) -> None:
        path = "".join(self._path(run) for run in line.runs if len(run) > 1)
        if not path:
            return
        if line.casing is not None:
            casing = line.casing
            self._add(path, **_drawn(casing.colour, casing.width, line.dashes, line.width, casing.alpha))
        self._add(path, **_drawn(line.colour, line.width, line.dashes, line.width))

    def _words(self, words: Words) -> None:
        text = words.text.strip("\n")
        if not text.strip():
            return
        runs = runs_of(text, words.bold)
        x, y = line_start(words, letters.width(runs) * words.size, words.size)
        turn = f" rotate({-words.rotation:g})" if words.rotation else ""
        self.said.append(
            f'<g transform="translate({words.x + x:.2f} {self._height - words.y - y:.2f}){turn}">'
        )
        for colour, halo in ((words.halo, words.halo_width), (words.colour, 0.0)):
            at = 0.0
            for font, part in runs if colour is not None else ():
                assert colour is not None
                em = letters.opened(font).em
                scale = words.size / em
                look = _filled(colour)
                if halo:
                    look = _drawn(colour, halo / scale) | {"stroke_linejoin": "round"}
                said = " ".join(f'{name.replace("_", "-")}="{value}"' for name, value in look.items())
                self.said.append(
                    f'<g transform="translate({at:.2f} 0) scale({scale:.6f} {-scale:.6f})" {said}>'
                )
                inner = 0.0
                for letter, step in zip(part, letters.steps(font, part), strict=True):
                    if path := letters.outline(font, letter):
                        key, _ = self.outlines.setdefault((font, letter), (f"g{len(self.outlines)}", path))
                        self.said.append(f'<use xlink:href="#{key}" x="{inner:g}"/>')
                    inner += step * em
                at += inner * scale
                self.said.append("</g>")
        self.said.append("</g>")


def _filled(colour: str, alpha: float = 1.0) -> dict[str, str | float]:
    plain, shown = _opaque(colour, alpha)
    return {"fill": plain} | ({"fill_opacity": shown} if shown < 1 else {})


def _drawn(
    colour: str, width: float, dashes: Dashes = (), unit: float = 1.0, alpha: float = 1.0
) -> dict[str, str | float]:
    """How a line looks. dashes: in units."""
    plain, shown = _opaque(colour, alpha)
    look: dict[str, str | float] = {"fill": "none", "stroke": plain, "stroke_width": f"{width:.4g}"}
    if shown < 1:
        look["stroke_opacity"] = shown
    if dashes:
        look["stroke_dasharray"] = " ".join(f"{each * unit:.2f}" for each in dashes)
    return look


def _opaque(colour: str, alpha: float) -> tuple[str, float]:
    """A colour without its opacity, and that times another one."""
    red, green, blue, own = rgba(colour)
    return "#" + bytes(round(255 * each) for each in (red, green, blue)).hex(), round(own * alpha, 3)

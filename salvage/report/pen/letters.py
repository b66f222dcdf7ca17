"""Letters as lines: outlines for drawings, and a font of a few letters for a file to carry along."""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from salvage.report.pen.fonts import Font

_CURVED = 0.001  # of the em: how far a curve may lie off where it is written in another kind of curves


@dataclass(frozen=True, slots=True)
class Opened:
    """A font, read. names: of glyphs, by code point; kerned: how much farther off the second of two glyphs stands, in
    the font's units, of which em are one em; missing: the glyph of what it lacks."""

    read: TTFont
    glyphs: Any
    names: dict[int, str]
    kerned: dict[tuple[str, str], int]
    em: int
    missing: str


@lru_cache(maxsize=32)
def opened(font: Font) -> Opened:
    read = TTFont(font.path, fontNumber=font.number, lazy=True)
    em, missing = int(read["head"].unitsPerEm), str(read.getGlyphOrder()[0])
    return Opened(read, read.getGlyphSet(), read.getBestCmap() or {}, _kerned(read), em, missing)


def _kerned(read: TTFont) -> dict[tuple[str, str], int]:
    try:
        tables = read["kern"].kernTables if "kern" in read else []
    except Exception:  # many an old font of a machine has a damaged one: its letters are drawn without
        return {}
    return {pair: by for table in tables for pair, by in getattr(table, "kernTable", {}).items()}


@lru_cache(maxsize=4096)
def _drawn(font: Font, name: str) -> DecomposingRecordingPen:
    glyphs = opened(font).glyphs
    pen = DecomposingRecordingPen(glyphs)
    glyphs[name].draw(pen)
    return pen


def _name(font: Font, letter: str) -> str:
    known = opened(font)
    return known.names.get(ord(letter), known.missing)


@lru_cache(maxsize=4096)
def _advance(font: Font, name: str) -> float:
    return float(opened(font).glyphs[name].width)


def advance(font: Font, letter: str) -> float:
    """From a letter to the next, in ems, without kerning."""
    return _advance(font, _name(font, letter)) / opened(font).em


@lru_cache(maxsize=4096)
def outline(font: Font, letter: str) -> str:
    """A letter as the path data of SVG (1.1, section 8.3), in the font's units, y up."""
    pen = SVGPathPen(None, ntos=lambda value: f"{value:g}")
    _drawn(font, _name(font, letter)).replay(pen)
    return str(pen.getCommands())


@lru_cache(maxsize=4096)
def steps(font: Font, text: str) -> tuple[float, ...]:
    """From each letter to the next, and past the last one, in ems."""
    known = opened(font)
    names = [_name(font, letter) for letter in text]
    moved = [known.kerned.get(pair, 0) for pair in itertools.pairwise(names)]
    return tuple(
        (_advance(font, name) + more) / known.em for name, more in zip(names, [*moved, 0], strict=True)
    )


def width(runs: Sequence[tuple[Font, str]]) -> float:
    """Of a line of text, in ems."""
    return sum(sum(steps(font, text)) for font, text in runs)


def font_with(font: Font, letters: Iterable[str]) -> bytes:
    """A TrueType font of these letters alone: glyph 0 stands for what is missing, the others follow in their order.

    It has what a PDF needs of one, whose reader asks for glyphs by their number (ISO 32000-1:2008, 9.9).
    """
    known = opened(font)
    names = [known.missing, *(_name(font, letter) for letter in letters)]
    own = [f"g{number}" for number in range(len(names))]
    made = FontBuilder(known.em, isTTF=True)
    made.setupGlyphOrder(own)
    made.setupGlyf({new: _true_type(font, name) for new, name in zip(own, names, strict=True)})
    shapes = made.font["glyf"].glyphs
    made.setupHorizontalMetrics(
        {
            new: (round(_advance(font, name)), getattr(shapes[new], "xMin", 0))
            for new, name in zip(own, names, strict=True)
        }
    )
    made.setupHorizontalHeader(ascent=known.read["hhea"].ascent, descent=known.read["hhea"].descent)
    made.setupMaxp()
    made.font["head"].created = made.font["head"].modified = 0  # the same letters give the same file
    made.font.recalcTimestamp = False
    stream = io.BytesIO()
    made.font.save(stream)
    return stream.getvalue()


def _true_type(font: Font, name: str) -> Any:
    """A glyph in TrueType's quadratic curves, which those of PostScript outlines are drawn by."""
    known = opened(font)
    pen = TTGlyphPen(None)
    outlines = "glyf" in known.read
    _drawn(font, name).replay(pen if outlines else Cu2QuPen(pen, _CURVED * known.em, reverse_direction=True))
    return pen.glyph()

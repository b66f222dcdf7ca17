"""The strip below a marked picture: what it says and what its lines mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString

from salvage.cloth.garment import BlockedKind, Garment, Piece
from salvage.cloth.usable import usable
from salvage.photo.photo import Photo
from salvage.report.drawing.ground import ACROSS_INCHES, Ground
from salvage.report.pen.draw import Page, arrow, fill, stroke, text_width, wrap, write
from salvage.report.pen.palette import ATTENTION, BLOCKED_LOOK, CHALK, INK, PAPER, USABLE_EDGE
from salvage.report.say.words import BLOCKED_WORDS, known_words
from salvage.scale.known import KnownLength
from salvage.scale.square import Square
from salvage.units import Unit, format_area, format_exact

_LINE = 10.5  # points from line to line of the strip
_NOTE_SIZE = 7.5

_LEGEND: Mapping[str, str] = {
    "outline": "outline of the cloth",
    "usable": "edge of what is usable",
    **{str(kind): BLOCKED_WORDS[kind] for kind in BlockedKind},
    "seam": "seam or hem",
    "worn": "worn or stained",
    "grain": "grain",
    "square": "reference square",
    "asked": "asked about: Q1, Q2 ...",
    "doubt": "look at this edge",
}


def legend_entries(
    pieces: Sequence[Piece], has_squares: bool, has_doubts: bool, *, has_questions: bool = False
) -> list[str]:
    kinds = {blocked.kind for piece in pieces for blocked in piece.blocked}
    names = {
        "seam": BlockedKind.SEAM in kinds or BlockedKind.HEM in kinds,
        **{
            str(kind): kind in kinds
            for kind in BlockedKind
            if kind not in (BlockedKind.SEAM, BlockedKind.HEM)
        },
        "grain": bool(pieces),
        "square": has_squares,
        "asked": has_questions,
        "doubt": has_doubts,
    }
    return ["outline", "usable", *[name for name, shown in names.items() if shown]]


def count_squares(
    squares: Sequence[Square], unit: Unit, *, scaled: bool = True, known: Sequence[KnownLength] = ()
) -> str:
    """scaled: whether their sides are known, and so said. known: lengths told, instead of squares or beside them."""
    if known and not squares:
        return (
            f"scale from {'a known length' if len(known) == 1 else f'{len(known)} known lengths'}, no square"
        )
    if not squares:
        return "no reference square found"
    sides = sorted({format_exact(square.width, unit) for square in squares})
    count = "1 reference" if len(squares) == 1 else f"{len(squares)} references"
    return f"{count} found, side {' and '.join(sides)}" if scaled else f"{count} found, side not told"


def found_notes(
    photo: Photo,
    garment: Garment,
    pieces: Sequence[Piece],
    squares: Sequence[Square],
    unit: Unit,
    known: Sequence[KnownLength] = (),
) -> list[str]:
    area = sum(usable(piece).area * piece.layers for piece in pieces)
    side = max((piece.photo.side for piece in pieces if piece.photo is not None), default=0.0)
    if squares or known or side <= 0:
        scale = count_squares(squares, unit, known=known)
    else:  # as the record has it
        scale = f"measured by a reference of {format_exact(side, unit)}"
    notes = [f"{garment.name} · {photo.name} · {scale}"]
    count = "1 piece" if len(pieces) == 1 else f"{len(pieces)} pieces"
    sizes = f"{count}, {format_area(area, unit)} usable"
    if pieces:
        percent = max(piece.plus_minus.scale_percent for piece in pieces)
        edge = max(piece.plus_minus.edge for piece in pieces)
        sure = known_words(percent, edge, unit)
        if sure:
            sizes += f" · plus-minus: {sure} (95 %)"
    notes.append(sizes)
    if photo.reduced_by > 1.0:  # else people point at other places than they see
        notes.append(
            f"Drawn smaller than the photograph: multiply pixels read off here by {photo.reduced_by:.4g}."
        )
    return notes


def _note_lines(base: Ground, notes: Sequence[str]) -> list[str]:
    width = base.width * 72 * ACROSS_INCHES / max(base.width, base.height) - 16
    return [line for note in notes for line in wrap(note, width, _NOTE_SIZE)]


def _legend_rows(base: Ground, entries: Sequence[str]) -> list[list[tuple[str, float]]]:
    """Entries with the x where each begins, points, broken into rows."""
    width = base.width * 72 * ACROSS_INCHES / max(base.width, base.height)
    rows: list[list[tuple[str, float]]] = [[]]
    x = 8.0
    for entry in entries:
        need = 26 + text_width(_LEGEND[entry], _NOTE_SIZE) + 12
        if x + need > width and rows[-1]:
            rows.append([])
            x = 8.0
        rows[-1].append((entry, x))
        x += need
    return rows


def strip_height(base: Ground, notes: Sequence[str], entries: Sequence[str]) -> float:
    rows = len(_note_lines(base, notes)) + (len(_legend_rows(base, entries)) if entries else 0)
    return rows * _LINE + 8


def draw_strip(strip: Page, base: Ground, notes: Sequence[str], entries: Sequence[str]) -> None:
    high = strip_height(base, notes, entries)
    fill(
        strip,
        shapely.box(0, 0, base.width * 72 * ACROSS_INCHES / max(base.width, base.height), high),
        facecolor=PAPER,
    )
    y = high - 4 - _LINE / 2
    for index, line in enumerate(_note_lines(base, notes)):
        write(strip, 8, y, line, _NOTE_SIZE, ha="left", bold=index == 0)
        y -= _LINE
    for row in _legend_rows(base, entries) if entries else []:
        for entry, x in row:
            _swatch(strip, entry, x, y)
            write(strip, x + 26, y, _LEGEND[entry], _NOTE_SIZE, ha="left")
        y -= _LINE


def _swatch(strip: Page, entry: str, x: float, y: float) -> None:
    """A sample of a line or a hatching, 22 points wide, on dark so that pale lines show."""
    field = shapely.box(x, y - 4, x + 22, y + 4)
    fill(strip, field, facecolor="#5b6670")
    run = LineString([(x + 2, y), (x + 20, y)])
    if entry == "outline":
        stroke(strip, run, CHALK, 1.8)
    elif entry == "usable":
        stroke(strip, run, USABLE_EDGE, 1.0)
    elif entry == "seam":
        stroke(strip, run, BLOCKED_LOOK[BlockedKind.SEAM].colour, 1.0, linestyle=(4, 2))
    elif entry == "grain":
        fill(strip, field, facecolor="#ffffff", edgecolor=INK, linewidth=0.4)
        arrow(strip, np.array([x + 2, y]), np.array([x + 20, y]), both=True)
    elif entry == "square":
        stroke(strip, shapely.box(x + 8, y - 3, x + 14, y + 3), ATTENTION, 1.2)
    elif entry == "asked":
        stroke(strip, run, ATTENTION, 1.6)
    elif entry == "doubt":
        stroke(strip, run, ATTENTION, 2.4, linestyle=(1.2, 1.0))
    else:
        look = BLOCKED_LOOK[BlockedKind(entry)]
        fill(strip, field, facecolor=look.colour, alpha=0.35)
        fill(strip, field, facecolor="none", edgecolor=look.colour, hatch=look.hatch)
        stroke(strip, field, look.colour, 1.0)

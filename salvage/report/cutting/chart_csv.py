"""The cutting chart as CSV: one row for each shape to cut, lengths as plain numbers in the project's unit."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.fit.say.open import as_cut
from salvage.project.project import Project
from salvage.report.cutting.chart import CutShape, Spread, item_size, spreads
from salvage.report.say.words import items_of, lies_words
from salvage.units import MM_PER_UNIT, Unit

_DIGITS = {Unit.MM: 1, Unit.CM: 2, Unit.INCH: 3}
_RUNS = "=+-@\t\r"  # what a spreadsheet would take for a formula at the beginning of a cell


def chart_csv(answer: Answer, garments: Sequence[Garment], project: Project, unit: Unit) -> bytes:
    """CSV (RFC 4180) in UTF-8 with a byte-order mark, by which spreadsheets know it."""
    project = as_cut(project, answer)
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    corners = [
        name
        for k in (1, 2)
        for name in (f"corner {k}", f"from {k}a", f"{unit} {k}a", f"from {k}b", f"{unit} {k}b")
    ]
    writer.writerow(
        [
            "No.",
            "shape",
            "fabric",
            f"width {unit}",
            f"length {unit}",
            "garment",
            "piece",
            "layer",
            "how it lies",
            *corners,
        ]
    )
    laid = spreads(answer, garments, project)
    rows = sorted(((cut, spread) for spread in laid for cut in spread.cuts), key=lambda each: each[0].number)
    for cut, spread in rows:
        writer.writerow([_safe(cell) for cell in _row(cut, spread, garments, unit)])
    missing = Counter(answer.not_placed)
    for item in items_of(project):
        for _ in range(missing[item.name]):
            size = [_number(each, unit) for each in item_size(item)]
            writer.writerow(["", _safe(item.name), _safe(item.fabric), *size, "", "not placed", *[""] * 12])
    return b"\xef\xbb\xbf" + stream.getvalue().encode()


def _row(cut: CutShape, spread: Spread, garments: Sequence[Garment], unit: Unit) -> list[str]:
    piece = spread.piece
    lies = lies_words(cut.placement.angle, piece.grain, cut.size, unit, flipped=cut.placement.flipped)
    words = {mark.letter: mark.words for mark in spread.marks}
    corners: list[str] = []
    for bearing in cut.bearings:
        corners.append(bearing.corner_words)
        for tape in bearing.tapes:
            corners += [f"{tape.letter}: {words.get(tape.letter, '')}", _number(tape.length, unit)]
    corners += [""] * (10 - len(corners))
    size = [_number(each, unit) for each in cut.size]
    return [
        str(cut.number), cut.name, piece.fabric, *size, garments[spread.garment].name, piece.name,
        str(spread.layer), lies, *corners,
    ]  # fmt: skip


def _number(length: float, unit: Unit) -> str:
    return f"{length / MM_PER_UNIT[unit]:.{_DIGITS[unit]}f}"


def _safe(cell: str) -> str:
    """A name from a file never runs as a formula."""
    return f"'{cell}" if cell[:1] and cell[0] in _RUNS and not cell.replace(".", "").isdigit() else cell

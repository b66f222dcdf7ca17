"""The tables of a fit report: what is cut, where it lies, what is left over, and how well all was measured."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import PurePath

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer
from salvage.project.project import Panel, Project, Strip
from salvage.report.cutting.chart import CutShape, Spread, finished_size, item_size, tapes_words
from salvage.report.say.table import Table
from salvage.report.say.words import grain_words, items_of, lies_words, listed, small_length
from salvage.units import Unit, format_area, format_exact, format_exact_size, format_size

_MOST_RECTANGLES = 4
_MOST_PIECES = 6  # named beside a photograph


def panel_table(
    project: Project,
    cuts: Sequence[tuple[CutShape, Spread]],
    garments: Sequence[Garment],
    missing: Counter[str],
    unit: Unit,
) -> Table:
    """What is cut of each panel and strip, how large, and from what. missing: how many copies of each have no place."""
    by_panel: dict[str, list[tuple[CutShape, Spread]]] = {}
    for cut, spread in cuts:
        by_panel.setdefault(cut.placement.panel, []).append((cut, spread))
    rows = []
    for item in items_of(project):
        mine = by_panel.get(item.name, [])
        origin = Counter(of_piece(garments, spread.garment, spread.piece.name) for _, spread in mine)
        places = [name if count == 1 else f"{count} × {name}" for name, count in origin.items()]
        if missing[item.name]:
            places.append(f"{missing[item.name]} not placed")
        finished = finished_size(item)
        rows.append(
            (
                item.name,
                _copies(item),
                _finished_words(item, finished, unit),
                format_exact_size(item_size(item), unit) + _lengths_words(item, mine),
                item.fabric,
                grain_words(item),
                ", ".join(places) or "not placed",
                _numbers([cut.number for cut, _ in mine]) or "–",
            )
        )
    columns = ("Panel", "How many", "Finished size", "Cut size", "Fabric", "Grain", "Cut from", "No.")
    wide = 2.3 if unit is Unit.INCH else 1.8  # fractions take room
    return Table(columns, (1.9, 1.0, wide, wide, 1.0, 1.0, 1.9, 0.9), tuple(rows))


def _copies(item: Panel | Strip) -> str:
    if isinstance(item, Panel) and item.mirrored and item.cut > 1:
        return f"{item.cut}, half mirrored"
    return str(item.cut)


def _finished_words(item: Panel | Strip, finished: tuple[float, float] | None, unit: Unit) -> str:
    if finished is None:
        return "–"
    folds = f", folded {item.folds}×" if isinstance(item, Strip) and item.folds > 1 else ""
    return format_exact_size(finished, unit) + folds


def _lengths_words(item: Panel | Strip, cuts: Sequence[tuple[CutShape, Spread]]) -> str:
    lengths = sum(cut.placement.part is not None for cut, _ in cuts)
    if not lengths or lengths <= item.cut:
        return ""
    return f" in {lengths} {'lengths' if isinstance(item, Strip) else 'parts'}"


def _numbers(numbers: Sequence[int]) -> str:
    """`1–3, 7`: runs of numbers drawn together."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)


def place_table(cuts: Sequence[tuple[CutShape, Spread]], garments: Sequence[Garment], unit: Unit) -> Table:
    """Where each shape lies and how to find the place with a tape."""
    rows = []
    for cut, spread in cuts:
        piece = spread.piece
        origin = of_piece(garments, spread.garment, piece.name)
        if piece.layers > 1:
            origin += f", layer {spread.layer}"
        lies = lies_words(cut.placement.angle, piece.grain, cut.size, unit, flipped=cut.placement.flipped)
        rows.append(
            (
                str(cut.number),
                cut.name,
                format_exact_size(cut.size, unit),
                origin,
                lies,
                tapes_words(cut, unit),
            )
        )
    columns = ("No.", "Shape", "Cut size", "On", "How it lies", "With the tape")
    wide = 2.1 if unit is Unit.INCH else 1.7
    return Table(columns, (0.75, 1.7, wide, 1.3, 1.8, 4.0), tuple(rows))


def left_table(answer: Answer, garments: Sequence[Garment], unit: Unit) -> Table:
    """What is left over of each fabric."""
    rows = []
    for fabric, left in answer.left_over.items():
        rectangles = [
            f"{format_size((width, length), unit)}"
            + (f" ({of_piece(garments, garment, piece)})" if piece and garment < len(garments) else "")
            for width, length, garment, piece in left.rectangles[:_MOST_RECTANGLES]
        ]
        rows.append((fabric, format_area(left.area, unit), "; ".join(rectangles) or "–"))
    return Table(("Fabric", "Left over", "Largest rectangles"), (1.2, 1.3, 4.5), tuple(rows))


def measured_table(garments: Sequence[Garment], unit: Unit) -> Table:
    """From which photographs the pieces were measured, and how well."""
    rows = []
    for garment in garments:
        groups: dict[tuple[str, float], list[Piece]] = {}
        for piece in garment.pieces:
            key = (piece.photo.file, piece.photo.side) if piece.photo is not None else ("", 0.0)
            groups.setdefault(key, []).append(piece)
        for (file, side), pieces in groups.items():
            names = [piece.name for piece in pieces]
            if len(names) > _MOST_PIECES:
                names = [*names[: _MOST_PIECES - 1], f"{len(names) - _MOST_PIECES + 1} more"]
            percent = max(piece.plus_minus.scale_percent for piece in pieces)
            edge = max(piece.plus_minus.edge for piece in pieces)
            exact = "–" if file else "taken as exact"
            rows.append(
                (
                    garment.name,
                    PurePath(file).name or "typed in by hand",
                    format_exact(side, unit) if file else "–",
                    f"± {percent:.1f} %" if percent else exact,
                    f"± {small_length(edge, unit, up=True)}" if edge else exact,
                    listed(names),
                )
            )
    columns = ("Garment", "Photograph", "Side of the square", "Any length", "Any edge", "Pieces")
    return Table(columns, (1.5, 1.6, 1.2, 1.2, 1.2, 3.0), tuple(rows))


def of_piece(garments: Sequence[Garment], index: int, piece: str) -> str:
    """`back of the work coat`; the garment is left out where there is only one."""
    return piece if len(garments) == 1 else f"{piece} of {garments[index].name}"

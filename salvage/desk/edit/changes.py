"""What an edit changed, and what there is, in sentences for a person."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from salvage.cloth.garment import Garment, Piece, Reply
from salvage.cloth.usable import usable
from salvage.desk.edit.marks import PIECE, Mark, marks
from salvage.report.say.summary import question_text
from salvage.units import Unit, format_area

_MOVED = 1.0  # mm; what moved by less lies where it lay
_SURE, _NEARLY = 0.8, 0.9


@dataclass(frozen=True, slots=True)
class _Known:
    mark: Mark
    pieces: tuple[str, ...]


def changes(before: Garment, after: Garment, unit: Unit) -> list[str]:
    """A line for each mark and piece that came, went or is another now; and how much cloth is usable."""
    old, new = _known(before), _known(after)
    lines = [f"{n} {_called(each)}: {_gone(each, after)}" for n, each in old.items() if n not in new]
    for number, each in new.items():
        if number not in old:
            lines.append(f"{number} {_called(each)}: {_come(each, before)}")
        elif each.mark.kind == PIECE:
            lines += _piece_changes(
                number, before.pieces[old[number].mark.piece], after.pieces[each.mark.piece], unit
            )
        else:
            lines += _mark_changes(number, old[number], each)
    if before.name != after.name:
        lines.append(f"the garment is called {after.name}")
    if before.kind != after.kind:
        lines.append(f"its cloth is {after.kind or 'not told'}")
    lines += _question_changes(before, after)
    if before.hints != after.hints:
        lines.append("the hints are kept, and are used whenever the photograph is measured")
    was, now = (format_area(_area(each.pieces), unit) for each in (before, after))
    if was != now:
        lines.append(f"usable now: {now} (before: {was})")
    return lines


def table(garment: Garment) -> list[str]:
    """Every mark with its number, what it is and where it stands in the photograph."""
    lines = []
    found = marks(garment)
    for photo in dict.fromkeys(each.photo for each in found):
        lines.append(f"{photo or 'typed in, without a photograph'}:")
        here = [each for each in found if each.photo == photo]
        for each in sorted(here, key=lambda mark: (mark.kind != PIECE, mark.number)):
            at = "" if each.at_px is None else f"at {each.at_px[0]:.0f},{each.at_px[1]:.0f}"
            lines.append(f"  {each.number:>3}  {_described(garment, each)}  {at}".rstrip())
    return lines


def _described(garment: Garment, mark: Mark) -> str:
    if mark.kind == PIECE:
        piece = garment.pieces[mark.piece]
        more = [piece.fabric, f"grain {piece.grain:.0f}°"]
        more += [f"{piece.layers} layers"] if piece.layers > 1 else []
        more += ["one-way"] if piece.one_way else []
        return f"{piece.name} ({', '.join(more)})"
    names = dict.fromkeys(garment.pieces[piece].name for piece, _ in mark.places)
    by = {"person": "drawn by hand", "trade": "assumed, not seen"}.get(mark.found_by, "found")
    by += ", in doubt" if mark.found_by == "photo" and mark.confidence < _SURE else ""
    return f"{_words(mark)}, on {', '.join(names)}: {by}"


def _known(garment: Garment) -> dict[int, _Known]:
    return {
        each.number: _Known(each, tuple(dict.fromkeys(garment.pieces[p].name for p, _ in each.places)))
        for each in marks(garment)
    }


def _called(known: _Known) -> str:
    if known.mark.kind == PIECE:
        return f"piece {known.mark.what}"
    return f"{_words(known.mark)} on {', '.join(known.pieces)}"


def _gone(known: _Known, after: Garment) -> str:
    whole = _part_of(known.mark, after)
    return f"hangs together with {whole} now" if whole else "taken out"


def _come(known: _Known, before: Garment) -> str:
    whole = _part_of(known.mark, before)
    if whole:
        return f"parted from {whole}"
    return "there again" if known.mark.number <= before.numbers else "new"


def _part_of(mark: Mark, garment: Garment) -> str:
    """The piece of a garment in which nearly all of a piece lies; "" if none does, or it is no piece."""
    if mark.kind != PIECE:
        return ""
    for each in garment.pieces:
        file = "" if each.photo is None else each.photo.file
        if file == mark.photo and each.outline.intersection(mark.shape).area > _NEARLY * mark.shape.area:
            return each.name
    return ""


def _words(mark: Mark) -> str:
    return mark.what if mark.what == mark.kind else f"{mark.what} ({mark.kind})"


def _mark_changes(number: int, old: _Known, new: _Known) -> list[str]:
    if (old.mark.kind, old.mark.what) != (new.mark.kind, new.mark.what):
        return [f"{number} {_words(old.mark)}: is now {_words(new.mark)}"]
    moved = old.mark.shape.hausdorff_distance(new.mark.shape) > _MOVED
    if moved and new.mark.found_by == "person" and old.pieces == new.pieces:
        return [f"{number} {_called(new)}: redrawn"]
    if old.mark.found_by != new.mark.found_by and new.mark.found_by == "person":
        return [f"{number} {_called(new)}: is your word now"]
    return []


def _piece_changes(number: int, old: Piece, new: Piece, unit: Unit) -> list[str]:
    said = []
    if old.name != new.name:
        said.append(f"is now called {new.name}")
    if old.fabric != new.fabric:
        said.append(f"is of {new.fabric}")
    if old.layers != new.layers:
        said.append(f"lies in {new.layers} layers" if new.layers > 1 else "lies in one layer")
    if old.one_way != new.one_way:
        said.append("is one-way" if new.one_way else "is not one-way")
    if round(old.grain) != round(new.grain):
        said.append(f"its grain runs at {new.grain:.0f}° (was {old.grain:.0f}°)")
    was, now = (format_area(usable(each).area, unit) for each in (old, new))
    if was != now:
        said.append(f"{now} usable (was {was})")
    return [f"{number} {old.name}: {'; '.join(said)}"] if said else []


def _question_changes(before: Garment, after: Garment) -> list[str]:
    old = {each.number: each for each in before.questions}
    lines = []
    for each in after.questions:
        was = old.get(each.number)
        if was is None:
            lines.append(f"Q{each.number} is asked: {question_text(after, each)}")
        elif was.answer is not each.answer and each.answer is not Reply.OPEN:
            lines.append(f"Q{each.number}: answered {each.answer}")
    return lines


def _area(pieces: Iterable[Piece]) -> float:
    return sum(usable(each).area * each.layers for each in pieces)

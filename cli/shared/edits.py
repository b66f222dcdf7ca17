"""Edits of a record on the command line: done, told, and drawn into a new marked picture."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .options import print_json, say
from .progress import steps

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.units import Unit

_STEPS_OF_FINDING = 6


def edit_record(
    record: Path,
    words: Sequence[str],
    *,
    photos: Sequence[Path],
    picture: bool,
    units: Unit | None,
    as_json: bool,
) -> int:
    """Do the edits in words to a record, say what changed, and write its marked pictures anew.

    Without edits it lists what there is. All are tried before the first is done: where one can't be, none is.
    """
    from json import loads

    from salvage.cloth.record.write import garment_to_json
    from salvage.desk.edit import journal
    from salvage.desk.edit.changes import changes, table
    from salvage.desk.edit.options import steps_of
    from salvage.report.say.summary import question_lines
    from salvage.units import Unit

    unit = units or Unit.MM
    edits = steps_of(words)
    state = journal.state_of(record)
    before = state.garment
    if not edits:
        if as_json:
            print_json(loads(garment_to_json(before)))
        else:
            say("\n".join([f"{before.name}:", *table(before), *question_lines(before)]))
        return 0
    _tried(before, edits)
    garment = _done(record, edits, photos)
    told = changes(before, garment, unit) or ["nothing changed."]
    if as_json:
        print_json(loads(garment_to_json(garment)) | {"changes": told})
    else:
        say("\n".join(told))
    if picture:
        _draw(record, garment, photos, unit)
    say(f"wrote {record}; --undo takes it back", aside=True)
    return 0


def _tried(garment: Garment, edits: Sequence[dict[str, Any]]) -> None:
    """Raise UsageError where one of the edits can't be done, before any is. After an undo only doing it shows."""
    from salvage.desk.edit.actions import apply
    from salvage.errors import UsageError

    for number, each in enumerate(edits, 1):
        if each["do"] in ("undo", "redo"):
            return
        try:
            garment = apply(garment, each)
        except UsageError as error:
            of = f" (edit {number} of {len(edits)}; none was done)" if len(edits) > 1 else ""
            raise UsageError(f"{error}{of}") from error


def _done(record: Path, edits: Sequence[dict[str, Any]], photos: Sequence[Path]) -> Garment:
    from salvage.desk.edit import journal
    from salvage.desk.edit.actions import needs_finding
    from salvage.desk.edit.refind import refind

    again: list[str | None] = []
    for each in edits:
        if each["do"] == "undo":
            state = journal.undo(record)
        elif each["do"] == "redo":
            state = journal.redo(record)
        else:
            state = journal.edit(record, each)
            if needs_finding(each) and each.get("photo") not in again:
                again.append(each.get("photo"))
    for photo in again:
        with steps(_STEPS_OF_FINDING) as step:
            state = refind(record, photo, photos=photos, step=step)
    return state.garment


def _draw(record: Path, garment: Garment, photos: Sequence[Path], unit: Unit) -> None:
    """Write the marked picture of each photograph that can be had; a record stands without them."""
    from salvage.desk.edit.frames import frames
    from salvage.errors import SalvageError
    from salvage.files import inside
    from salvage.photo.read import read_photo
    from salvage.report.marked import marked_beside, write_marked

    there = frames(garment)
    for (file, frame), out in zip(there.items(), marked_beside(record, list(there)), strict=True):
        try:
            photo = read_photo(inside(record.parent, file, photos))
            write_marked(out, garment, file, photo, frame.plane, unit)
            say(f"wrote {out}", aside=True)
        except SalvageError as error:
            say(f"warning: {error} So no picture of {file} was drawn.", aside=True)

"""The outline found again round strokes that somebody drew, and the record measured anew with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from salvage.cloth.doubts import carried
from salvage.cloth.garment import Garment, Piece
from salvage.cloth.record.anew.merge import merge_all
from salvage.cloth.record.file import read_garment, with_contents
from salvage.desk.edit import journal
from salvage.errors import SalvageError, UsageError
from salvage.files import inside
from salvage.job import TOLD
from salvage.telling import Telling


def refind(
    record: Path,
    photo: str | None = None,
    *,
    photos: Iterable[Path] = (),
    step: Callable[[str], None] = lambda _: None,
) -> journal.State:
    """Measure a photograph of a record again with all that was told about it, and merge it into the record; what a
    person drew stays. It can be undone.

    photo: its file, as the record names it; None: the only one, or all that have hints. photos: folders, beside the
    record's own, in which it may lie. Raises SalvageError where it can't be read or measured.
    """
    from salvage.job import look, measure, refuse_bad, told_before
    from salvage.photo.read import read_photo

    garment = read_garment(record)
    state: journal.State | None = None
    for file in _files(garment, photo):
        step(f"reading {file}")
        path = inside(record.parent, file, photos)
        picture = read_photo(path)
        told = told_before(picture, telling_again(garment, file), garment)
        seen = look(picture, told, step=step)
        refuse_bad(seen)
        measured = measure([seen], told, name=garment.name, step=step).garment
        found = _under_its_name(measured, file)

        def merged(old: Garment, found: Garment = found) -> Garment:
            old = with_contents(old, record.parent)
            return carried(old, merge_all(old, found).garment)

        state = journal.change(record, merged, {"do": "found again", "photo": file})
        garment = state.garment
    if state is None:
        raise UsageError(f"{garment.name} has no photograph that could be measured again.")
    return state


def telling_again(garment: Garment, file: str) -> Telling:
    """What a record knows of the cloth in one of its photographs, as it was or would be told."""
    here = [each for each in garment.pieces if each.photo is not None and each.photo.file == file]
    if not here:
        raise SalvageError(f"{file}: is no photograph of {garment.name}.")
    shot = here[0].photo
    assert shot is not None
    found = [each for each in here if "fabric" not in each.by_person] or here
    scaled = any(key in shot.camera.get(TOLD, shot.camera) for key in ("side", "paper", "known"))
    return Telling(
        side=None if scaled else shot.side or None,
        kind=garment.kind if "kind" in garment.by_person else "",
        fabric=max(found, key=lambda each: each.outline.area).fabric,
        layers=_usual([each for each in here if "layers" not in each.by_person]),
    )


def _usual(pieces: list[Piece]) -> int:
    counted = Counter(each.layers for each in pieces)
    return counted.most_common(1)[0][0] if counted else 1


def _files(garment: Garment, photo: str | None) -> list[str]:
    there = list(dict.fromkeys(each.photo.file for each in garment.pieces if each.photo is not None))
    if photo:
        named = [each for each in there if photo in (each, each.rsplit("/", 1)[-1])]
        if len(named) != 1:
            raise UsageError(
                f"{garment.name} has no photograph {photo}; it has {', '.join(there) or 'none'}."
            )
        return named
    hinted = [each for each in there if any(hints.photo == each for hints in garment.hints)]
    return there if len(there) == 1 else hinted


def _under_its_name(garment: Garment, file: str) -> Garment:
    """Pieces and questions that name their photograph as the record does."""
    pieces = tuple(
        replace(each, photo=replace(each.photo, file=file)) if each.photo is not None else each
        for each in garment.pieces
    )
    questions = tuple(replace(each, photo=file) for each in garment.questions)
    return replace(garment, pieces=pieces, questions=questions)

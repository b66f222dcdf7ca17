"""What is left over after a cut, kept as a record of its own (`fit --keep-rest`)."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import UsageError

from .options import can_write, say

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment, Piece
    from salvage.fit.answer import Answer
    from salvage.project.project import Project
    from salvage.report.records import Loaded


def can_keep(rest: Path, garments: Sequence[Path]) -> None:
    """Raise UsageError or SalvageError, before the work, where no rest could be kept there."""
    if rest.suffix.lower() != ".json":
        raise UsageError(f"--keep-rest {rest}: a garment's record ends in .json.")
    can_write(rest, (".json",), "a garment's record")
    photographs = [path for path in garments if path.suffix.lower() != ".json"]
    if photographs:
        raise UsageError(
            f"--keep-rest: {photographs[0]} is a photograph and has no record that could be marked as used up. "
            "Measure it first, then fit its record."
        )
    if rest.exists():
        raise UsageError(f"--keep-rest {rest}: is there already. Choose another name.")


def rest_files(rest: Path, garments: Sequence[Path]) -> list[Path]:
    """Where the rest of each garment goes: of several, `rest.json` and `coat.json` give `rest-coat.json`."""
    from salvage.naming import numbered

    if len(garments) == 1:
        return [rest]
    stems = numbered([f"{rest.stem}-{each.stem}" for each in garments], "{name}-{number}")
    return [rest.with_name(f"{stem}{rest.suffix}") for stem in stems]


def keep(rest: Path, answer: Answer, loaded: Loaded, project: Project) -> None:
    """Write what the layout leaves of each garment it uses, and mark those as used up."""
    from salvage.cloth.record.file import update_garment
    from salvage.errors import SalvageError
    from salvage.rail.cut import cut_today, keep_new
    from salvage.rail.rest import rest_of

    if not answer.is_yes:
        say("no rest is kept: there is no layout to cut.", aside=True)
        return
    used = sorted({each.garment for each in answer.placements})
    places = rest_files(rest, [loaded.files[index] for index in used])
    for place in places:  # before any garment is marked: all of them, or none
        if place.exists():
            raise SalvageError(f"{place}: is there already, so it stays. Choose another --keep-rest.")
    for index, place in zip(used, places, strict=True):
        garment, path = loaded.garments[index], loaded.files[index]
        left = rest_of(
            garment, answer.placements, index, gap=project.cutting_gap, purpose=project.name, file=path.name
        )
        name = ""
        if left is not None:
            name = os.path.relpath(place, path.parent)
            keep_new(place, _seen_from(left, path.parent, place.parent))

        def marked(now: Garment | None, old: Garment = garment, rest: str = name) -> Garment:
            return cut_today(now or old, project.name, rest)

        update_garment(path, marked)
        what = "nothing worth keeping is left" if left is None else f"what is left is in {place}"
        say(
            f"{path} is marked as used up, and {what}. If you don't cut it so: salvage rail {path.parent} --mark-free {path}"
            + ("" if left is None else f", and delete {place}."),
            aside=True,
        )


def _seen_from(garment: Garment, before: Path, now: Path) -> Garment:
    """The garment with its photographs named as seen from another folder."""

    def file(name: str) -> str:
        return os.path.relpath((before / name).resolve(), now.resolve()).replace(os.sep, "/") if name else ""

    def moved(piece: Piece) -> Piece:
        return (
            piece
            if piece.photo is None
            else replace(piece, photo=replace(piece.photo, file=file(piece.photo.file)))
        )

    return replace(
        garment,
        pieces=tuple(map(moved, garment.pieces)),
        removed=tuple(map(moved, garment.removed)),
        questions=tuple(replace(each, photo=file(each.photo)) for each in garment.questions),
    )

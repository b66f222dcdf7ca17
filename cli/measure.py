"""`salvage measure`: from photographs to the garment's record and a picture of what was found."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from json import loads
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .shared.ahead import ahead
from .shared.options import Json, Units, can_write, not_over, print_json, say, told_by_options
from .shared.status import DONE, UNUSABLE

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment, Reply
    from salvage.job import Look
    from salvage.telling import Telling

NAME = "measure"


@told_by_options()
def run(
    photos: Annotated[list[Path], typer.Argument(help="Photographs of one garment.", metavar="PHOTO...")],
    out: Annotated[Path, typer.Option("--out", help="The garment's record to write (.json).")],
    told: Telling,
    name: Annotated[str | None, typer.Option("--name", help="What to call the garment.")] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            "--answer",
            help="Answer a question of this garment: 3=yes or 3=no. May be repeated.",
            metavar="N=yes|no",
        ),
    ] = None,
    units: Units = None,
    json: Json = False,
) -> int:
    """Measure a garment from its photographs: write its record and a marked picture of what was found.

    If the record exists, what a person drew in it is kept, and what they answered; --side, --known and the like
    that it was measured with need not be told again. Hints (--square, --cloth,
    --floor) are pixels of the picture and go with a single photograph. A photograph that can't be measured from
    is named, the others are measured, and the command ends with 4.
    """
    from salvage.errors import UsageError
    from salvage.ours import check_ours
    from salvage.report.marked import marked_beside, write_marked
    from salvage.telling import of_one_picture
    from salvage.units import Unit

    can_write(out, (".json",), "a garment's record")
    pictures = marked_beside(out, photos)
    for picture in pictures:
        not_over(picture, photos)
        check_ours(picture)
    if len({path.name for path in photos}) < len(photos):
        raise UsageError("two of the photographs have the same name. Give each its own, and each only once.")
    each_another(photos)
    of_one_picture(len(photos), told)
    unit = units or Unit.MM
    replies = [reply(each) for each in answer or ()]
    old = None
    if out.exists():
        from salvage.cloth.record.file import read_garment

        old = read_garment(out)
    looks, bad = look_at_each(photos, told, old, out)
    used = [(path, picture) for path, picture in zip(photos, pictures, strict=True) if path not in bad]
    # What is needed once it is measured; a photograph waits for nothing of it.
    ahead("salvage.cloth.record.anew.again", "salvage.report.drawing.picture", "salvage.report.say.summary")
    from salvage.job import measure

    measured = measure(looks, told, name=name or (old.name if old else out.stem))
    from salvage.cloth.record.anew.again import with_photo_paths

    found = with_photo_paths(measured.garment, photos, out.parent)
    garment, left_out = put_in(out, found, told, replies, name)

    def draw(path: Path, picture: Path, seen: Look) -> None:
        assert seen.solution is not None
        assert seen.outline is not None
        write_marked(
            picture,
            garment,
            file_in(garment, path, out.parent),
            seen.photo,
            seen.solution.plane,
            unit,
            squares=seen.squares,
            known=seen.known,
            outline_px=seen.outline.shape_px,
            doubtful_px=seen.outline.doubtful_px,
        )

    with ThreadPoolExecutor(1) as other_core:
        drawn = [
            other_core.submit(draw, path, picture, seen)
            for (path, picture), seen in zip(used, measured.looks, strict=True)
        ]
        if json:
            from salvage.cloth.record.write import garment_to_json

            whole = loads(garment_to_json(garment))
            print_json(whole | {"unused": list(bad.values())} if bad else whole)
        else:
            from salvage.report.say.summary import measure_summary

            say(measure_summary(replace(measured, garment=garment), unit))
        for each in drawn:
            each.result()
    for path in (out, *(picture for _, picture in used)):
        say(f"wrote {path}", aside=True)
    say_what_next(out, left_out)
    say_kept(garment, found, out)
    if bad:
        say(
            f"not used: {', '.join(path.name for path in bad)}. The record holds what the others show.",
            aside=True,
        )
    return UNUSABLE if bad else DONE


def look_at_each(
    photos: list[Path], told: Telling, old: Garment | None, out: Path
) -> tuple[list[Look], dict[Path, str]]:
    """Look at each photograph; what is wrong with those that can't be measured from. Raises SalvageError if none can.

    old: what the record held, and so what each was told of before.
    """
    from salvage.errors import SalvageError, UsageError

    from .shared.photographs import look_at

    looks: list[Look] = []
    bad: dict[Path, str] = {}
    for path in photos:
        try:
            seen = look_at(path, told, record=old)
            from salvage.job import refuse_bad

            refuse_bad(seen)
            looks.append(seen)
            if kept := kept_words(told.to_record(), seen.told.to_record()):
                say(f"{path.name}: {kept} as told before, kept in {out}", aside=True)
        except UsageError:
            raise
        except SalvageError as error:
            if len(photos) == 1:
                raise
            say(f"salvage: {error}", aside=True)
            bad[path] = str(error)
    if not looks:
        raise SalvageError("none of the photographs can be measured. " + " ".join(bad.values()))
    return looks, bad


def put_in(
    out: Path, found: Garment, told: Telling, replies: Sequence[tuple[int, Reply]], name: str | None
) -> tuple[Garment, tuple[str, ...]]:
    """Write what was found into the record; the garment there now, and what was left out of it as the person wants."""
    from salvage.cloth.doubts import answered, asked
    from salvage.cloth.record.anew.again import measured_again
    from salvage.cloth.record.file import update_garment

    told_now = frozenset({"kind"} if told.kind else ())
    left_out: tuple[str, ...] = ()

    def change(old: Garment | None) -> Garment:
        # The record is read again here: somebody may have edited it while the photographs were measured.
        nonlocal left_out
        garment, merged = measured_again(old, found, out.parent, told_now)
        left_out = merged.left_out
        for number, said in replies:
            garment = answered(garment, number, said)
        garment = asked(garment, garment.questions) if replies else garment
        return replace(garment, name=name) if name else garment

    return update_garment(out, change), left_out


def say_what_next(out: Path, left_out: Sequence[str]) -> None:
    """How to put right what is wrong, and how to have back what was taken out before."""
    say(
        f"put right what is wrong by its number in the picture: salvage chalk {out} --not N, --pocket X,Y X,Y, --name "
        "N=NAME ... (salvage chalk --help), or on the page: salvage chalk",
        aside=True,
    )
    if left_out:
        say(
            f"left out, as {out} has been without it: {', '.join(left_out)}. To have it back, take it out of "
            '"removed" there and measure again.',
            aside=True,
        )


def each_another(photos: list[Path]) -> None:
    """Raise UsageError where one photograph is given twice under two names: its cloth is there only once."""
    from salvage.errors import UsageError
    from salvage.files import content_hash

    seen: dict[str, Path] = {}
    for path in photos if len(photos) > 1 else ():
        try:
            before = seen.setdefault(content_hash(path), path) if path.is_file() else path
        except OSError:  # told of when it is read
            continue
        if before != path:
            raise UsageError(f"{path}: is the same photograph as {before}. Give it only once.")


def reply(text: str) -> tuple[int, Reply]:
    """Read `3=yes`. Raises UsageError."""
    from salvage.cloth.garment import Reply
    from salvage.errors import UsageError

    number, _, said = text.partition("=")
    words = {"yes": Reply.YES, "y": Reply.YES, "no": Reply.NO, "n": Reply.NO}
    if not number.strip().isdigit() or said.strip().lower() not in words:
        raise UsageError(
            f"--answer {text}: write the question's number and yes or no, such as --answer 3=yes."
        )
    return int(number), words[said.strip().lower()]


def kept_words(now: dict[str, Any], used: dict[str, Any]) -> str:
    """Which options a photograph was measured with that were not told now."""
    return ", ".join(f"--{name}" for name, value in used.items() if now.get(name) != value)


def say_kept(garment: Garment, new: Garment, out: Path) -> None:
    """Tell of pieces that the record held before, for they may be another garment's."""
    now = {piece.photo.file for piece in new.pieces if piece.photo is not None}
    kept = [p.name for p in garment.pieces if p.photo is None or p.photo.file not in now]
    if kept:
        say(
            f"{out} held '{garment.name}' already: kept of it {', '.join(kept)}. For another garment give another --out.",
            aside=True,
        )


def file_in(garment: Garment, photo: Path, folder: Path) -> str:
    """What the garment's pieces call a photograph; the photograph's own name if none lies in it."""
    there = (piece.photo.file for piece in garment.pieces if piece.photo is not None)
    return next((file for file in there if (folder / file).resolve() == photo.resolve()), photo.name)

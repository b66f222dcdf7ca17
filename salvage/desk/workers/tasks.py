"""What the second process does: the same calls as the commands make, told step by step. Plain data in and out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from salvage.desk.teller import Teller
from salvage.errors import SalvageError
from salvage.units import Unit

if TYPE_CHECKING:
    from salvage.job import Look
    from salvage.telling import Telling

MOST_PIXELS = 110_000_000  # of a photograph that comes from a browser; few telephones write more


def ready(teller: Teller, what: str) -> None:
    """Load what the first photograph, or the first answer, would wait for."""
    from importlib import import_module

    looking = ("salvage.job", "salvage.cloth.outline.find", "salvage.cloth.inside", "salvage.photo.read")
    answering = ("salvage.fit.fit", "salvage.desk.answer.asking")
    for module in looking if what == "eye" else answering:
        import_module(module)
    if what == "hand":
        from salvage.fit.kernels.calls import get_ready

        get_ready()  # compiles the search where this machine hasn't yet


# What the commands' sentences ask for, as it is done on the page.
_ON_THE_PAGE = (
    ("`salvage square` prints squares", "“Print squares” makes squares"),
    (
        "Point at the middle of one, in pixels of the upright picture, or leave --square out",
        "Tap the middle of one, or check again",
    ),
    ("with --square X,Y", "with a tap in the picture"),
    ("with --side, for example --side 150mm, or give", "above, for example 150mm, or give"),
    (" with --known X1,Y1,X2,Y2,LENGTH. (Squares", ", below. (Squares"),
    ("Point at it with --cloth X,Y (pixels).", "Photograph it on a floor of another colour."),
    (
        "measure it with a tape, and check --side.",
        "measure it with a tape, and check the side of the square.",
    ),
    ("--side", "the side"),
)


def on_the_page(sentence: str) -> str:
    """A sentence of the check without the words that only somebody at a command line can use."""
    for command, page in _ON_THE_PAGE:
        sentence = sentence.replace(command, page)
    return sentence


def check(teller: Teller, photo: str, side: str = "", **hints: Any) -> dict[str, Any]:
    """Is the photograph good enough, and what to change."""
    from salvage.report.say.answers import check_data
    from salvage.report.say.summary import check_summary

    seen = _looked(teller, Path(photo), _telling(side, hints))
    data = check_data(seen)
    for each in data["problems"]:
        each["message"] = on_the_page(each["message"])
    data["advice"] = [on_the_page(each) for each in data["advice"]]
    return data | {"said": check_summary(seen, Unit.MM).splitlines(), "measurable": _measurable(seen)}


def measure(
    teller: Teller, photo: str, record: str, side: str = "", name: str = "", **hints: Any
) -> dict[str, Any]:
    """Measure a photograph into a record, as `salvage measure` does. Gives the record's name."""
    from salvage.cloth.record.anew.again import measured_again, with_photo_paths
    from salvage.cloth.record.file import update_garment
    from salvage.job import measure as measured
    from salvage.job import refuse_bad

    told = _telling(side, hints)
    path, out = Path(photo), Path(record)
    seen = _looked(teller, path, told)
    try:
        refuse_bad(seen)
    except SalvageError as error:
        raise SalvageError(on_the_page(str(error))) from None
    garment = measured([seen], told, name=name or out.stem, step=teller.step).garment
    found = with_photo_paths(garment, [path], out.parent)
    told_now = {"kind"} if told.kind else set()
    teller.step("writing the record")
    update_garment(out, lambda old: measured_again(old, found, out.parent, told_now)[0])
    return {"record": out.name}


def answer(
    teller: Teller,
    records: list[str],
    garments: list[str],
    project: str,
    unit: str,
    pins: list[Any],
    seconds: float,
    improve: bool,
) -> dict[str, Any]:
    """The answer to a project with these records. garments: what is in them, as the server, which is ours, packed it."""
    import base64
    import pickle

    from salvage.desk.answer import asking

    known = [pickle.loads(base64.b64decode(each)) for each in garments]
    question = asking.asked([Path(each) for each in records], Path(project), Unit(unit), known=known)
    return asking.answer_now(question, pins, seconds=seconds, improve=improve, teller=teller)


def drag(
    teller: Teller, placement: dict[str, Any], from_px: list[float], to_px: list[float], turn: float
) -> dict[str, Any]:
    """A panel of the last answer dragged from one pixel to another and turned: where it lies then, and why it may not."""
    from salvage.desk.answer import asking

    (x0, y0), (x1, y1) = from_px, to_px
    return asking.dragged(placement, (float(x0), float(y0)), (float(x1), float(y1)), turn)


def refind(teller: Teller, record: str, photo: str) -> dict[str, Any]:
    """Find the edge anew around what a person said is cloth or floor."""
    from salvage.desk.edit.refind import refind as again

    again(Path(record), photo or None, step=teller.step)
    return {"record": Path(record).name}


TASKS: dict[str, Callable[..., Any]] = {
    "ready": ready,
    "check": check,
    "measure": measure,
    "answer": answer,
    "drag": drag,
    "refind": refind,
}


# --- small help ------------------------------------------------------------------------------------


_last_look: dict[tuple[str, Any, Any], Look] = {}


def _looked(teller: Teller, path: Path, told: Telling) -> Look:
    """A photograph looked at; of the last one the outline is known and isn't sought again when only the side changed."""
    from salvage.files import content_hash
    from salvage.job import look
    from salvage.photo.read import read_photo

    teller.step(f"reading {path.name}")
    key = (content_hash(path) if path.is_file() else str(path), told.cloth_at, told.floor_at)
    before = _last_look.get(key)
    if before is not None and before.outline is not None:
        photo = replace(before.photo, path=path)
        seen = look(photo, told, outline=False, step=teller.step)
        problems = dict.fromkeys((*seen.problems, *before.outline.problems))
        seen = replace(seen, outline=before.outline, problems=tuple(problems))
    else:
        photo = read_photo(path)
        if math.prod(photo.full_px) > MOST_PIXELS:
            raise SalvageError(
                f"{path.name}: has more than {MOST_PIXELS // 1_000_000} million pixels. Save it smaller."
            )
        seen = look(photo, told, step=teller.step)
    _last_look.clear()
    _last_look[key] = seen
    return seen


def _measurable(seen: Look) -> bool:
    from salvage.job import refuse_bad

    try:
        refuse_bad(seen)
    except SalvageError:
        return False
    return True


def _telling(side: str, hints: Mapping[str, Any]) -> Telling:
    """What the page's form says beside the photograph. Raises UsageError."""
    from salvage.telling import Telling, known_between, side_told
    from salvage.trade.kinds import kind_named

    length = side_told(side) if side.strip() else None
    known = tuple(
        known_between((float(x), float(y)), (float(u), float(v)), str(said))
        for x, y, u, v, said in hints.get("known", ())
    )
    kind_named(hints.get("kind", ""))

    def points(name: str) -> tuple[tuple[float, float], ...]:
        return tuple((float(x), float(y)) for x, y in hints.get(name, ()))

    return Telling(
        side=length, known=known, square_at=points("square_at"), cloth_at=points("cloth_at"), floor_at=points("floor_at"),
        kind=hints.get("kind", ""), layers=int(hints.get("layers", 1)), fabric=hints.get("fabric", "").strip() or "shell",
    )  # fmt: skip

"""The answer that the page shows: asked again after each change, and given in words and in pixels."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry import Polygon, shape

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import read_garment
from salvage.desk.answer.hand import Hand
from salvage.desk.answer.laid import piece_named
from salvage.desk.project.helped import can_be_done
from salvage.desk.teller import Teller
from salvage.errors import UsageError
from salvage.fit.answer import Answer, Placement, Verdict
from salvage.fit.say.cloth import unsuited
from salvage.fit.say.phrases import against
from salvage.fit.write import answer_to_json
from salvage.project.project import Project
from salvage.project.read import read_project
from salvage.report.records import Loaded, with_photographs
from salvage.report.say.words import (
    MARK,
    allowance_words,
    grave_words,
    headline,
    next_step,
    scale_words,
)
from salvage.units import Unit, format_area, format_size

_MOST_RECTANGLES = 3
_FIRST_LOOK, _NEXT_LOOK = 6.0, 8.0  # s of searching

# What the report's sentences speak of that isn't to be seen on the page.
_ON_THE_PAGE = (
    ("cut in the order of the numbers", "cut in the order that the report tells"),
    ("of the cutting chart", "of the cutting chart (under “Print and keep”)"),
)

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PageQuestion:
    """What is asked: records with where they lie in their photographs, and a project in the person's units.

    file: the project's, None where it has none.
    """

    shown: Loaded
    project: Project
    unit: Unit
    file: Path | None = None


def loaded(records: Sequence[Path], *, pictures: bool = True, known: Sequence[Garment] = ()) -> Loaded:
    """Records with their planes, and with their photographs if pictures are wanted. known: what is in them, if it is."""
    garments = known or [read_garment(path) for path in records]
    return with_photographs(garments, records, pictures=pictures)


def asked(
    records: Sequence[Path],
    project: Path,
    unit: Unit,
    *,
    pictures: bool = False,
    known: Sequence[Garment] = (),
) -> PageQuestion:
    """Read what is asked about. Raises SalvageError."""
    read = read_project(project)
    return PageQuestion(
        loaded(records, pictures=pictures, known=known), replace(read, unit=unit), unit, project
    )


def answer_data(answer: Answer, question: PageQuestion) -> dict[str, Any]:
    """The answer for the page: that of `fit --json`, with its words."""
    garments, project, unit = question.shown.garments, question.project, question.unit
    warned = unsuited(answer, garments)
    said = against(max(0.0, answer.spare or 0.0), answer.plus_minus, unit)
    data = answer_to_json(answer, garments, question.shown.to_px)
    return data | {
        "helps": [
            each | {"doable": question.file is not None and _doable(question.file, each)}
            for each in data["helps"]
        ],
        "trial": question.file is not None and question.file.name.startswith("."),
        "mark": MARK[answer.verdict],
        "headline": headline(answer, warned),
        "reasons": [*warned, *answer.reasons],
        "larger": scale_words(answer),
        "next_step": _on_the_page(next_step(answer, warned, longer="")),
        "cautions": list(grave_words(project, garments)),
        "allowance": allowance_words(project, unit),
        "notes": list(project.notes),
        "spare_said": None if answer.spare is None else said[0],
        "plus_minus_said": said[1],
        "left_said": [_left(fabric, answer, unit) for fabric in answer.left_over],
    }


def _on_the_page(sentence: str) -> str:
    for report, page in _ON_THE_PAGE:
        sentence = sentence.replace(report, page)
    return sentence


def _doable(file: Path, told: Mapping[str, Any]) -> bool:
    """Whether the page can do a change that would help, in the project's table."""
    return not told.get("garments") and can_be_done(file, told["edits"], told.get("percent"))


# --- the answer that is being worked on, in its process ------------------------------------------------


@dataclass(slots=True)
class _Now:
    """What is asked now, and the hand that answers it."""

    question: PageQuestion | None = None
    hand: Hand | None = None


_now = _Now()


def answer_now(
    question: PageQuestion,
    pins: Sequence[Mapping[str, Any]],
    *,
    seconds: float,
    improve: bool,
    teller: Teller,
) -> dict[str, Any]:
    """The answer under the hand: a first word, or with improve what is found in so many seconds.

    pins: placements that stay where they are, the rest is laid around them.
    """
    hand = _hand_for(question, [placement_of(each) for each in pins])
    if not improve:
        return answer_data(hand.answer(), question)
    until = time.monotonic() + seconds
    with _watched(hand, teller, seconds):
        found = hand.improve(_FIRST_LOOK)
        while not teller.stopped() and not _settled(found) and (left := until - time.monotonic()) > 1.0:
            found = hand.improve(left if found.verdict is Verdict.NO else min(left, _NEXT_LOOK))
    return answer_data(found, question)


def last_answer(question: PageQuestion, teller: Teller) -> Answer:
    """The answer that the page shows, for its report; asked again where it is about something else."""
    hand = _hand_for(question, None)
    if hand.last is None or not hand.answered:
        teller.step("searching for a layout")
        return hand.improve(_FIRST_LOOK)
    return hand.last


def dragged(placement: Mapping[str, Any], from_px: Point, to_px: Point, turn: float) -> dict[str, Any]:
    """A placement of the last answer moved on its photograph; with `why_not`, empty if it may lie so."""
    question, hand = _now.question, _now.hand
    if question is None or hand is None or hand.last is None or not hand.answered:
        raise UsageError("there is no answer yet whose panels could be moved.")
    before = placement_of(placement)
    if piece_named(hand.garments[before.garment], before.piece).photo is None:
        # Typed-in cloth lies on plain ground, a pixel a millimetre, with y downward.
        (x0, y0), (x1, y1) = from_px, to_px
        moved = hand.moved_by(before, x1 - x0, y0 - y1, turn=turn)
    else:
        moved = hand.moved(before, from_px, to_px, turn=turn)
    shown = question.shown
    data = answer_to_json(replace(hand.last, placements=(moved,)), shown.garments, shown.to_px)
    return data["placements"][0] | {"why_not": list(hand.why_not(moved))}


def _hand_for(question: PageQuestion, pins: Sequence[Placement] | None) -> Hand:
    """The hand, brought to what is asked now. pins: None leaves them as they are."""
    before, hand = _now.question, _now.hand
    garments, project = question.shown.garments, question.project
    if hand is None or before is None or before.project.name != project.name:
        hand = Hand(garments, project, pins or ())
    else:
        same = (before.shown.garments, before.project) == (garments, project)
        if not same or (pins is not None and tuple(pins) != hand.pins):
            hand.change(garments=garments, project=project, pins=pins)
    _now.question, _now.hand = question, hand
    return hand


def _settled(answer: Answer) -> bool:
    """Whether a longer search is worth no more waiting: there is a layout that may be cut, or a proof and what helps."""
    proved = answer.verdict is Verdict.NO and bool(answer.helps)
    return proved or answer.is_yes


@contextmanager
def _watched(hand: Hand, teller: Teller, seconds: float) -> Iterator[None]:
    """Stops the hand when the page asks for that, and tells how far it is."""
    begun = time.monotonic()
    over = threading.Event()

    def watch() -> None:
        while not over.wait(0.1):
            if teller.stopped():
                hand.stop()
                return
            teller.share(min(1.0, (time.monotonic() - begun) / seconds))

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()


def placement_of(data: Mapping[str, Any]) -> Placement:
    """A placement as the page has it. Raises UsageError for what is none."""
    try:
        drawn = shape(data["shape"])
        if not isinstance(drawn, Polygon):
            raise ValueError("no area")
        return Placement(
            panel=str(data["panel"]), copy=int(data["copy"]), part=None if data["part"] is None else int(data["part"]),
            garment=int(data["garment"]), piece=str(data["piece"]), layer=int(data["layer"]), angle=float(data["angle"]),
            flipped=bool(data["flipped"]), shape=drawn,
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, shapely.errors.ShapelyError) as error:
        raise UsageError(f"that is no placement of a panel ({error}).") from error


def _left(fabric: str, answer: Answer, unit: Unit) -> dict[str, Any]:
    left = answer.left_over[fabric]
    largest = [format_size((width, length), unit) for width, length, *_ in left.rectangles[:_MOST_RECTANGLES]]
    return {"fabric": fabric, "area": format_area(left.area, unit), "largest": largest}

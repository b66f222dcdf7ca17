"""A verdict that hangs on a question says so, and only then."""

from __future__ import annotations

from shapely.geometry import LineString, box

from salvage.cloth.doubts import asked
from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment, Piece
from salvage.fit.answer import Verdict
from salvage.fit.fit import fit_project
from salvage.fit.hangs import with_doubts
from salvage.project.project import Panel, Project

SEAM = Blocked(
    BlockedKind.SEAM,
    LineString([(300, 0), (300, 400)]),
    10.0,
    FoundBy.TRADE,
    "left armhole seam, assumed",
    0.5,
    "a 1.1",
)
STAIN = Blocked(BlockedKind.WORN, box(50, 20, 120, 90), 3.0, confidence=0.5, id="a 1.2")


def coat() -> Garment:
    return asked(
        Garment(
            "coat",
            (
                Piece("body", box(0, 0, 300, 400), blocked=(SEAM, STAIN)),
                Piece("sleeve", box(300, 0, 520, 400), blocked=(SEAM,)),
            ),
        )
    )


def project(width: float, length: float) -> Project:
    outline = ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))
    return Project("bag", (Panel("side", outline),))


def reasons(width: float, length: float) -> tuple[Verdict, str]:
    answer = fit_project([coat()], project(width, length), seconds=2.0)
    return answer.verdict, " ".join(
        with_doubts(answer, [coat()], project(width, length), seconds=8.0).reasons
    )


def test_a_no_that_hangs_on_an_assumed_seam_names_its_question() -> None:
    number = next(each.number for each in coat().questions if "armhole" in each.text)
    verdict, told = reasons(450.0, 250.0)
    assert verdict is Verdict.NO
    assert f"yes if the answer to question {number} is no" in told


def test_a_no_that_hangs_on_nothing_doubtful_says_nothing_of_it() -> None:
    verdict, told = reasons(700.0, 250.0)
    assert verdict is Verdict.NO
    assert "question" not in told


def test_a_yes_stays_as_it_is() -> None:
    verdict, told = reasons(100.0, 100.0)
    assert verdict is Verdict.YES
    assert "question" not in told

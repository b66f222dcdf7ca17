"""From photograph to verdict, on questions with known answers: pytest -m bench tests/bench/test_verdicts.py -s

The layout of each yes is laid on the true usable cloth too (off_cloth.py beside the questions): a right verdict
whose panel lies over a pocket or a seam helps nobody.
"""

from __future__ import annotations

import json
import time
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from asked import layout_checker, score
from told import Told

from salvage.errors import SalvageError
from salvage.fit.answer import Answer, Verdict
from salvage.fit.fit import fit_project
from salvage.fit.write import answer_to_json
from salvage.job import Measured, look, measure
from salvage.photo.read import read_photo
from salvage.project.read import read_project
from salvage.telling import Telling

SECONDS = 10.0
TOLD = {"right": Told("30 right", 30), "shown": Told("none of the 14 layouts shown", 14)}
KINDS = ("right", "false yes", "false no", "too-close", "unsettled", "refused")


def measured(photo: Path, side: float) -> Measured | str:
    telling = Telling(side=side)
    try:
        return measure([look(read_photo(photo), telling)], telling, name=photo.parent.name)
    except SalvageError as error:
        return str(error)


def as_written(answer: Answer, garment: Measured) -> dict:
    """The answer as `fit --json` gives it, its placements in pixels of the one photograph."""
    plane = garment.looks[0].solution
    assert plane is not None
    return answer_to_json(answer, [garment.garment], lambda _, points: plane.plane.to_px(np.asarray(points)))


@pytest.mark.bench
def test_verdicts_from_photographs(shared: Path) -> None:
    answers = json.loads((shared / "verdict" / "answers.json").read_text())
    checker = layout_checker(shared / "verdict")
    garments: dict[str, Measured | str] = {}
    counts: Counter[str] = Counter()
    shown = off = 0
    for name, truth in sorted(answers.items()):
        photo = shared / "photos" / truth["photo"]
        if truth["photo"] not in garments:
            garments[truth["photo"]] = measured(photo, truth["side_mm"])
        garment = garments[truth["photo"]]
        if isinstance(garment, str):
            counts["refused"] += 1
            print(f"{name}  {truth['kind']:9s} refused: {garment}")
            continue
        begun = time.perf_counter()
        project = read_project(shared / "verdict" / f"{name}.toml")
        answer = fit_project([garment.garment], project, seconds=SECONDS)
        result = score(answer.verdict, truth["truth"])
        counts[result] += 1
        over: list[str] = []
        if answer.verdict in (Verdict.YES, Verdict.YES_WITH_JOINS):
            shown += 1
            scene = json.loads((photo.parent / "truth.json").read_text())
            over = checker.off_the_cloth(scene, as_written(answer, garment))
            off += bool(over)
        spare = "-" if answer.spare is None else f"{answer.spare:.1f}"
        print(
            f"{name}  {truth['kind']:9s} {answer.verdict:14s} {result:9s} spare {spare:>5s} +- {answer.plus_minus:.1f}"
            f"  {time.perf_counter() - begun:4.1f} s  {answer.reasons[0] if answer.reasons else ''}"
            f"{'  OFF THE CLOTH: ' + ', '.join(over) if over else ''}"
        )
    print("  ".join(f"{kind}: {counts[kind]}" for kind in KINDS), f" layouts off the cloth: {off} of {shown}")
    assert counts["false yes"] == 0
    assert counts["refused"] == 0
    assert off == 0
    TOLD["right"].at_least(counts["right"])
    TOLD["shown"].at_least(shown)

"""The table of fit questions with known answers: ours beside other programs, ten seconds and two cores each.

pytest -m bench tests/bench -k fitbench -s

Environment: FITBENCH_SECONDS (10); FITBENCH_REFERENCE, a Python (3.12 or newer) that has packingsolver and
spyrrow: without it only our own column is printed; FITBENCH_ONLY, a pattern of names.
Source of the questions and their answers: ../shared/fitbench, its README.md; the strips are the ESICUP nesting
data sets with the best lengths published with doi 10.48550/arXiv.2509.13329.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest
from fit_questions import FitQuestions, question_of
from told import Told

from salvage.fit.kernels.calls import get_ready
from salvage.fit.layout.decide import decide

SECONDS = float(os.environ.get("FITBENCH_SECONDS", "10"))
REFERENCE = os.environ.get("FITBENCH_REFERENCE", "")
SCRIPT = Path(__file__).with_name("nesting_references.py")

Row = dict[str, Any]
# A search that has the clock for its limit lays less on a busy machine: one question of each sort is allowed for that.
TOLD = {
    "settled": Told("68 of 68 settled", 68, 1),
    "1.20": Told("13, 12, 11 and 6 of 13", 13, 1),
    "1.15": Told("13, 12, 11 and 6 of 13", 12, 1),
    "1.10": Told("13, 12, 11 and 6 of 13", 11, 1),
    "1.05": Told("13, 12, 11 and 6 of 13", 6, 1),
}


def ours(questions: FitQuestions, name: str) -> Row:
    """Our decision, after a look by the folder's own checker."""
    data = questions.load(name)
    decision = decide(question_of(data), seconds=SECONDS, workers=2)
    said = "yes" if decision.complete else "no" if decision.proof is not None else "undecided"
    faults = questions.faults(data, decision.placed) if decision.complete else []
    wrong = bool(faults) or (said != "undecided" and said != data["truth"])
    return {"name": name, "class": data.get("class", ""), "right": said == data["truth"] and not wrong,
            "wrong": wrong, "seconds": decision.seconds}  # fmt: skip


def reference(questions: FitQuestions, name: str, how: str) -> Row:
    """What another program said; {} where there is none."""
    if not REFERENCE:
        return {}
    path = questions.folder / f"{name}.json"
    command = [REFERENCE, str(SCRIPT), str(path), how, str(SECONDS)]
    run = subprocess.run(command, capture_output=True, text=True, timeout=20 * SECONDS, check=False)
    if run.returncode:
        return {"decision": "undecided", "failed": run.stderr[-200:]}
    return json.loads(run.stdout.strip().splitlines()[-1])


def table(rows: list[Row]) -> str:
    """Right decisions by class."""
    by_class: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        by_class[row["class"]].append(row)
    lines = [f"{'class':14s}{'n':>4s}{'ours':>6s}{'wrong':>7s}{'median s':>10s}{'packingsolver':>15s}"]
    for name, group in [*sorted(by_class.items()), ("all", rows)]:
        times = [row["seconds"] for row in group if row["right"]]
        other = sum(row.get("reference", False) for row in group) if REFERENCE else "-"
        lines.append(
            f"{name:14s}{len(group):4d}{sum(r['right'] for r in group):6d}{sum(r['wrong'] for r in group):7d}"
            f"{statistics.median(times) if times else float('nan'):10.2f}{other!s:>15s}"
        )
    return "\n".join(lines)


@pytest.mark.bench
def test_fitbench_open_questions(questions: FitQuestions) -> None:
    get_ready()
    rows = []
    for name in questions.names(os.environ.get("FITBENCH_ONLY", "*-*")):
        row = ours(questions, name)
        said = {reference(questions, name, how).get("decision") for how in ("Knapsack", "Feasibility")}
        row["reference"] = questions.load(name)["truth"] in said
        print(f"{name:20s} {'right' if row['right'] else 'WRONG' if row['wrong'] else '-':6s}"
              f"{row['seconds']:7.2f}  {'right' if row['reference'] else '-'}", flush=True)  # fmt: skip
        rows.append(row)
    print("\n" + table(rows))
    assert rows
    assert not any(row["wrong"] for row in rows)
    if "FITBENCH_ONLY" not in os.environ:
        TOLD["settled"].at_least(sum(row["right"] for row in rows))


@pytest.mark.bench
def test_fitbench_strips(questions: FitQuestions) -> None:
    """Strips of f times the best known length, and the length that spyrrow reaches in the same time."""
    get_ready()
    names = sorted({Path(name).name.rsplit("-", 1)[0] for name in questions.names("public/*")})
    wrong = 0
    print(f"\n{'set':12s}{'1.20':>8s}{'1.15':>8s}{'1.10':>8s}{'1.05':>8s}{'spyrrow':>10s}")
    settled: dict[str, int] = defaultdict(int)
    for name in names:
        cells = ""
        for f in ("120", "115", "110", "105"):
            row = ours(questions, f"public/{name}-{f}")
            wrong += row["wrong"]
            settled[f] += row["right"]
            cells += f"{row['seconds']:8.2f}" if row["right"] else f"{'-':>8s}"
        other = reference(questions, f"public/{name}-105", "spyrrow").get("length")
        print(f"{name:12s}{cells}{f'{1.05 * other:.3f}' if other else '-':>10s}", flush=True)
    print("settled     " + "".join(f"{settled[f]:8d}" for f in ("120", "115", "110", "105")))
    assert not wrong
    for f in ("120", "115", "110", "105"):
        TOLD[f"{f[0]}.{f[1:]}"].at_least(settled[f])

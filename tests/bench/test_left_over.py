"""What a layout leaves, beside what a hidden layout with a large rectangle left is known to leave.

pytest -m bench tests/bench/test_left_over.py -s -n 0

Environment: LEFT_SECONDS (10), LEFT_COUNT (30), LEFT_SEED (the kind's own).
"""

from __future__ import annotations

import os
import statistics
import time

import hidden_layouts as hidden
import pytest

from salvage.fit.answer import Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.kernels.calls import get_ready

SECONDS = float(os.environ.get("LEFT_SECONDS", "10"))
COUNT = int(os.environ.get("LEFT_COUNT", "30"))
SEED = int(os.environ.get("LEFT_SEED", "4"))
KNOWN = 0.9  # of the known value, on average; more than is known counts as all of it


@pytest.mark.bench
def test_as_much_is_left_as_is_known_to_be_possible() -> None:
    get_ready()
    shares: list[float] = []
    for each in hidden.leaving(2 * COUNT, SEED):
        if len(shares) == COUNT:
            break
        begun, worked = time.perf_counter(), time.process_time()
        answer = fit_project([each.garment], each.project, seconds=SECONDS, thorough=True)
        took, work = time.perf_counter() - begun, time.process_time() - worked
        assert not check([each.garment], each.project, answer.placements, partial=bool(answer.not_placed))
        rectangles = answer.left_over["shell"].rectangles if answer.left_over else ()
        left = max((width * length for width, length, *_ in rectangles), default=0.0)
        found = left if answer.verdict is Verdict.YES else 0.0
        share = min(1.0, found / each.left)
        # The hidden layout mayn't be chosen where another one keeps off every edge by more than three times as much.
        barred = answer.spare is not None and answer.spare / 3 > each.spare
        if not barred:
            shares.append(share)
        print(
            f"{each.name:12s} {answer.verdict:10s} spare {answer.spare or 0.0:5.1f}{' *' if barred else '  '} "
            f"left {left / 100:6.0f} of {each.left / 100:6.0f} cm2 {found / each.left:5.2f} {took:5.1f} s, work {work:4.1f} s",
            flush=True,
        )
    print(
        f"mean {statistics.mean(shares):.3f}, least {min(shares):.2f} of {len(shares)} (* has too little spare to be chosen: not counted)"
    )
    assert statistics.mean(shares) >= KNOWN

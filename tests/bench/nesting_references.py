"""Other programs on the same questions, to compare with: development dependencies, never imported by salvage.

packingsolver (its irregular module, MIT) decides a question; spyrrow (MIT) packs a strip as short as it can.
Run as a script with a question's file, a name and the seconds; prints one line of JSON. A process of its
own, because these packages need another Python than the oldest that salvage runs on.
"""

from __future__ import annotations

import json
import math
import sys
import time
from pathlib import Path
from typing import Any

TURNS: dict[str, dict[bool, tuple[int, ...]]] = {
    "along": {False: (0, 180), True: (0,)},
    "across": {False: (90, 270), True: (90, 270)},
    "either": {False: (0, 90, 180, 270), True: (0, 90, 270)},
    "bias": {False: (45, 135, 225, 315), True: (45, 315)},
}


def outline_of(panel: dict[str, Any]) -> list[list[float]]:
    if "polygon" in panel:
        return panel["polygon"]
    w, h = panel["rect"]
    return [[0, 0], [w, 0], [w, h], [0, h]]


def rotations_of(panel: dict[str, Any], one_way: bool) -> list[tuple[float, float]]:
    """Allowed angles, first to last, with the cloth's grain up."""
    if "rotations" in panel:
        return [(a, a) for a in panel["rotations"]]
    if panel["grain"] == "any":
        return [(0.0, 360.0)]
    return [(float(a), float(a)) for a in TURNS[panel["grain"]][one_way]]


def packingsolver(question: dict[str, Any], objective: str, seconds: float) -> dict[str, Any]:
    """Decide each fabric in turn, with what time is left."""
    begun = time.monotonic()
    decisions = []
    for fabric in sorted({p["fabric"] for p in question["panels"]}):
        left = seconds - (time.monotonic() - begun)
        decisions.append(_one_fabric(question, fabric, objective, left) if left > 0 else "undecided")
    took = time.monotonic() - begun
    decision = "no" if "no" in decisions else "undecided" if "undecided" in decisions else "yes"
    return {"decision": decision, "seconds": took}


def _one_fabric(question: dict[str, Any], fabric: str, objective: str, seconds: float) -> str:
    import packingsolver.irregular as ps

    def ring(points: list[list[float]]) -> Any:
        area = sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(points, points[1:] + points[:1], strict=True))
        points = points if area > 0 else points[::-1]
        return ps.build_shape([(float(x), float(y)) for x, y in points])

    builder = ps.InstanceBuilder()
    builder.set_objective(getattr(ps.Objective, objective))
    builder.set_item_item_minimum_spacing(float(question.get("gap_mm", 0)))
    one_way = False
    for piece in (p for p in question["pieces"] if p["fabric"] == fabric):
        one_way = piece["one_way"]
        fixed = any("rotations" in p for p in question["panels"])
        tilt = 0.0 if fixed else math.radians(90.0 - piece["grain_deg"])
        cos, sin = math.cos(tilt), math.sin(tilt)
        polygon = piece["polygon"]
        exterior, *holes = [
            [[cos * x - sin * y, sin * x + cos * y] for x, y in r]
            for r in (polygon["exterior"], *polygon.get("holes", []))
        ]
        at = builder.add_bin_type(ring(exterior), copies=1)
        for hole in holes:
            builder.add_defect(at, 0, ps.ShapeWithHoles(ring(hole)))
    asked = 0
    for panel in (p for p in question["panels"] if p["fabric"] == fabric):
        flips = [False, True] if panel.get("may_flip") or panel.get("mirrored_pair") else [False]
        groups = [[f] for f in flips] if panel.get("mirrored_pair") else [flips]
        for group in groups:
            copies = panel["count"] // len(groups)
            allowed = [(a, b, f) for a, b in rotations_of(panel, one_way) for f in group]
            builder.add_item_type(ring(outline_of(panel)), allowed_rotations=allowed, copies=copies)
            asked += copies
    parameters = ps.OptimizeParameters()
    parameters.time_limit = seconds
    parameters.verbosity_level = 0
    output = ps.optimize(builder.build(), parameters)
    if output.is_proven_infeasible:
        return "no"
    number = output.solution.number_of_items()
    if number == asked and output.solution.feasible():
        return "yes"
    return "no" if objective == "Knapsack" and output.is_proven_optimal() else "undecided"


def spyrrow(question: dict[str, Any], seconds: float) -> dict[str, Any]:
    """Length of the strip found, as a part of the length that the question gives."""
    import spyrrow as sp

    items = [
        sp.Item(p["name"], [tuple(c) for c in outline_of(p)], p["count"], p["rotations"])
        for p in question["panels"]
    ]
    xs, ys = zip(*question["pieces"][0]["polygon"]["exterior"], strict=True)
    strip = sp.StripPackingInstance("strip", strip_height=max(ys) - min(ys), items=items)
    config = sp.StripPackingConfig(
        early_termination=False, total_computation_time=round(seconds), num_workers=2, seed=0
    )
    return {"length": strip.solve(config).width / (max(xs) - min(xs))}


if __name__ == "__main__":
    loaded = json.loads(Path(sys.argv[1]).read_text())
    if sys.argv[2] == "spyrrow":
        print(json.dumps(spyrrow(loaded, float(sys.argv[3]))))
    else:
        print(json.dumps(packingsolver(loaded, sys.argv[2], float(sys.argv[3]))))

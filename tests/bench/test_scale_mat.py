"""How right are lengths under telephones' real lenses? Photographs of a printed mat, whose lines are the truth.

pytest -m bench tests/bench/test_scale_mat.py -s

Of every photograph with two squares each one alone is tried as well.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from told import Told

from salvage.photo.problem import Level
from salvage.photo.read import read_photo
from salvage.scale.find import find_squares
from salvage.scale.solve import solve_plane

TOLD = {
    "two": Told("95 of 100 within 0.60 %; 2.3 %", 0.60, 0.006),
    "one": Told("95 of 100 within 0.60 %; 2.3 %", 2.3, 0.06),
    "inside": Told("every length of these", 1.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """One solution: how many squares, percent of error and of plus-minus of every length, what was refused."""

    squares: int
    errors: np.ndarray
    reaches: np.ndarray
    refused: list[str]


def rows_of(folder: Path) -> list[Row]:
    truth = json.loads((folder / "truth.json").read_text())
    photo = read_photo(folder / "photo.jpg")
    finding = find_squares(photo, side=float(truth["side_mm"]))
    assert len(finding.squares) == truth["squares"]
    mm = np.array([length["mm"] for length in truth["lengths"]])
    ends = [np.array([length[key] for length in truth["lengths"]]) for key in ("from_px", "to_px")]
    sets = [finding.squares]
    if len(finding.squares) > 1:
        sets += [(square,) for square in finding.squares]
    rows = []
    for squares in sets:
        solution = solve_plane(photo, squares, height=0.0, height_sd=0.0)
        lengths, reaches = solution.plane.lengths(*ends)
        refused = [p.code.value for p in (*finding.problems, *solution.problems) if p.level is Level.ERROR]
        row = Row(len(squares), 100 * (lengths / mm - 1), 100 * reaches / mm, refused)
        print(
            f"{folder.name:10s} {row.squares} squares  median {np.median(np.abs(row.errors)):.2f}"
            f"  95th {np.percentile(np.abs(row.errors), 95):.2f}  mean {row.errors.mean():+.2f}"
            f"  plus-minus {np.median(row.reaches):.2f}  inside {100 * _inside([row]):3.0f} %  {refused or ''}"
        )
        rows.append(row)
    return rows


def _inside(rows: list[Row]) -> float:
    return float(
        np.mean([np.abs(e) < r for row in rows for e, r in zip(row.errors, row.reaches, strict=True)])
    )


@pytest.mark.bench
def test_lengths_on_a_printed_mat(shared: Path) -> None:
    folders = sorted(path.parent for path in (shared / "photos" / "mat").glob("*/truth.json"))
    if not folders:
        pytest.skip("no photographs of the mat here")
    print("\nerrors of lengths on the mat, %")
    rows = [row for folder in folders for row in rows_of(folder)]
    two = [row for row in rows if row.squares == 2]
    one = [row for row in rows if row.squares == 1]
    for name, group in (("one square", one), ("two squares", two)):
        errors = np.abs(np.concatenate([row.errors for row in group]))
        print(
            f"{name}: median {np.median(errors):.2f}, 95th {np.percentile(errors, 95):.2f}, plus-minus "
            f"{np.median(np.concatenate([row.reaches for row in group])):.2f}, inside {100 * _inside(group):.1f} %"
        )
    assert not [row.refused for row in rows if row.refused]
    assert (len(two), len(one)) == (2, 5)
    for name, group in (("one", one), ("two", two)):
        TOLD["inside"].at_least(_inside(group))
        TOLD[name].at_most(float(np.percentile(np.abs(np.concatenate([row.errors for row in group])), 95)))

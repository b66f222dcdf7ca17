"""Lengths under a telephone's real lens, against the grid printed on a cutting mat.

Source: `fixtures/mat` (CC0 1.0; its README says how the truth was made, without this project's code).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from salvage.photo.problem import Level
from salvage.photo.read import read_photo
from salvage.scale.find import find_squares
from salvage.scale.solve import solve_plane

MAT = Path(__file__).resolve().parents[2] / "fixtures" / "mat"
MAT_TOLERANCE_PERCENT = 0.2


@pytest.fixture(scope="module")
def seen() -> Any:
    truth = json.loads((MAT / "lengths.json").read_text())
    photo = read_photo(MAT / "mat.jpg")
    finding = find_squares(photo, side=truth["side_mm"])
    ends = [np.array([length[key] for length in truth["lengths"]]) for key in ("from_px", "to_px")]
    return photo, finding, ends, np.array([length["mm"] for length in truth["lengths"]])


def test_two_squares_agree_and_lengths_are_right(seen: Any) -> None:
    photo, finding, ends, mm = seen
    assert len(finding.squares) == 2
    solution = solve_plane(photo, finding.squares, height=0.0, height_sd=0.0)
    assert not [p for p in (*finding.problems, *solution.problems) if p.level is Level.ERROR]
    lengths, reaches = solution.plane.lengths(*ends)
    percent = 100 * np.abs(lengths / mm - 1)
    assert np.percentile(percent, 95) < 1.2
    assert np.mean(percent < 100 * reaches / mm + MAT_TOLERANCE_PERCENT) >= 0.95
    assert np.median(100 * reaches / mm) < 2.0


@pytest.mark.parametrize("which", [0, 1])
def test_one_square_alone_knows_how_little_it_knows(seen: Any, which: int) -> None:
    photo, finding, ends, mm = seen
    plane = solve_plane(photo, finding.squares[which : which + 1], height=0.0, height_sd=0.0).plane
    lengths, reaches = plane.lengths(*ends)
    assert np.mean(np.abs(lengths - mm) < reaches + mm * MAT_TOLERANCE_PERCENT / 100) >= 0.95
    assert np.median(reaches / mm) < 0.04

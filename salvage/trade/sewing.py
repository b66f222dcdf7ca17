"""Sizes before and after sewing: allowances, folded straps, joins. All lengths in mm.

Common practice of dressmaking and bag making, held by tests/outside/test_trade_facts.py. The class of a seam is told so that
a person can look it up: ISO 4916:1991, Textiles: Seam types: classification and terminology; its number and name are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SeamClass:
    """number, name: of ISO 4916."""

    number: int
    name: str


JOIN = SeamClass(1, "superimposed")  # two edges laid on each other and sewn

# A strap folded to the middle from both sides and once more lies in four layers.
FOLDS_OF_A_STRAP = 4

# From plain cloth nobody joins a strip up to this long, mm; of a longer one no length is shorter than half of it.
LONGEST_IN_ONE = 700.0


def cut_size(finished: float, allowance: float) -> float:
    """What to cut for a finished size: an allowance on each of two sides."""
    return finished + 2 * allowance


def strip_cut_width(finished_width: float, folds: int) -> float:
    """What to cut for a strip of that finished width, folded so that it lies in `folds` layers.

    A folded strip needs no allowance across: its raw edges are folded in.
    """
    return finished_width * folds


def bias_join_cost(cut_width: float) -> float:
    """Length lost where two strips are joined at 45 degrees: the slanted end takes the width in length."""
    return cut_width


def straight_join_cost(allowance: float) -> float:
    """Length lost where two strips are joined straight across: one allowance from each."""
    return 2 * allowance

"""Sizes before and after sewing: allowances, folded straps, boxed corners, joins. All lengths in mm.

Common practice of dressmaking and bag making, held by tests/outside/test_trade_facts.py.
"""

from __future__ import annotations

from salvage.units import MM_PER_INCH

# Usual allowances, common practice: outer bag and lining 3/8 to 1/2 in, 1/4 in once trimmed.
ALLOWANCE_USUAL = (3 / 8 * MM_PER_INCH, 1 / 2 * MM_PER_INCH)
ALLOWANCE_TRIMMED = 1 / 4 * MM_PER_INCH

# A strap folded to the middle from both sides and once more lies in four layers.
FOLDS_OF_A_STRAP = 4


def cut_size(finished: float, allowance: float) -> float:
    """What to cut for a finished size: an allowance on each of two sides."""
    return finished + 2 * allowance


def strip_cut_width(finished_width: float, folds: int) -> float:
    """What to cut for a strip of that finished width, folded so that it lies in `folds` layers.

    A folded strip needs no allowance across: its raw edges are folded in.
    """
    return finished_width * folds


def box_depth(distance_from_tip: float) -> float:
    """Depth of a bag at a corner sewn straight across at that distance from the corner's tip.

    The flattened corner is a right-angled tip, so the seam is twice as long as its distance from the tip.
    """
    return 2 * distance_from_tip


def bias_join_cost(cut_width: float) -> float:
    """Length lost where two strips are joined at 45 degrees: the slanted end takes the width in length."""
    return cut_width


def straight_join_cost(allowance: float) -> float:
    """Length lost where two strips are joined straight across: one allowance from each."""
    return 2 * allowance


def joined_length(lengths: tuple[float, ...], cost_of_a_join: float) -> float:
    """Length of the strip sewn from these cut lengths."""
    return sum(lengths) - cost_of_a_join * (len(lengths) - 1)

"""Strips joined from lengths.

Each join costs length: on the bias, two ends laid square over each other and sewn corner to corner,
the cut width; straight, the allowance of both ends. So k lengths must add up to the strip's length and
k - 1 times that cost.
Source: common practice (a strap or binding joined at 45 degrees).
"""

from __future__ import annotations

from salvage.project.project import Join, Strip
from salvage.trade.sewing import bias_join_cost, straight_join_cost

MOST_LENGTHS = 16  # a strip of more lengths than this is patchwork
_STEP = 0.01  # mm; lengths are rounded to this
_TINY = 1e-9  # mm; what rounding in the machine may cost


def cost_of_join(strip: Strip) -> float:
    """mm of length that one join uses up."""
    return (
        bias_join_cost(strip.cut_width)
        if strip.join is Join.BIAS
        else straight_join_cost(strip.seam_allowance)
    )


def length_to_cut(strip: Strip, count: int) -> float:
    """mm of length to cut in all when the strip is joined from `count` lengths."""
    return strip.length + (count - 1) * cost_of_join(strip)


def most_lengths(strip: Strip) -> int:
    """Into how many lengths the strip can usefully be cut."""
    if strip.join is Join.NONE:
        return 1
    count = 1
    while count < MOST_LENGTHS:
        before, after = (length_to_cut(strip, n) / n for n in (count, count + 1))
        if after >= before or after < strip.shortest:
            break
        count += 1
    return count


def equal_lengths(strip: Strip, count: int) -> tuple[float, ...]:
    """`count` equal lengths, the last taking up the rounding."""
    total = length_to_cut(strip, count)
    each = round(total / count / _STEP) * _STEP
    return (*(each for _ in range(count - 1)), total - each * (count - 1))


def shared_out(strip: Strip, runs: list[float]) -> tuple[float, ...] | None:
    """Lengths to cut from these runs of cloth, longest first and as few as will do; None if too little.

    What is to spare is left alike at every run, so that none is cut to its last millimetre.
    """
    for count in range(1, min(len(runs), most_lengths(strip)) + 1):
        rest, taken = length_to_cut(strip, count), runs[:count]
        if sum(taken) < rest:
            continue
        if count == 1:
            return (rest,)
        if min(taken) >= strip.shortest:
            return _with_equal_slack(taken, rest, strip.shortest)
    return None


def _with_equal_slack(runs: list[float], total: float, shortest: float) -> tuple[float, ...]:
    """Lengths that add up to total, each its run less the same slack, but none under shortest."""
    for loose in range(
        len(runs), 0, -1
    ):  # the runs are sorted: those at the end are the first held to shortest
        slack = (sum(runs[:loose]) + (len(runs) - loose) * shortest - total) / loose
        if runs[loose - 1] - slack >= shortest - _TINY:
            break
    return (*(run - slack for run in runs[:loose]), *(shortest for _ in runs[loose:]))


def least_segments(strip: Strip, gap: float) -> tuple[float, int]:
    """A (length, count) of short segments, gap apart, that every way of joining the strip has room for.

    A length of l holds floor((l + gap) / (s + gap)) segments of s = shortest; over all ways to share out
    the strip's length, none leaves room for fewer than this many.
    """
    if strip.join is Join.NONE:
        return strip.length, 1
    short = min(strip.shortest, strip.length)
    if short <= 0:
        return 0.0, 0
    # Each length l gives at least one segment and more than (l + gap) / (short + gap) - 1 of them, so at
    # least l / (2 * short + gap) of them.
    return short, max(1, int(-(-strip.length // (2 * short + gap))))

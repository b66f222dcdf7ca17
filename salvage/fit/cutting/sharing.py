"""Which lengths of which strip to cut from which tracks: a small integer program, few joins wanted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from salvage.fit.cutting.strips import cost_of_join, length_to_cut, most_lengths, shared_out
from salvage.fit.cutting.tracks import Track
from salvage.project.project import Strip

if TYPE_CHECKING:
    from scipy.optimize import LinearConstraint
    from scipy.sparse import csr_array

_ROUNDING = 1e-5  # mm kept back for the solver's own
_MOST_NODES = 3000
_MOST_CHOICES = 30_000  # copies times tracks; more than that takes longer to write down than there is time


@dataclass(frozen=True, slots=True)
class Demand:
    """One copy of a strip. index: of the strip in the project; copy from 1."""

    strip: Strip
    index: int
    copy: int


@dataclass(frozen=True, slots=True)
class Cut:
    """One length: of which of the demands, from which track, beginning how far up it."""

    copy: int
    track: int
    above: float
    length: float


def least_joins(demands: Sequence[Demand], tracks: Sequence[Track]) -> int:
    """Each strip can't be joined from fewer lengths than if all tracks were there for it alone."""
    total = 0
    known: dict[Strip, int] = {}
    for each in demands:
        if each.strip not in known:
            longest = sorted((track.length for track in tracks if track.serves(each.strip)), reverse=True)
            counts = range(1, min(len(longest), most_lengths(each.strip)) + 1)
            enough = (n for n in counts if sum(longest[:n]) >= length_to_cut(each.strip, n))
            known[each.strip] = next(enough, 1)
        total += known[each.strip] - 1
    return total


def greedy_share(
    demands: Sequence[Demand], tracks: Sequence[Track], gap: float, over: Callable[[], bool]
) -> tuple[Cut, ...]:
    """Cuts for as many of the demands as go, the longest strips first, each from the longest tracks left."""
    left = dict(enumerate(tracks))  # what is left of each track
    cuts: list[Cut] = []
    for number in sorted(range(len(demands)), key=lambda n: -demands[n].strip.length):
        if over():
            break
        strip = demands[number].strip
        mine = sorted((t for t in left if tracks[t].serves(strip)), key=lambda t: -left[t].length)
        chosen: list[int] = []
        for t in mine:  # side by side, the longest first
            if not any(left[t].near(left[c], gap) for c in chosen):
                chosen.append(t)
            if len(chosen) >= most_lengths(strip):
                break
        lengths = shared_out(strip, [left[t].length for t in chosen])
        for t, length in zip(chosen, lengths or (), strict=False):
            cut = replace(left[t], high=left[t].low + length)
            cuts.append(Cut(number, t, cut.low - tracks[t].low, length))
            rest = replace(left[t], low=cut.high + gap)
            left = {n: each if n == t else _clear_of(each, cut, gap) for n, each in left.items()}
            left[t] = rest
            left = {n: each for n, each in left.items() if each.length > 0}
    return tuple(cuts)


def _clear_of(track: Track, cut: Track, gap: float) -> Track:
    """The longer end of a track that a cut leaves."""
    if not track.near(cut, gap):
        return track
    if track.angle != cut.angle:
        return replace(track, high=track.low)
    above, below = replace(track, low=cut.high + gap), replace(track, high=cut.low - gap)
    return max(above, below, key=lambda each: each.length)


def share_out(
    demands: Sequence[Demand], tracks: Sequence[Track], gap: float, *, seconds: float | None
) -> tuple[Cut, ...] | None:
    """Cuts that make every one of these strips, with as few joins as were found; None if none were found.

    seconds: at most so many; None for a limit that is the same on any machine.
    """
    choices = [
        (c, t) for c, each in enumerate(demands) for t, track in enumerate(tracks) if track.serves(each.strip)
    ]
    if not demands or len(choices) > _MOST_CHOICES or {c for c, _ in choices} != set(range(len(demands))):
        return None
    from scipy.optimize import Bounds, milp

    rules = _rules(demands, tracks, choices, gap)
    n, m = (
        len(tracks),
        len(choices),
    )  # of each track whether it is used; of each choice whether it is taken, and mm
    cost = np.concatenate([np.zeros(n), np.ones(m), np.zeros(m)])
    whole = np.concatenate([np.ones(n + m), np.zeros(m)])
    most = np.concatenate([np.ones(n + m), np.full(m, np.inf)])
    limit = {"node_limit": _MOST_NODES} if seconds is None else {"time_limit": max(0.05, seconds)}
    found = milp(cost, constraints=rules, integrality=whole, bounds=Bounds(0, most), options=limit)
    if found.x is None:
        return None
    taken = {
        choice: float(length)
        for choice, take, length in zip(choices, found.x[n : n + m], found.x[n + m :], strict=True)
        if take > 0.5
    }
    return _cuts(tracks, _as_asked([each.strip for each in demands], taken), gap)


def _rules(
    demands: Sequence[Demand], tracks: Sequence[Track], choices: Sequence[tuple[int, int]], gap: float
) -> LinearConstraint:
    """What the integer program must keep to, row by row."""
    from scipy.optimize import LinearConstraint

    n, m = len(tracks), len(choices)
    rows = _Rows()
    of_demand: dict[int, list[int]] = {}
    of_track: dict[int, list[int]] = {}
    for k, (c, t) in enumerate(choices):
        take, length = n + k, n + m + k
        rows.add({length: 1.0, take: -tracks[t].length}, -np.inf, 0.0)
        rows.add({length: 1.0, take: -_least(demands[c].strip)}, 0.0, np.inf)
        rows.add({take: 1.0, t: -1.0}, -np.inf, 0.0)
        of_demand.setdefault(c, []).append(k)
        of_track.setdefault(t, []).append(k)
    for c, mine in of_demand.items():
        strip = demands[c].strip
        cost = cost_of_join(strip)
        terms = {n + m + k: 1.0 for k in mine} | {n + k: -cost for k in mine}
        rows.add(terms, strip.length - cost + _ROUNDING, np.inf)
        rows.add({n + k: 1.0 for k in mine}, 1.0, float(most_lengths(strip)))
    for t, mine in of_track.items():
        terms = {n + m + k: 1.0 for k in mine} | {n + k: gap for k in mine}
        rows.add(terms | {t: -(tracks[t].length + gap - _ROUNDING)}, -np.inf, 0.0)
    for together in _only_one_of(tracks, gap):
        rows.add(dict.fromkeys(together, 1.0), -np.inf, 1.0)
    return LinearConstraint(rows.matrix(n + 2 * m), np.array(rows.low), np.array(rows.high))


class _Rows:
    """Rows of a sparse matrix, with what each may come to."""

    def __init__(self) -> None:
        self.row: list[int] = []
        self.column: list[int] = []
        self.value: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def add(self, terms: Mapping[int, float], low: float, high: float) -> None:
        self.row += [len(self.low)] * len(terms)
        self.column += terms.keys()
        self.value += terms.values()
        self.low.append(low)
        self.high.append(high)

    def matrix(self, columns: int) -> csr_array:
        from scipy.sparse import coo_array

        return coo_array((self.value, (self.row, self.column)), shape=(len(self.low), columns)).tocsr()


def _only_one_of(tracks: Sequence[Track], gap: float) -> list[list[int]]:
    """Groups of tracks of which only one can be cut; together they tell of every two that are too near."""
    bits: dict[int, list[int]] = {}
    for t, track in enumerate(tracks):
        bits.setdefault(track.bit, []).append(t)
    groups, told = [], set()
    for mine in bits.values():
        near = {(a, b) for a, b in combinations(mine, 2) if tracks[a].near(tracks[b], gap)}
        near |= {(b, a) for a, b in near}
        for a in mine:  # those that cover this one's left side, the longest first: all too near each other
            group = [a]
            for b in sorted(mine, key=lambda t: -tracks[t].length):
                if tracks[b].left <= tracks[a].left and all((b, c) in near for c in group):
                    group.append(b)
            if len(group) > 1:
                groups.append(group)
                told |= {(b, c) for b in group for c in group}
        groups += [[a, b] for a, b in near if a < b and (a, b) not in told]
    return groups


def _least(strip: Strip) -> float:
    """mm; a length that is the whole strip may be shorter than `shortest`."""
    return min(strip.shortest, strip.length)


def _as_asked(copies: Sequence[Strip], taken: dict[tuple[int, int], float]) -> dict[tuple[int, int], float]:
    """The lengths with what they come to too much taken off, the longest first."""
    lengths = dict(taken)
    for c, strip in enumerate(copies):
        mine = sorted((key for key in lengths if key[0] == c), key=lambda key: -lengths[key])
        over = sum(lengths[key] for key in mine) - length_to_cut(strip, len(mine))
        for key in mine:
            off = min(over, max(0.0, lengths[key] - _least(strip)))
            lengths[key] -= off
            over -= off
    return lengths


def _cuts(tracks: Sequence[Track], lengths: dict[tuple[int, int], float], gap: float) -> tuple[Cut, ...]:
    """Lengths one above the other on their tracks, in the middle of each."""
    cuts = []
    for t, track in enumerate(tracks):
        mine = sorted(c for c, at in lengths if at == t)
        loose = track.length - sum(lengths[c, t] for c in mine) - gap * (len(mine) - 1)
        above = max(0.0, loose / 2)
        for c in mine:
            cuts.append(Cut(c, t, above, lengths[c, t]))
            above += lengths[c, t] + gap
    return tuple(sorted(cuts, key=lambda cut: (cut.copy, -cut.length)))

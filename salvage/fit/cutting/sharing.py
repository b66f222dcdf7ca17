"""Which lengths of which strip to cut from which tracks: a small integer program, few joins wanted."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

import numpy as np

from salvage.fit.cutting.columns import drawn
from salvage.fit.cutting.strips import cost_of_join, length_to_cut, most_lengths, shared_out
from salvage.fit.cutting.tracks import Track, near_each_other
from salvage.project.project import Strip

_PER_MM = 1000  # the program's whole numbers are thousandths of a mm
_EFFORT, _EFFORT_FOR_FEWER = 8.0, 1.5  # about seconds, but the same on any machine
_CHOICES_A_SECOND = 20_000  # written down
_FOR_FEW = 0.7  # of what there is, for tracks that go well together
_ROUNDS, _DRAWS = 40, 12  # of them, and how often tracks are drawn in each
_EFFORT_FOR_FEW = 0.2  # the first time, then twice as much, and so on
_DRAWN_A_SECOND = 300_000  # tracks
_FOR_FEWER, _LEAST_SECONDS = 1.0, 0.1  # seconds for a solution with fewer joins than the last
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
    demands: Sequence[Demand],
    tracks: Sequence[Track],
    gap: float,
    *,
    seconds: float | None,
    effort: float = _EFFORT,
    spend: Callable[[float], None] = lambda _: None,
) -> tuple[Cut, ...] | None:
    """Cuts that make every one of these strips, with as few joins as were found; None if none were found.

    seconds: at most so many; None for a limit that is the same on any machine, effort (about seconds).
    spend: told of what of that was made, in thousandths.
    """
    choices = _choices(demands, range(len(tracks)), tracks)
    if not demands or len(choices) > _MOST_CHOICES or not _all_served(demands, choices):
        return None
    search = _Search(demands, tracks, gap, seconds, effort)
    found = search.among_few() or search.among(choices)
    fewest = len(demands) + least_joins(demands, tracks)
    while found and len(found) > fewest:  # with fewer joins, for as long as that goes quickly
        fewer = search.among(choices, most=len(found) - 1, seconds=_FOR_FEWER, effort=_EFFORT_FOR_FEWER)
        if not fewer:
            break
        found = fewer
    spend(1000 * search.made)
    if not found:
        return None
    lengths = {choice: length / _PER_MM for choice, length in found.items()}
    return _cuts(tracks, _as_asked([each.strip for each in demands], lengths), gap)


Choice = tuple[int, int]  # demand, track


def _choices(demands: Sequence[Demand], numbers: Iterable[int], tracks: Sequence[Track]) -> list[Choice]:
    numbers = sorted(numbers)
    return [(c, t) for c, each in enumerate(demands) for t in numbers if tracks[t].serves(each.strip)]


def _all_served(demands: Sequence[Demand], choices: Sequence[Choice]) -> bool:
    return {c for c, _ in choices} == set(range(len(demands)))


@dataclass
class _Search:
    """Looks for lengths among some of the choices, and keeps to its limit over all looks. made: effort so far."""

    demands: Sequence[Demand]
    tracks: Sequence[Track]
    gap: float
    seconds: float | None
    effort: float
    made: float = 0.0
    begun: float = field(default_factory=time.monotonic)

    def left(self) -> float:
        """Seconds, or effort where that is the limit."""
        if self.seconds is None:
            return self.effort - self.made
        return self.seconds - (time.monotonic() - self.begun)

    def among_few(self) -> dict[Choice, int]:
        """Thousandths of a mm by choice, from tracks that go well together; empty if that leads nowhere in time.

        What a few draws bring forth makes a small program, soon solved or refuted; each time that fails there are more.
        """
        strips = [each.strip for each in self.demands]
        draws = drawn(strips, self.tracks, self.gap, random.Random(0))
        until = self.left() * (1 - _FOR_FEW)
        pool: set[int] = set()
        failed: set[frozenset[int]] = set()
        for round_ in range(1, _ROUNDS + 1):
            fresh = set().union(*islice(draws, _DRAWS))
            self.made += _DRAWS * len(self.tracks) / _DRAWN_A_SECOND
            pool |= fresh
            for some in dict.fromkeys((frozenset(fresh), frozenset(pool))):
                if self.left() <= max(until, _LEAST_SECONDS):
                    return {}
                choices = _choices(self.demands, some, self.tracks)
                if some in failed or not _all_served(self.demands, choices):
                    continue
                found = self.among(choices, seconds=self.left() - until, effort=_EFFORT_FOR_FEW * round_)
                if found:
                    return found
                failed.add(some)
        return {}

    def among(
        self,
        choices: Sequence[Choice],
        *,
        most: int | None = None,
        seconds: float = math.inf,
        effort: float = math.inf,
    ) -> dict[Choice, int]:
        """Thousandths of a mm by choice, no more than `most` of them; empty if none was found within the limits."""
        left = self.left()
        if left < _LEAST_SECONDS:
            return {}
        program = _Program(self.demands, self.tracks, choices, self.gap, most=most)
        if self.seconds is None:
            effort = min(left, effort)
        found, made = _solved(program, choices, None if self.seconds is None else min(left, seconds), effort)
        self.made += made
        return found


class _Program:
    """The integer program: whole thousandths of a mm, what is asked rounded up and what is there down.

    most: lengths in all. taken, length: by choice, whether a length of the demand is cut from the track, and its size.
    """

    def __init__(
        self,
        demands: Sequence[Demand],
        tracks: Sequence[Track],
        choices: Sequence[tuple[int, int]],
        gap: float,
        *,
        most: int | None = None,
    ) -> None:
        from ortools.sat.python import cp_model

        self.model = model = cp_model.CpModel()
        used = {t: model.new_bool_var(f"used_{t}") for _, t in choices}
        room = {t: math.floor(tracks[t].length * _PER_MM) for t in used}
        self.taken = {(c, t): model.new_bool_var(f"taken_{c}_{t}") for c, t in choices}
        self.length = {(c, t): model.new_int_var(0, room[t], f"length_{c}_{t}") for c, t in choices}
        by_demand: dict[int, list[tuple[int, int]]] = {}
        by_track: dict[int, list[tuple[int, int]]] = {}
        for choice in choices:
            c, t = choice
            least = math.ceil(_least(demands[c].strip) * _PER_MM)
            model.add(self.length[choice] <= room[t] * self.taken[choice])
            model.add(self.length[choice] >= least * self.taken[choice])
            model.add_implication(self.taken[choice], used[t])
            by_demand.setdefault(c, []).append(choice)
            by_track.setdefault(t, []).append(choice)
        for c, mine in by_demand.items():
            strip = demands[c].strip
            joined = cost_of_join(strip) * _PER_MM
            count = sum(self.taken[k] for k in mine)
            together = sum(self.length[k] for k in mine)
            model.add(
                together - math.ceil(joined) * count >= math.ceil(strip.length * _PER_MM) - math.floor(joined)
            )
            model.add_linear_constraint(count, 1, most_lengths(strip))
        between = math.ceil(gap * _PER_MM)
        for t, mine in by_track.items():
            cut = sum(self.length[k] for k in mine) + between * sum(self.taken[k] for k in mine)
            model.add(cut <= (room[t] + between) * used[t])
        for group in _only_one_of(tracks, gap):
            model.add_at_most_one(used[t] for t in group if t in used)
        if most is not None:
            model.add(sum(self.taken.values()) <= most)


def _solved(
    program: _Program, choices: Sequence[Choice], seconds: float | None, effort: float
) -> tuple[dict[Choice, int], float]:
    """Thousandths of a mm by choice, of a solution; empty where none was found with the effort or in the time.

    And the effort that was made.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is the caller's
    if effort < math.inf:
        solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(0.05, seconds)
    status = solver.solve(program.model)
    made = len(choices) / _CHOICES_A_SECOND + solver.response_proto.deterministic_time
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return {}, made
    return {k: solver.value(program.length[k]) for k in choices if solver.value(program.taken[k])}, made


def _only_one_of(tracks: Sequence[Track], gap: float) -> list[list[int]]:
    """Groups of tracks of which only one can be cut; together they tell of every two that are too near."""
    bits: dict[int, list[int]] = {}
    for t, track in enumerate(tracks):
        bits.setdefault(track.bit, []).append(t)
    groups: list[list[int]] = []
    for mine in bits.values():
        mine.sort(key=lambda t: -tracks[t].length)
        near = near_each_other([tracks[t] for t in mine], gap)
        left = np.array([tracks[t].left for t in mine])
        told = np.eye(len(mine), dtype=bool)
        for a in range(
            len(mine)
        ):  # those that cover this one's left side, the longest first: all near each other
            group = [a]
            rivals = np.flatnonzero(near[a] & (left <= left[a]))
            if near[np.ix_(rivals, rivals)].sum() == len(rivals) * (len(rivals) - 1):
                group += [int(b) for b in rivals]
            else:
                for b in rivals:
                    if near[b, group].all():
                        group.append(int(b))
            if len(group) > 1:
                groups.append([mine[b] for b in group])
                told[np.ix_(group, group)] = True
        groups += [[mine[a], mine[b]] for a, b in np.argwhere(near & ~told) if a < b]
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

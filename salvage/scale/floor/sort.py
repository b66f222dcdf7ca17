"""Which segments of a picture are lines of the floor, and when that is sure enough to use them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from salvage.scale.floor.even_rows import even_rows
from salvage.scale.floor.lines import BENT, CROOKED, CROOKED_SHORT, UNEVEN, Even, FloorLines
from salvage.scale.seeing.segments import Segment
from salvage.scale.solving.bundle import Fit
from salvage.scale.solving.camera import unproject
from salvage.scale.solving.leftover import Leftover
from salvage.scale.solving.sums import Sparse

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LONG = 0.08  # of the diagonal: joints are, the threads and figures of a carpet are not
_WIDE = math.radians(4.0)  # the first camera may be off by a few degrees
_GRID = 4  # the picture in 4 x 4 cells; the floor is seen in most of the outer twelve
_FEWEST_CELLS = 7
_FEWEST_LINES = 4
_FEWEST_LONG = 1.2  # total length of long lines, diagonals
_DOMINANT = 0.5  # share of the two families among all edges of the outer cells
_STRONG = 0.75  # joints make up at least the strongest quarter of a family's length
_FAINT = 0.4  # of a joint's contrast
_ROUGH = 1.2  # root mean square residual above which the lines count less
_WRONG = 3.5  # and above which they are no floor's lines
_SEGMENT_SD_PX = 0.1  # a segment as a whole: paint, grain and shadow beside the joint
_NOT_OURS = 3.5  # root mean square residual of a segment that is no line of the floor, standard deviations
_SAME_LINE = 2.5  # mm


@dataclass(frozen=True, slots=True, eq=False)
class Sorted:
    """Segments with a way each. leftover: what the lens does to them beyond the camera's numbers."""

    segments: tuple[Segment, ...]
    way: Ints
    direction: float
    leftover: Leftover


def sort_segments(
    segments: Sequence[Segment], size_px: tuple[int, int], camera: Floats, leftover: Leftover
) -> Sorted | None:
    """The segments that run along the floor's two ways, None if no pair of ways is sure.

    camera: (8,) first guess.
    """
    diagonal = math.hypot(*size_px)
    known, ends = _on_floor(segments, camera)
    if len(known) < _FEWEST_LINES:
        return None
    angle = np.arctan2(*(ends[:, 1] - ends[:, 0]).T[::-1])
    length = np.array([s.length_px for s in known])
    outer = np.array([_outer_share(s, size_px) for s in known])
    vote = np.where(length >= _LONG * diagonal, length * outer, 0.0)
    if vote.sum() < _FEWEST_LONG * diagonal:
        return None
    tries = np.radians(np.arange(0.0, 180.0, 0.5))
    closeness = np.exp(-0.5 * (_turned(angle[None, :] - tries[:, None], math.pi) / math.radians(1.5)) ** 2)
    direction = float(tries[np.argmax(closeness @ vote)])
    off = _turned(angle - direction, math.pi / 2)
    near = np.abs(off) < _WIDE
    direction += float(np.average(off[near], weights=vote[near] + 1e-9))
    way = np.where(np.abs(_turned(angle - direction, math.pi)) < math.pi / 4, 0, 1)
    if not _sure(near, way, vote, length * outer, diagonal):
        return None
    near &= _clear(np.array([s.contrast for s in known]), near, way, length)
    ours = [s for s, n in zip(known, near, strict=True) if n]
    if len(_cells(ours, size_px)) < _FEWEST_CELLS:
        return None
    return Sorted(tuple(ours), way[near], direction, leftover)


def _on_floor(segments: Sequence[Segment], camera: Floats) -> tuple[list[Segment], Floats]:
    """The segments that lie below the horizon, and where their ends are on the floor, (n, 2, 2) mm."""
    if not segments:
        return [], np.zeros((0, 2, 2))
    counts = np.array([len(s.points_px) for s in segments])
    places = unproject(camera, np.concatenate([s.points_px for s in segments]))
    first = np.cumsum(counts) - counts
    seen = np.logical_and.reduceat(np.isfinite(places).all(axis=1), first)
    ends = np.stack([places[first], places[first + counts - 1]], axis=1)
    return [s for s, n in zip(segments, seen, strict=True) if n], ends[seen]


def _clear(contrast: Floats, near: NDArray[np.bool_], way: Ints, length: Floats) -> NDArray[np.bool_]:
    """Segments not much fainter than the joints that run their way: those that are, are the wood's grain."""
    clear = np.zeros(len(near), dtype=bool)
    for w in (0, 1):
        mine = np.flatnonzero(near & (way == w))
        if len(mine) > 0:
            order = mine[np.argsort(contrast[mine])]
            share = np.cumsum(length[order]) / length[order].sum()
            strong = contrast[order[np.searchsorted(share, _STRONG)]]
            clear[mine] = contrast[mine] >= _FAINT * strong
    return clear


def _sure(near: NDArray[np.bool_], way: Ints, vote: Floats, seen: Floats, diagonal: float) -> bool:
    long = vote[near & (way == 0)]
    return bool(
        long.sum() >= _FEWEST_LONG * diagonal
        and np.count_nonzero(long) >= _FEWEST_LINES
        and seen[near].sum() >= _DOMINANT * seen.sum()
    )


def fit_floor(found: Sorted, fit: Callable[[FloorLines, bool], Fit]) -> Fit | None:
    """Fit the camera with the lines, in rounds of growing trust, dropping what doesn't agree.

    First every segment only runs along its family; then segments of one joint are one line; then the
    distances of joints are even, if they are. fit: solves everything with these lines, roughly if it is told
    so, and returns the fit, whose last block is theirs.
    """
    lines = _lines(found, np.arange(len(found.segments)))
    answer = fit(lines, True)
    keep = _agreeing(lines, answer)
    if not np.all(keep):
        found = _kept(found, keep, answer)
        if np.count_nonzero(found.way == 0) < _FEWEST_LINES:
            return None
        lines = _lines(found, np.arange(len(found.segments)))
        answer = fit(lines, True)
    line_of = _join(lines, answer)
    lines = _lines(found, line_of)
    answer = fit(lines, True)
    rows = even_rows(lines, lines.line_places(answer.camera, answer.own[-1]))
    if rows:
        found, line_of, rows = _on_rows(found, line_of, rows)
        found = replace(found, direction=float(answer.own[-1][0]))
        lines = _in_rows(_lines(found, line_of), rows, found.leftover, answer)
        answer = fit(lines, True)
    rough = float(np.sqrt(np.mean(answer.residuals[-1][: len(lines.line)] ** 2)))
    if rough > _WRONG:
        return None
    if rough > _ROUGH:
        segments = tuple(replace(s, sd_px=s.sd_px * rough) for s in found.segments)
        found = replace(found, segments=segments, direction=float(answer.own[-1][0]))
        lines = _in_rows(_lines(found, line_of), rows, found.leftover, answer)
    return fit(lines, False)


def _on_rows(found: Sorted, line_of: Ints, rows: tuple[Even, ...]) -> tuple[Sorted, Ints, tuple[Even, ...]]:
    """Leave out what runs along an even row's way but isn't on the row: grain, shadows, edges of things."""
    on = np.isin(line_of, np.concatenate([row.lines for row in rows]))
    keep = on | ~np.isin(found.way, [row.way for row in rows])
    left = np.unique(line_of[keep])
    segments = tuple(s for s, k in zip(found.segments, keep, strict=True) if k)
    kept = replace(found, segments=segments, way=found.way[keep])
    rows = tuple(replace(row, lines=np.searchsorted(left, row.lines)) for row in rows)
    return kept, np.searchsorted(left, line_of[keep]), rows


def _kept(found: Sorted, keep: NDArray[np.bool_], answer: Fit) -> Sorted:
    segments = tuple(s for s, k in zip(found.segments, keep, strict=True) if k)
    return replace(found, segments=segments, way=found.way[keep], direction=float(answer.own[-1][0]))


def _in_rows(lines: FloorLines, rows: tuple[Even, ...], leftover: Leftover, answer: Fit) -> FloorLines:
    """The lines in their even rows: the floor is laid so evenly, and the lens shifts each line's picture."""
    camera, own = answer.camera, answer.own[-1]
    _, normal, place = lines.places(camera, own)
    beside = unproject(camera, lines.points_px + lines.across_px)
    step = np.abs(np.sum(beside * normal, axis=1) - place)
    count = np.bincount(lines.line)
    mm_per_px = np.bincount(lines.line, step) / count
    shift_px = leftover.of_a_mean(lines.line_lengths_px) * np.sqrt(lines.alike)
    return replace(lines, rows=rows, uneven=np.hypot(UNEVEN, shift_px * mm_per_px))


def _lines(found: Sorted, line_of: Ints) -> FloorLines:
    """The block of these segments; line_of: the number of every segment's line, counted from 0 without gaps."""
    segments, way = found.segments, found.way
    counts = [len(s.points_px) for s in segments]
    segment = np.repeat(np.arange(len(segments)), counts)
    points = np.concatenate([s.points_px for s in segments])
    sd = np.concatenate([np.full(n, s.sd_px) for s, n in zip(segments, counts, strict=True)])
    line = line_of[segment]
    first = np.array([int(np.flatnonzero(line_of == k)[0]) for k in range(line_of.max() + 1)])
    # the side a line shows: its brighter side lies along its family's normal, or against it
    reference = [
        segments[int(np.flatnonzero(way == w)[0])].across if np.any(way == w) else np.zeros(2) for w in (0, 1)
    ]
    side = np.array([int(segments[k].across @ reference[way[k]] < 0) for k in first])
    middles = np.array([points[line == k].mean(axis=0) for k in range(len(first))])
    alike = np.ones(len(first))
    for w in (0, 1):
        mine = way[first] == w
        alike[mine] = found.leftover.alike_among(middles[mine])
    return FloorLines(
        points_px=points,
        across_px=np.concatenate([np.tile(s.across, (n, 1)) for s, n in zip(segments, counts, strict=True)]),
        sd_px=sd,
        line=line,
        way=way[first],
        side=side,
        direction=found.direction,
        softness=_softness(points, sd, line, segment, way[first] == 1, found.leftover, alike),
        uneven=np.full(len(first), UNEVEN),
        alike=alike,
        segment=segment,
    )


def _softness(
    points: Floats,
    sd: Floats,
    line: Ints,
    segment: Ints,
    short: NDArray[np.bool_],
    leftover: Leftover,
    alike: Floats,
) -> Sparse:
    """The matrix S for which off - S^T S off has unit covariance. short: of every line.
    alike: (lines,) so many count as one.

    A line may run askew, bend a little, be bent by the lens, and every segment on it may be off as a whole: their covariance
    I + A A^T has the inverse root I - Q (1 - 1 / sqrt(1 + eigenvalue)) Q^T.
    """
    blocks, columns, rows, count = [], [], [], 0
    for k in range(len(short)):
        own = np.flatnonzero(line == k)
        p = points[own] - points[own].mean(axis=0)
        t = p @ np.linalg.eigh(p.T @ p)[1][:, 1]
        bend = (t / max(float(np.abs(t).max()), 1.0)) ** 2
        effects = [t * (CROOKED_SHORT if short[k] else CROOKED), (bend - bend.mean()) * BENT]
        effects += [np.where(segment[own] == s, _SEGMENT_SD_PX, 0.0) for s in np.unique(segment[own])]
        effects += list((leftover.waves(t) * math.sqrt(alike[k])).T)
        a = np.column_stack(effects) / sd[own][:, None]
        # From the few effects' own products: what is nearly zero there counts as nothing here too.
        square, turn = np.linalg.eigh(a.T @ a)
        square = np.maximum(square, 1e-12)
        soft = (a @ (turn * np.sqrt((1.0 - 1.0 / np.sqrt(1.0 + square)) / square))).T
        blocks.append(soft.ravel())
        columns.append(np.tile(own, len(soft)))
        rows.append(np.repeat(np.arange(count, count + len(soft)), len(own)))
        count += len(soft)
    return Sparse.of(np.concatenate(blocks), np.concatenate(rows), np.concatenate(columns))


def _agreeing(lines: FloorLines, answer: Fit) -> NDArray[np.bool_]:
    """Of every segment (each its own line here): does it run straight and along its family?"""
    off = answer.residuals[-1][: len(lines.line)]
    count = np.bincount(lines.line)
    return np.asarray(np.sqrt(np.bincount(lines.line, off**2) / count) < _NOT_OURS)


def _join(lines: FloorLines, answer: Fit) -> Ints:
    """Number the lines anew so that segments of one way, one side and one place are one line."""
    place = lines.line_places(answer.camera, answer.own[-1])
    number = np.zeros(len(place), dtype=np.int64)
    count = 0
    for way in (0, 1):
        for side in (0, 1):
            group = np.flatnonzero((lines.way == way) & (lines.side == side))
            group = group[np.argsort(place[group])]
            for position, k in enumerate(group):
                begins = position == 0 or place[k] - place[group[position - 1]] > _SAME_LINE
                count += int(begins)
                number[k] = count - 1
    return number


def _cells(segments: Sequence[Segment], size_px: tuple[int, int]) -> set[tuple[int, int]]:
    """The outer cells of the picture that these segments touch."""
    cells = set()
    for s in segments:
        for cell in np.clip((s.points_px / np.array(size_px) * _GRID).astype(int), 0, _GRID - 1):
            column, row = int(cell[0]), int(cell[1])
            if column in (0, _GRID - 1) or row in (0, _GRID - 1):
                cells.add((column, row))
    return cells


def _outer_share(segment: Segment, size_px: tuple[int, int]) -> float:
    cell = np.clip((segment.points_px / np.array(size_px) * _GRID).astype(int), 0, _GRID - 1)
    return float(np.mean(np.any((cell == 0) | (cell == _GRID - 1), axis=1)))


def _turned(angle: Floats, period: float) -> Floats:
    """Angles brought within half a period of 0."""
    return np.asarray((angle + period / 2) % period - period / 2)

"""Lines out of a map of chances: thin it, follow it, join what belongs together, run it to where it ends.

All lines are (n, 2) arrays in map pixels (column, row).
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree
from skimage.filters import apply_hysteresis_threshold
from skimage.morphology import skeletonize

Map = NDArray[np.float32]
Line = NDArray[np.float64]

_EIGHT = np.ones((3, 3), int)
_AROUND = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]


def trace(chance: Map, low: float, high: float, shortest: float) -> list[Line]:
    """Centre lines of the ridges in a map of chances, between junctions and ends.

    low, high: a ridge must stay above low and reach high. Loose ends shorter than `shortest` px that
    hang on a junction are dropped.
    """
    strong = apply_hysteresis_threshold(chance, low, high)
    skeleton = skeletonize(strong)
    lines = _follow(skeleton)
    kept = [line for line in lines if not _is_spur(line, lines, shortest)]
    return [smooth(line) for line in _spliced(kept)]


def _follow(skeleton: NDArray[np.bool_]) -> list[Line]:
    """Chains of skeleton pixels; each runs from an end or a junction to the next."""
    padded = np.pad(skeleton, 1)
    neighbours = ndimage.convolve(padded.astype(int), _EIGHT, mode="constant") - 1
    junction = padded & (neighbours > 2)
    pixels = {(int(r), int(c)) for r, c in np.argwhere(padded & ~junction)}
    knots = {(int(r), int(c)) for r, c in np.argwhere(junction)}
    lines: list[Line] = []
    left = set(pixels)

    def beside(at: tuple[int, int], among: set[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(at[0] + r, at[1] + c) for r, c in _AROUND if (at[0] + r, at[1] + c) in among]

    def walk(start: tuple[int, int]) -> list[tuple[int, int]]:
        chain, at = [start], start
        left.discard(start)
        while onward := beside(at, left):
            at = min(onward, key=lambda p: abs(p[0] - at[0]) + abs(p[1] - at[1]))
            left.discard(at)
            chain.append(at)
        return chain

    ends = [p for p in pixels if len(beside(p, pixels)) <= 1]
    for start in [*sorted(ends), *sorted(pixels)]:
        if start not in left:
            continue
        chain = walk(start)
        for place, end in ((0, chain[0]), (len(chain), chain[-1])):
            if knot := beside(end, knots):
                chain.insert(place if place == 0 else len(chain), knot[0])
        if len(chain) > 1:
            lines.append(np.array([(c - 1, r - 1) for r, c in chain], float))
    return lines


def _is_spur(line: Line, lines: list[Line], shortest: float) -> bool:
    """A short line with one loose end and the other on other lines."""
    if length(line) >= shortest:
        return False
    others = [each for each in lines if each is not line]
    if not others:
        return False
    ends = np.array([each[k] for each in others for k in (0, -1)])
    touched = [bool((np.linalg.norm(ends - end, axis=1) < 2.9).any()) for end in (line[0], line[-1])]
    return not all(touched)


def _spliced(lines: list[Line]) -> list[Line]:
    """Lines whose ends meet and run on in the same way made one, the straightest pairs first."""
    return join(lines, gap=3.0, bend=40.0, allowed=lambda _a, _b: True)


def join(lines: list[Line], gap: float, bend: float, allowed: Callable[[Line, Line], bool]) -> list[Line]:
    """Join lines over gaps where each end points at the other.

    gap: px at most between the ends. bend: degrees at most between the directions and the bridge.
    allowed: a last word on the bridge, given its two ends.
    """
    lines = [line for line in lines if len(line) > 1]
    refused: set[tuple[float, ...]] = set()
    ways: dict[tuple[int, int], NDArray[np.float64]] = {}  # of the ends of lines, which `kept` keeps alive
    costs: dict[tuple[int, ...], float | None] = {}
    kept: list[Line] = list(lines)

    def way(end: int) -> NDArray[np.float64]:
        key = id(lines[end // 2]), end % 2
        if key not in ways:
            ways[key] = direction(_ending(lines, end))
        return ways[key]

    while len(lines) > 1:
        ends = np.array([line[k] for line in lines for k in (0, -1)])
        found: list[tuple[float, int, int]] = []
        for e, f in cKDTree(ends).query_pairs(gap):
            key = (*ends[e], *ends[f])
            if e // 2 != f // 2 and key not in refused:
                pair = id(lines[e // 2]), e % 2, id(lines[f // 2]), f % 2
                if pair not in costs:
                    costs[pair] = _bridge_cost(ends[e], way(e), ends[f], way(f), gap, bend)
                cost = costs[pair]
                if cost is not None:
                    found.append((cost, e, f))
        for _, e, f in sorted(found):
            if allowed(ends[e], ends[f]):
                joined = np.vstack([_ending(lines, e), _ending(lines, f)[::-1]])
                lines = [line for k, line in enumerate(lines) if k not in (e // 2, f // 2)] + [joined]
                kept.append(joined)
                break
            refused.add((*ends[e], *ends[f]))
        else:
            return lines
    return lines


def _ending(lines: list[Line], end: int) -> Line:
    """Line end // 2, turned so that this end is its last point."""
    line = lines[end // 2]
    return line if end % 2 else line[::-1]


def _bridge_cost(
    a: NDArray[np.float64],
    way_a: NDArray[np.float64],
    b: NDArray[np.float64],
    way_b: NDArray[np.float64],
    gap: float,
    bend: float,
) -> float | None:
    """How bad it is to run on from end a of a line to end b of another; None if they don't belong together.

    way_a, way_b: in which way each line leaves at its end.
    """
    across = b - a
    apart = float(np.linalg.norm(across))
    if apart > gap:
        return None
    out, onward = way_a, -way_b
    turn = _between(out, onward)
    if apart > 3.0:
        way = across / apart
        turn = max(turn, _between(out, way), _between(onward, way))
    return None if turn > bend else apart + turn


def direction(line: Line, over: float = 12.0) -> NDArray[np.float64]:
    """Unit vector in which the line leaves at its end, from its last `over` px."""
    run = np.cumsum(np.linalg.norm(np.diff(line[::-1], axis=0), axis=1))
    back = line[::-1][min(int(np.searchsorted(run, over)) + 1, len(line) - 1)]
    way = line[-1] - back
    return way / (np.linalg.norm(way) + 1e-9)


def _between(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    return float(np.degrees(np.arccos(np.clip(a @ b, -1, 1))))


def extend(line: Line, goal: NDArray[np.bool_], reach: float) -> Line:
    """Run the line on from both ends, straight, to the first goal pixel within reach px."""
    for _ in range(2):
        way = direction(line, 20.0)
        steps = np.arange(1.0, reach, 0.5)
        at = line[-1] + steps[:, None] * way
        column, row = np.round(at).astype(int).T
        inside = (row >= 0) & (column >= 0) & (row < goal.shape[0]) & (column < goal.shape[1])
        hit = np.zeros(len(at), bool)
        hit[inside] = goal[row[inside], column[inside]]
        if hit.any():
            line = np.vstack([line, at[int(hit.argmax())]])
        line = line[::-1]
    return line


def length(line: Line) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def smooth(line: Line, sigma: float = 3.0) -> Line:
    """Without the staircase of pixels; the ends stay."""
    if len(line) < 5:
        return line
    soft = ndimage.gaussian_filter1d(line, min(sigma, len(line) / 4), axis=0, mode="nearest")
    soft[0], soft[-1] = line[0], line[-1]
    return soft


def along(line: Line, values: Map, step: float = 1.0) -> NDArray[np.float32]:
    """Values of a map at points `step` px apart on the line."""
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.arange(0, run[-1] + 1e-9, step)
    columns = np.interp(at, run, line[:, 0]).astype(np.float32)
    rows = np.interp(at, run, line[:, 1]).astype(np.float32)
    return np.asarray(cv2.remap(values, columns[None], rows[None], cv2.INTER_LINEAR), np.float32)[0]

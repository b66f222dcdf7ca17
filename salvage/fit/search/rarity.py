"""How rare an edge is: whether little else of a task could lie along it.

An edge aslant, cut along the cloth's own edge say, fits hardly anywhere else; one along or across the
grain lies along most others. What is rare had better be laid where it fits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from salvage.fit.geometry.task import Task

Floats = NDArray[np.float64]

_SCARCE = 5.0  # times its length are on offer along an edge of rarity 1/2
_NO_USE = 0.5  # of its length, on offer along an edge for which it is no use to look; two alike, turned, offer just so much
_ROUNDING = 1e-9  # of its length


def rarity_of(task: Task, owner: NDArray[np.int64], unit: Floats, length: Floats, parallel: float) -> Floats:
    """Of each edge of the orientations: 1 where hardly anything could lie along it, near 0 where much could.

    owner: (n,) which orientation an edge is of, then which ground, the edges of orientations first;
    unit: (n, 2) its direction; length: (n,) mm; parallel: degrees between edges that can be in contact.
    What could lie along it: the cloth's edges of the same direction, and those of other items in the
    opposite one, each for so much as is the chance that the item is laid in that orientation.
    An edge along which hardly anything could lie is not rare: it is no use to look for what isn't there.
    """
    n_or = len(task.orientations)
    share, own = np.ones(n_or + len(task.grounds)), np.zeros(n_or)
    share[:n_or] = 0.0
    for kind in task.kinds:
        mine = sorted({o for allowed in kind.orientations for o in allowed})
        share[mine] += kind.count / max(1, len(mine))
        own[mine] += 1.0 / max(1, len(mine))
    n = int(np.searchsorted(owner, n_or))
    angle = np.degrees(np.arctan2(unit[:, 1], unit[:, 0])) % 360.0
    facing = np.where(owner < n_or, angle + 180.0, angle) % 360.0
    offer = _within(facing, share[owner] * length, angle[:n], parallel)
    shape = np.array([o.shape for o in task.orientations])[owner[:n]]
    for s in sorted(set(shape.tolist())):  # np.unique would load masked arrays first
        edges = np.flatnonzero(shape == s)  # the item itself can't lie along its own edge
        offer[edges] -= _within(facing[edges], own[owner[edges]] * length[edges], angle[edges], parallel)
    rarity = 1.0 / (1.0 + np.maximum(offer, 0.0) / (_SCARCE * length[:n]))
    return np.where(offer < (_NO_USE - _ROUNDING) * length[:n], 0.0, rarity)


def _within(angles: Floats, lengths: Floats, at: Floats, near: float) -> Floats:
    """Sum of the lengths whose angle, degrees in [0, 360), is within near of each angle of at."""
    order = np.argsort(angles)
    turns = np.concatenate([angles[order] - 360.0, angles[order], angles[order] + 360.0])
    sums = np.concatenate([[0.0], np.cumsum(np.tile(lengths[order], 3))])
    return sums[np.searchsorted(turns, at + near)] - sums[np.searchsorted(turns, at - near)]

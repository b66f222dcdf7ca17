"""Sums over groups, and a matrix that is mostly zeros, for many rows at once; SciPy's would have to be loaded for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """n places in groups, none of them empty. order: (n,), by group. starts: of each group in it."""

    order: Ints
    starts: Ints

    @classmethod
    def of(cls, number: Ints) -> Groups:
        """number: (n,) the group of each place, counted from 0 without gaps."""
        order = np.argsort(number, kind="stable")
        return cls(order, np.searchsorted(number[order], np.arange(int(number.max()) + 1)))

    def sums(self, values: Floats) -> Floats:
        """(..., n) to (..., groups)."""
        return np.asarray(np.add.reduceat(values[..., self.order], self.starts, axis=-1))


@dataclass(frozen=True, slots=True, eq=False)
class Sparse:
    """A matrix by those of its places that aren't zero, at least one in each row and column."""

    values: Floats
    row: Ints
    column: Ints
    rows: Groups
    columns: Groups

    @classmethod
    def of(cls, values: Floats, row: Ints, column: Ints) -> Sparse:
        return cls(values, row, column, Groups.of(row), Groups.of(column))

    def times(self, vectors: Floats) -> Floats:
        """The matrix times each of some vectors: (..., columns) to (..., rows)."""
        return self.rows.sums(self.values * vectors[..., self.column])

    def back(self, vectors: Floats) -> Floats:
        """The matrix turned over, likewise: (..., rows) to (..., columns)."""
        return self.columns.sums(self.values * vectors[..., self.row])

"""A table of words, before anybody draws it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """columns: titles; weights: relative widths; rows: cells, as many as columns."""

    columns: tuple[str, ...]
    weights: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]

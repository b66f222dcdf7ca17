"""Figures as README tells them. The table that measured one asserts it; a fast test holds README to the same words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Told:
    """One figure of a row of README's table.

    words: as they stand there. value: what they say, in the table's unit. allowance: by how much a machine's last digits,
    and the rounding in the words, may make it worse before README says too much.
    """

    words: str
    value: float
    allowance: float = 0.0

    def at_least(self, found: float) -> None:
        assert found >= self.value - self.allowance, f"README tells {self.words}; measured {found:.4g}"

    def at_most(self, found: float) -> None:
        assert found <= self.value + self.allowance, f"README tells {self.words}; measured {found:.4g}"

"""How what takes long tells of its steps, whoever does it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Teller:
    """How a task tells of its steps, and asks whether it should come to an end."""

    tell: Callable[..., None]
    stopped: Callable[[], bool]

    def step(self, what: str) -> None:
        self.tell(step=what)

    def share(self, done: float) -> None:
        self.tell(share=round(done, 3))

    def counted(self, done: int, of: int, left: float | None) -> None:
        """So many things are done. left: seconds that the others may take."""
        self.tell(share=round(done / of, 3) if of else 1.0, counts=(done, of, left))

    def part(self, result: Any) -> None:
        """What there is of the result so far."""
        self.tell(part=result)

"""How what takes long tells of its steps, whoever does it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Teller:
    """How a task tells of its steps, and asks whether it should come to an end."""

    tell: Callable[..., None]
    stopped: Callable[[], bool]

    def step(self, what: str) -> None:
        self.tell(step=what)

    def share(self, done: float) -> None:
        self.tell(share=round(done, 3))

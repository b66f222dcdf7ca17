"""A thing that can't change, known again by being the same object, whatever is in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class Same(Generic[T]):
    """A key for what was made of `thing`. Comparing the objects takes no time, however much is in them, and as the
    key holds the thing, no other can come to stand in its place."""

    thing: T

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and other.thing is self.thing

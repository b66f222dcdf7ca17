"""Names told apart by number, where the same one would stand for two things."""

from __future__ import annotations

from collections.abc import Iterable


def free_name_in(name: str, taken: set[str], form: str = "{name} {number}") -> str:
    """The name, or with the first number from 2 on that is free; it is taken from then on."""
    number, free = 2, name
    while free in taken:
        free, number = form.format(name=name, number=number), number + 1
    taken.add(free)
    return free


def numbered(names: Iterable[str], form: str = "{name} {number}") -> list[str]:
    """The names in their order, each only once: later ones that are taken are numbered."""
    taken: set[str] = set()
    return [free_name_in(name, taken, form) for name in names]

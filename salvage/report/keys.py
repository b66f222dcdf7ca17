"""By which key the photographs and planes of several garments are told apart."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

Thing = TypeVar("Thing")


def picture_key(garment: int, file: str) -> str:
    """The key of a photograph in `photos` and `planes` where two garments have files of one name."""
    return f"{garment}:{file}"


def lookup(mapping: Mapping[str, Thing], garment: int, file: str) -> Thing | None:
    """A garment's photograph or plane, under `picture_key` or under the bare file name."""
    found = mapping.get(picture_key(garment, file))
    return mapping.get(file) if found is None else found

"""Lengths that a person knows in the picture: a zip of 600 mm, a chest of 560 mm. Plain data, light to import."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class KnownLength:
    """A length on the cloth. from_px, to_px: its ends, pixels of the upright picture. length: mm.

    said_px: the ends as a person told them, where the picture was reduced since.
    """

    from_px: tuple[float, float]
    to_px: tuple[float, float]
    length: float
    said_px: tuple[float, ...] = ()

    @property
    def row(self) -> list[float]:
        """[x1, y1, x2, y2, length], as it is written on the command line and in records."""
        return [*self.from_px, *self.to_px, self.length]

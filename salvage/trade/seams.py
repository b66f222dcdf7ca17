"""The class of the seam that joins two parts, so that a person can look it up.

ISO 4916:1991, Textiles: Seam types: classification and terminology. The class's number and name are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SeamClass:
    """number, name: of ISO 4916."""

    number: int
    name: str


JOIN = SeamClass(1, "superimposed")  # two edges laid on each other and sewn

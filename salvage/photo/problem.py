"""What can be wrong with a photograph, by name."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    WARNING = "warning"  # measured all the same, and said in the report
    ERROR = "error"  # can't be measured from


class Code(StrEnum):
    NO_SQUARE = "no-square"
    SQUARE_CUT = "square-cut"
    SQUARE_SMALL = "square-small"
    SQUARES_DISAGREE = "squares-disagree"
    SQUARE_UNSURE = "square-unsure"
    BLURRED = "blurred"
    BURNT_OUT = "burnt-out"
    TOO_DARK = "too-dark"
    TILTED = "tilted"
    FOCAL_ODD = "focal-odd"
    NO_GARMENT = "no-garment"
    GARMENT_CUT = "garment-cut"
    LOW_CONTRAST = "low-contrast"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a photograph. The message says what was seen and what to do about it."""

    code: Code
    level: Level
    message: str

"""How garments are cut: which seams each kind must have, where they run, and how far that varies. All lengths in mm.

The points are those a drafter names: shoulder (where the shoulder's line ends at the sleeve), underarm, neck,
crotch, the corners of waist and hem. Left and right are those of the picture with collar or waist up.
Seam types are named as in ISO 4916:1991 where one is usual (number from memory). The runs of armhole, crotch
and front edge are those of the basic blocks in drafting handbooks (Aldrich, Metric Pattern Cutting; Armstrong,
Patternmaking for Fashion Design: from memory); every figure not said to be from there is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

WITH_SLEEVES = frozenset({"jacket", "coat", "shirt", "t-shirt", "jumper", "dress"})
WITH_LEGS = frozenset({"trousers", "shorts"})
OPENS_IN_FRONT = frozenset({"jacket", "coat", "vest", "shirt"})
KINDS = WITH_SLEEVES | WITH_LEGS | {"vest", "skirt"}


@dataclass(frozen=True, slots=True)
class Run:
    """A seam that runs from one point of the garment to another.

    kinds: of garment that have it; faces: of the garment on which it shows. start, end: names of points, {side}
    standing for left and right, each of which then has one. bow: share of its length by which the middle of
    the seam lies towards the garment's own middle. off: mm, half-width of where it may run besides what its
    points are off. long: least and most length; another means that a point was mistaken. source: where this stands.
    """

    name: str
    kinds: frozenset[str]
    faces: frozenset[str]
    start: str
    end: str
    bow: float
    off: float
    long: tuple[float, float]
    source: str


@dataclass(frozen=True, slots=True)
class Band:
    """A seam or a row of stitches that runs along an edge of the garment.

    edge: "hem" (lower edge), "sleeve end", "leg end" or "waist". depth: least and most distance from the edge.
    hem: a turned edge, which joins nothing.
    """

    name: str
    kinds: frozenset[str]
    edge: str
    depth: tuple[float, float]
    hem: bool
    source: str


_BOTH = frozenset({"front", "back"})

RUNS: tuple[Run, ...] = (
    Run(
        "armhole seam", WITH_SLEEVES, _BOTH, "underarm {side}", "shoulder {side}", 0.06, 8.0, (80.0, 330.0),
        "set-in sleeve of the basic block, ISO 4916 class 1",
    ),
    Run(
        "crotch seam", WITH_LEGS, _BOTH, "waist", "crotch", 0.0, 6.0, (100.0, 450.0),
        "trouser block, ISO 4916 class 1 or 2",
    ),
)  # fmt: skip

BANDS: tuple[Band, ...] = (
    Band("hem", WITH_SLEEVES | {"vest", "skirt"}, "hem", (12.0, 40.0), True, "common practice"),
    Band("sleeve hem", WITH_SLEEVES, "sleeve end", (12.0, 40.0), True, "common practice"),
    Band("leg hem", WITH_LEGS, "leg end", (12.0, 40.0), True, "common practice"),
    Band("waistband", WITH_LEGS | {"skirt"}, "waist", (25.0, 50.0), False, "common practice"),
)

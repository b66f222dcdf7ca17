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
LONG = 400.0  # mm; a longer sleeve of a shirt reaches the wrist, unless it is rolled up (common practice)
NARROW_PARTS = frozenset(
    {"collar", "cuff", "band", "placket"}
)  # sewn on along one edge, with another close by
OPENS_IN_FRONT = frozenset({"jacket", "coat", "vest", "shirt"})

# Common practice, from memory: facings are 40 to 90 mm wide as sewn and have an allowance on each side; a cuff lies 90 to
# 160 mm long when buttoned and folded flat, up to twice that open.
WIDEST_FACING = 110.0
LONGEST_CUFF = 220.0


@dataclass(frozen=True, slots=True)
class Run:
    """A seam that runs from one point of the garment to another.

    kinds: of garment that have it; faces: of the garment on which it shows. start, end: names of points, {side}
    standing for left and right, each of which then has one. bow: share of its length by which the middle of
    the seam lies towards the garment's own middle. off: mm, half-width of where it may run besides what its
    points are off. long: least and most length; another means that a point was mistaken. source: where this stands.
    between: parts of the garment that must both be seen for sure; "" where the kind alone says it.
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
    between: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Joint:
    """A seam where two parts of a garment meet, laid only where both are seen for sure.

    one, other: parts as the look at the whole garment names them, without their side or, where both halves meet, with it.
    over: no seam, but the edge of one that lies over the other. coarse: laid only where the photograph is too coarse to show
    stitches; in a sharp one it would have been seen, or the part was mistaken.
    """

    name: str
    kinds: frozenset[str]
    one: str
    other: str
    source: str
    over: bool = False
    coarse: bool = False


@dataclass(frozen=True, slots=True)
class Side:
    """A seam that lies on the garment's own outline when it is laid flat, from one named point to another.

    usual: how often a garment of this kind has a seam there rather than a fold, about. off: mm by which it may have
    been turned to the face.
    """

    name: str
    kinds: frozenset[str]
    start: str
    end: str
    usual: float
    off: float
    source: str


@dataclass(frozen=True, slots=True)
class Pair:
    """A seam that has its like on the other side, for both halves of a garment are cut from one pattern.

    parts: on which it lies. long: of the garment's height, at least. steep: degrees off the garment's length, at
    most. aside: mm from the middle, at least. off: mm, half-width of where its like may run.
    """

    name: str
    kinds: frozenset[str]
    parts: frozenset[str]
    long: float
    steep: float
    aside: float
    off: float
    source: str


@dataclass(frozen=True, slots=True)
class Band:
    """A seam or a row of stitches that runs along an edge of the garment.

    edge: "hem" (lower edge), "sleeve end", "leg end" or "waist". depth: least and most distance from the edge.
    hem: a turned edge, which joins nothing. long: of a sleeve, from where it hangs to its end, at least and at most.
    perhaps: laid too where the garment may well be of such a kind. instead: a part of the garment that, where it is seen for
    sure, is sewn on there, so that its own seam (see JOINTS) takes the place of this.
    """

    name: str
    kinds: frozenset[str]
    edge: str
    depth: tuple[float, float]
    hem: bool
    source: str
    long: tuple[float, float] = (0.0, 5000.0)
    perhaps: bool = False
    instead: str = ""


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
    # A closed front laps over by the width of its button stand: 15 to 25 mm to either side of the middle.
    Run(
        "front edge", OPENS_IN_FRONT, frozenset({"front"}), "neck", "hem", 0.0, 20.0, (250.0, 1300.0),
        "button stand of the shirt and jacket blocks (Aldrich: from memory)", ("body_left", "body_right"),
    ),
    # Only where both sides turn out sharply at the waist: the corner of the outline is the point.
    Run(
        "waist seam", frozenset({"dress"}), _BOTH, "waist left", "waist right", 0.0, 12.0, (150.0, 700.0),
        "a gathered or flared skirt is cut apart from its bodice (Aldrich: from memory)",
    ),
)  # fmt: skip

_TOPS = WITH_SLEEVES | {"vest"}
JOINTS: tuple[Joint, ...] = (
    Joint(
        "armhole seam", WITH_SLEEVES, "sleeve", "body", "set-in sleeve of the basic block, ISO 4916 class 1", coarse=True
    ),
    Joint("armhole seam", WITH_SLEEVES, "sleeve", "yoke", "shirt block (Aldrich: from memory)", coarse=True),
    Joint("cuff seam", WITH_SLEEVES, "cuff", "sleeve", "common practice"),
    Joint("collar seam", _TOPS, "collar", "body", "neckline of the basic block, ISO 4916 class 1"),
    Joint("collar seam", _TOPS, "collar", "yoke", "shirt block (Aldrich: from memory)"),
    Joint("hood seam", _TOPS, "hood", "body", "common practice"),
    Joint("yoke seam", _TOPS, "yoke", "body", "common practice"),
    Joint("placket seam", _TOPS, "placket", "body", "common practice: sewn on, or stitched down", coarse=True),
    *(
        Joint("edge lying over the inside", _TOPS, "inside", part, "common practice", over=True, coarse=True)
        for part in ("body", "collar", "yoke", "hood")
    ),
    Joint(
        "crotch seam and inseam", WITH_LEGS, "leg_left", "leg_right", "trouser block, ISO 4916 class 1 or 2", coarse=True
    ),
    Joint("yoke seam", WITH_LEGS, "yoke", "leg", "common practice: the back yoke of jeans"),
    Joint("seam of the band", _TOPS, "band", "body", "common practice"),
    Joint("waistband seam", WITH_LEGS, "band", "leg", "common practice"),
    Joint("waistband seam", frozenset({"skirt", "dress"}), "band", "skirt", "common practice"),
    Joint("waist seam", frozenset({"dress"}), "skirt", "body", "common practice"),
)  # fmt: skip

SIDES: tuple[Side, ...] = (
    Side("inseam", WITH_LEGS, "crotch", "leg end {side}", 0.95, 1.0, "trouser block, ISO 4916 class 1 or 2"),
    Side(
        "outseam", WITH_LEGS, "waist {side}", "hem {side}", 0.9, 1.0, "trouser block, ISO 4916 class 1 or 2"
    ),
    Side(
        "side seam",
        frozenset({"skirt"}),
        "waist {side}",
        "hem {side}",
        0.85,
        1.0,
        "skirt block, ISO 4916 class 1",
    ),
)

PAIRS: tuple[Pair, ...] = (
    Pair(
        "princess seam", WITH_SLEEVES - {"t-shirt", "jumper"} | {"vest"}, frozenset({"body"}), 0.4, 30.0, 35.0, 12.0,
        "princess line, moved darts (Armstrong: from memory); both halves alike is common practice",
    ),
    Pair(
        "gore seam", frozenset({"skirt", "dress"}), frozenset({"skirt"}), 0.4, 30.0, 35.0, 15.0,
        "gored skirt (Aldrich: from memory); both halves alike is common practice",
    ),
)  # fmt: skip

BANDS: tuple[Band, ...] = (
    Band("hem", WITH_SLEEVES | {"vest"}, "hem", (12.0, 40.0), True, "common practice", instead="band"),
    Band("hem", frozenset({"skirt"}), "hem", (12.0, 40.0), True, "common practice"),
    Band("sleeve hem", WITH_SLEEVES - {"shirt"}, "sleeve end", (12.0, 40.0), True, "common practice"),
    Band("sleeve hem", frozenset({"shirt"}), "sleeve end", (12.0, 40.0), True, "common practice", (0.0, LONG)),
    # A shirt's long sleeve ends in a cuff of 50 to 80 mm (shirt block, Aldrich: from memory).
    Band(
        "cuff seam", frozenset({"shirt"}), "sleeve end", (50.0, 80.0), False, "shirt block", (LONG, 5000.0), True,
        instead="cuff",
    ),
    Band("leg hem", WITH_LEGS, "leg end", (12.0, 40.0), True, "common practice"),
    Band("waistband", WITH_LEGS | {"skirt"}, "waist", (25.0, 50.0), False, "common practice", instead="band"),
)  # fmt: skip

"""The garment as measured: pieces of cloth on the plane, and what of them can be used.

A piece is one connected stretch of cloth bounded by seams or edges. Blocked areas are what can't be
used. Usable is the piece's outline minus every blocked shape grown by its margin; rounding may only
make it smaller.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, TypeAlias

from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon

from salvage.trade.margins import BlockedKind as BlockedKind

Blocking: TypeAlias = Polygon | MultiPolygon | LineString | MultiLineString


DOUBTFUL = 0.8  # confidence in something found from which nobody need be asked
ON_EDGE = "seam on the edge"  # what a seam that is the outline is called
EDGE_LYING_OVER = "edge of a part lying over"  # what the line is called where one layer ends upon another
BETWEEN = (
    "edge of "  # how a line begins that is called by the two parts, or the other colour, that meet there
)
OTHER_COLOUR = "another colour"
LIKE = " like the one on the other side"  # how what is laid is called because its like was seen on the other half
ONE_PLACE = (
    60.0  # mm between parts of one thing from which they are told apart: the hems of both sleeves, say
)
MARK = (
    "hole, tear or mark"  # what a worn place is called that was known by its edge, its colour and its texture
)
MAY_BE_FLOOR = "what the garment lies on"  # what an area is called that may be no cloth of the garment
GRAIN_UNSURE = (
    7.0  # degrees of doubt from which a piece's grain is asked about: cloth is cut within 2, seen within 5
)


class FoundBy(StrEnum):
    PHOTO = "photo"
    TRADE = "trade"  # it must be there, such as the seam of a set-in sleeve, though it wasn't seen
    PERSON = "person"


@dataclass(frozen=True, slots=True)
class Blocked:
    """A shape on the plane, in mm, that can't be used, and how far to keep from it.

    shape: an area, or a line (a seam); margin: mm kept clear on every side of it.
    what: what exactly it is ("welt pocket", "stain"); confidence: 0 to 1.
    id: the same for all parts of one thing that lies over several pieces; "" where there is but one.
    number: by which a person knows it, on the marked picture and on the page; 0 where none is given yet.
    extra: fields of the record this program doesn't know, kept as they were read.
    """

    kind: BlockedKind
    shape: Blocking
    margin: float
    found_by: FoundBy = FoundBy.PHOTO
    what: str = ""
    confidence: float = 1.0
    id: str = ""
    extra: Mapping[str, Any] = field(default_factory=dict)
    number: int = field(default=0, compare=False)


class Reply(StrEnum):
    """What a person says to a question."""

    OPEN = ""
    YES = "yes"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Question:
    """Something doubtful that the person can see and the program can't.

    about: id of the blocked areas in question, or what of the whole is (see salvage.cloth.unsure). shape: where, mm, on the plane of `photo` (its file).
    weight: mm^2 of cloth at stake, the less the surer it is. confidence: chance that the answer is yes.
    """

    number: int
    text: str
    about: str
    shape: Blocking
    photo: str = ""
    weight: float = 0.0
    confidence: float = 0.5
    answer: Reply = Reply.OPEN


@dataclass(frozen=True, slots=True)
class Cleared:
    """Cloth that a person looked at and found sound: what is found there again doesn't block.

    shape: a seam or a spot that was taken out, or, with patch, an area in which nothing is in the way.
    kind: of what was taken out; None if it isn't known. mm on the plane.
    """

    shape: Blocking
    kind: BlockedKind | None = None
    patch: bool = False


@dataclass(frozen=True, slots=True)
class PlusMinus:
    """Half-widths of 95 % intervals. scale_percent: of any length; edge: mm, of where an edge lies; grain: degrees,
    90 where it may run either way."""

    scale_percent: float = 0.0
    edge: float = 0.0
    grain: float = 0.0


@dataclass(frozen=True, slots=True)
class PiecePhoto:
    """Where a piece was photographed.

    file: name of the photograph, relative to the record. content: SHA-256 of the file, by which it is
    known wherever it lies; "" if not known.
    side: side of the reference square, mm.
    camera: the camera as scale.plane writes it, enough to map mm to pixels again.
    """

    file: str
    side: float
    camera: Mapping[str, Any] = field(default_factory=dict)
    mm_to_pixel: Mapping[str, Any] = field(default_factory=dict)
    content: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """One connected stretch of cloth.

    outline: mm on the plane. grain: direction of the warp, degrees counter-clockwise from +x.
    one_way: nap or print with an up and a down; up is then the grain direction.
    usable: what a person drew of it; of that, what is blocked can't be used all the same. None: all of it.
    layers: equal layers lying there that can all be cut.
    by_person: names of the fields a person set ("grain", "outline", ...); a new run keeps them.
    found: the outline as the photo had it, where a person drew another.
    cleared: what a person has looked at and found sound; what is found there again doesn't block.
    number: by which a person knows it on the marked picture, like those of blocked areas; 0: none yet.
    extra: fields of the record this program doesn't know, kept as they were read; those inside a known
    field under its name ({"photo": {"film": "400"}}).
    """

    name: str
    outline: Polygon
    fabric: str = "shell"
    layers: int = 1
    grain: float = 90.0
    one_way: bool = False
    blocked: tuple[Blocked, ...] = ()
    usable: MultiPolygon | None = None
    plus_minus: PlusMinus = PlusMinus()
    photo: PiecePhoto | None = None
    confidence: float = 1.0
    by_person: tuple[str, ...] = ()
    found: Polygon | MultiPolygon | None = None
    cleared: tuple[Cleared, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)
    number: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Hints:
    """What a person pointed at in one photograph; its outline is found with them whenever it is measured.

    photo: its file, as its pieces name it. cloth, floor: strokes, each of one or more pixels (column, row)
    of the upright picture, that lie on the cloth or on the floor.
    """

    photo: str
    cloth: tuple[tuple[tuple[float, float], ...], ...] = ()
    floor: tuple[tuple[tuple[float, float], ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Garment:
    """One or more photographed cloth pieces with a name.

    kind: a cloth kind of salvage.trade, "" if not told or found.
    cautions: sentences a person must see before cutting. warnings: problems carried from the photographs.
    by_person: names of the fields a person set. said: those of the sentences that a person wrote; unsaid:
    sentences that a person took out. removed: pieces that a person took out, as they were last known.
    all_known: whether every piece that was taken out is among them, as it is but for old records.
    questions: what the person is asked, the weightiest first, with the answers given so far.
    hints: what the person pointed at, photograph by photograph.
    numbers: the highest number that a piece or a blocked area was given so far; none is given twice.
    extra: fields of the record this program doesn't know, kept as they were read.
    """

    name: str
    pieces: tuple[Piece, ...]
    kind: str = ""
    cautions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    by_person: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    unsaid: tuple[str, ...] = ()
    removed: tuple[Piece, ...] = ()
    all_known: bool = True
    questions: tuple[Question, ...] = ()
    hints: tuple[Hints, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)
    numbers: int = field(default=0, compare=False)

"""What finders find on one stretch of cloth: lines and places in mm, before margins and pieces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shapely.geometry import LineString, Polygon

from salvage.cloth.finders.sight import Sight
from salvage.cloth.garment import BlockedKind, FoundBy

_PARTS = 0.55  # confidence from which the cloth falls apart along a line


@dataclass(frozen=True, slots=True)
class Seam:
    """A seam in mm. hem: it runs along the outline and joins nothing. on_outline: it is the outline.

    what: its name; "" for one that has none but its kind. wide: mm by which it may lie to either side.
    kind: of what it blocks as, where that isn't a seam or a hem (the edge of a part that lies over another).
    fine: seen in the threads by the fine finders, so that its confidence is worth what theirs is.
    """

    line: LineString
    confidence: float
    hem: bool = False
    on_outline: bool = False
    what: str = ""
    found_by: FoundBy = FoundBy.PHOTO
    wide: float = 0.0
    kind: BlockedKind | None = None
    fine: bool = False

    @property
    def parts(self) -> bool:
        """Whether the cloth falls apart along it. What is doubtful only blocks: it may be a crease."""
        sure = self.confidence >= _PARTS or self.found_by is FoundBy.TRADE
        return sure and not self.hem and not self.on_outline


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in mm that can't be used: closure, pocket, label, worn place. wide, fine: as of a seam."""

    kind: BlockedKind
    shape: Polygon
    what: str
    confidence: float
    wide: float = 0.0
    fine: bool = False


@dataclass(frozen=True, slots=True)
class ZipBand:
    """A zip or another band: its area, and the line along its middle, where the cloth falls apart."""

    area: Polygon
    middle: LineString


@dataclass(frozen=True, slots=True)
class Found:
    """What was found so far. fittings: closures, pockets and all else that is sewn on. worn: worn and spoilt places."""

    seams: tuple[Seam, ...] = ()
    bands: tuple[ZipBand, ...] = ()
    fittings: tuple[Spot, ...] = ()
    worn: tuple[Spot, ...] = ()

    @property
    def seam_lines(self) -> list[LineString]:
        return [each.line for each in self.seams]

    @property
    def middles(self) -> list[LineString]:
        return [each.middle for each in self.bands]


# Looks at the cloth, knows what those before it found, and gives that with its own finds added, or some taken out.
Finder = Callable[[Sight, Found], Found]

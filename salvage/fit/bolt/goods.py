"""Plain cloth off the bolt as a garment of one piece, and a project as it is cut from it.

Plain cloth has no pocket to be cut round, no hem to lie on and no seam in the way: what is pieced to save a garment's
cloth is cut whole here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.polygon import orient

from salvage.cloth.garment import Garment, Piece
from salvage.project.outlines import ring_of, stitching_line
from salvage.project.project import Join, Panel, Project, Strip
from salvage.trade.sewing import LONGEST_IN_ONE
from salvage.trade.widths import SELVEDGES

PIECE = "cloth"
_SAME = 1e-6  # mm, by which a shape and its mirror image may differ


@dataclass(frozen=True, slots=True)
class Goods:
    """Cloth off the bolt. width: with its selvedges, mm; folded: lengthwise, wrong sides out; one_way: nap or print."""

    fabric: str
    width: float
    folded: bool = False
    one_way: bool = False

    @property
    def edge(self) -> float:
        """mm of one selvedge."""
        return SELVEDGES / 2

    @property
    def room(self) -> float:
        """Width of what can be used, mm."""
        return self.width - SELVEDGES

    def cloth(self, length: float) -> Garment:
        """So much of it, open, its lower left corner at (0, 0), the warp up."""
        inner = box(self.edge, 0.0, self.width - self.edge, length)
        return self._garment(box(0.0, 0.0, self.width, length), inner)

    def upper_layer(self, length: float, gap: float) -> Garment:
        """Folded in half: the layer that is seen, the fold at its right, half a cutting gap off which nothing lies."""
        half = self.width / 2
        return self._garment(box(0.0, 0.0, half, length), box(self.edge, 0.0, half - gap / 2, length))

    def _garment(self, outline: Polygon, inner: Polygon) -> Garment:
        piece = Piece(PIECE, outline, self.fabric, one_way=self.one_way, usable=MultiPolygon([inner]))
        return Garment("cloth off the bolt", (piece,))


def off_the_bolt(project: Project, goods: Goods) -> Project:
    """What of the project is of that fabric, as it is cut from plain cloth; numbers left open are the least."""
    panels = tuple(_panel(each) for each in project.panels if each.fabric == goods.fabric)
    strips = tuple(_strip(each) for each in project.strips if each.fabric == goods.fabric)
    return replace(project, panels=panels, strips=strips, parts=(), seams=(), notes=())


def _panel(panel: Panel) -> Panel:
    plain = replace(panel, pieces=(), around=None, edge=None, many=False, joins=0, joins_where="")
    sewn = stitching_line(panel)
    if panel.edge is None or sewn is None:
        return plain
    # the side that lay on the hem needs an allowance like the others
    return replace(plain, outline=ring_of(sewn.buffer(panel.seam_allowance, join_style="mitre")))


def _strip(strip: Strip) -> Strip:
    plain = replace(strip, pieces=(), many=False, longest=False)
    if strip.length <= LONGEST_IN_ONE:
        return replace(plain, join=Join.NONE)
    return replace(plain, shortest=max(strip.shortest, LONGEST_IN_ONE / 2))


def in_pairs(project: Project) -> tuple[Project, Project]:
    """What is cut through both layers of folded cloth, each once for two of it, and what is cut from one layer.

    The lower layer gives mirror images: a pair of left and right, panels that look the same either way, and such as
    may be cut from the wrong side. An odd one is cut from one layer.
    """
    folded: list[Panel | Strip] = []
    single: list[Panel | Strip] = []
    items: tuple[Panel | Strip, ...] = (*project.panels, *project.strips)
    for item in items:
        pairs = item.cut // 2 if _goes_in_pairs(item) else 0
        if pairs:
            folded.append(_paired(item, pairs))
        if rest := item.cut - 2 * pairs:
            single.append(replace(item, cut=rest))
    return _of(project, folded), _of(project, single)


def _of(project: Project, items: list[Panel | Strip]) -> Project:
    return replace(
        project,
        panels=tuple(each for each in items if isinstance(each, Panel)),
        strips=tuple(each for each in items if isinstance(each, Strip)),
    )


def _paired(item: Panel | Strip, pairs: int) -> Panel | Strip:
    if isinstance(item, Strip):
        return replace(item, cut=pairs)
    # of a left and a right either may lie on the layer that is seen
    return replace(item, cut=pairs, mirrored=False, flip=item.flip or item.mirrored)


def _goes_in_pairs(item: Panel | Strip) -> bool:
    if isinstance(item, Strip):
        return item.join is Join.NONE
    return item.mirrored or item.flip or is_even(Polygon(item.outline))


def is_even(shape: Polygon) -> bool:
    """Whether a shape is its own mirror image, left to right."""
    left, _, right, _ = shape.bounds
    mirrored = affinity.scale(shape, -1.0, 1.0, origin=((left + right) / 2, 0.0))
    return bool(orient(mirrored).normalize().equals_exact(orient(shape).normalize(), _SAME)) or (
        mirrored.symmetric_difference(shape).area < _SAME * shape.length
    )

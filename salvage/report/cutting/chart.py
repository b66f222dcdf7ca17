"""The cutting chart: every shape to cut, numbered in the order of cutting, with where it lies.

The number is the order of cutting, largest first: a mistake in a large panel can still be put right
from cloth that the small ones haven't used up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer, Placement
from salvage.project.outlines import stitching_line
from salvage.project.project import Panel, Project, Strip
from salvage.report.cutting.bearings import Bearing, bearings
from salvage.report.cutting.landmarks import Landmark
from salvage.report.cutting.upright import turn_of, turned, upright
from salvage.report.say.words import items_of
from salvage.units import Unit, format_length


@dataclass(frozen=True, slots=True)
class CutShape:
    """One shape to cut. number: order of cutting from 1. size: width and length as cut, mm.

    name: panel and copy ("body 1 of 2", "strap, length 2"). filling: index for salvage.report.pen.palette.
    shape: the cut outline as it lies on the plan, where its piece is turned (see say.upright). bearings: two of its
    corners with their tape lengths; one where it has no two that are far apart.
    """

    number: int
    name: str
    size: tuple[float, float]
    filling: int
    placement: Placement
    item: Panel | Strip | None
    shape: Polygon
    bearings: tuple[Bearing, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """One layer of one piece with the shapes to cut from it.

    marks: the landmarks lettered on it, as they lie on the plan. upright: the piece as it is turned there.
    """

    garment: int
    piece: Piece
    layer: int
    cuts: tuple[CutShape, ...]
    marks: tuple[Landmark, ...]

    @property
    def upright(self) -> Piece:
        return upright(self.piece)

    @property
    def turn(self) -> float:
        return turn_of(self.piece)


def spreads(answer: Answer, garments: Sequence[Garment], project: Project) -> tuple[Spread, ...]:
    """Every layer of a piece that something is cut from, the one with the first cut first.

    Placements on a piece that no garment has are left out.
    """
    items = {item.name: item for item in items_of(project)}
    looks = {name: index for index, name in enumerate(items)}
    parts = _parts(answer.placements)
    pieces = {
        (index, piece.name): piece for index, garment in enumerate(garments) for piece in garment.pieces
    }
    groups: dict[tuple[int, str, int], list[tuple[int, Placement]]] = {}
    for number, placement in enumerate(in_cutting_order(answer.placements), start=1):
        key = (placement.garment, placement.piece, placement.layer)
        if key[:2] in pieces:
            groups.setdefault(key, []).append((number, placement))
    done = []
    for (garment, name, layer), numbered in groups.items():
        piece = pieces[garment, name]
        lie = [_polygon(turned(placement.shape, turn_of(piece))) for _, placement in numbered]
        marks, found = bearings(upright(piece), lie)
        cuts = tuple(
            CutShape(
                number,
                cut_name(placement, items.get(placement.panel), parts[placement.panel, placement.copy]),
                cut_size(placement),
                looks.setdefault(placement.panel, len(looks)),
                placement,
                items.get(placement.panel),
                shape,
                two,
            )
            for (number, placement), shape, two in zip(numbered, lie, found, strict=True)
        )
        done.append(Spread(garment, piece, layer, cuts, marks))
    return tuple(done)


def _polygon(shape: BaseGeometry) -> Polygon:
    assert isinstance(shape, Polygon)
    return shape


def in_cutting_order(placements: Sequence[Placement]) -> list[Placement]:
    """Largest first; copies of one panel stay together."""
    return sorted(
        placements, key=lambda p: (-round(p.shape.area), p.panel, p.copy, p.part or 0, p.garment, p.piece)
    )


def _parts(placements: Sequence[Placement]) -> dict[tuple[str, int], int]:
    counts: dict[tuple[str, int], int] = {}
    for placement in placements:
        key = (placement.panel, placement.copy)
        counts[key] = max(counts.get(key, 0), placement.part or 0)
    return counts


def cut_name(placement: Placement, item: Panel | Strip | None, parts: int) -> str:
    """`body 1 of 2`, `pocket, part 1 of 2`, `strap, length 2 of 3`."""
    name = placement.panel
    if item is not None and item.cut > 1:
        name += f" {placement.copy} of {item.cut}"
    if placement.part is not None:
        word = "length" if isinstance(item, Strip) else "part"
        name += f", {word} {placement.part} of {parts}" if parts > 1 else ""
    return name


def cut_size(placement: Placement) -> tuple[float, float]:
    """Width and length of a cut shape in its own frame, mm."""
    upright: Polygon = affinity.rotate(placement.shape, -placement.angle, origin=(0, 0))
    low_x, low_y, high_x, high_y = upright.bounds
    return high_x - low_x, high_y - low_y


def item_size(item: Panel | Strip) -> tuple[float, float]:
    """Cut size of a panel, or of a strip as sewn together, mm."""
    if isinstance(item, Strip):
        return item.cut_width, item.length
    xs, ys = zip(*item.outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def finished_size(item: Panel | Strip) -> tuple[float, float] | None:
    """Size after sewing, mm; None where the project doesn't say."""
    if isinstance(item, Panel):
        return item.finished
    if item.finished_width is None:
        return None
    return item.finished_width, item.length - 2 * item.seam_allowance


def stitching_of(cut: CutShape) -> Polygon | None:
    """Where a shape is stitched, on the plane of its piece; None where nothing is taken in.

    A part of a pieced panel has its allowance all round, the join included.
    """
    item, placement = cut.item, cut.placement
    if not isinstance(item, Panel):
        return None
    line = stitching_line(item) if placement.part is None else None
    if placement.part is not None:
        if item.seam_allowance <= 0:
            return None
        inner = placement.shape.buffer(-item.seam_allowance, join_style="mitre")
        return inner if isinstance(inner, Polygon) and not inner.is_empty else None
    if line is None:
        return None
    outline: BaseGeometry = Polygon(item.outline)
    found: BaseGeometry = line
    if placement.flipped:
        outline, found = (affinity.scale(each, -1, 1, origin=(0, 0)) for each in (outline, found))
    outline, found = (affinity.rotate(each, placement.angle, origin=(0, 0)) for each in (outline, found))
    low, at = outline.bounds, placement.shape.bounds
    return _polygon(affinity.translate(found, at[0] - low[0], at[1] - low[1]))


def tapes_words(cut: CutShape, unit: Unit) -> str:
    """Both corners of a shape, one after the other."""
    return "; ".join(tape_words(bearing, unit) for bearing in cut.bearings)


def tape_words(bearing: Bearing, unit: Unit) -> str:
    """`its lower left corner: 143 mm from A, 87 mm from D`."""
    lengths = [
        f"{format_length(tape.length, unit)} from {tape.letter}"
        if tape.length >= 1.0
        else f"on {tape.letter}"
        for tape in bearing.tapes
    ]
    return f"{bearing.corner_words}: {', '.join(lengths)}"

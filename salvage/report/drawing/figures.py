"""Which pictures a fit report shows: photographs with the layout on them, and the flat plans."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath

from shapely.geometry import MultiPolygon

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.usable import usable
from salvage.fit.material.lay import same_fabric
from salvage.photo.photo import Photo
from salvage.project.project import Panel
from salvage.report.content import Content
from salvage.report.cutting.chart import Spread
from salvage.report.drawing.ground import OnPhoto
from salvage.report.drawing.plan import paper_for
from salvage.report.keys import lookup
from salvage.report.say.words import listed, plural
from salvage.report.tables import of_piece


@dataclass(frozen=True, slots=True)
class PhotoFigure:
    """One photograph with one layer of panels on it."""

    photo: Photo
    plane: OnPhoto
    spreads: tuple[Spread, ...]
    pieces: tuple[Piece, ...]
    caption: str
    alt: str


def photo_key(figure: PhotoFigure) -> str:
    """What the lines on a photograph mean."""
    if any(spread.cuts for spread in figure.spreads):
        return (
            "Solid line: cut here. Dashed: stitching line. Arrow: grain. The number is the order of cutting."
        )
    return "Darkened, hatched or beside a dashed line: can't be used. Nothing is placed on it."


@dataclass(frozen=True, slots=True)
class PlanFigure:
    """One layer of a piece on the flat plane."""

    spread: Spread
    usable: MultiPolygon
    caption: str
    alt: str
    marks: tuple[tuple[str, str], ...]


def photo_figures(
    content: Content, photos: Mapping[str, Photo], planes: Mapping[str, OnPhoto]
) -> list[PhotoFigure]:
    """The photographs in the order of the first cut on each; all of them where nothing is placed."""
    shown = content.spreads or bare_spreads(content.garments)
    groups: dict[tuple[int, str, int], list[Spread]] = {}
    for spread in shown:
        if spread.piece.photo is not None:
            groups.setdefault((spread.garment, spread.piece.photo.file, spread.layer), []).append(spread)
    done = []
    for (garment, file, layer), laid in groups.items():
        photo, plane = lookup(photos, garment, file), lookup(planes, garment, file)
        if photo is None or plane is None:
            continue
        name = content.garments[garment].name
        pieces = tuple(
            piece
            for piece in content.garments[garment].pieces
            if piece.photo is not None and piece.photo.file == file
        )
        caption = f"{name}, {PurePath(file).name}" + (
            f", layer {layer}" if any(s.piece.layers > 1 for s in laid) else ""
        )
        done.append(PhotoFigure(photo, plane, tuple(laid), pieces, caption, _photo_alt(name, laid)))
    return done


def bare_spreads(garments: Sequence[Garment]) -> tuple[Spread, ...]:
    """Every piece with nothing on it."""
    return tuple(
        Spread(index, piece, 1, (), ()) for index, garment in enumerate(garments) for piece in garment.pieces
    )


def common_scale(figures: Sequence[PlanFigure], width: float, height: float) -> float:
    """A scale 1 : n that is large enough for every plan: twice that of the piece which needs most paper."""
    scales = []
    for figure in figures:
        scales.append(paper_for([figure.spread.upright.outline], width, height).scale)
    return max(scales, default=1.0) / 2


def plan_figures(content: Content) -> list[PlanFigure]:
    """A plan for each layer that is cut from; where a panel has no place, its fabric's largest piece too."""
    laid = list(content.spreads)
    for fabric in dict.fromkeys(panel.fabric for panel in content.unplaced):
        bare = largest_of(content.garments, {fabric})
        if bare is None or (laid and same_fabric(bare.piece.fabric) != same_fabric(fabric)):
            continue  # there is none of that fabric to show
        if not any(_same(bare, spread) for spread in laid):
            laid.append(bare)
    figures = []
    for spread in laid:
        piece = spread.piece
        caption = of_piece(content.garments, spread.garment, piece.name)
        caption += f", {piece.fabric}" + (
            f", layer {spread.layer} of {piece.layers}" if piece.layers > 1 else ""
        )
        if round(spread.turn, 1):
            caption += (
                f"; turned {abs(spread.turn):.0f}° {'anti' if spread.turn > 0 else ''}clockwise, grain up"
            )
        marks = tuple((mark.letter, mark.words) for mark in spread.marks)
        figures.append(PlanFigure(spread, usable(spread.upright), caption, _plan_alt(spread), marks))
    return figures


def apart_alt(panels: Sequence[Panel]) -> str:
    """What the drawing of panels without a place shows, in words."""
    return f"Drawn to scale, without a place: {listed([panel.name for panel in panels])}."


def largest_of(garments: Sequence[Garment], fabrics: set[str]) -> Spread | None:
    """The piece with most usable cloth of these fabrics (of any, if none has them), with nothing on it."""
    found: list[tuple[float, int, Piece]] = [
        (usable(piece).area, -index, piece)
        for index, garment in enumerate(garments)
        for piece in garment.pieces
    ]
    right = [entry for entry in found if entry[2].fabric in fabrics] or found
    if not right:
        return None
    _, index, piece = max(right, key=lambda entry: entry[:2])
    return Spread(-index, piece, 1, (), ())


def _same(one: Spread, other: Spread) -> bool:
    return (one.garment, one.piece.name) == (other.garment, other.piece.name)


def _photo_alt(name: str, laid: Sequence[Spread]) -> str:
    cuts = [cut for spread in laid for cut in spread.cuts]
    if not cuts:
        return f"Photograph of {name} with its pieces outlined; nothing is placed on it."
    names = [f"{cut.number} {cut.name}" for cut in cuts[:12]]
    more = f" and {len(cuts) - 12} more" if len(cuts) > 12 else ""
    return f"Photograph of {name} with {plural(len(cuts), 'panel')} drawn where they will be cut: {', '.join(names)}{more}."


def _plan_alt(spread: Spread) -> str:
    text = f"Plan to scale of the {spread.piece.name}, seen flat, with {plural(len(spread.cuts), 'panel')}"
    return text + ", usable cloth white, the rest grey, rulers below and at the left."

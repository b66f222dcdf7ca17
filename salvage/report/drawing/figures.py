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
from salvage.report.drawing.ground import OnPhoto
from salvage.report.drawing.plan import beside_piece, sheet_for
from salvage.report.keys import lookup
from salvage.report.say.chart import Spread
from salvage.report.say.content import Content, of_piece
from salvage.report.say.words import listed, plural


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
    """One layer of a piece on the flat plane. unplaced: panels to set beside it."""

    spread: Spread
    usable: MultiPolygon
    unplaced: tuple[Panel, ...]
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
        beside = beside_piece(figure.spread.upright, figure.unplaced)
        shapes = [figure.spread.upright.outline, *(shape for _, shape in beside)]
        scales.append(sheet_for(shapes, width, height).scale)
    return max(scales, default=1.0) / 2


def plan_figures(content: Content) -> list[PlanFigure]:
    """A plan for each layer that is cut from; panels without a place stand beside the largest piece."""
    laid = list(content.spreads)
    carried: dict[tuple[int, str], tuple[Panel, ...]] = {}
    for fabric in dict.fromkeys(panel.fabric for panel in content.unplaced):
        bare = largest_of(content.garments, {fabric})
        if bare is None or (laid and same_fabric(bare.piece.fabric) != same_fabric(fabric)):
            continue  # there is none of that fabric to set them beside
        if not any(_same(bare, spread) for spread in laid):
            laid.append(bare)
        key = (bare.garment, bare.piece.name)
        mine = tuple(panel for panel in content.unplaced if panel.fabric == fabric)
        carried[key] = carried.get(key, ()) + mine
    figures = []
    for spread in laid:
        piece = spread.piece
        beside = carried.pop((spread.garment, piece.name), ())
        caption = of_piece(content.garments, spread.garment, piece.name)
        caption += f", {piece.fabric}" + (
            f", layer {spread.layer} of {piece.layers}" if piece.layers > 1 else ""
        )
        marks = tuple((mark.letter, mark.words) for mark in spread.marks)
        figures.append(
            PlanFigure(spread, usable(spread.upright), beside, caption, _plan_alt(spread, beside), marks)
        )
    return figures


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


def _plan_alt(spread: Spread, beside: Sequence[Panel]) -> str:
    text = f"Plan to scale of the {spread.piece.name}, seen flat, with {plural(len(spread.cuts), 'panel')}"
    text += ", usable cloth white, the rest grey, rulers below and at the left."
    if beside:
        text += (
            f" Beside it, to the same scale and without a place: {listed([panel.name for panel in beside])}."
        )
    return text

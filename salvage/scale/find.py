"""Find the reference squares of a photograph, and say so where that can't be done or is doubtful."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.scale.finders import cut as cut_off
from salvage.scale.finders import plain, printed
from salvage.scale.finders.found import Card, CutCard, FoundSquares, PrintedFit, SquareFinder
from salvage.scale.finders.plain import MOST_SQUARES, alike, same_colour, same_size
from salvage.scale.finders.sight import SquareSight
from salvage.scale.finders.squareness import View, side_on_plane_of, squareness_on_plane_of
from salvage.scale.seeing.corners import QuadFit
from salvage.scale.seeing.polygons import sides_of
from salvage.scale.square import Square, SquareKind
from salvage.trade.paper import PAPER
from salvage.units import MM_PER_INCH

Array = NDArray[np.float64]

# In this order: a finder knows what those before it found. What they found is chosen from below.
FINDERS: tuple[SquareFinder, ...] = (printed.find, plain.find, cut_off.find)

SMALLEST_SIDE_PX = 60.0
_LEAST_SCORE = 0.35
_LEAST_SCORE_OF_SMALL = 0.8
# A second reading this much weaker than the first is no rival.
_RIVAL = 0.6
# Sides of two squares measured with one of them as the reference, the lens unknown, agree within this share.
_VERY_SIZE = 0.04
_LEAST_SQUARENESS = 0.85
_PATTERN = 0.4  # what cards count if each lies at more places than a person lays squares
# A cut square must be this much more convincing than a whole one to be believed instead.
_CUT_LEAD = 0.2
# A ruler is read to half a millimetre; printers that print at 100 % are right to half a percent (common practice).
_RULER, _PRINTER = 0.5, 0.005


@dataclass(frozen=True, slots=True)
class Finding:
    """squares: best first; empty if none can be used. problems: what to tell the person.

    others_px: (4, 2) corners of what could be references too but were not taken; they are no cloth.
    scaled: whether their sides are known; else they are 1 mm by name only.
    """

    squares: tuple[Square, ...]
    problems: tuple[Problem, ...] = ()
    others_px: tuple[Array, ...] = ()
    scaled: bool = True


def find_squares(
    photo: Photo,
    *,
    side: float | None,
    paper: str | None = None,
    pointed_at: Sequence[tuple[float, float]] = (),
) -> Finding:
    """Find one to four references of one size.

    side: of the square, mm; None where it isn't told (not used for paper, nor for squares whose code says it).
    paper: a name of salvage.trade.paper.PAPER to look for such
    a sheet or card instead. pointed_at: pixels inside the references that the person means; others are then
    left aside. Raises KeyError for an unknown paper.
    """
    view = View.of((photo.width_px, photo.height_px), photo.focal_35mm)
    scaled = side is not None or paper is not None
    width, length = PAPER[paper] if paper else (side or 1.0, side or 1.0)
    sight = SquareSight(photo.pixels, view, width / length, paper is None, tuple(pointed_at))
    found = FoundSquares()
    for find in FINDERS:
        found = find(sight, found)
    if found.printed:
        return _of_marks(found.printed, side, photo)
    good = [card for card in found.cards if card.score >= _least_score(card, pointed_at=bool(pointed_at))]
    groups = _groups(good, view, pointed_at=bool(pointed_at))
    cut = _cut(found.cut, groups, view, photo)
    if cut and cut[0].level is Level.ERROR:
        return Finding((), cut)
    if not groups:
        return Finding((), (_no_square(paper, [tuple(photo.to_full(each)) for each in pointed_at]),))
    rivals = [group for group in groups[1:] if _is_rival(group, groups[0], view, square=width == length)]
    # Cards of another colour that are square and of the very size are no rivals but further references.
    further = [group for group in rivals if same_size(groups[0][0], group[0], view, within=_VERY_SIZE)]
    rivals = [group for group in rivals if not any(group is each for each in further)]
    unsure = () if pointed_at or not rivals else (_unsure([groups[0], *rivals], photo),)
    kind = SquareKind.PAPER if paper else SquareKind.PLAIN
    chosen = [
        _square(kind, _turned(card, width, length), width, length, card.score * (0.5 if rivals else 1.0))
        for card in [*groups[0], *(card for group in further for card in group)][:MOST_SQUARES]
    ]
    others = tuple(card.fit.corners_px for group in rivals for card in group)
    return replace(_finding(chosen, (*unsure, *cut), photo), others_px=others, scaled=scaled)


def _of_marks(marks: Sequence[PrintedFit], side: float | None, photo: Photo) -> Finding:
    """Printed squares, each of the side that its code says, or else of the one told."""
    sides = [mark.side or side for mark in marks]
    scaled = any(sides)
    used = [(mark, own or 1.0) for mark, own in zip(marks, sides, strict=True) if own or not scaled]
    others = tuple(m.fit.corners_px for m, own in zip(marks, sides, strict=True) if scaled and not own)
    squares = [_square(SquareKind.PRINTED, mark.fit, own, own, 1.0) for mark, own in used[:MOST_SQUARES]]
    coded = [mark.side for mark in marks if mark.side]
    wrong = side is not None and len(coded) == len(marks) and not any(_is_side(own, side) for own in coded)
    problems = (_other_side(coded[0], side),) if wrong and side is not None else ()
    return replace(_finding(squares, problems, photo), others_px=others, scaled=scaled)


def _is_side(coded: float, told: float) -> bool:
    """Whether what a person measured on the print is what its code says, give or take a ruler and a printer."""
    return abs(told - coded) <= max(_RULER, _PRINTER * coded)


def _other_side(coded: float, told: float) -> Problem:
    return Problem(
        Code.SQUARE_UNSURE,
        Level.ERROR,
        f"The printed square's own pattern says that its side is {_plain(coded)}, but --side says {_plain(told)}. Leave "
        "--side out. If a ruler says otherwise too, the printer changed its size: print it again at 100 %.",
    )


def _plain(length: float) -> str:
    return f"{length:.1f} mm ({length / MM_PER_INCH:.3g} in)"


def _least_score(card: Card, *, pointed_at: bool) -> float:
    """What a card's score must be: what a person points at is believed sooner, a mere speck later."""
    if pointed_at:
        return 0.1 * _LEAST_SCORE
    return _LEAST_SCORE if card.side_px >= SMALLEST_SIDE_PX else _LEAST_SCORE_OF_SMALL


def _cut(
    cards: Sequence[CutCard], groups: Sequence[Sequence[Card]], view: View, photo: Photo
) -> tuple[Problem, ...]:
    """A square cut by the frame is an error where no whole one is as convincing, else a warning."""
    cards = [card for card in cards if card.score >= _LEAST_SCORE]
    if not cards:
        return ()
    if not groups or cards[0].score > groups[0][0].score + _CUT_LEAD:
        x, y = photo.to_full(cards[0].region.corners_px.mean(axis=0))
        return (
            Problem(
                Code.SQUARE_CUT,
                Level.ERROR,
                f"The reference square at {x:.0f},{y:.0f} is cut off by the edge of the picture. "
                "Take the photograph again with the whole square in view.",
            ),
        )
    further = [card for card in cards if _is_further(card, groups[0][0], view)]
    if not further:
        return ()
    x, y = photo.to_full(further[0].region.corners_px.mean(axis=0))
    return (
        Problem(
            Code.SQUARE_CUT,
            Level.WARNING,
            f"Something like a further reference square at {x:.0f},{y:.0f} is cut off by the edge of the picture "
            "and was not used. With the whole of it in view the scale would be surer.",
        ),
    )


def _is_further(cut: CutCard, whole: Card, view: View) -> bool:
    """Whether what the frame cuts is of the colour of a whole card, and no side of it is too long for that."""
    if not same_colour(cut.surface.colour, whole.surface.colour):
        return False
    sides = side_on_plane_of(cut.region.corners_px, whole.pose, view)
    free = np.array(cut.region.free)
    uncut = sides[free & np.roll(free, 1) & np.roll(free, -1)]
    return bool(sides[free].max() < 1.15 and (len(uncut) == 0 or uncut.min() > 0.85))


def _groups(cards: list[Card], view: View, *, pointed_at: bool) -> list[list[Card]]:
    """Cards that could be references together, the most convincing group first.

    More than four alike are a pattern and no references; unless a person has pointed at them.
    """
    if not pointed_at:
        cards = [card for card in cards if sum(alike(card, other) for other in cards) <= MOST_SQUARES]
    left = list(cards)
    groups: list[list[Card]] = []
    while left:
        seed = left.pop(0)
        group = [seed]
        for card in left:
            same = pointed_at or same_colour(seed.surface.colour, card.surface.colour)
            if same and same_size(seed, card, view):
                group.append(card)
        left = [card for card in left if not any(card is member for member in group)]
        groups.append(group)
    return sorted(groups, key=lambda group: -_weight(group))


def _weight(group: list[Card]) -> float:
    """The best card counts most, others that agree with it a little; a carpet's figures little altogether."""
    weight = group[0].score + 0.1 * sum(card.score for card in group[1:MOST_SQUARES])
    return weight * (_PATTERN if all(card.places > MOST_SQUARES for card in group) else 1.0)


def _is_rival(group: list[Card], first: list[Card], view: View, *, square: bool) -> bool:
    """Whether a group could as well be the references: nearly as card-like, large enough, and of the right shape
    on the floor as the first group sees it (for both can't be right about the floor).
    """
    if _weight(group) < _RIVAL * _weight(first):
        return False
    if group[0].side_px < SMALLEST_SIDE_PX <= first[0].side_px:
        return False
    return (
        not square or squareness_on_plane_of(group[0].fit.corners_px, first[0].pose, view) > _LEAST_SQUARENESS
    )


def _turned(card: Card, width: float, length: float) -> QuadFit:
    """The fit with edge 0 as the width, where the reference isn't square."""
    if width == length or abs(np.log(card.pose.aspect * length / width)) < abs(
        np.log(card.pose.aspect * width / length)
    ):
        return card.fit
    fit = card.fit
    return QuadFit(
        np.roll(fit.corners_px, -1, axis=0), np.roll(fit.corner_sd_px, -1), (*fit.edges[1:], fit.edges[0])
    )


def _square(kind: SquareKind, fit: QuadFit, width: float, length: float, confidence: float) -> Square:
    return Square(
        kind=kind,
        width=width,
        length=length,
        corners_px=fit.corners_px,
        corner_sd_px=fit.corner_sd_px,
        edge_points_px=tuple(edge.points_px for edge in fit.edges),
        confidence=float(np.clip(confidence, 0.0, 1.0)),
    )


def _finding(squares: list[Square], problems: tuple[Problem, ...], photo: Photo) -> Finding:
    small = [square for square in squares if _shortest_side_px(square.corners_px) < SMALLEST_SIDE_PX]
    if small:
        least = min(_shortest_side_px(square.corners_px) for square in small)
        level = Level.ERROR if len(small) == len(squares) else Level.WARNING
        problems = (
            *problems,
            Problem(
                Code.SQUARE_SMALL,
                level,
                f"The reference square is only {least * photo.reduced_by:.0f} pixels wide in the picture, "
                f"and needs {SMALLEST_SIDE_PX * photo.reduced_by:.0f}. "
                "Go nearer, send the photograph in its original size, or use a larger square.",
            ),
        )
    return Finding(tuple(squares), problems)


def _no_square(paper: str | None, pointed_at: Sequence[tuple[float, float]]) -> Problem:
    what = f"sheet or card of size {paper}" if paper else "reference square"
    if pointed_at:
        at = " or ".join(f"{x:g},{y:g}" for x, y in pointed_at)
        return Problem(
            Code.NO_SQUARE,
            Level.ERROR,
            f"No {what} was found at {at}. Point at the middle of one, in pixels of the upright picture, or leave "
            "--square out.",
        )
    return Problem(
        Code.NO_SQUARE,
        Level.ERROR,
        f"No {what} was found. Lay it flat beside the garment, whole in the picture and not covered, on a "
        "floor of another colour; `salvage square` prints squares that are easiest to find. "
        "If it is there, point at it with --square X,Y.",
    )


def _unsure(groups: list[list[Card]], photo: Photo) -> Problem:
    places = ", or ".join(_place(group[0], photo) for group in groups[:3])
    return Problem(
        Code.SQUARE_UNSURE,
        Level.WARNING,
        f"More than one thing could be the reference square: the one {places}. "
        "The first was taken. Point at the right one with --square X,Y, or take the other away.",
    )


def _place(card: Card, photo: Photo) -> str:
    x, y = photo.to_full(card.fit.corners_px.mean(axis=0))
    return f"at {x:.0f},{y:.0f}"


def _shortest_side_px(corners_px: Array) -> float:
    return float(sides_of(corners_px).min())

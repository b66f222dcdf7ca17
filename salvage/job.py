"""The rooms in a row: from a photograph to a garment. No measuring of its own.

look      one photograph: squares, camera, outline, and all that is wrong with it
measure   one or more looks: the garment with its pieces
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from salvage.cloth.garment import Garment, Piece, PiecePhoto, PlusMinus, Question
from salvage.errors import SalvageError
from salvage.files import content_hash
from salvage.naming import numbered
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.photo.quality import inspect
from salvage.scale.find import Finding, find_squares
from salvage.scale.known import KnownLength
from salvage.scale.plane import Plane
from salvage.scale.solve import Solution, solve_plane
from salvage.scale.solve_known import solve_known, with_known
from salvage.scale.square import Square
from salvage.telling import Point, Telling, along
from salvage.trade.kinds import kind_named

if TYPE_CHECKING:
    from salvage.cloth.outline.find import Outline

Step = Callable[[str], None]

LONG_PIECE, SHORT_PIECE = 1500.0, 150.0  # mm; few garments have a piece longer, or none as long
NO_SCALE = (
    "no scale: say how long the side of the reference square is with --side, for example --side 150mm, or give a length "
    "that you know with --known X1,Y1,X2,Y2,LENGTH. (Squares that this version prints say it themselves.)"
)
_OF_SQUARES = (Code.NO_SQUARE, Code.SQUARE_CUT, Code.SQUARE_SMALL)
TOLD = "told"  # key of a record's camera
EDGE_POINTS = 60  # of an outline are enough for the middle of its plus-minus


@dataclass(frozen=True, slots=True)
class Look:
    """One photograph looked at. solution is None where nothing gave a scale. told: what was told about it."""

    photo: Photo
    squares: tuple[Square, ...]
    solution: Solution | None
    outline: Outline | None
    problems: tuple[Problem, ...]
    told: Telling = field(default_factory=Telling)

    @property
    def known(self) -> tuple[KnownLength, ...]:
        return self.told.known

    @property
    def ok(self) -> bool:
        return not any(problem.level is Level.ERROR for problem in self.problems)


@dataclass(frozen=True, slots=True)
class Measured:
    """A garment with the looks it came from, in the order of the photographs."""

    garment: Garment
    looks: tuple[Look, ...]


def look(photo: Photo, telling: Telling, *, outline: bool = True, step: Step = lambda _: None) -> Look:
    """Find the squares, the scale and (unless told not to) the outline, and collect every problem.

    Pixels that are told and those of the answer are the ones of the picture in the file.
    """
    said, telling = telling, _for_pixels(telling, photo)
    with ThreadPoolExecutor(2) as other_core:
        step("judging the photograph")
        quality = other_core.submit(inspect, photo)
        step("finding the squares")
        finding = _find(photo, telling)
        step("solving the camera")
        solving = other_core.submit(_solve, photo, finding, telling)
        found: Outline | None = None
        if outline:
            # Here and below, so that a distance alone doesn't wait for what only cloth needs.
            from salvage.cloth.outline.find import find_outline

            step("finding the outline")
            found = find_outline(
                photo,
                references_px=[*(square.corners_px for square in finding.squares), *finding.others_px],
                cloth_at=telling.cloth_at,
                floor_at=telling.floor_at,
            )
        solution = solving.result()
        problems = [*quality.result(), *finding.problems]
    problems += solution.problems if solution else ()
    problems += found.problems if found else ()
    seen = Look(photo, finding.squares, solution, found, _each_once(problems), said)
    return _scaled(seen, photo.reduced_by)


def _for_pixels(telling: Telling, photo: Photo) -> Telling:
    """What is told, in pixels of the picture as it was read."""
    if photo.reduced_by == 1.0:
        return telling

    def place(told: tuple[float, float]) -> tuple[float, float]:
        x, y = photo.from_full(told)
        return float(x), float(y)

    return replace(
        telling,
        known=tuple(
            replace(
                one, from_px=place(one.from_px), to_px=place(one.to_px), said_px=(*one.from_px, *one.to_px)
            )
            for one in telling.known
        ),
        square_at=tuple(map(place, telling.square_at)),
        cloth_at=tuple(map(place, telling.cloth_at)),
        floor_at=tuple(map(place, telling.floor_at)),
    )


def _scaled(seen: Look, by: float) -> Look:
    """The same look in a picture of `by` times as many pixels a side."""
    if by == 1.0:
        return seen

    def scale(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return (np.asarray(points, dtype=float) + 0.5) * by - 0.5

    def larger(square: Square) -> Square:
        return replace(
            square,
            corners_px=scale(square.corners_px),
            corner_sd_px=square.corner_sd_px * by,
            edge_points_px=tuple(map(scale, square.edge_points_px)),
        )

    solution, outline = seen.solution, seen.outline
    return replace(
        seen,
        squares=tuple(map(larger, seen.squares)),
        solution=solution
        and replace(solution, plane=solution.plane.scaled(by), squares=tuple(map(larger, solution.squares))),
        outline=outline
        and replace(
            outline,
            shape_px=shapely.transform(outline.shape_px, scale),
            doubtful_px=shapely.transform(outline.doubtful_px, scale),
            may_be_floor_px=shapely.transform(outline.may_be_floor_px, scale),
        ),
    )


def _find(photo: Photo, telling: Telling) -> Finding:
    """The squares. With a known length it is no error that there is none, or that it can't be used."""
    finding = find_squares(photo, side=telling.side, paper=telling.paper, pointed_at=telling.square_at)
    if not telling.known:
        return finding
    told = telling.side or telling.paper or telling.square_at
    if not told and not (finding.squares and finding.scaled):
        return Finding(())  # nobody speaks of a square: what looks like one may be a pocket
    problems = [replace(p, level=Level.WARNING) if p.code in _OF_SQUARES else p for p in finding.problems]
    return replace(finding, problems=tuple(problems))


def _solve(photo: Photo, finding: Finding, telling: Telling) -> Solution | None:
    """The camera, where there is a square of known side or a known length."""
    from_squares = bool(finding.squares and finding.scaled)
    if not from_squares and not telling.known:
        return None
    kind = kind_named(telling.kind)
    height = kind.height if telling.height is None else telling.height
    height_sd = kind.height_sd if telling.height is None else max(0.5, telling.height / 4)
    if not from_squares:
        return solve_known(photo, telling.known, height=height)
    return with_known(solve_plane(photo, finding.squares, height=height, height_sd=height_sd), telling.known)


def measure(looks: Sequence[Look], telling: Telling, *, name: str, step: Step = lambda _: None) -> Measured:
    """The garment's pieces from its photographs. Raises SalvageError where one can't be measured."""
    from salvage.cloth.doubts import asked
    from salvage.cloth.inside import find_pieces
    from salvage.cloth.unsure import padding_question

    pieces: list[Piece] = []
    cautions: list[str] = []
    warnings: list[str] = []
    padding: list[Question] = []
    kind_found = telling.kind
    for seen in looks:
        refuse_bad(seen)
        assert seen.solution is not None  # refuse_bad saw to it
        assert seen.outline is not None
        step("looking inside the outline")
        read = _scaled(seen, 1.0 / seen.photo.reduced_by)
        assert read.solution is not None
        assert read.outline is not None
        inside = find_pieces(
            seen.photo,
            read.solution.plane,
            read.outline,
            kind=telling.kind,
            fabric=telling.fabric,
            layers=telling.layers,
        )
        kind_found = kind_found or inside.kind
        camera, mm_to_pixel = seen.solution.plane.to_record()
        # Kept beside the camera: measuring the photograph again then needs nothing told again.
        camera[TOLD] = seen.told.to_record()
        side = seen.squares[0].width if seen.squares else 0.0
        shot = PiecePhoto(seen.photo.name, side, camera, mm_to_pixel, known_by(seen.photo))
        plane = seen.solution.plane
        percent = plane.plus_minus_percent  # worked out anew each time it is asked for
        here = [
            replace(piece, photo=shot, plus_minus=_plus_minus(piece, plane, percent))
            for piece in inside.pieces
        ]
        pieces += here
        if inside.may_be_padded and here:
            padding.append(padding_question(here, inside.may_be_padded))
        cautions += inside.cautions
        warnings += [f"{seen.photo.name}: {problem.message}" for problem in seen.problems]
    warnings += _odd_size(pieces)
    garment = Garment(
        name=name,
        pieces=_distinctly_named(pieces),
        kind=kind_found,
        cautions=tuple(dict.fromkeys(cautions)),
        warnings=tuple(dict.fromkeys(warnings)),
        # One photograph that shows it is asked about once: the surest.
        questions=tuple(sorted(padding, key=lambda each: -each.confidence)[:1]) if not kind_found else (),
    )
    return Measured(asked(garment), tuple(looks))


def told_before(photo: Photo, told: Telling, garment: Garment) -> Telling:
    """What is told of a photograph, with what a record of it keeps and nobody told anew.

    The photograph is known by its content, so that a moved or renamed one is too. Raises SalvageError where the record was spoilt.
    """
    content = known_by(photo)
    shots = [piece.photo for piece in (*garment.pieces, *garment.removed) if piece.photo is not None]
    shot = next((each for each in shots if content and each.content == content), None)
    if shot is None:
        return told
    kept = shot.camera.get(TOLD, {"known": shot.camera.get("known", ())})  # records once kept these alone
    if not isinstance(kept, Mapping):
        kept = {"known": kept}  # which can't be read, and is told
    hints = [each for each in garment.hints if each.photo == shot.file]
    longer = max(photo.full_px)
    try:
        told = told.with_record(kept)
        return replace(
            told,
            cloth_at=_both(told.cloth_at, along((line for each in hints for line in each.cloth), longer)),
            floor_at=_both(told.floor_at, along((line for each in hints for line in each.floor), longer)),
        )
    except (TypeError, ValueError) as error:
        raise SalvageError(
            f'{garment.name}: what the record keeps as told about {shot.file} can\'t be read ({error}). Mend "{TOLD}" '
            "there under its camera, or take it out and tell it again."
        ) from None


def _both(one: tuple[Point, ...], other: tuple[Point, ...]) -> tuple[Point, ...]:
    return tuple(dict.fromkeys((*one, *other)))


def _odd_size(pieces: Sequence[Piece]) -> list[str]:
    """A word on pieces that hardly any garment has: the side of the square was mistyped, perhaps."""
    long = max((max(np.ptp(np.asarray(p.outline.exterior.coords), axis=0)) for p in pieces), default=0.0)
    if not pieces or SHORT_PIECE <= long <= LONG_PIECE:
        return []
    return [
        f"the largest piece would be {long:.0f} mm long, which few garments have: measure it with a tape, and "
        "check --side."
    ]


def known_by(photo: Photo) -> str:
    """By what the record knows a photograph wherever it lies; "" for one that isn't in a file."""
    return content_hash(photo.path) if photo.path.is_file() else ""


def refuse_bad(seen: Look) -> None:
    """Raise SalvageError with every error of a photograph that can't be measured from."""
    errors = [problem.message for problem in seen.problems if problem.level is Level.ERROR]
    if not errors and seen.solution is None:
        errors = [NO_SCALE]
    if not errors and (seen.outline is None or seen.outline.shape_px.is_empty):
        errors = ["no cloth was found. Point at it with --cloth X,Y (pixels)."]
    if errors:
        raise SalvageError(f"{seen.photo.name}: can't be measured. " + " ".join(errors))


def _plus_minus(piece: Piece, plane: Plane, percent: float) -> PlusMinus:
    """Of lengths on this piece, and of where its edge lies (the middle value over its outline)."""
    corners = np.asarray(piece.outline.exterior.coords)
    corners = corners[:: max(1, len(corners) // EDGE_POINTS)]
    edge = float(np.median(plane.edge_plus_minus(corners)))
    return replace(piece.plus_minus, scale_percent=percent, edge=edge)


def _distinctly_named(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Pieces of several photographs may share a name ("left sleeve" front and back): number the later ones."""
    names = numbered(each.name for each in pieces)
    return tuple(
        each if each.name == name else replace(each, name=name)
        for each, name in zip(pieces, names, strict=True)
    )


def _each_once(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    return tuple(dict.fromkeys(problems))

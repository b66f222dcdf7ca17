"""The short answers that a terminal shows, plain text, one thing to a line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from salvage.cloth.doubts import unasked
from salvage.cloth.garment import Question, Reply
from salvage.cloth.usable import usable
from salvage.fit.answer import Answer
from salvage.fit.say.cloth import may_be_unsuited, unsuited, unsure
from salvage.photo.problem import Level
from salvage.project.project import Project
from salvage.report.say.words import (
    SQUARE_WORDS,
    allowance_words,
    counted,
    grave_words,
    headline,
    known_words,
    listed,
    next_step,
    plural,
    scale_words,
    small_length,
)
from salvage.units import (
    MM_PER_INCH,
    MM_PER_UNIT,
    Unit,
    format_area,
    format_exact,
    format_exact_size,
    format_length,
    format_size,
)

if TYPE_CHECKING:
    from salvage.cloth.garment import Garment
    from salvage.fit.material.holds import Holds
    from salvage.job import Look, Measured
    from salvage.scale.square import Square

_MOST_RECTANGLES = 3

# How finely a pixel is said, and the length that the plane's plus-minus is for (300 mm; 12 in is 1.6 % more).
_SCALE_WORDS = {Unit.MM: (".3f", "300 mm"), Unit.CM: (".4f", "30 cm"), Unit.INCH: (".4f", "12 in")}


def fit_summary(answer: Answer, project: Project, unit: Unit, garments: Sequence[Garment] = ()) -> str:
    """The verdict with its reasons, what would help, and what to do next; before all, cloth that doesn't suit."""
    warned = unsuited(answer, garments)
    lines = [f"{project.name}: {headline(answer, warned, may_be_unsuited(garments))}."]
    lines += [f"  {warning}" for warning in (*warned, *unsure(answer, garments))]
    lines += [f"  {reason}" for reason in answer.reasons]
    if answer.is_yes and scale_words(answer):
        lines.append(f"  {scale_words(answer)}")
    if answer.not_placed and answer.placements:
        lines.append(f"  Not placed: {counted(answer.not_placed)}.")
    lines += _block("Joins", answer.join_plan)
    lines += _block("What would help", answer.suggestions)
    lines += _block("Left over", [_left_line(fabric, answer, unit) for fabric in answer.left_over])
    lines += [f"Caution: {text}" for text in grave_words(project, garments)]
    lines.append(allowance_words(project, unit))
    lines.append(next_step(answer, warned))
    return "\n".join(lines)


def _block(title: str, texts: Sequence[str]) -> list[str]:
    return [f"{title}:", *[f"  {text}" for text in texts]] if texts else []


def _left_line(fabric: str, answer: Answer, unit: Unit) -> str:
    left = answer.left_over[fabric]
    largest = [format_size((width, length), unit) for width, length, *_ in left.rectangles[:_MOST_RECTANGLES]]
    rest = f", largest rectangles {listed(largest)}" if largest else ""
    return f"{fabric}: {format_area(left.area, unit)}{rest}"


SIZES_WORDS = "Sizes are width × length, length along the grain."


def holds_lines(holds: Holds, unit: Unit, garments: Sequence[Garment]) -> list[str]:
    """What the garments hold, fabric by fabric. garments: those that it is about; of several, a piece is told with
    the garment it is of."""
    if not holds.fabrics:
        return ["There is no usable cloth."]
    lines = []
    for fabric in holds.fabrics:
        pieces = plural(fabric.pieces, "piece")
        lines.append(f"{fabric.fabric}: {format_area(fabric.area, unit)} usable, on {pieces}")
        if fabric.largest is not None:
            where = f"on {fabric.largest.piece}"
            where += f" of {garments[fabric.largest.garment].name}" if len(garments) > 1 else ""
            lines.append(
                f"  largest rectangle  {format_size((fabric.largest.width, fabric.largest.length), unit)}, {where}"
            )
        shapes = [
            f"{_ratio(ratio)} {format_size((each.width, each.length), unit)}"
            for ratio, each in fabric.by_ratio
        ]
        if shapes:
            lines.append("  width to length    " + "; ".join(shapes))
        for strip in fabric.strips:
            if strip.longest <= 0 and strip.total <= 0:
                continue
            lines.append(
                f"  strip {format_exact(strip.width, unit)} wide  longest {format_length(strip.longest, unit)}"
                f" ({format_length(strip.longest_bias, unit)} on the bias), {long_length(strip.total, unit)} in all"
            )
        if fabric.uncounted:
            lines.append(
                f"  strips of the {plural(fabric.uncounted, 'smallest stretch', 'smallest stretches')} aren't counted, there being so many"
            )
    return lines


def long_length(length: float, unit: Unit) -> str:
    """A length summed from many, down to what matters: `14.8 m`, `16 yd 9 in`; never too much."""
    if unit is not Unit.INCH:
        return f"{math.floor(length / 100) / 10:.1f} m"
    yards, inches = divmod(math.floor(length / MM_PER_INCH), 36)
    return f"{yards} yd {inches} in" if yards else f"{inches} in"


def _ratio(ratio: float) -> str:
    """`1:2` for a length twice the width, `2:1` for one half of it."""
    return f"1:{ratio:g}" if ratio >= 1 else f"{1 / ratio:g}:1"


def check_summary(seen: Look, unit: Unit) -> str:
    """Whether one photograph is good enough, the scale it gives, and what to change."""
    errors = [problem for problem in seen.problems if problem.level is Level.ERROR]
    warnings = [problem for problem in seen.problems if problem.level is not Level.ERROR]
    good = "can't be measured from" if errors else "can be measured from"
    if warnings and not errors:
        good += ", with care"
    if not errors and seen.solution is None:
        good = "nothing against it, but there is no scale: say the square's side with --side"
    lines = [f"{seen.photo.name}: {good}"]
    lines += [f"  error    {problem.message} [{problem.code}]" for problem in errors]
    lines += [f"  warning  {problem.message} [{problem.code}]" for problem in warnings]
    lines.append(f"  squares  {squares_words(seen.squares, unit, scaled=seen.solution is not None)}")
    if seen.known:
        lines.append(f"  known    {', '.join(format_exact(one.length, unit) for one in seen.known)}")
    if seen.solution is not None:
        plane = seen.solution.plane
        one_px, long = _SCALE_WORDS[unit]
        lines.append(
            f"  scale    1 px is {plane.mm_per_px / MM_PER_UNIT[unit]:{one_px}} {unit} at the middle; "
            f"tilt {'not known' if plane.drawn is not None else f'{plane.tilt:.0f}°'}; a length of {long} is good to ± {plane.plus_minus_percent:.1f} %"
        )
    if seen.outline is not None and not seen.outline.shape_px.is_empty:
        sure = seen.outline.confidence
        look = "" if sure >= 0.5 else ": look at its edge in the marked picture (--out)"
        lines.append(f"  outline  found, confidence {sure:.2f}{look}")
    if seen.solution is not None:
        lines += [f"  advice   {text}" for text in seen.solution.advice]
    return "\n".join(lines)


def squares_words(squares: Sequence[Square], unit: Unit, *, scaled: bool = True) -> str:
    """`2 found: plain square 150 mm, printed square 150 mm`; without sizes where there is no scale."""
    if not squares:
        return "none found"
    if not scaled:
        return f"{len(squares)} found: {counted([SQUARE_WORDS[square.kind] for square in squares])}"
    sizes = [
        f"{SQUARE_WORDS[square.kind]} {format_exact(square.width, unit)}"
        if abs(square.width - square.length) < 0.05
        else f"{SQUARE_WORDS[square.kind]} {format_exact_size((square.width, square.length), unit)}"
        for square in squares
    ]
    return f"{len(squares)} found: {counted(sizes)}"


def tape_line(
    start_px: tuple[float, float], end_px: tuple[float, float], length: float, plus_minus: float, unit: Unit
) -> str:
    """One distance with its plus-minus."""
    ends = f"{start_px[0]:g},{start_px[1]:g} to {end_px[0]:g},{end_px[1]:g}"
    if unit is Unit.INCH:
        measured = format_length(length, unit)
    else:
        measured = f"{length:.1f} mm" if unit is Unit.MM else f"{length / 10:.2f} cm"
    return f"{ends}: {measured} ± {small_length(plus_minus, unit, up=True)}"


def measure_summary(measured: Measured, unit: Unit) -> str:
    """What was found on a garment, piece by piece."""
    garment = measured.garment
    total = sum(usable(piece).area * piece.layers for piece in garment.pieces)
    doubt = " if it isn't padded or quilted, which is asked below" if may_be_unsuited([garment]) else ""
    lines = [
        f"{garment.name}: {plural(len(garment.pieces), 'piece')}, {format_area(total, unit)} usable{doubt}"
    ]
    for piece in garment.pieces:
        low_x, low_y, high_x, high_y = piece.outline.bounds
        size = format_size((high_x - low_x, high_y - low_y), unit)
        area = format_area(usable(piece).area * piece.layers, unit)
        layers = f", {piece.layers} layers" if piece.layers > 1 else ""
        name = f"{piece.number} {piece.name}" if piece.number else piece.name
        lines.append(f"  {name}: {piece.fabric}{layers}, {size} over all, {area} usable")
    if garment.pieces:
        percent = max(piece.plus_minus.scale_percent for piece in garment.pieces)
        edge = max(piece.plus_minus.edge for piece in garment.pieces)
        known = known_words(percent, edge, unit)
        lines += [f"  plus-minus: {known}"] if known else []
    lines += [f"  warning: {text}" for text in garment.warnings]
    lines += [f"  caution: {text}" for text in garment.cautions]
    lines += question_lines(garment)
    for seen in measured.looks:
        if seen.outline is not None and not seen.outline.doubtful_px.is_empty:
            lines.append(
                f"  {seen.photo.name}: look at the marked edges in the picture before you trust them"
            )
    return "\n".join(lines)


def question_text(garment: Garment, question: Question) -> str:
    """A question with the number of the mark that it asks about."""
    blocked = (each for piece in garment.pieces for each in piece.blocked)
    number = next((each.number for each in blocked if each.id and each.id == question.about), 0)
    return question.text.replace("at the mark", f"at mark {number}") if number else question.text


def question_lines(garment: Garment) -> list[str]:
    """What the person is asked, as numbered in the marked picture; and how to answer."""
    open_ones = [each for each in garment.questions if each.answer is Reply.OPEN]
    if not open_ones:
        return []
    lines = [
        "Look at the garment (Q1, Q2 ... in the marked picture; until you answer, what is doubtful isn't used):"
    ]
    lines += [f"  Q{each.number}: {question_text(garment, each)}" for each in open_ones]
    if more := unasked(garment):
        lines.append(
            f"  and {plural(more, 'more thing')} in doubt, with less cloth at stake: answer these, and they are asked"
        )
    lines.append(
        f"  answer with --answer {open_ones[0].number}=yes or --answer {open_ones[0].number}=no, or in the record"
    )
    return lines

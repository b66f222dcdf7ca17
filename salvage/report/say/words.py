"""What the report and the terminal say, so that both say it in the same words."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from salvage.cloth.garment import BlockedKind
from salvage.fit.answer import Answer, Verdict
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.scale.square import SquareKind
from salvage.units import MM_PER_INCH, Unit, format_length

HEADLINE: dict[Verdict, str] = {
    Verdict.YES: "Yes: it can be cut",
    Verdict.YES_WITH_JOINS: "Yes, with joins",
    Verdict.TOO_CLOSE: "Too close to call: measure by hand before cutting",
    Verdict.NO: "No: it can't be cut from this",
    Verdict.UNSETTLED: "Unsettled: no layout found, and no proof that there is none",
}

MARK: dict[Verdict, str] = {
    Verdict.YES: "✓",
    Verdict.YES_WITH_JOINS: "✓",
    Verdict.TOO_CLOSE: "≈",
    Verdict.NO: "✗",
    Verdict.UNSETTLED: "?",
}

PLUS_MINUS_WORDS = (
    "The plus-minus is the half-width of the interval that holds the true value 95 times in 100, worked out "
    "for these photographs."
)

BLOCKED_WORDS: dict[BlockedKind, str] = {
    BlockedKind.SEAM: "seam",
    BlockedKind.HEM: "hem",
    BlockedKind.CLOSURE: "closure",
    BlockedKind.POCKET: "pocket",
    BlockedKind.WORN: "worn place",
    BlockedKind.OTHER: "kept clear",
}

SQUARE_WORDS: dict[SquareKind, str] = {
    SquareKind.PLAIN: "plain square",
    SquareKind.PRINTED: "printed square",
    SquareKind.PAPER: "standard sheet",
}

_GRAIN: dict[Grain, str] = {
    Grain.ALONG: "along",
    Grain.ACROSS: "across",
    Grain.EITHER: "along or across",
    Grain.BIAS: "on the bias",
    Grain.ANY: "any",
}


def plural(count: int, one: str, many: str = "") -> str:
    """`1 panel`, `3 panels`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(names: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def size_text(size: tuple[float, float], unit: Unit) -> str:
    """`273 × 346 mm`, width first."""
    return f"{format_length(size[0], unit, with_unit=False)} × {format_length(size[1], unit)}"


def small_length(length: float, unit: Unit, *, up: bool) -> str:
    """A small length, finer than a tape reads, rounded up or down so that it never flatters.

    Millimetres to 0.1, centimetres to 0.01, inches to 1/32.
    """
    rounded = math.ceil if up else math.floor
    nudge = -1e-9 if up else 1e-9
    if unit is Unit.INCH:
        parts = rounded(length / MM_PER_INCH * 32 + nudge)
        whole, rest = divmod(parts, 32)
        if rest == 0:
            return f"{whole} in"
        common = math.gcd(rest, 32)
        fraction = f"{rest // common}/{32 // common} in"
        return f"{whole} {fraction}" if whole else fraction
    tenths = rounded(length * 10 + nudge) / 10
    return f"{tenths:.1f} mm" if unit is Unit.MM else f"{tenths / 10:.2f} cm"


def grain_words(item: Panel | Strip) -> str:
    """How a panel may lie to the grain, as the chart says it."""
    rotations = getattr(item, "rotations", None)
    if rotations is not None:
        return "turned " + listed([f"{angle:g}°" for angle in rotations])
    return _GRAIN[item.grain]


def lies_words(angle: float, grain: float, size: tuple[float, float], unit: Unit, *, flipped: bool) -> str:
    """How a cut shape lies on its piece, by the side of it that runs along the grain.

    angle: of the shape on the plane; grain: of the piece; size: the shape's own width and length.
    """
    width, length = (format_length(each, unit) for each in size)
    turn = round((angle - grain + 90.0) % 360.0, 1) % 360.0
    if turn in (0.0, 180.0):
        words = f"{length} along the grain" + (", top end down" if turn else "")
    elif turn in (90.0, 270.0):
        words = f"{width} along the grain"
    elif turn in (45.0, 135.0, 225.0, 315.0):
        words = "on the bias, 45° to the grain"
    else:
        off = min(turn % 180.0, 180.0 - turn % 180.0)
        words = f"{off:g}° off the grain"
    return words + ("; mirror image" if flipped else "")


def known_words(percent: float, edge: float, unit: Unit) -> str:
    """How well a piece is known: `0.4 % of any length, edges 2.0 mm`; "" where it was taken as exact."""
    parts = [f"{percent:.1f} % of any length"] if percent else []
    parts += [f"edges {small_length(edge, unit, up=True)}"] if edge else []
    return ", ".join(parts)


def counted(names: Sequence[str]) -> str:
    """`2 × body and flap`: names with how often each comes, in their first order."""
    counts = Counter(names)
    return listed([name if count == 1 else f"{count} × {name}" for name, count in counts.items()])


def next_step(answer: Answer) -> str:
    """What to do with this answer."""
    helped = " One of the changes under “What would help” makes it fit." if answer.suggestions else ""
    return {
        Verdict.YES: "Lay the panels as drawn and cut in the order of the numbers.",
        Verdict.YES_WITH_JOINS: "Lay the panels as drawn, cut in the order of the numbers, and sew the joins first.",
        Verdict.TOO_CLOSE: (
            "Chalk the layout on the cloth with the tape lengths of the cutting chart before the first cut, "
            "or photograph again with a second square at the other side of the garment."
        ),
        Verdict.NO: f"Don't cut it from this as it stands.{helped}",
        Verdict.UNSETTLED: (
            f"Don't cut yet.{helped}"
            if helped
            else "Don't cut yet. Let it search longer, or make the project smaller."
        ),
    }[answer.verdict]


def items_of(project: Project) -> list[Panel | Strip]:
    """Panels, then strips, in the order of the project file."""
    return [*project.panels, *project.strips]


def scale_words(answer: Answer) -> str:
    """How much larger the whole project could be made; "" where it couldn't."""
    if answer.largest_scale_percent is None:
        return ""
    percent = math.floor(answer.largest_scale_percent)
    if percent <= 100:
        return ""
    return f"The whole project would still fit at {percent} % of its size, allowances kept."

"""What the report and the terminal say, so that both say it in the same words."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from salvage.cloth.garment import BlockedKind, Garment
from salvage.fit.answer import Answer, Verdict
from salvage.fit.say.phrases import listed, small_length
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.scale.square import SquareKind
from salvage.trade.cautions import grave_cautions
from salvage.units import Unit, format_exact

HEADLINE: dict[Verdict, str] = {
    Verdict.YES: "Yes: it can be cut",
    Verdict.YES_WITH_JOINS: "Yes, with joins",
    Verdict.TOO_CLOSE: "Too close to call: measure by hand before cutting",
    Verdict.NO: "No: it can't be cut from this",
    Verdict.UNSETTLED: "Unsettled: no layout found, and no proof that there is none",
}

_BY_SIZE: dict[Verdict, str] = {
    Verdict.YES: "By size alone it would fit",
    Verdict.YES_WITH_JOINS: "By size alone it would fit, with joins",
    Verdict.TOO_CLOSE: "By size alone it is too close to call",
    Verdict.NO: "And it doesn't fit by size",
    Verdict.UNSETTLED: "By size alone it is unsettled",
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

_SECONDS = (60, 300, 1800)  # to search longer

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


def headline(answer: Answer, unsuited: Sequence[str], may_be_unsuited: bool = False) -> str:
    """The verdict in a line; cloth that doesn't suit, or may not, comes before it. Both are of fit.say.cloth."""
    if may_be_unsuited and not unsuited:
        return f"If the cloth isn't padded or quilted: {_lowered(headline(answer, ()))}"
    if not unsuited and answer.verdict is Verdict.UNSETTLED and _all_laid(answer):
        return "Unsettled: a layout was found, but it may be too close"
    if not unsuited and answer.verdict is Verdict.UNSETTLED and answer.placements:
        total = len(answer.placements) + len(answer.not_placed)
        return f"Unsettled: {len(answer.placements)} of {total} shapes are laid out, and whether all fit isn't known"
    if not unsuited:
        return HEADLINE[answer.verdict]
    return f"Don't cut by this: the cloth is not suited. {_BY_SIZE[answer.verdict]}"


def _lowered(text: str) -> str:
    return text[:1].lower() + text[1:]


def _all_laid(answer: Answer) -> bool:
    return bool(answer.placements) and not answer.not_placed


def allowance_words(project: Project, unit: Unit) -> str:
    """The allowance that the cut sizes hold, and which panels have another."""
    items = items_of(project)
    usual = Counter(item.seam_allowance for item in items).most_common(1)[0][0]
    others = [item for item in items if item.seam_allowance != usual]
    if not usual and not others:
        return "No seam allowance is counted in: the shapes are cut just as the project gives them."
    folded = any(isinstance(item, Strip) and item.folds > 1 for item in items)
    ends = "; a folded strip has it at its ends only" if folded else ""
    side = " on each side" if usual else ""
    but = "".join(f"; {item.name}: {_allowance(item.seam_allowance, unit)}" for item in others)
    return f"Seam allowance, counted in the cut sizes: {_allowance(usual, unit)}{side}{but}{ends}."


def _allowance(allowance: float, unit: Unit) -> str:
    return format_exact(allowance, unit) if allowance else "none"


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
    width, length = (format_exact(each, unit) for each in size)
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


def next_step(answer: Answer, unsuited: Sequence[str] = (), *, longer: str | None = None) -> str:
    """What to do with this answer. unsuited: warnings of cloth that doesn't suit. longer: how to let it search longer."""
    if unsuited:
        return "Take other cloth. What follows goes by size alone."
    longer = _longer(answer) if longer is None else longer
    if answer.verdict in (Verdict.NO, Verdict.UNSETTLED) and (sure := _sure_fabrics(answer)):
        return f"Only the {listed(sure)} can be cut as drawn. {_for_the_rest(answer, longer)}"
    short = [each for each in answer.fabrics.values() if not each.verdict.is_yes]
    helped = (
        ""
        if not answer.suggestions
        else " Every fabric has to fit: the changes found for each stand under “What would help”."
        if len(short) > 1  # then a change helps one fabric alone
        else " One of the changes under “What would help” makes it fit."
    )
    return {
        Verdict.YES: "Lay the panels as drawn and cut in the order of the numbers.",
        Verdict.YES_WITH_JOINS: "Lay the panels as drawn, cut in the order of the numbers, and sew the joins first.",
        Verdict.TOO_CLOSE: (
            "Chalk the layout on the cloth with the tape lengths of the cutting chart before the first cut, "
            "or photograph again with a second square at the other side of the garment."
        ),
        Verdict.NO: f"Don't cut it from this as it stands.{helped}",
        Verdict.UNSETTLED: (
            f"Don't cut yet. Let it search longer{longer}, or measure by hand as the tape lengths of the cutting chart say."
            if answer.spare is not None
            else f"Don't cut yet. Let it search longer{longer}, or make one of the changes under “What would help”: with "
            "each of them a layout was found."
            if helped
            else f"Don't cut yet. Let it search longer{longer}."
            if _all_laid(answer)
            else f"Don't cut yet. Let it search longer{longer}, or make the project smaller."
        ),
    }[answer.verdict]


def _for_the_rest(answer: Answer, longer: str) -> str:
    """What to do about the fabrics without a yes; another cloth only where it is proved that this won't do."""
    steps = (
        (Verdict.NO, "find other cloth before you cut"),
        (Verdict.UNSETTLED, f"let it search longer{longer}"),
        (Verdict.TOO_CLOSE, "measure by hand before cutting"),
    )
    told = []
    for verdict, step in steps:
        fabrics = [fabric for fabric, each in answer.fabrics.items() if each.verdict is verdict]
        told += [f"for the {listed(fabrics)} {step}"] if fabrics else []
    said = "; ".join(told)
    if answer.suggestions:
        said += ", or make one of the changes under “What would help”"
    return f"{said[:1].upper()}{said[1:]}."


def _longer(answer: Answer) -> str:
    """How to let it search several times as long as it did."""
    seconds = next((each for each in _SECONDS if each >= 3 * answer.seconds), _SECONDS[-1])
    return f", for example with --seconds {seconds}"


def may_be_cut(answer: Answer, unsuited: Sequence[str]) -> bool:
    """Whether anything of what is laid may be cut as drawn."""
    laid = answer.is_yes or answer.verdict is Verdict.TOO_CLOSE
    return not unsuited and (laid or bool(_sure_fabrics(answer)))


def grave_words(project: Project, garments: Sequence[Garment]) -> tuple[str, ...]:
    """Cautions that the project and the garments call for by their names, to be read before all else."""
    made = (project.name, *(item.name for item in items_of(project)))
    cloth = [text for g in garments for text in (g.name, g.kind, *(piece.fabric for piece in g.pieces))]
    return grave_cautions(made, cloth)


def _sure_fabrics(answer: Answer) -> list[str]:
    """Fabrics with a yes, where others have none."""
    return [fabric for fabric, each in answer.fabrics.items() if each.verdict.is_yes]


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

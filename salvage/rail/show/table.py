"""The rail as tables: on the screen, and as CSV (RFC 4180) for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from salvage.fit.answer import Verdict
from salvage.fit.say.fabrics import VERDICT_WORD
from salvage.rail.answer.settle import UNSUITED, Settled
from salvage.rail.folder import Bad
from salvage.rail.match import NOT_ASKED, Matched
from salvage.rail.show.cards import STRIP, Card, card_data, totals
from salvage.report.say.words import plural
from salvage.units import MM_PER_UNIT, Unit, format_area, format_exact

_MOST_SAVED = 3  # things named on a line of the screen
_FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would work out a cell that begins so
_SHORT = {str(verdict): word for verdict, word in VERDICT_WORD.items()} | {
    str(Verdict.YES_WITH_JOINS): "with joins",
    UNSUITED: "not suited",
}
_MOST_REASONS = 24  # lines of reasons on the screen; more stand in the table that can be written

Row = Sequence[str]


def aligned(head: Row, rows: Sequence[Row], *, right: frozenset[int] = frozenset()) -> list[str]:
    """Columns side by side. right: those whose cells stand at their right edge."""
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    lines = []
    for row in (head, *rows):
        cells = [
            cell.rjust(width) if i in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def rail_lines(cards: Sequence[Card], bad: Sequence[Bad], unit: Unit) -> list[str]:
    """What hangs there, a garment to a line, then the sum, then what could not be used."""
    if not cards:
        return ["No garment.", *bad_lines(bad)]
    projects = [each.project for each in next((c.made for c in cards if c.made), ())]
    head = [
        "garment",
        "cloth",
        "usable",
        "largest",
        f"strip {format_exact(STRIP, unit)}",
        *projects,
        "to save",
    ]
    rows = [_row(card, projects, unit) for card in cards]
    lines = aligned(head, rows, right=frozenset({2, 4}))
    lines += [f"  {card.name}: {card.why_not}" for card in cards if card.why_not and not card.used]
    there = [card for card in cards if not card.used and card.suits]
    lines += ["", f"In all, {plural(len(there), 'garment')}{_left_out(cards)}:"]
    lines += [f"  {fabric}: {format_area(area, unit)} usable" for fabric, area in totals(cards).items()]
    for index, project in enumerate(projects):
        counts = [card.made[index] for card in there if index < len(card.made)]
        least, most = sum(each.least for each in counts), sum(each.most for each in counts)
        lines.append(
            f"  {project}: {least if least == most else f'{least} to {most}'} times, each garment by itself"
        )
    questions = sum(card.questions for card in there)
    if questions:
        lines.append(
            f"  {plural(questions, 'question')} of measure {'is' if questions == 1 else 'are'} open; until they are answered, what is doubtful isn't used"
        )
    lines.append("Sizes are width × length, length along the grain.")
    return lines + bad_lines(bad)


def _left_out(cards: Sequence[Card]) -> str:
    used = sum(bool(card.used) for card in cards)
    unsuited = sum(not card.suits and not card.used for card in cards)
    words = [f"{used} used up"] if used else []
    words += [f"{unsuited} not suited"] if unsuited else []
    return f" ({' and '.join(words)} not counted)" if words else ""


def _row(card: Card, projects: Sequence[str], unit: Unit) -> list[str]:
    data = card_data(card, unit)
    name = f"{card.name}{' (rest)' if card.rest_of else ''}"
    fabrics = ", ".join(each.fabric for each in card.fabrics) or "–"
    cloth = f"{card.kind}: {fabrics}" if card.kind else fabrics
    if card.used:
        return [name, card.used, "–", "–", "–", *("–" for _ in projects), ""]
    made = [each["words"] for each in data["made"]] + ["–"] * (len(projects) - len(card.made))
    saved = data["saved"]
    more = f" + {len(saved) - _MOST_SAVED} more" if len(saved) > _MOST_SAVED else ""
    return [
        name,
        cloth if card.suits else f"{cloth}, not suited",
        data["area_words"],
        data["largest_words"] or "–",
        data["strip_words"] or "–",
        *made,
        ", ".join(saved[:_MOST_SAVED]) + more,
    ]


def bad_lines(bad: Sequence[Bad]) -> list[str]:
    """What could not be used, each with its reason."""
    if not bad:
        return []
    return ["", f"Not used, {plural(len(bad), 'file')}:", *(f"  {each.file}: {each.reason}" for each in bad)]


def rail_csv(cards: Sequence[Card], bad: Sequence[Bad], unit: Unit) -> str:
    """A line for each garment and fabric, lengths in the unit, areas in its square; then what could not be used."""
    projects = [each.project for each in next((c.made for c in cards if c.made), ())]
    head = [
        "garment", "file", "kind", "suits", "used", "rest of", "photographed", "fabric", f"area {unit}2", "pieces",
        f"largest width {unit}", f"largest length {unit}", "largest on",
    ]  # fmt: skip
    widths = sorted({strip.width for card in cards for each in card.fabrics for strip in each.strips})
    head += [f"strip {format_exact(width, unit)}, {unit} in all" for width in widths]
    head += [f"{project} {bound}" for project in projects for bound in ("at least", "at most")]
    rows: list[list[object]] = [[*head, "to save", "open questions", "not used because"]]
    for card in cards:
        data = card_data(card, unit)
        first: list[object] = [
            card.name, card.file, card.kind, "yes" if card.suits else "no", card.used, card.rest_of, card.photographed,
        ]  # fmt: skip
        made: list[object] = [value for each in card.made for value in (each.least, each.most)]
        made += [""] * (2 * len(projects) - len(made))
        for each in card.fabrics:
            size: list[object] = ["", "", ""]
            if each.largest is not None:
                size = [_in(each.largest.width, unit), _in(each.largest.length, unit), each.largest.piece]
            strips = {strip.width: _in(strip.total, unit) for strip in each.strips}
            area = round(each.area / MM_PER_UNIT[unit] ** 2, 2)
            rows.append(
                [
                    *first,
                    each.fabric,
                    area,
                    each.pieces,
                    *size,
                    *(strips.get(width, "") for width in widths),
                    *made,
                    "; ".join(data["saved"]),
                    card.questions,
                    card.why_not,
                ]
            )
    rows += [["", each.file, *[""] * (len(rows[0]) - 3), each.reason] for each in bad]
    return _csv(rows)


def _in(length: float, unit: Unit) -> float:
    return round(length / MM_PER_UNIT[unit], 2)


def _csv(rows: Sequence[Sequence[object]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_harmless(cell) for cell in row])
    return text.getvalue()


def _harmless(cell: object) -> object:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it: names come from anybody."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


# --- which from which ------------------------------------------------------------------------------


def match_lines(found: Matched, names: Sequence[str]) -> list[str]:
    """What to make, then which from which, then why not. names: of the projects, told apart."""
    lines = _plan_lines(found, names)
    head = ["garment", *names]
    rows = [
        [card.name, *(_SHORT[found.answers[g, p].verdict] for p in range(len(names)))]
        for g, card in enumerate(found.cards)
    ]
    lines += ["", *aligned(head, rows)]
    reasons = [
        f"  {found.cards[g].name}, {names[p]}: {_verdict_before(each)}{each.reason}"
        for (g, p), each in sorted(found.answers.items())
        if each.reason and each.reason != NOT_ASKED and not each.yes
    ]
    lines += ["", *reasons[:_MOST_REASONS]] if reasons else []
    if len(reasons) > _MOST_REASONS:
        lines.append(f"  and {len(reasons) - _MOST_REASONS} more reasons: see them with --csv or --json.")
    return lines


def _verdict_before(answer: Settled) -> str:
    """`no. `; nothing where the reason begins with it, as that of cloth that isn't suited does."""
    word = _SHORT[answer.verdict]
    return "" if answer.reason.lower().startswith(f"{word}:") else f"{word}. "


def _plan_lines(found: Matched, names: Sequence[str]) -> list[str]:
    if not found.plan.pairs:
        lines = ["Nothing can be made of these, as far as it is known."]
    else:
        rows = [
            [f"  {names[p]}", f"from {found.cards[g].name}", _SHORT[found.answers[g, p].verdict]]
            for g, p in sorted(found.plan.pairs, key=lambda pair: (pair[1], found.cards[pair[0]].name))
        ]
        lines = [f"To make {plural(len(rows), 'project')}, each garment once:", *aligned(rows[0], rows[1:])]
    if found.could > found.plan.worth + 1e-9:
        lines.append(
            f"  worth {found.plan.worth:g}; {found.could:g} at the most, were everything that is still open a yes"
        )
    elif found.plan.pairs:
        lines.append(f"  worth {found.plan.worth:g}; no other choice makes more")
    if found.open:
        again = " The same command goes on from here." if found.stopped or found.late else ""
        lines.append(f"  {plural(found.open, 'answer')} still open.{again}")
    return lines


def match_csv(found: Matched, names: Sequence[str]) -> str:
    """A line for each garment and project."""
    rows: list[list[object]] = [["garment", "file", "project", "answer", "to make", "reason", "spare mm"]]
    chosen = set(found.plan.pairs)
    for (g, p), each in sorted(found.answers.items()):
        card = found.cards[g]
        made = "yes" if (g, p) in chosen else ""
        spare: object = "" if each.spare is None else round(each.spare, 1)
        rows.append([card.name, card.file, names[p], each.verdict, made, each.reason, spare])
    return _csv(rows)


def asked_data(asked: Settled) -> dict[str, object]:
    """One answer as plain values."""
    return {
        "verdict": asked.verdict,
        "reason": asked.reason,
        "spare": None if asked.spare is None else round(asked.spare, 2),
        "seconds": round(asked.seconds, 2),
    }

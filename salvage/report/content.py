"""What a fit report says, before anybody lays it out: the page and the PDF are made from this."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from salvage.cloth.garment import BlockedKind, Garment
from salvage.fit.answer import Answer, Verdict
from salvage.fit.bolt.plan import LayPlan
from salvage.fit.say.cloth import may_be_unsuited, unsuited, unsure
from salvage.fit.say.open import as_cut
from salvage.project.project import Join, Panel, Project
from salvage.report.cutting.chart import CutShape, Spread, spreads
from salvage.report.say.notions import notions_table
from salvage.report.say.other_cloth import ENOUGH_CLOTH, other_cloth
from salvage.report.say.savings import savings_table
from salvage.report.say.section import Section
from salvage.report.say.sewing import care_caution, sewing_table
from salvage.report.say.table import Table
from salvage.report.say.words import (
    MARK,
    allowance_words,
    grave_words,
    headline,
    items_of,
    listed,
    may_be_cut,
    next_step,
    plural,
    scale_words,
)
from salvage.report.tables import left_table, measured_table, panel_table, place_table
from salvage.trade.cautions import cautions_for
from salvage.trade.kinds import KINDS
from salvage.trade.sewing import JOIN
from salvage.units import Unit

Lacking = Callable[[Iterable[str]], str]

_MOST_ROWS = 150  # rows of tape lengths; past that the small shapes are read off the plan
_MOST_NAMES = 40  # names in the order of cutting
_SURE = 0.5  # confidence in a piece's outline below which it has to be looked at
_MOST_SHOWN = 12  # panels without a place beside a plan


@dataclass(frozen=True, slots=True)
class Content:
    """The report's words and tables, in the order in which they are read. sections: behind the cutting chart."""

    answer: Answer
    garments: tuple[Garment, ...]
    project: Project
    unit: Unit
    title: str
    from_garments: str
    headline: str
    tone: Verdict
    mark: str
    unsuited: tuple[str, ...]
    notes: tuple[str, ...]
    allowance: str
    reasons: tuple[str, ...]
    next_step: str
    larger: str
    spreads: tuple[Spread, ...]
    unplaced: tuple[Panel, ...]
    panels: Table
    places: Table
    places_left_out: int
    grave: tuple[str, ...]
    warnings: tuple[str, ...]
    measured: Table
    photographed: bool
    boxes: str
    parts: tuple[str, ...]
    sections: tuple[Section, ...]
    plans: tuple[LayPlan, ...] = ()

    def section(self, title: str) -> Section:
        """The section with that title; an empty one where there is none."""
        return next((each for each in self.sections if each.title == title), Section(title))


def content(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    unit: Unit,
    lacking: Lacking,
    plans: Sequence[LayPlan] = (),
) -> Content:
    """Work out everything the report says. lacking: which letters of some names can't be drawn. plans: on other cloth."""
    project = as_cut(project, answer)
    laid = spreads(answer, garments, project)
    cuts = sorted(((cut, spread) for spread in laid for cut in spread.cuts), key=lambda pair: pair[0].number)
    missing = Counter(answer.not_placed)
    warned = unsuited(answer, garments)
    # In the order in which they are read, behind the cutting chart.
    sections = (
        Section("Joins", points=tuple(_joins(answer, project, cuts))),
        Section("What is left over", table=left_table(answer, garments, unit)),
        Section("What would help", points=answer.suggestions),
        Section("Order of cutting", texts=tuple(_order(cuts)) if may_be_cut(answer, warned) else ()),
        Section("Before you cut", points=tuple(_cautions(answer, garments, project)), careful=True),
        Section("How the cloth behaves", table=sewing_table(answer, garments, project), keep=30.0),
        Section("What it takes beside cloth", table=notions_table(project, garments, unit), keep=30.0),
        Section("What can be saved", table=_saved(answer, garments, unit, warned), keep=30.0),
        Section("From other cloth", table=other_cloth(project, unit, plans), note=ENOUGH_CLOTH, keep=30.0),
    )
    return Content(
        answer=answer,
        garments=tuple(garments),
        project=project,
        unit=unit,
        title=project.name or "Project without a name",
        from_garments=f"from {listed([garment.name or 'a garment without a name' for garment in garments])}",
        headline=headline(answer, warned, may_be_unsuited(garments)),
        tone=Verdict.NO if warned else answer.verdict,
        mark="!" if warned else MARK[answer.verdict],
        unsuited=(*warned, *unsure(answer, garments)),
        notes=project.notes,
        allowance=allowance_words(project, unit),
        reasons=answer.reasons,
        next_step=next_step(answer, warned),
        larger=scale_words(answer) if answer.placements and not answer.not_placed else "",
        spreads=laid,
        unplaced=_unplaced(answer, project),
        panels=panel_table(project, cuts, garments, missing, unit),
        places=place_table(cuts[:_MOST_ROWS], garments, unit),
        places_left_out=max(0, len(cuts) - _MOST_ROWS),
        grave=grave_words(project, garments),
        warnings=tuple(_once(f"{g.name}: {text}" for g in garments for text in g.warnings)),
        measured=measured_table(garments, unit),
        photographed=any(piece.photo is not None for garment in garments for piece in garment.pieces),
        boxes=_boxes(garments, project, lacking),
        parts=tuple(_parts_words(project)),
        sections=tuple(each for each in sections if each),
        plans=tuple(plans),
    )


def _saved(answer: Answer, garments: Sequence[Garment], unit: Unit, warned: Sequence[str]) -> Table:
    """What of the garments is good for more than its cloth, beside what the layout takes."""
    return savings_table(garments, unit, answer.placements if may_be_cut(answer, warned) else ())


def _parts_words(project: Project) -> Iterable[str]:
    """How each part's panels follow from its measures, and where that stands."""
    for part in project.parts:
        yield f"{part.name} ({part.kind}): {'. '.join(part.formulas)}. Source: {part.source}."


def _boxes(garments: Sequence[Garment], project: Project, lacking: Lacking) -> str:
    """What to know of names that can't be drawn; "" where all can."""
    names = [
        project.name,
        *(item.name for item in items_of(project)),
        *(garment.name for garment in garments),
    ]
    names += [text for g in garments for p in g.pieces for text in (p.name, p.fabric)]
    if not (letters := lacking(names)):
        return ""
    return (
        f"{plural(len(letters), 'character')} of the names used here can't be drawn with the fonts of this machine and "
        f"{'shows as a box' if len(letters) == 1 else 'show as boxes'} in plans and in the PDF. The numbers tell the "
        "panels apart."
    )


def _unplaced(answer: Answer, project: Project) -> tuple[Panel, ...]:
    """Panels to show without a place: those left out, or those that the proofs name (all, if they name none)."""
    if answer.not_placed:
        return tuple(panel for panel in project.panels if panel.name in answer.not_placed)[:_MOST_SHOWN]
    if answer.verdict is not Verdict.NO or answer.proof is None:
        return ()
    proofs = [answer.proof, *(each.proof for each in answer.fabrics.values() if each.proof is not None)]
    told = {name for proof in proofs for name in proof.panels}
    named = tuple(panel for panel in project.panels if panel.name in told)
    return (named or project.panels)[:_MOST_SHOWN]


def _joins(answer: Answer, project: Project, cuts: Sequence[tuple[CutShape, Spread]]) -> Iterable[str]:
    """The join plan, then how each kind of join in it is sewn (common practice)."""
    yield from answer.join_plan
    strips = {strip.name: strip for strip in project.strips}
    joined = {cut.placement.panel for cut, _ in cuts if (cut.placement.part or 0) > 1}
    ways = {strips[name].join for name in joined if name in strips}
    if Join.BIAS in ways:
        yield (
            "Joining on the bias: cross two ends at right angles, right sides together and edges level. Sew from corner "
            "to corner at 45°, check that the strip runs straight, trim to a small allowance and press the seam open. "
            "A join takes as much length as the strip is wide."
        )
    if Join.STRAIGHT in ways:
        yield (
            f"Joining straight (a {JOIN.name} seam, class {JOIN.number} of ISO 4916): lay two ends right sides together, "
            "sew across with the allowance and press the seam open. "
            "A join takes two allowances of length."
        )
    if joined - strips.keys():
        yield (
            "Piecing a panel: sew its parts right sides together along the join before anything else, press, and check "
            "the pieced panel against its cut size. Keep the grain of all parts in one direction."
        )


def _order(cuts: Sequence[tuple[CutShape, Spread]]) -> Iterable[str]:
    if not cuts:
        return
    yield (
        "Largest first: a slip in a large panel can still be put right from cloth that the small ones haven't used up. "
        "After each large panel look at the plan again before you go on."
    )
    names = [f"{cut.number} {cut.name}" for cut, _ in cuts[:_MOST_NAMES]]
    more = f" … and {len(cuts) - _MOST_NAMES} smaller ones" if len(cuts) > _MOST_NAMES else ""
    yield " · ".join(names) + more


def _cautions(answer: Answer, garments: Sequence[Garment], project: Project) -> Iterable[str]:
    found = list(grave_words(project, garments))
    pieces = [piece for garment in garments for piece in garment.pieces]
    used = {(p.garment, p.piece) for p in answer.placements}
    for garment in garments:
        kind = KINDS.get(garment.kind)
        found += [f"{garment.name}: {text}" for text in garment.cautions]
        if kind is not None:
            found += [f"{garment.name}: {text}" for text in kind.cautions if text not in garment.cautions]
    photographed = any(piece.photo is not None for piece in pieces)
    if answer.verdict is not Verdict.NO and answer.plus_minus > 0 and photographed:
        found.append("All lengths come from a photograph: measure by hand what matters before you cut.")
    unsure = [
        p.name
        for i, g in enumerate(garments)
        for p in g.pieces
        if p.confidence < _SURE and (i, p.name) in used
    ]
    if unsure:
        found.append(
            f"The edge of {listed(unsure)} may be wrong: look at the marked photograph and measure it by hand."
        )
    layered = [
        p.name for i, g in enumerate(garments) for p in g.pieces if p.layers > 1 and (i, p.name) in used
    ]
    if layered:
        found.append(
            f"Two layers or more are counted on {listed(layered)}: turn them over and look at each before cutting. The "
            "lower layer of a sleeve or leg lies right side down: a panel with a left and a right comes out mirrored there."
        )
    worn = any(blocked.kind is BlockedKind.WORN for piece in pieces for blocked in piece.blocked)
    if any(garment.pieces for garment in garments):
        found.append(care_caution())
    found += cautions_for((), (), has_worn_places=worn)
    return _once(found)


def _once(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(text.strip() for text in texts if text.strip()))

"""Can this project be cut from these garments? The whole answer, from question to verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from salvage.cloth.garment import Garment
from salvage.errors import SalvageError
from salvage.fit import clock
from salvage.fit.answer import Answer, Help, LeftOver, Placement, Verdict
from salvage.fit.check import check
from salvage.fit.claim import Proof, ProofKind
from salvage.fit.fabrics import bare_but, by_fabric, kept_to, one_for_all, put_together, with_fabric
from salvage.fit.help.find import Change, ToHelp, find_changes, scaled_down
from salvage.fit.keep.keep import fit_keeping, keeps_something
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.choose import choose
from salvage.fit.layout.fill import filled
from salvage.fit.layout.found import Layout
from salvage.fit.layout.most import copies_left_open, is_open, lengths_left_open, most, one_more
from salvage.fit.layout.remains import keeping_most
from salvage.fit.layout.spare import clearance, largest_scale, plus_minus_on, spare_of
from salvage.fit.material.amount import fabrics_of, usable_area
from salvage.fit.material.lay import Lay, extent_of, lay_of, plus_minus_of, same_fabric
from salvage.fit.material.left import left_over
from salvage.fit.material.outer import outer_lay, taken_in
from salvage.fit.material.worth import least_area, worth_searching
from salvage.fit.proof.refuse import area_proof, refuse, with_sites
from salvage.fit.proof.stuck import stuck
from salvage.fit.recheck.recheck import doubt_about
from salvage.fit.require import require_usable, with_pieces_named
from salvage.fit.say.changes import join_plan, of_change
from salvage.fit.say.layouts import of_choice, of_layout, of_spare, of_trade, of_unsettled
from salvage.fit.say.open import of_open
from salvage.fit.say.proofs import of_doubts, of_missing_fabric, of_names, of_no_place, of_proof, of_rejected
from salvage.project.project import Project

# Shares of what is left of the time, and the most seconds each part takes of it.
_FOR_PROOF, _FOR_LATE_PROOF = 0.25, 0.5
_FOR_MOST = 0.6  # where the project leaves a number or a length to the cloth
_FOR_EASY, _MOST_FOR_EASY = 0.2, 2.0  # most projects that fit are found at once, before anything is proved
_FOR_STUCK = 0.4  # once there is a no: what else has no place
_FOR_SAFE = 0.45  # the search on cloth smaller by the plus-minus
_FOR_PLAIN = 0.6  # the search on the cloth as measured
_FOR_SPARE, _MOST_FOR_SPARE = 0.3, 0.9
_FOR_LEFT, _MOST_FOR_LEFT = 0.5, 5.0
_FOR_SCALE, _MOST_FOR_SCALE = 0.4, 0.6
_MOST_FOR_HELP, _MOST_FOR_SCALE_DOWN = 6.0, 1.0
_KEPT_FOR_HELP, _MOST_KEPT = (
    0.15,
    1.5,
)  # of all the time, and seconds: for what would help where nothing is settled
_LEAST_FOR_A_FABRIC = 0.5  # seconds, where the fabrics before it took all there was
_MOST_FOR_PARTIAL, _LEAST_FOR_PARTIAL = 1.0, 0.2
_FOR_BOUND, _MOST_FOR_BOUND = 0.5, 2.0  # the proof that the spare is less than the plus-minus
_FOR_RECHECK, _LEAST_RECHECK = 0.4, 2.0  # seconds at least, even where little is left: a no must be sure
_FOR_NEAR, _LEAST_FOR_NEAR = (
    0.2,
    0.3,
)  # share and seconds, even where nothing is left, to say how near a panel without a place comes to one
_MOST_COPIES = 2000  # the tables of the search grow with the square
_SEARCHES = 1.0  # as long as so many of the first search, if that is more
# What was laid out with few moves is rearranged with few: so many a panel, and more, and of what the first search made.
_MOVES_A_PANEL, _MOVES_MORE, _MOVES_AGAIN = 15, 30, 4


@dataclass(frozen=True, slots=True)
class _Case:
    """What is asked. lay: cloth to search on, never more than there is; exact: the same with every corner.

    by: the plus-minus at its widest. rejected: what the checker had against layouts that were found; each
    is a mistake of ours, for the search keeps the same rules. doubts: what could not be confirmed of proofs.
    whole: the project with its other fabrics too.
    brief: only the verdict and why are wanted.
    for_help: seconds that the search for what would help gets even where a proof took all there were.
    thorough: to look longer for the layout that leaves most.
    """

    garments: Sequence[Garment]
    project: Project
    whole: Project
    lay: Lay
    exact: Lay
    by: float
    begun: float
    tell: Callable[[float], None]
    rejected: list[str]
    doubts: list[str]
    brief: bool = False
    for_help: float = 0.0
    thorough: bool = False

    def accepts(self, project: Project, placements: Sequence[Placement]) -> bool:
        """Whether the checker has nothing against a complete layout."""
        faults = check(self.garments, project, placements)
        self.rejected.extend(faults[:1])
        return not faults

    def refused(self, budget: Budget, share: float, *, grown: bool) -> Proof | None:
        """A proof that there is no layout, if one is found and the recheck accepts it."""
        return self.confirmed(
            refuse(self.outer(grown=grown), self.project, budget.part(share), grown=grown), budget
        )

    def confirmed(
        self,
        proof: Proof | None,
        budget: Budget,
        *,
        at_least: float = _LEAST_RECHECK,
        taken_in: float = 0.0,
    ) -> Proof | None:
        """The proof, if the recheck accepts it. at_least: seconds for that. taken_in: by which its cloth is smaller."""
        if proof is None:
            return None
        seconds = None if budget.steps is not None else max(at_least, _FOR_RECHECK * budget.left())
        doubt = doubt_about(
            proof, self.garments, self.project, taken_in=taken_in, seconds=seconds, stop=budget.stop
        )
        if doubt is None:
            return proof
        if doubt not in self.doubts:
            self.doubts.append(doubt)
        return None

    def outer(self, *, grown: bool) -> Lay:
        """Cloth to prove on, never less than there is; grown: larger by its plus-minus."""
        lay = outer_lay(self.garments, grown=grown)
        asked = {same_fabric(fabric) for fabric in _fabrics(self.project)}
        return lay.only(index for index, cloth in enumerate(lay.cloths) if cloth.fabric in asked)

    def safe_lay_of(self, fabric: str) -> Lay:
        """Cloth of any fabric, smaller by its plus-minus."""
        lay = lay_of(self.garments)
        lay = lay.only(i for i, cloth in enumerate(lay.cloths) if cloth.fabric == same_fabric(fabric))
        pairs = zip(lay.cloths, lay.where, strict=True)
        return lay.shrunk(
            max((plus_minus_of(place, extent_of(c.polygon)) for c, place in pairs), default=0.0)
        )

    def with_more_garments(self, count: int) -> Lay | None:
        """The safe lay with so many more garments like the one with the most cloth."""
        if not self.safe.cloths:
            return None
        lay = self.safe
        number = len(self.garments)
        largest = self._largest_garment()
        own = lay.of_garment(largest)
        for more in range(count):
            where = tuple(replace(place, garment=number + more) for place in own.where)
            lay = Lay((*lay.cloths, *own.cloths), (*lay.where, *where))
        return lay

    def _largest_garment(self) -> int:
        return max(range(len(self.garments)), key=lambda index: usable_area(self.garments[index : index + 1]))

    def is_faultless(self, change: Change) -> bool:
        """The checker's word on the layout of a changed project."""
        more = [self.garments[self._largest_garment()]] * (change.garments - 1)
        return not change.layouts or not check([*self.garments, *more], change.project, change.placements())

    @property
    def safe(self) -> Lay:
        return self.lay.shrunk(self.by)

    @property
    def several(self) -> bool:
        """Whether there is a choice of garments."""
        return len({place.garment for place in self.lay.where}) > 1


def fit_project(
    garments: Sequence[Garment],
    project: Project,
    *,
    seconds: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
    progress: Callable[[float], None] | None = None,
    brief: bool = False,
    thorough: bool = False,
) -> Answer:
    """Decide the fit and say all that a person needs to know about it.

    seconds: for everything; an easy yes takes less. steps: search steps a part of the work may make,
    instead of seconds; then the same seed gives the same answer whatever the machine's load.
    stop: asked often, True ends the work with the best so far. progress: gets 0 to 1.
    brief: the verdict and why, without what would help, the best spare and the largest scale: several times as fast.
    thorough: look longer for the layout that leaves the most useful cloth, as before somebody cuts.
    Raises SalvageError where garments or project can't be used.
    """
    require_usable(garments, project)
    project = with_pieces_named(project, garments)
    if keeps_something(project):

        def ask_rest(garments: Sequence[Garment], rest: Project, seconds: float, brief: bool) -> Answer:
            return fit_project(
                garments,
                rest,
                seconds=seconds,
                steps=steps,
                seed=seed,
                stop=stop,
                brief=brief,
                thorough=thorough,
            )

        return fit_keeping(garments, project, ask_rest, seconds=seconds)
    begun = clock.now()
    parts = by_fabric(project)

    def ask(fabric: str, number: int, garments: Sequence[Garment]) -> Answer:
        left = max(seconds - (clock.now() - begun), _LEAST_FOR_A_FABRIC)
        return _fit_one_fabric(
            garments,
            parts[fabric],
            whole=project,
            seconds=left / (len(parts) - number),
            steps=steps,
            seed=seed,
            stop=stop,
            progress=None if progress is None else lambda done: progress((number + done) / len(parts)),
            brief=brief,
            thorough=thorough,
        )

    answers = {fabric: ask(fabric, number, garments) for number, fabric in enumerate(parts)}
    if len(parts) == 1:
        return with_fabric(*next((answer, fabric) for fabric, answer in answers.items()))
    alone = one_for_all(answers, garments)
    if alone is not None:
        only = bare_but(garments, alone)
        again = {fabric: ask(fabric, number, only) for number, fabric in enumerate(parts)}
        answers = kept_to(alone, answers, again, garments)
    return put_together(answers, garments, project)


def _fit_one_fabric(
    garments: Sequence[Garment],
    project: Project,
    *,
    whole: Project,
    seconds: float,
    steps: int | None,
    seed: int,
    stop: Callable[[], bool] | None,
    progress: Callable[[float], None] | None,
    brief: bool,
    thorough: bool,
) -> Answer:
    """The answer to a project that asks for one fabric. whole: with the others."""
    case = replace(_case(garments, project, _teller(progress)), brief=brief, whole=whole)
    case = replace(case, for_help=min(_KEPT_FOR_HELP * seconds, _MOST_KEPT), thorough=thorough)
    budget = Budget.start(seconds, steps=steps, seed=seed, stop=stop, accepts=case.accepts)
    missing = _missing_fabric(case, budget)
    if missing is not None:
        return missing
    _require_few_enough(case)
    whole_budget = budget
    if not brief and steps is None:
        budget = budget.part(1.0, at_most=budget.left() - case.for_help)
    if is_open(project):
        found = most(case.safe, project, budget.part(_FOR_MOST))
        if found is not None:
            return _accepted(replace(case, project=found.project), found, (), budget)
    easy: tuple[Layout, ...] = ()
    if not case.several:
        easy = (arrange(case.safe, project, budget.part(_FOR_EASY, at_most=_MOST_FOR_EASY)),)
        if easy[0].complete:
            return _accepted(case, easy[0], (), budget)
    proof = case.refused(budget, _FOR_PROOF, grown=True)
    if proof is not None:
        return _refused(case, proof, whole_budget, measured_only=False)
    suffices, found = _search(case, budget)
    if found.complete:
        return _accepted(case, found, suffices, budget)
    proof = case.refused(budget, _FOR_LATE_PROOF, grown=False)
    if proof is not None:
        return _refused(case, proof, whole_budget, measured_only=case.by > 0)
    return _unsettled(case, (found, *easy), whole_budget)


def _require_few_enough(case: _Case) -> None:
    """Raise SalvageError where more is asked for than can be laid out, unless the cloth's area says no to it."""
    asked = {each.name: each.cut for each in case.project.panels}
    asked |= {each.name: each.cut for each in case.project.strips}
    if sum(asked.values()) <= _MOST_COPIES:
        return
    there = case.outer(grown=True)
    if any(area_proof(there, case.project, same_fabric(fabric)) for fabric in _fabrics(case.project)):
        return
    name = max(asked, key=lambda each: asked[each])
    raise SalvageError(
        f"The project '{case.project.name}' asks for {sum(asked.values()):,} shapes, {asked[name]:,} of them '{name}'; "
        f"no more than {_MOST_COPIES:,} can be laid out at once. Ask for fewer copies, in several projects."
    )


def _case(garments: Sequence[Garment], project: Project, tell: Callable[[float], None]) -> _Case:
    begun = clock.now()
    least = {same_fabric(fabric): least_area(project, same_fabric(fabric)) for fabric in _fabrics(project)}
    lay, by = worth_searching(lay_of(garments), least)
    exact, _ = worth_searching(lay_of(garments, plainer=False), least)
    return _Case(garments, project, project, lay, exact, by, begun, tell, [], [])


def _teller(progress: Callable[[float], None] | None) -> Callable[[float], None]:
    return progress if progress is not None else lambda _: None


def _fabrics(project: Project) -> tuple[str, ...]:
    """Fabrics the project asks for, as it spells them."""
    asked = [panel.fabric for panel in project.panels] + [strip.fabric for strip in project.strips]
    return tuple(dict.fromkeys(asked))


def _missing_fabric(case: _Case, budget: Budget) -> Answer | None:
    """The answer where a fabric is asked for of which there is nothing."""
    there = case.outer(grown=False)
    for fabric in _fabrics(case.project):
        if there.area(same_fabric(fabric)) == 0:
            proof = area_proof(there, case.project, same_fabric(fabric))
            proof = proof and case.confirmed(with_sites(proof, there, grown=False), budget)
            if proof is not None:
                reason = of_missing_fabric(fabric, case.garments)
                _, helps = (None, ()) if case.brief else _changes(case, budget, first=(), proof=proof)
                return _answer(case, Verdict.NO, (reason,), proof=proof, helps=helps)
    return None


def _search(case: _Case, budget: Budget) -> tuple[tuple[int, ...], Layout]:
    """A layout on cloth smaller by the plus-minus if there is one, else on the cloth as measured."""
    suffices: tuple[int, ...] = ()
    if case.several:
        choice = choose(case.safe, case.project, budget.part(_FOR_SAFE))
        suffices = choice.suffices
        if choice.best is not None:
            return suffices, choice.best
    if case.by <= 0:
        return suffices, arrange(case.lay, case.project, budget.part(_FOR_PLAIN))
    safe = arrange(case.safe, case.project, budget.part(_FOR_SAFE))
    case.tell(0.4)
    if safe.complete:
        return suffices, safe
    plain = arrange(case.lay, case.project, budget.part(_FOR_PLAIN))
    case.tell(0.6)
    if plain.complete or case.exact == case.lay:
        return suffices, plain
    exact = arrange(case.exact, case.project, budget.part(_FOR_PLAIN))
    return suffices, exact if exact.complete else plain


def _accepted(case: _Case, found: Layout, suffices: tuple[int, ...], budget: Budget) -> Answer:
    """The answer to a project that can be cut: how safely, how big, and from what."""
    if len(case.garments) > 1 and not case.several:  # only one of them has this fabric
        suffices = (case.lay.where[0].garment,)
    plus_minus = plus_minus_on(found)
    known = clearance(found, case.lay)
    if (
        case.brief
        and known >= plus_minus
        and not check(case.garments, case.project, found.placements(), shrunk_by=plus_minus)
    ):
        verdict = Verdict.YES_WITH_JOINS if found.plan.joins() > 0 else Verdict.YES
        return _answer(case, verdict, (), layout=found, spare=known, plus_minus=plus_minus, suffices=suffices)
    lay = case.lay
    if suffices:
        used = {found.asked.lay.where[each.cloth].garment for each in found.placed}
        lay = case.lay.only(i for i, place in enumerate(case.lay.where) if place.garment in used)
    pace = _SEARCHES * found.seconds  # what is hard to lay out is hard to rearrange
    budget = _eased(budget, found)
    at_most = max(_MOST_FOR_SPARE, pace)
    spare, roomy = spare_of(found, lay, known, budget.part(_FOR_SPARE, at_most=at_most))
    spare, roomy = _confirmed(case, (spare, roomy), (known, found))
    case.tell(0.75)
    joined = found.plan.joins() > 0
    trade = None
    if spare < plus_minus:
        close = _is_surely_less(case, plus_minus, budget.part(_FOR_BOUND, at_most=_MOST_FOR_BOUND))
        verdict, shown = Verdict.TOO_CLOSE if close else Verdict.UNSETTLED, roomy
    else:
        verdict = Verdict.YES_WITH_JOINS if joined else Verdict.YES
        part = budget.part(_FOR_LEFT, at_most=max(_MOST_FOR_LEFT, pace))
        kept = keeping_most(
            found,
            (spare, roomy),
            lay,
            plus_minus,
            part,
            lambda layout, least: (
                not check(case.garments, case.project, layout.placements(), shrunk_by=least)
            ),
            thorough=case.thorough,
        )
        shown = kept.shown.layout
        trade = of_trade(kept, case.project.unit)
    case.tell(0.85)
    safe = lay.shrunk(min(spare, plus_minus))
    scale = None
    if not is_open(case.project):
        for_scale = budget.part(_FOR_SCALE, at_most=max(_MOST_FOR_SCALE, pace))
        scale = largest_scale(safe, case.project, for_scale, found)
    garments_used = {shown.asked.lay.where[each.cloth].garment for each in shown.placed}
    used_alone = next(iter(garments_used)) if len(garments_used) == 1 else None
    told = [
        *_open_told(case, budget),
        of_layout(shown, case.garments),
        of_spare(spare, plus_minus, case.project.unit, sure=verdict is not Verdict.UNSETTLED),
        trade,
        None if is_open(case.project) else of_choice(suffices, used_alone, case.garments),
    ]
    return _answer(
        case,
        verdict,
        tuple(each for each in told if each),
        layout=shown,
        spare=spare,
        plus_minus=plus_minus,
        largest_scale_percent=scale,
        suffices=suffices,
    )


def _eased(budget: Budget, found: Layout) -> Budget:
    """The budget with a limit in moves to each search that rearranges this layout, where it has no joins."""
    if found.plan.joins():
        return budget
    moves = _MOVES_MORE + _MOVES_A_PANEL * len(found.placed) + _MOVES_AGAIN * found.moves
    return replace(budget, effort=moves)


def _open_told(case: _Case, budget: Budget) -> tuple[str, ...]:
    """What the cloth has decided, where the project leaves a number or a length to it."""
    if not is_open(case.project):
        return ()
    more = one_more(case.project)
    part = budget.part(_FOR_LATE_PROOF)
    no_more = more and replace(case, project=more, doubts=[]).refused(part, 1.0, grown=True)
    return tuple(of_open(case.project, case.project.unit, no_more=no_more is not None))


def _is_surely_less(case: _Case, spare: float, budget: Budget) -> bool:
    """Whether it is proved that with all cloth smaller by this spare no layout is left."""
    lay = taken_in(case.outer(grown=False), spare)
    proof = refuse(lay, case.project, budget)
    return replace(case, doubts=[]).confirmed(proof, budget, taken_in=spare) is not None


def _confirmed(
    case: _Case, wanted: tuple[float, Layout], otherwise: tuple[float, Layout]
) -> tuple[float, Layout]:
    """A spare and the layout that has it, as far as the checker confirms it."""
    for spare, layout in (wanted, otherwise):
        faults = check(case.garments, case.project, layout.placements(), shrunk_by=spare)
        if not faults:
            return spare, layout
        case.rejected.extend(faults[:1])
    return 0.0, otherwise[1]


def _refused(case: _Case, proof: Proof, budget: Budget, *, measured_only: bool) -> Answer:
    """The answer where no layout exists: why, and the smallest change that would make it fit."""
    grown = case.by > 0 and not measured_only
    near = budget.part(_FOR_NEAR).more(_LEAST_FOR_NEAR).looks(case.lay.cloths)
    told = list(of_proof(proof, case.lay, case.project, case.garments, grown=grown, ended=near))
    if case.brief:
        return _answer(case, Verdict.NO, tuple(told), proof=proof, plus_minus=case.by)
    known = proof.panels if proof.kind is ProofKind.NO_PLACE else ()
    grown = not measured_only
    others = stuck(
        case.outer(grown=grown),
        case.project,
        budget.part(_FOR_STUCK),
        known=known,
        grown=grown,
        confirmed=lambda proof: case.confirmed(proof, budget, at_least=0.0),
    )
    told += [of_no_place(panel, case.lay, case.project.unit, near) for panel in others]
    names = of_names(proof, case.garments, case.project.unit)
    told += [names] if names else []
    if measured_only:
        told.append(
            "This holds for the cloth as measured; it is short by less than the measurement's plus-minus, so "
            "measure by hand before giving it up."
        )
    first = (*_in_the_way(case.project, proof), *(panel.name for panel in others))
    scale, helps = _changes(case, budget, first=first, proof=proof)
    return _answer(
        case,
        Verdict.NO,
        tuple(told),
        proof=proof,
        plus_minus=case.by,
        largest_scale_percent=scale,
        helps=helps,
    )


def _unsettled(case: _Case, parts: Sequence[Layout], budget: Budget) -> Answer:
    """The answer where neither a layout nor a proof was found, with the best of the layouts of a part of it."""
    found = max(parts, key=Layout.area_placed)
    more = filled(found, budget.part(0.2, at_most=_MOST_FOR_PARTIAL, at_least=_LEAST_FOR_PARTIAL))
    if more.complete:
        return _accepted(case, more, (), budget)
    found = more if more.area_placed() > found.area_placed() else found
    names = tuple(found.asked.items[index].name for index in found.unplaced)
    scale, helps = (None, ()) if case.brief else _changes(case, budget, first=names, started=(found, *parts))
    told = [of_unsettled(found, case.garments, clock.now() - case.begun, scale)]
    told += [of_rejected(case.rejected)] if case.rejected else []
    told += [of_doubts(case.doubts)] if case.doubts else []
    return _answer(
        case,
        Verdict.UNSETTLED,
        tuple(told),
        layout=found,
        not_placed=names,
        plus_minus=case.by,
        largest_scale_percent=scale,
        helps=helps,
    )


def _changes(
    case: _Case,
    budget: Budget,
    *,
    first: Sequence[str],
    proof: Proof | None = None,
    started: Sequence[Layout] = (),
) -> tuple[float | None, tuple[Help, ...]]:
    """The largest scale that fits and the changes that do; on the safe side of the plus-minus.

    first: names of what stands in the way. started: layouts of a part of it.
    """
    asked = ToHelp(
        case.project,
        case.whole,
        {same_fabric(each): case.safe_lay_of(each) for each in fabrics_of(case.garments)},
        fabrics_of(case.garments),
        case.with_more_garments,
        first,
        crowded=proof is not None and proof.kind is ProofKind.AREA,
    )
    budget = replace(budget, until=max(budget.until, clock.now() + case.for_help))
    changes = list(find_changes(asked, budget.part(0.75, at_most=_MOST_FOR_HELP), started=started))
    scale = largest_scale(case.safe, case.project, budget.part(0.6, at_most=_MOST_FOR_SCALE_DOWN), None)
    if scale is not None and scale < 100:
        smaller = scaled_down(case.safe, case.project, scale, budget)
        changes += [smaller] if smaller is not None else []
    faultless = [each for each in changes if case.is_faultless(each)]
    return scale, tuple(
        of_change(each, case.whole, case.garments, alone=len(faultless) == 1) for each in faultless
    )


def _in_the_way(project: Project, proof: Proof) -> tuple[str, ...]:
    return tuple(panel.name for panel in project.panels if panel.name in proof.panels)


def _answer(
    case: _Case,
    verdict: Verdict,
    told: tuple[str, ...],
    *,
    layout: Layout | None = None,
    not_placed: tuple[str, ...] = (),
    spare: float | None = None,
    plus_minus: float = 0.0,
    proof: Proof | None = None,
    largest_scale_percent: float | None = None,
    helps: tuple[Help, ...] = (),
    suffices: tuple[int, ...] = (),
) -> Answer:
    """The answer, with its layout put to the checker first."""
    placements = layout.placements() if layout is not None else ()
    if layout is not None:
        faults = check(case.garments, case.project, placements, partial=not layout.complete)
        if faults:
            verdict, spare, placements = Verdict.UNSETTLED, None, ()
            told = (of_rejected(faults),)
    remains: Mapping[str, LeftOver] = left_over(case.garments, placements) if placements else {}
    case.tell(1.0)
    return Answer(
        verdict=verdict,
        reasons=told,
        placements=placements,
        not_placed=not_placed,
        spare=spare,
        plus_minus=plus_minus,
        seconds=clock.now() - case.begun,
        proof=proof,
        largest_scale_percent=largest_scale_percent,
        left_over=remains,
        helps=helps,
        join_plan=join_plan(layout) if layout is not None and layout.complete else (),
        suffices=suffices,
        many=copies_left_open(case.project) if spare is not None else {},
        longest=lengths_left_open(case.project) if spare is not None else {},
        doubts=tuple(case.doubts),
    )

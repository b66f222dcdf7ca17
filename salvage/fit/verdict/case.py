"""What is asked of one fabric, with all that is needed to answer it: cloth to search and to prove on, checker, recheck."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

from salvage.cloth.garment import Garment
from salvage.fit import clock
from salvage.fit.answer import Placement
from salvage.fit.check.check import check
from salvage.fit.claim import Proof
from salvage.fit.layout.budget import Budget
from salvage.fit.layout.found import Layout
from salvage.fit.material.amount import usable_area
from salvage.fit.material.lay import Lay, extent_of, lay_of, plus_minus_of, same_fabric
from salvage.fit.material.outer import outer_lay
from salvage.fit.material.worth import least_area, worth_searching
from salvage.fit.proof.refuse import refuse
from salvage.fit.recheck.recheck import doubt_about
from salvage.project.project import Project

_FOR_RECHECK, _LEAST_RECHECK = 0.4, 2.0  # seconds at least, even where little is left: a no must be sure
_KEPT_FOR_HELP, _MOST_KEPT = 0.15, 1.5  # of all the time, and seconds: see `Case.for_help`


@dataclass(frozen=True, slots=True)
class Terms:
    """How long to look and how far to go: the words of `fit.fit_project`, which explains them."""

    seconds: float = 10.0
    steps: int | None = None
    seed: int = 0
    stop: Callable[[], bool] | None = None
    brief: bool = False
    thorough: bool = False

    @property
    def for_help(self) -> float:
        """Seconds that the search for what would help gets even where a proof took all there were."""
        return min(_KEPT_FOR_HELP * self.seconds, _MOST_KEPT)


@dataclass(frozen=True, slots=True)
class Case:
    """What is asked. lay: cloth to search on, never more than there is.

    by: the plus-minus at its widest. whole: the project with its other fabrics too. begun: when, on `clock`.
    rejected: what the checker had against layouts that were found; each is a mistake of ours, for the search keeps
    the same rules. doubts: what could not be confirmed of proofs.
    """

    garments: Sequence[Garment]
    project: Project
    whole: Project
    terms: Terms
    tell: Callable[[float], None]
    lay: Lay
    by: float
    begun: float
    rejected: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    @property
    def safe(self) -> Lay:
        """The cloth to search on, smaller by the plus-minus."""
        return self.lay.shrunk(self.by)

    def exact(self) -> Lay:
        """The cloth to search on with every corner that was measured, which takes longer."""
        return worth_searching(lay_of(self.garments, plainer=False), _least(self.project))[0]

    @property
    def several(self) -> bool:
        """Whether there is a choice of garments."""
        return len({place.garment for place in self.lay.where}) > 1

    def budget(self) -> Budget:
        """For all of the work."""
        terms = self.terms
        return Budget.start(
            terms.seconds, steps=terms.steps, seed=terms.seed, stop=terms.stop, accepts=self.accepts
        )

    def accepts(self, project: Project, placements: Sequence[Placement]) -> bool:
        """Whether the checker has nothing against a complete layout."""
        faults = check(self.garments, project, placements)
        self.rejected.extend(faults[:1])
        return not faults

    def keeps_off(self, layout: Layout, by: float) -> bool:
        """Whether the checker has nothing against a layout on cloth that is smaller by so many mm."""
        return not check(self.garments, self.project, layout.placements(), shrunk_by=by)

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

    def asking(self, project: Project) -> Case:
        """The same of another project, with doubts of its own."""
        return replace(self, project=project, doubts=[])

    def outer(self, *, grown: bool) -> Lay:
        """Cloth to prove on, never less than there is; grown: larger by its plus-minus."""
        asked = {same_fabric(fabric) for fabric in fabrics_asked(self.project)}
        return _of_fabrics(outer_lay(self.garments, grown=grown), asked)

    def safe_lay_of(self, fabric: str) -> Lay:
        """Cloth of any fabric, smaller by its plus-minus."""
        lay = _of_fabrics(lay_of(self.garments), {same_fabric(fabric)})
        pairs = zip(lay.cloths, lay.where, strict=True)
        return lay.shrunk(
            max((plus_minus_of(place, extent_of(c.polygon)) for c, place in pairs), default=0.0)
        )

    def with_more_garments(self, count: int) -> Lay | None:
        """The safe lay with so many more garments like the one with the most cloth."""
        lay = self.safe
        if not lay.cloths:
            return None
        number = len(self.garments)
        own = lay.of_garment(self.largest_garment())
        for more in range(count):
            where = tuple(replace(place, garment=number + more) for place in own.where)
            lay = Lay((*lay.cloths, *own.cloths), (*lay.where, *where))
        return lay

    def largest_garment(self) -> int:
        """Index of the one with the most cloth."""
        return max(range(len(self.garments)), key=lambda index: usable_area(self.garments[index : index + 1]))


def case_of(
    garments: Sequence[Garment],
    project: Project,
    terms: Terms,
    *,
    whole: Project,
    progress: Callable[[float], None] | None,
) -> Case:
    """The case of a project that asks for one fabric. whole: with the others."""
    begun = clock.now()
    lay, by = worth_searching(lay_of(garments), _least(project))
    tell = progress if progress is not None else lambda _: None
    return Case(garments, project, whole, terms, tell, lay, by, begun)


def _least(project: Project) -> dict[str, float]:
    """mm^2 that the smallest thing to be cut from each fabric needs."""
    fabrics = [same_fabric(fabric) for fabric in fabrics_asked(project)]
    return {fabric: least_area(project, fabric) for fabric in fabrics}


def fabrics_asked(project: Project) -> tuple[str, ...]:
    """Fabrics the project asks for, as it spells them."""
    asked = [panel.fabric for panel in project.panels] + [strip.fabric for strip in project.strips]
    return tuple(dict.fromkeys(asked))


def _of_fabrics(lay: Lay, asked: Iterable[str]) -> Lay:
    return lay.only(index for index, cloth in enumerate(lay.cloths) if cloth.fabric in asked)

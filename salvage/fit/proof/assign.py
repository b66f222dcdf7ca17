"""Proofs from which shapes a cloth takes together: pigeonholes, counts, and an exhausted assignment."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from shapely.geometry import Polygon

from salvage.fit.claim import (
    Copies,
    Counted,
    Inside,
    Lattice,
    NoSharing,
    Pigeonhole,
    Proof,
    TooMany,
    empty_cloths,
)
from salvage.fit.geometry.tables import Tables
from salvage.fit.geometry.task import Task
from salvage.fit.geometry.turning import turned
from salvage.fit.proof.place import has_no_place
from salvage.fit.proof.share import (
    LatticePoints,
    Way,
    cannot_share,
    inner_rectangle,
    middle_of,
    most_rectangles,
)
from salvage.fit.proof.witness import Witness
from salvage.fit.question import Question, allowed_turns, angle_of_turn

_MOST_LARGE = 14  # kinds looked at in pairs, the largest first
_SMALL = 0.2  # pairs with less of a cloth's area than this are taken to fit together
_LEAST_SIDE = 20.0  # mm; smaller rectangles aren't counted
_FULL_ENOUGH = 0.3  # nor are those that take up less of the cloth than this


# (kind, ground): no room for it there; (kind, kind, ground): no two of them lie there together
Fact = tuple[int, ...]
Found = tuple[Proof | None, set[Fact]]  # and the facts it rests on


class Assignment:
    """Looks for a contradiction in what one fabric's cloths can take together.

    Facts are first supposed wherever a quick look finds no place, and proved only if a contradiction
    follows from them; a fact that can't be proved is dropped and the look goes on.
    """

    def __init__(self, question: Question, task: Task, tables: Tables, stop: Callable[[], bool]) -> None:
        self.question, self.task, self.stop = question, task, stop
        self.witness = Witness(task, tables)
        self.facts: set[Fact] = set()
        self.proved: set[Fact] = set()
        self.by_size = sorted(range(len(task.kinds)), key=lambda k: -task.kinds[k].area)
        self.large = self.by_size[:_MOST_LARGE]
        # groups of kinds, the rectangle that each copy holds, and how many of it each cloth takes at most,
        # whatever the facts: those are dropped again where they can't be proved
        self.lattices: list[tuple[list[int], tuple[float, float], list[LatticePoints]]] = []

    def prove(self) -> Proof | None:
        """The first contradiction found; None if there is none or stop() is true before."""
        self._suppose()
        for step in (self._pigeonhole, self._counts, self._exhaust):
            while not self.stop():
                proof, needed = step()
                if proof is None:
                    break
                wrong = next((fact for fact in sorted(needed) if not self._is_proved(fact)), None)
                if wrong is None:
                    return proof
                self.facts.discard(wrong)
        return None

    def _suppose(self) -> None:
        kinds = self.task.kinds
        for g in self._grounds():
            area = self._cloth(g).area
            for n, k in enumerate(self.large):
                if self.stop():
                    return
                if not self.witness.fits(k, g):
                    self.facts.add((k, g))
                    continue
                for m in self.large[n:]:
                    both = kinds[k].area + kinds[m].area
                    if (k == m and kinds[k].count < 2) or both < _SMALL * area or not self.witness.fits(m, g):
                        continue
                    if both > area or not self.witness.both_fit(k, m, g):
                        self.facts.add((k, m, g))

    def _is_proved(self, fact: Fact) -> bool:
        if fact not in self.proved and self._prove_fact(fact):
            self.proved.add(fact)
        return fact in self.proved

    def _prove_fact(self, fact: Fact) -> bool:
        *kinds, g = fact
        cloth = self.question.cloths[self.task.grounds[g].cloth]
        if len(kinds) == 1:
            kind = self.task.kinds[kinds[0]]
            shape = self.question.shapes[kind.shape]
            return all(has_no_place(shape, cloth, f, self.stop) for f in kind.flips)
        if sum(self.task.kinds[k].area for k in kinds) > cloth.polygon.area * (1 + 1e-9):
            return True
        one, two = (self._ways(k, g) for k in kinds)
        if one is None or two is None:
            return False
        return cannot_share(cloth.polygon, one, two, self.question.gap, self.stop)

    def _cloth(self, g: int) -> Polygon:
        return self.question.cloths[self.task.grounds[g].cloth].polygon

    def _grounds(self) -> range:
        return range(len(self.task.grounds))

    def _ways(self, k: int, g: int) -> tuple[Way, ...] | None:
        """All ways a kind may lie on a cloth; None if they can't be listed."""
        shape = self.question.shapes[self.task.kinds[k].shape]
        cloth = self.question.cloths[self.task.grounds[g].cloth]
        turns = allowed_turns(shape, cloth)
        if turns is None or (shape.off_grain > 0 and shape.angles is None):
            return None
        outline = Polygon(shape.outline)
        return tuple(
            Way(outline, angle_of_turn(t, cloth), f) for t in turns for f in self.task.kinds[k].flips
        )

    def _apart(self, k: int, m: int, g: int) -> Fact | None:
        """The fact, if there is one, that keeps these two from both lying on the ground."""
        for fact in ((k, g), (m, g), (k, m, g), (m, k, g)):
            if fact in self.facts:
                return fact
        return None

    def _pigeonhole(self) -> Found:
        """Kinds of which no two lie on one cloth, with more copies than cloths that take one."""
        for first in self.large:
            group: list[int] = []
            for k in [first, *self.large]:
                if k in group:
                    continue
                others = [*group, k] if self.task.kinds[k].count > 1 else group
                if all(self._apart(k, m, g) for m in others for g in self._grounds()):
                    group.append(k)
            copies = sum(self.task.kinds[k].count for k in group)
            takers = [g for g in self._grounds() if any((k, g) not in self.facts for k in group)]
            if copies > len(takers):
                needed: set[Fact] = {(k, g) for k in group for g in self._grounds() if g not in takers}
                for n, k in enumerate(group):
                    for m in group[n if self.task.kinds[k].count > 1 else n + 1 :]:
                        needed |= {f for g in takers if (f := self._apart(k, m, g))}
                return self._proof(
                    Pigeonhole(
                        self.task.fabric,
                        tuple(self._copies(k) for k in group),
                        tuple(self._cloth_index(g) for g in takers),
                        self._alone(needed, group),
                        self._apart_facts(needed, group),
                    )
                ), needed
        return None, set()

    def _proof(self, claim: Pigeonhole | TooMany | NoSharing) -> Proof:
        return Proof(claim, self.question)

    def _copies(self, k: int) -> Copies:
        kind = self.task.kinds[k]
        return Copies(kind.shape, kind.flips, kind.count)

    def _cloth_index(self, g: int) -> int:
        return self.task.grounds[g].cloth

    def _alone(self, facts: set[Fact], group: Sequence[int]) -> tuple[tuple[int, int], ...]:
        """Facts of one kind as a claim has them: indices in the group, and of cloths in the question."""
        single = sorted(fact for fact in facts if len(fact) == 2)
        return tuple((group.index(k), self._cloth_index(g)) for k, g in single)

    def _apart_facts(self, facts: set[Fact], group: Sequence[int]) -> tuple[tuple[int, int, int], ...]:
        pairs = sorted(fact for fact in facts if len(fact) == 3)
        return tuple((group.index(k), group.index(m), self._cloth_index(g)) for k, m, g in pairs)

    def _counts(self) -> Found:
        """More copies that each hold an upright rectangle than points of a lattice on all cloths."""
        self.lattices = []
        rectangles = {k: self._rectangle(k) for k in self.by_size}
        area = sum(self._cloth(g).area for g in self._grounds())
        tried: set[tuple[int, int]] = set()
        for k in self.by_size:
            w, h = rectangles[k]
            if min(w, h) < _LEAST_SIDE or (round(w), round(h)) in tried or self.stop():
                continue
            tried.add((round(w), round(h)))
            group = [m for m in self.by_size if rectangles[m][0] >= w and rectangles[m][1] >= h]
            copies = sum(self.task.kinds[m].count for m in group)
            if copies < 2 or copies * w * h < _FULL_ENOUGH * area:
                continue
            needed: set[Fact] = {(m, g) for m in group for g in self._grounds() if (m, g) in self.facts}
            most = self._lattice((w, h))
            self.lattices.append((group, (w, h), most))
            empty = empty_cloths(group, needed)
            if copies > sum(each.points for g, each in enumerate(most) if g not in empty):
                claim = TooMany(
                    self.task.fabric,
                    tuple(self._copies(m) for m in group),
                    self._lattice_claim(range(len(group)), (w, h), most, group),
                    self._alone({(m, g) for m, g in needed if g in empty}, group),
                )
                return self._proof(claim), needed
        return None, set()

    def _lattice(self, size: tuple[float, float]) -> list[LatticePoints]:
        """How many of the rectangle each cloth takes at most."""
        return [most_rectangles(each.polygon, *size, self.question.gap) for each in self.task.grounds]

    def _lattice_claim(
        self,
        copies: Iterable[int],
        size: tuple[float, float],
        most: Sequence[LatticePoints],
        kinds: Sequence[int],
    ) -> Lattice:
        """copies: indices in the claim, of these kinds, in the same order."""
        counted = [Counted(self._cloth_index(g), each.points, each.x, each.y) for g, each in enumerate(most)]
        inside = dict.fromkeys(each for k in kinds for each in self._insides(k))
        return Lattice(tuple(copies), size, tuple(counted), tuple(inside))

    def _insides(self, k: int) -> Iterator[Inside]:
        """Where the middle of a rectangle in the kind lies, for each way it may lie."""
        kind = self.task.kinds[k]
        outline = Polygon(self.question.shapes[kind.shape].outline)
        for turn, flipped in self._ways_to_lie(k):
            x, y = middle_of(turned(outline, turn, flipped))
            yield Inside(kind.shape, turn, flipped, x, y)

    def _ways_to_lie(self, k: int) -> list[tuple[float, bool]]:
        """Turns from the grain, opposite ones once, and whether flipped; none if they can't be listed."""
        kind = self.task.kinds[k]
        shape = self.question.shapes[kind.shape]
        found: dict[tuple[float, bool], None] = {}
        for g in self._grounds():
            turns = allowed_turns(shape, self.question.cloths[self._cloth_index(g)])
            if turns is None or (shape.off_grain > 0 and shape.angles is None):
                return []
            found |= dict.fromkeys((turn % 180, flipped) for turn in turns for flipped in kind.flips)
        return list(found)

    def _rectangle(self, k: int) -> tuple[float, float]:
        """Sides of an upright rectangle (grain up) within the kind however it lies; (0, 0) if there is none."""
        outline = Polygon(self.question.shapes[self.task.kinds[k].shape].outline)
        sizes = [inner_rectangle(turned(outline, turn, flipped)) for turn, flipped in self._ways_to_lie(k)]
        return (min(w for w, _ in sizes), min(h for _, h in sizes)) if sizes else (0.0, 0.0)

    def _exhaust(self) -> Found:
        """All ways to share the copies out among the cloths, with every fact; none is left."""
        if len(self._grounds()) < 2 or _shared_out(self._sharing(self.facts)) is not Shared.NO:
            return None, set()
        needed = self._needed()
        kinds = range(len(self.task.kinds))
        claim = NoSharing(
            self.task.fabric,
            tuple(self._copies(k) for k in kinds),
            self._alone(needed, kinds),
            self._apart_facts(needed, kinds),
            tuple(self._lattice_claim(group, size, most, group) for group, size, most in self.lattices),
        )
        return self._proof(claim), needed

    def _sharing(self, facts: Iterable[Fact]) -> Sharing:
        """The question how to share out, in whole numbers: areas in hundredths of mm^2, the kinds' rounded
        down and the cloths' up."""
        kinds = self.task.kinds
        return Sharing(
            counts=tuple(kind.count for kind in kinds),
            areas=tuple(int(kind.area * 100) for kind in kinds),
            rooms=tuple(int(self._cloth(g).area * 100 * (1 + 1e-9)) + 1 for g in self._grounds()),
            limits=tuple((tuple(group), tuple(e.points for e in most)) for group, _, most in self.lattices),
            facts=tuple(sorted(facts)),
        )

    def _needed(self) -> set[Fact]:
        """Facts that the contradiction needs: a fact less is one less to be proved."""
        needed = sorted(self.facts)
        size = max(1, len(needed) // 2)
        while size >= 1 and not self.stop():
            for start in range(0, len(needed), size):
                fewer = needed[:start] + needed[start + size :]
                if len(fewer) < len(needed) and _shared_out(self._sharing(fewer)) is Shared.NO:
                    needed = fewer
                    break
            else:
                size //= 2
        return set(needed)


class Shared(Enum):
    """What is known of a sharing out."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Sharing:
    """counts, areas: by kind; rooms: area by ground; limits: kinds and how many of them each ground takes."""

    counts: tuple[int, ...]
    areas: tuple[int, ...]
    rooms: tuple[int, ...]
    limits: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]
    facts: tuple[Fact, ...]


def _shared_out(sharing: Sharing) -> Shared:
    """Whether the copies can be shared out among the grounds."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    grounds, kinds = range(len(sharing.rooms)), range(len(sharing.counts))
    barred = {fact for fact in sharing.facts if len(fact) == 2}
    number = {
        (k, g): model.new_int_var(0, 0 if (k, g) in barred else sharing.counts[k], f"n{k}_{g}")
        for k in kinds
        for g in grounds
    }
    for k in kinds:
        model.add(sum(number[k, g] for g in grounds) == sharing.counts[k])
    for g, room in enumerate(sharing.rooms):
        model.add(sum(area * number[k, g] for k, area in enumerate(sharing.areas)) <= room)
    there = {}
    for k, m, g in (fact for fact in sharing.facts if len(fact) == 3):
        if k == m:
            model.add(number[k, g] <= 1)
            continue
        for one in (k, m):
            if (one, g) not in there:
                there[one, g] = model.new_bool_var(f"b{one}_{g}")
                model.add(number[one, g] <= sharing.counts[one] * there[one, g])
        model.add(there[k, g] + there[m, g] <= 1)
    for group, most in sharing.limits:
        for g in grounds:
            model.add(sum(number[k, g] for k in group) <= most[g])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 1.0
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is the caller's
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return Shared.NO
    return Shared.YES if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else Shared.UNKNOWN

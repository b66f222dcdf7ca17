"""Proofs from which shapes a cloth takes together: pigeonholes, counts, and an exhausted assignment."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from shapely.geometry import Polygon

from salvage.fit.answer import Proof, ProofKind
from salvage.fit.geometry.tables import Tables
from salvage.fit.geometry.task import Task, turned
from salvage.fit.proof.place import has_no_place
from salvage.fit.proof.region import SHRINK
from salvage.fit.proof.share import Way, cannot_share, inner_rectangle, most_rectangles
from salvage.fit.proof.witness import Witness
from salvage.fit.question import Question, allowed_turns, angle_of_turn

_MOST_LARGE = 14  # kinds looked at in pairs, the largest first
_SMALL = 0.2  # pairs with less of a cloth's area than this are taken to fit together
_LEAST_SIDE = 20.0  # mm; smaller rectangles aren't counted
_FULL_ENOUGH = 0.3  # nor are those that take up less of the cloth than this


# (kind, ground): no room for it there; (kind, kind, ground): no two of them lie there together
Fact = tuple[int, ...]
Claim = tuple[Proof | None, set[Fact]]  # and the facts it rests on


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
        self.most: list[tuple[list[int], tuple[float, float], list[int]]] = []

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
            return all(has_no_place(self.question.shapes[kind.shape], cloth, f) for f in kind.flips)
        if sum(self.task.kinds[k].area for k in kinds) > cloth.polygon.area * (1 + 1e-9):
            return True
        one, two = (self._ways(k, g) for k in kinds)
        if one is None or two is None:
            return False
        return cannot_share(cloth.polygon, one, two, self.question.gap)

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

    def _pigeonhole(self) -> Claim:
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
                return self._pigeonhole_proof(group, copies, takers), needed
        return None, set()

    def _pigeonhole_proof(self, group: Sequence[int], copies: int, takers: Sequence[int]) -> Proof:
        names = self._names(group)
        where = f"only {len(takers)} of the {len(self._grounds())} pieces of {self.task.fabric}"
        takes = "takes" if len(takers) == 1 else "take"
        reason = (
            f"{copies} large panels ({', '.join(names)}): no two of them fit on the same piece, "
            f"and {where} {takes} one"
        )
        numbers = {
            "rule": "pigeonhole",
            "fabric": self.task.fabric,
            "shapes": self._shapes(group),
            "copies": copies,
            "cloths_that_take_one": [self._cloth_name(g) for g in takers],
            "gap": self.question.gap,
            "shrunk_by": SHRINK,
        }
        return Proof(ProofKind.EXHAUSTED, reason, numbers)

    def _counts(self) -> Claim:
        """More copies that each hold an upright rectangle than points of a lattice on all cloths."""
        self.most = []
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
            whole = [
                most_rectangles(self.task.grounds[g].polygon, w, h, self.question.gap)
                for g in self._grounds()
            ]
            self.most.append((group, (w, h), whole))
            most = [0 if all((m, g) in self.facts for m in group) else whole[g] for g in self._grounds()]
            if copies > sum(most):
                return self._count_proof(group, copies, (w, h), most), needed
        return None, set()

    def _rectangle(self, k: int) -> tuple[float, float]:
        """Sides of an upright rectangle (grain up) within the kind however it lies; (0, 0) if there is none."""
        shape = self.question.shapes[self.task.kinds[k].shape]
        outline = Polygon(shape.outline)
        w = h = float("inf")
        for g in self._grounds():
            turns = allowed_turns(shape, self.question.cloths[self.task.grounds[g].cloth])
            if turns is None or (shape.off_grain > 0 and shape.angles is None):
                return 0.0, 0.0
            for turn in dict.fromkeys(t % 180 for t in turns):
                for flipped in self.task.kinds[k].flips:
                    one = inner_rectangle(turned(outline, turn, flipped))
                    w, h = min(w, one[0]), min(h, one[1])
        return (w, h) if math.isfinite(w) else (0.0, 0.0)

    def _count_proof(
        self, group: Sequence[int], copies: int, size: tuple[float, float], most: Sequence[int]
    ) -> Proof:
        on = Counter[str]()  # stretches of one piece share its name
        for g, n in zip(self._grounds(), most, strict=True):
            on[self._cloth_name(g)] += n
        each = ", ".join(f"{n} on {name}" for name, n in on.items())
        reason = (
            f"{copies} panels ({', '.join(self._names(group))}), each at least {size[0]:.0f} x {size[1]:.0f} mm: "
            f"the {self.task.fabric} takes {sum(most)} at the very most ({each})"
        )
        numbers = {
            "rule": "lattice",
            "fabric": self.task.fabric,
            "shapes": self._shapes(group),
            "copies": copies,
            "rectangle": list(size),
            "gap": self.question.gap,
            "most": dict(on),
        }
        return Proof(ProofKind.EXHAUSTED, reason, numbers)

    def _exhaust(self) -> Claim:
        """All ways to share the copies out among the cloths, with every fact; none is left."""
        if len(self._grounds()) < 2:
            return None, set()
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        kinds, grounds = self.task.kinds, self._grounds()
        number = {
            (k, g): model.new_int_var(0, 0 if (k, g) in self.facts else kinds[k].count, f"n{k}_{g}")
            for k in range(len(kinds))
            for g in grounds
        }
        for k, kind in enumerate(kinds):
            model.add(sum(number[k, g] for g in grounds) == kind.count)
        for g in grounds:  # areas in hundredths of mm^2: panels rounded down, cloth up
            model.add(
                sum(int(kind.area * 100) * number[k, g] for k, kind in enumerate(kinds))
                <= int(self._cloth(g).area * 100 * (1 + 1e-9)) + 1
            )
        there = {}
        for k, m, g in (fact for fact in self.facts if len(fact) == 3):
            if k == m:
                model.add(number[k, g] <= 1)
                continue
            for one in (k, m):
                if (one, g) not in there:
                    there[one, g] = model.new_bool_var(f"b{one}_{g}")
                    model.add(number[one, g] <= kinds[one].count * there[one, g])
            model.add(there[k, g] + there[m, g] <= 1)
        for group, _, most in self.most:
            for g in grounds:
                model.add(sum(number[k, g] for k in group) <= most[g])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = 1.0
        solver.parameters.catch_sigint_signal = False  # Ctrl-C is the caller's
        if solver.solve(model) != cp_model.INFEASIBLE:
            return None, set()
        return self._exhausted_proof(), set(self.facts)

    def _exhausted_proof(self) -> Proof:
        reason = (
            f"however the {self.task.fabric} panels are shared out among the pieces, one piece gets "
            "more cloth to give than it has, or panels that can't lie on it together"
        )
        name = self._shape_name
        numbers: dict[str, Any] = {
            "rule": "assignment",
            "fabric": self.task.fabric,
            "shapes": self._shapes(range(len(self.task.kinds))),
            "cloth_areas": {self._cloth_name(g): self._cloth(g).area for g in self._grounds()},
            "no_place": [
                [name(k), self._cloth_name(g)] for k, g in sorted(f for f in self.facts if len(f) == 2)
            ],
            "not_together": [
                [name(k), name(m), self._cloth_name(g)]
                for k, m, g in sorted(f for f in self.facts if len(f) == 3)
            ],
            "most": [
                {"shapes": self._names(group), "rectangle": list(size), "most": list(most)}
                for group, size, most in self.most
            ],
            "gap": self.question.gap,
            "shrunk_by": SHRINK,
        }
        return Proof(ProofKind.EXHAUSTED, reason, numbers)

    def _shape_name(self, k: int) -> str:
        return self.question.shapes[self.task.kinds[k].shape].name

    def _cloth_name(self, g: int) -> str:
        return self.question.cloths[self.task.grounds[g].cloth].name

    def _names(self, group: Sequence[int]) -> list[str]:
        return list(dict.fromkeys(self._shape_name(k) for k in group))

    def _shapes(self, group: Sequence[int]) -> list[dict[str, Any]]:
        return [
            {
                "shape": self._shape_name(k),
                "count": self.task.kinds[k].count,
                "area": self.task.kinds[k].area,
                "flips": list(self.task.kinds[k].flips),
            }
            for k in group
        ]

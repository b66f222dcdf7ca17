"""Proofs from which shapes a cloth takes together: pigeonholes, counts, and an exhausted assignment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from shapely.geometry import Polygon

from salvage.fit.answer import Proof, ProofKind
from salvage.fit.prove_place import has_no_place
from salvage.fit.prove_region import SHRINK
from salvage.fit.prove_share import Way, cannot_share, inner_rectangle, most_rectangles
from salvage.fit.prove_witness import Witness
from salvage.fit.question import Question, allowed_turns, angle_of_turn
from salvage.fit.search_tables import Tables
from salvage.fit.search_task import Task, turned

_MOST_LARGE = 14  # kinds looked at in pairs, the largest first


@dataclass
class Facts:
    """What is proved of one fabric, by kind and ground of its task.

    no_room: (kind, ground). apart: (kind, kind, ground) that can't both lie there.
    most: (kinds, rectangle, ((most of them) for each ground)).
    """

    no_room: set[tuple[int, int]] = field(default_factory=set)
    apart: set[tuple[int, int, int]] = field(default_factory=set)
    most: list[tuple[tuple[int, ...], tuple[float, float], tuple[int, ...]]] = field(default_factory=list)


class Assignment:
    """Gathers facts on one fabric and looks for a contradiction in them."""

    def __init__(self, question: Question, task: Task, tables: Tables) -> None:
        self.question, self.task = question, task
        self.witness = Witness(task, tables)
        self.facts = Facts()
        self.by_size = sorted(range(len(task.kinds)), key=lambda k: -task.kinds[k].area)
        self.large = self.by_size[:_MOST_LARGE]

    def prove(self) -> Proof | None:
        """The first contradiction found."""
        self._rooms()
        self._pairs()
        return self._pigeonhole() or self._counts() or self._exhaust()

    def _cloth(self, g: int) -> Polygon:
        return self.question.cloths[self.task.grounds[g].cloth].polygon

    def _grounds(self) -> range:
        return range(len(self.task.grounds))

    def _rooms(self) -> None:
        for k in self.large:
            shape = self.question.shapes[self.task.kinds[k].shape]
            for g in self._grounds():
                if self.witness.fits(k, g):
                    continue
                cloth = self.question.cloths[self.task.grounds[g].cloth]
                if all(has_no_place(shape, cloth, f) for f in self.task.kinds[k].flips):
                    self.facts.no_room.add((k, g))

    def _ways(self, k: int, g: int) -> tuple[Way, ...] | None:
        """All ways a kind may lie on a cloth; None if they can't be listed."""
        shape = self.question.shapes[self.task.kinds[k].shape]
        cloth = self.question.cloths[self.task.grounds[g].cloth]
        turns = allowed_turns(shape, cloth)
        if turns is None or (shape.off_grain > 0 and shape.angles is None):
            return None
        outline = Polygon(shape.outline)
        return tuple(Way(outline, angle_of_turn(t, cloth), f) for t in turns for f in self.task.kinds[k].flips)

    def _pairs(self) -> None:
        kinds = self.task.kinds
        for g in self._grounds():
            area = self._cloth(g).area
            takers = [k for k in self.large if (k, g) not in self.facts.no_room]
            for n, k in enumerate(takers):
                for m in takers[n:]:
                    if k == m and kinds[k].count < 2:
                        continue
                    if kinds[k].area + kinds[m].area > area * (1 + 1e-9):
                        self.facts.apart.add((k, m, g))
                        continue
                    if self.witness.both_fit(k, m, g):
                        continue
                    one, two = self._ways(k, g), self._ways(m, g)
                    if one is None or two is None:
                        continue
                    if cannot_share(self._cloth(g), one, two, self.question.gap):
                        self.facts.apart.add((k, m, g))

    def _apart(self, k: int, m: int, g: int) -> bool:
        f = self.facts
        return (k, g) in f.no_room or (m, g) in f.no_room or (k, m, g) in f.apart or (m, k, g) in f.apart

    def _pigeonhole(self) -> Proof | None:
        """Kinds of which no two lie on one cloth, with more copies than cloths that take one."""
        for first in self.large:
            group: list[int] = []
            for k in [first, *self.large]:
                single = self.task.kinds[k].count < 2 or all(self._apart(k, k, g) for g in self._grounds())
                if k in group or not single:
                    continue
                if all(self._apart(k, m, g) for m in group for g in self._grounds()):
                    group.append(k)
            copies = sum(self.task.kinds[k].count for k in group)
            takers = [g for g in self._grounds() if any((k, g) not in self.facts.no_room for k in group)]
            if copies > len(takers):
                return self._pigeonhole_proof(group, copies, takers)
        return None

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

    def _counts(self) -> Proof | None:
        """More copies that each hold an upright rectangle than points of a lattice on all cloths."""
        rectangles = {k: self._rectangle(k) for k in self.by_size}
        tried: set[tuple[float, float]] = set()
        for k in self.by_size:
            w, h = rectangles[k]
            if min(w, h) < 20.0 or (round(w), round(h)) in tried:
                continue
            tried.add((round(w), round(h)))
            group = [m for m in self.by_size if rectangles[m][0] >= w and rectangles[m][1] >= h]
            copies = sum(self.task.kinds[m].count for m in group)
            area = sum(self._cloth(g).area for g in self._grounds())
            if copies < 2 or copies * w * h < 0.3 * area:
                continue
            most = tuple(
                0 if all((m, g) in self.facts.no_room for m in group)
                else most_rectangles(self.task.grounds[g].polygon, w, h, self.question.gap)
                for g in self._grounds()
            )  # fmt: skip
            self.facts.most.append((tuple(group), (w, h), most))
            if copies > sum(most):
                return self._count_proof(group, copies, (w, h), most)
        return None

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
                one = inner_rectangle(turned(outline, turn))
                w, h = min(w, one[0]), min(h, one[1])
        return w, h

    def _count_proof(
        self, group: Sequence[int], copies: int, size: tuple[float, float], most: Sequence[int]
    ) -> Proof:
        each = ", ".join(
            f"{n} on {self._cloth_name(g)}" for g, n in zip(self._grounds(), most, strict=True)
        )
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
            "most": {self._cloth_name(g): n for g, n in zip(self._grounds(), most, strict=True)},
        }
        return Proof(ProofKind.EXHAUSTED, reason, numbers)

    def _exhaust(self) -> Proof | None:
        """All ways to share the copies out among the cloths, with every fact; none is left."""
        f = self.facts
        if not f.apart and not f.no_room and len(self._grounds()) < 2:
            return None
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        kinds, grounds = self.task.kinds, self._grounds()
        number = {
            (k, g): model.new_int_var(0, 0 if (k, g) in f.no_room else kinds[k].count, f"n{k}_{g}")
            for k in range(len(kinds)) for g in grounds
        }  # fmt: skip
        for k, kind in enumerate(kinds):
            model.add(sum(number[k, g] for g in grounds) == kind.count)
        for g in grounds:  # areas in hundredths of mm^2: panels rounded down, cloth up
            model.add(
                sum(int(kind.area * 100) * number[k, g] for k, kind in enumerate(kinds))
                <= int(self._cloth(g).area * 100 * (1 + 1e-9)) + 1
            )
        there = {}
        for k, m, g in f.apart:
            if k == m:
                model.add(number[k, g] <= 1)
                continue
            for one in (k, m):
                if (one, g) not in there:
                    there[one, g] = model.new_bool_var(f"b{one}_{g}")
                    model.add(number[one, g] <= kinds[one].count * there[one, g])
            model.add(there[k, g] + there[m, g] <= 1)
        for group, _, most in f.most:
            for g in grounds:
                model.add(sum(number[k, g] for k in group) <= most[g])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = 1.0
        if solver.solve(model) != cp_model.INFEASIBLE:
            return None
        return self._exhausted_proof()

    def _exhausted_proof(self) -> Proof:
        f = self.facts
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
            "no_place": [[name(k), self._cloth_name(g)] for k, g in sorted(f.no_room)],
            "not_together": [[name(k), name(m), self._cloth_name(g)] for k, m, g in sorted(f.apart)],
            "most": [
                {"shapes": self._names(group), "rectangle": list(size), "most": list(most)}
                for group, size, most in f.most
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

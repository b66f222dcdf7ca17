"""Proofs that no layout exists: the cheap ones first."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shapely.geometry import Polygon

from salvage.fit.claim import Proof, TooLittleCloth
from salvage.fit.geometry.tables import Tables, make_tables
from salvage.fit.geometry.task import Task, make_tasks
from salvage.fit.proof.assign import Assignment
from salvage.fit.proof.grid import none_on_a_grid
from salvage.fit.proof.place import never, no_place
from salvage.fit.proof.witness import Witness
from salvage.fit.question import Question


def prove(
    question: Question,
    *,
    stop: Callable[[], bool] | None = None,
    ready: Sequence[tuple[Task, Tables]] | None = None,
    doubtful: list[int] | None = None,
) -> Proof | None:
    """The first proof found that not all shapes can be cut, or None.

    stop: asked at each step and look; True ends it without a proof. ready: tasks and tables, if they are made already.
    doubtful: gets the indices of shapes for which neither a place was found nor a proof that there is none.
    """
    ended = stop or never
    for fabric in dict.fromkeys(shape.fabric for shape in question.shapes):
        proof = too_little_cloth(question, fabric)
        if proof is not None:
            return proof
    pairs = ready if ready is not None else [(t, make_tables(t)) for t in make_tasks(question)]
    for task, tables in pairs:
        if ended():
            return None
        witness = Witness(task, tables)
        for shape in dict.fromkeys(kind.shape for kind in task.kinds):
            kinds = [k for k, kind in enumerate(task.kinds) if kind.shape == shape]
            if all(any(witness.fits(k, g) for g in range(len(task.grounds))) for k in kinds):
                continue
            proof = no_place(question, shape, ended)
            if proof is not None:
                return proof
            if doubtful is not None:
                doubtful.append(shape)
            if ended():
                return None
    for task, tables in pairs:
        if ended():
            return None
        if task.grounds:
            proof = Assignment(question, task, tables, ended).prove()
            if proof is not None:
                return proof
    for fabric in dict.fromkeys(shape.fabric for shape in question.shapes):
        proof = none_on_a_grid(question, fabric, ended)
        if proof is not None:
            return proof
    return None


def too_little_cloth(question: Question, fabric: str) -> Proof | None:
    """More area asked than there is. With a gap, panels and cloth both grown by half of it."""
    grown = question.gap / 2
    shapes = [s for s in question.shapes if s.fabric == fabric]
    cloths = [c for c in question.cloths if c.fabric == fabric]
    for out in (0.0, grown) if grown else (0.0,):
        # Shapely simplifies by up to 1 % of what it grows by, and draws arcs inside the true circle: panels
        # must not be taken for larger than they are, nor cloth for smaller.
        asked = sum(s.count * Polygon(s.outline).buffer(out * 0.99).area for s in shapes)
        there = sum(c.polygon.buffer(out * 1.01).area for c in cloths)
        if asked > there * (1 + 1e-9) + 1e-3:
            names = tuple(dict.fromkeys(s.name for s in shapes))
            return Proof(TooLittleCloth(fabric, asked, there, out, names), question)
    return None

"""What can be made of one garment: the answers to many projects, those that are known or quick first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from salvage.cloth.garment import Garment
from salvage.project.project import Project
from salvage.rail.answer.settle import Settled, by_facts, settle
from salvage.rail.known.facts import Facts, facts_of
from salvage.rail.known.keys import cloth_key, project_key
from salvage.rail.store import Store

__all__ = ["Settled", "made_of"]


def made_of(
    garment: Garment,
    projects: Sequence[Project],
    *,
    seconds: float = 6.0,
    stop: Callable[[], bool] | None = None,
    store: Store | None = None,
    facts: Facts | None = None,
) -> Iterator[Settled]:
    """The answer to each project: first what is known, then a quick look at each, then what is left of the time.

    A project may come twice: unsettled after the quick look, and again once more is known. seconds: for each of
    those. facts: of the garment, where they are there already. store: where answers are kept.
    """
    known_facts = facts if facts is not None else facts_of(garment)
    cloth = cloth_key(garment)
    left = []
    for project in projects:
        key = project_key(project)
        before = None if store is None else store.answer(cloth, key, project.name)
        told = by_facts(known_facts, project) or (before if before and before.settled else None)
        if told is None:
            left.append((project, key))
        else:
            yield told
    for quick in (True, False):
        again = []
        for project, key in left:
            if stop is not None and stop():
                return
            asked = settle(garment, project, seconds=seconds, quick=quick, stop=stop)
            if store is not None:
                store.keep_answer(cloth, key, asked)
            if not asked.settled:
                again.append((project, key))
            yield asked
        left = again

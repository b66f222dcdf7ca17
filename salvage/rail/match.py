"""Many garments and many projects: which from which, and what to make of the pile.

Most of the pairs are settled by what the index knows, or by a quick look. Time then goes where it matters: to pairs
that are open still and that the best assignment would use if they were a yes. Each answer is kept as it comes.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.project.project import Project
from salvage.rail.answer.assign import Assignment, Pair, assign
from salvage.rail.answer.settle import Settled, area_asked, by_facts
from salvage.rail.crew.pool import Lost
from salvage.rail.crew.tasks import Task, ToAsk, do
from salvage.rail.folder import Record
from salvage.rail.known.keys import cloth_key, project_key
from salvage.rail.rail import Progress, Rail, quiet
from salvage.rail.show.cards import Card

FULL = 10.0  # seconds for one pair
_LONGER = (1.0, 3.0, 9.0)  # times FULL for pairs that matter and are still open
_MOST_ROUNDS = 50


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted of a project. worth: of one of it; wanted: how many, None for as many as can be."""

    worth: float = 1.0
    wanted: int | None = None


@dataclass(frozen=True, slots=True)
class Matched:
    """cards: the garments, in the order of the answers' indices; answers: by (garment, project).

    could: what might be made at the most, were every open pair a yes. stopped: the person ended it; late: the time
    was up before every pair had been given its share.
    """

    cards: tuple[Card, ...]
    projects: tuple[Project, ...]
    answers: Mapping[Pair, Settled]
    plan: Assignment
    could: float
    stopped: bool = False
    late: bool = False

    @property
    def open(self) -> int:
        """How many pairs are not settled."""
        return sum(not each.settled for each in self.answers.values())


@dataclass(eq=False)
class _Match:
    rail: Rail
    cards: Sequence[Card]
    projects: Sequence[Project]
    wishes: Sequence[Wish]
    until: float
    progress: Progress
    seed: int
    answers: dict[Pair, Settled] = field(default_factory=dict)
    cloths: dict[int, str] = field(default_factory=dict)
    keys: list[str] = field(default_factory=list)

    def known(self) -> None:
        """What the index knows, and what follows from the facts."""
        self.keys = [project_key(each) for each in self.projects]
        for g, card in enumerate(self.cards):
            self.cloths[g] = self.cloth(card)
            for p, project in enumerate(self.projects):
                told = by_facts(card.facts, project)
                if told is None:
                    told = self.rail.store.answer(self.cloths[g], self.keys[p], project.name)
                self.answers[g, p] = told or Settled(project.name, str(Verdict.UNSETTLED), NOT_ASKED)

    def cloth(self, card: Card) -> str:
        kept = self.rail.store.cloth(card.content)
        return kept if kept is not None else cloth_key(self.record(card).garment())

    def record(self, card: Card) -> Record:
        return next(each for each in self.rail.records if each.content == card.content)

    def open(self, seconds: float) -> list[Pair]:
        """Pairs that are open and haven't been given so many seconds, the likeliest yes first."""
        left = [
            pair for pair, each in self.answers.items() if not each.settled and each.seconds < seconds * 0.999
        ]
        return sorted(left, key=lambda pair: (self.tightness(pair), pair))

    def tightness(self, pair: Pair) -> float:
        """How much of its cloth a project asks of a garment, at the most of all fabrics together."""
        return area_asked(self.projects[pair[1]]) / max(1.0, self.cards[pair[0]].area)

    def ask(self, pairs: Sequence[Pair], *, full: float = FULL, quick: bool = False, what: str) -> None:
        """Put pairs to the crew, in this order, while there is time. full: seconds for each."""
        tasks_of: dict[int, Pair] = {}

        def tasks() -> Iterator[Task]:
            for g, p in pairs:
                if self.late():
                    return
                try:
                    text = self.record(self.cards[g]).text()
                except SalvageError:  # it was taken away meanwhile
                    continue
                seconds = min(full, max(1.0, self.until - time.monotonic()))
                task = ToAsk(text, self.projects[p], seconds, quick, self.seed)
                tasks_of[id(task)] = (g, p)
                yield task

        if pairs:
            self.progress(what, 0, len(pairs))
        for count, (task, result) in enumerate(self.rail.crew.work(do, tasks()), 1):
            pair = tasks_of.pop(id(task))
            if isinstance(result, Settled):
                self.answers[pair] = result
                self.rail.store.keep_answer(self.cloths[pair[0]], self.keys[pair[1]], result)
            elif isinstance(result, Lost):
                name = self.projects[pair[1]].name
                self.answers[pair] = Settled(name, str(Verdict.UNSETTLED), result.reason, full)
            self.progress(what, count, len(pairs))

    def closely(self, full: float) -> None:
        """Look at the pairs that matter, again and again, for an answer may make others matter."""
        for _ in range(_MOST_ROUNDS):
            pairs = self.matters(full)
            if not pairs or self.late():
                return
            self.ask(pairs, full=full, what="looking closer where it matters")

    def late(self) -> bool:
        return time.monotonic() > self.until

    def plan(self, *, hopeful: bool = False) -> Assignment:
        """The best assignment of what is a yes; hopeful: as if every open pair were one too."""
        pairs = [pair for pair, each in self.answers.items() if each.yes or (hopeful and not each.settled)]
        cost = {pair: self.cost(pair) for pair in pairs}
        return assign(
            pairs,
            worth=[each.worth for each in self.wishes],
            wanted=[each.wanted for each in self.wishes],
            cost=cost,
        )

    def cost(self, pair: Pair) -> int:
        """Among plans of one worth, first as few open pairs as can be, then as few with joins, then as little cloth
        left over, so that large garments aren't cut up for small things."""
        asked = self.answers[pair]
        over_cm2 = max(0, round((self.cards[pair[0]].area - area_asked(self.projects[pair[1]])) / 100))
        joins = asked.verdict == Verdict.YES_WITH_JOINS
        return over_cm2 + 1_000_000 * joins + 1_000_000_000 * (not asked.settled)

    def matters(self, seconds: float) -> list[Pair]:
        """Open pairs that the best assignment would use."""
        still = set(self.open(seconds))
        return [pair for pair in self.plan(hopeful=True).pairs if pair in still]


NOT_ASKED = "It has not been looked at yet."


def match(
    rail: Rail,
    cards: Sequence[Card],
    projects: Sequence[Project],
    *,
    wishes: Sequence[Wish] = (),
    seconds: float = 300.0,
    seed: int = 0,
    progress: Progress = quiet,
) -> Matched:
    """Settle as many pairs as the time allows, and say what to make.

    cards: of the rail; those used up are left out. wishes: for each project, all alike if there are none. seconds:
    for everything. Ctrl-C ends it with what is known by then; asked again it goes on there.
    """
    there = tuple(each for each in cards if not each.used)
    wishes = tuple(wishes) or tuple(Wish() for _ in projects)
    state = _Match(rail, there, tuple(projects), wishes, time.monotonic() + seconds, progress, seed)
    stopped = False
    state.known()
    try:
        state.ask(state.open(0.01), quick=True, what="a quick look at each")
        for times in _LONGER:
            state.closely(FULL * times)
            if times == 1.0:
                state.ask(state.open(FULL), what="looking closer at the rest")
    except KeyboardInterrupt:
        stopped = True
    return Matched(
        there,
        tuple(projects),
        dict(state.answers),
        state.plan(),
        state.plan(hopeful=True).worth,
        stopped=stopped,
        late=not stopped and bool(state.open(FULL) or state.matters(FULL * _LONGER[-1])),
    )

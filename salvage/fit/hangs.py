"""What a verdict hangs on: the questions about a garment whose answer could change it.

What is doubtful counts as blocked. Where the answer isn't a plain yes, the fit is asked again as if a doubtful thing
weren't there; where that gives a yes, the person is told which question to answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from salvage.cloth.doubts import without
from salvage.cloth.garment import Garment, Question, Reply
from salvage.cloth.unsure import OF_ALL
from salvage.fit import clock
from salvage.fit.answer import Answer
from salvage.fit.fit import fit_project
from salvage.fit.say.cloth import HANGS_ON_SEVERAL, of_hanging
from salvage.project.project import Project

_MOST = 5  # questions tried, the weightiest of each garment first
_EACH = 2.0  # s for one of them at most
_LEAST = 0.2  # s, below which a search finds nothing


def with_doubts(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    *,
    seconds: float,
    seed: int = 0,
    stop: Callable[[], bool] | None = None,
) -> Answer:
    """The answer with a sentence for each question that it hangs on; the same answer where it hangs on none.

    seconds: for all of it. First everything doubtful is taken away at once: where that is no yes either, no
    single thing can make one, and nothing more is tried.
    """
    asked = [(k, q) for k, garment in enumerate(garments) for q in open_questions(garment)]
    if answer.is_yes or not asked:
        return answer
    begun = clock.now()

    def is_yes(cleared: Sequence[Garment]) -> bool:
        left = min(_EACH, seconds - (clock.now() - begun))
        if left < _LEAST or (stop is not None and stop()):
            return False
        return fit_project(cleared, project, seconds=left, seed=seed, stop=stop).is_yes

    all_gone = list(garments)
    for k, question in asked:
        all_gone[k] = without(all_gone[k], question)
    if not is_yes(all_gone):
        return answer
    hanging = []
    for k, question in asked[:_MOST]:
        if is_yes([without(g, question) if i == k else g for i, g in enumerate(garments)]):
            hanging.append(of_hanging(garments, k, question))
    told = hanging or [HANGS_ON_SEVERAL]
    return replace(answer, reasons=(*answer.reasons, *told))


def open_questions(garment: Garment) -> list[Question]:
    """Questions not answered yet whose no would free cloth, the weightiest first."""
    return [q for q in garment.questions if q.answer is Reply.OPEN and q.about not in OF_ALL]

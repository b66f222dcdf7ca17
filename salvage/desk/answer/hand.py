"""The answer under the hand: what an edit changes in the verdict, at once, and a longer search behind it.

An edit seldom changes much. So the layouts known so far are put to the checker again first; of one that holds no
more, what still lies well stays and only the rest is laid anew; a proof is looked at again as it stands. That takes
tenths of a second. `improve` then asks the whole question, for as long as it is given. A quick answer never says
more than it knows: a yes has passed the checker and keeps off every edge by the plus-minus, a no has its proof, and
all else is unsettled until `improve` has looked.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment
from salvage.desk.answer.laid import (
    APART,
    Laid,
    area_left,
    area_of,
    clearance,
    has_all,
    piece_named,
    plus_minus_on,
    turn_of_grain,
    turned,
)
from salvage.desk.answer.missing import (
    amount,
    as_many_as,
    closed,
    left_to_cloth,
    named_again,
    names_left_out,
    parts_of,
    what_is_missing,
)
from salvage.desk.edit.frames import frames
from salvage.errors import UsageError
from salvage.fit.answer import Answer, FabricAnswer, LeftOver, Placement, Verdict
from salvage.fit.check.check import check
from salvage.fit.fit import fit_project
from salvage.fit.keep.keep import without_kept
from salvage.fit.kernels.calls import get_ready
from salvage.fit.layout.arrange import arrange
from salvage.fit.layout.budget import Budget
from salvage.fit.material.lay import Lay, Where, extent_of, lay_of, plus_minus_of, same_fabric, shrunk
from salvage.fit.material.left import left_over
from salvage.fit.recheck.recheck import doubt_about
from salvage.fit.require import require_usable
from salvage.fit.say.quick import of_clearance, of_left_out
from salvage.project.project import Project
from salvage.shapes import polygons_of

QUICK = 0.15  # s
_REMEMBERED = 6  # layouts
_NO_PROOFS = 1 << 30
_NOES = 3  # answers with a proof
_FOR_SAFE = 0.6  # of the time: the search on cloth that is smaller by the plus-minus
_LEFT_UNTIL = 0.5  # of the time: later, what is left over is told by its area only
_BY_RANK = (Verdict.UNSETTLED, Verdict.NO, Verdict.TOO_CLOSE, Verdict.YES_WITH_JOINS, Verdict.YES)


class Hand:
    """Garments and a project under somebody's hand. Used by one thread at a time, but for `stop`.

    pins: placements that stay where they are; the rest is laid around them.
    """

    def __init__(
        self, garments: Sequence[Garment], project: Project, pins: Sequence[Placement] = (), *, seed: int = 0
    ) -> None:
        self.garments, self.project, self.pins = tuple(garments), project, tuple(pins)
        self.last: Answer | None = None
        self._known: list[tuple[Project, Laid]] = []
        self._part: Laid = ()  # of the project, where no more of it was found
        self._noes: list[Answer] = []
        self._answered = False  # whether `last` is of the question as it stands,
        self._settled = False  # and was searched for as long as was given
        self._seed = seed
        self._stopped = threading.Event()

    def change(
        self,
        *,
        garments: Sequence[Garment] | None = None,
        project: Project | None = None,
        pins: Sequence[Placement] | None = None,
    ) -> None:
        """Something is another now; the next answer is about it. What is known of the rest is used again; a pin goes
        with its piece."""
        if project is not None and project != self.project:
            self._known.clear()
            self._part = ()
            self._noes.clear()
            self.last = None
        self.garments = self.garments if garments is None else tuple(garments)
        self.project = project or self.project
        self.pins = tuple(
            each
            for each in (self.pins if pins is None else pins)
            if each.garment < len(self.garments)
            and any(piece.name == each.piece for piece in self.garments[each.garment].pieces)
        )
        self._answered = self._settled = False
        self._stopped.clear()

    @property
    def answered(self) -> bool:
        """Whether `last` is about the garments, project and pins as they are now."""
        return self._answered

    def stop(self) -> None:
        """End a search that another thread runs, with the best so far. The next `change` lets it search again."""
        self._stopped.set()

    # --- answers -------------------------------------------------------------------------------------

    def answer(self, seconds: float = QUICK) -> Answer:
        """The answer as far as it can be had in so many seconds, about. Raises SalvageError where garments or project
        can't be used."""
        begun = time.monotonic()
        require_usable(self.garments, self.project)
        if self._settled and self.last is not None:
            return self.last
        best = self._best_known()
        if best is None and not self.pins and (answer := self._still_no(begun, seconds)) is not None:
            return self._keep(answer)
        if best is None:
            best = self._laid_anew(begun + seconds)
        elif amount(best[0], self.project) < amount(self._known[0][0], self.project):
            more = self._laid_anew(
                begun + seconds
            )  # of what is left to the cloth there was more a moment ago
            whole = not check(self.garments, *more)
            best = more if whole and amount(more[0], self.project) > amount(best[0], self.project) else best
        return self._keep(self._of(*best, begun, seconds))

    def improve(self, seconds: float) -> Answer:
        """The answer to the whole question, searched for so long; never a worse one than there is. May be called
        again, to look on."""
        begun = time.monotonic()
        require_usable(self.garments, self.project)
        before = self.last if self.last is not None and self._answered else self.answer()
        if self.pins:
            laid = self._laid_anew(begun + seconds)
            found = self._of(*laid, begun, 1e6)
        else:
            found = fit_project(
                self.garments,
                self.project,
                seconds=seconds,
                seed=self._seed,
                stop=self._stopped.is_set,
                thorough=True,
            )
        better = found if _rank(found) >= _rank(before) else before
        if not self._stopped.is_set():
            self._settled = True
        return self._keep(better)

    def _keep(self, answer: Answer) -> Answer:
        self.last, self._answered = answer, True
        if answer.placements and not answer.not_placed:
            asked = closed(self.project, answer)
            known = [each for each in self._known if each[1] != answer.placements]
            self._known = [(asked, answer.placements), *known][:_REMEMBERED]
        elif answer.placements:
            left_out = set(answer.not_placed)  # of a copy in parts some may be missing
            self._part = tuple(
                each for each in answer.placements if each.part is None or each.panel not in left_out
            )
        if answer.proof is not None:
            others = [each for each in self._noes if each.proof != answer.proof]
            self._noes = [answer, *others][:_NOES]
        return answer

    # --- what is known already -----------------------------------------------------------------------

    def _best_known(self) -> tuple[Project, Laid] | None:
        """Of the layouts known the best that still holds."""
        best: tuple[tuple[float, ...], int] | None = None
        for n, (project, laid) in enumerate(self._known):
            if not has_all(laid, self.pins) or check(self.garments, project, laid):
                continue
            worth = (*amount(project, self.project), clearance(self.garments, laid))
            if best is None or worth > best[0]:
                best = worth, n
        return None if best is None else self._known[best[1]]

    def _still_no(self, begun: float, seconds: float) -> Answer | None:
        """A no of before, if its proof stands for the garments as they are."""
        for each in self._noes:
            left = seconds - (time.monotonic() - begun)
            if each.proof is None or left <= 0:
                break
            if doubt_about(each.proof, self.garments, self.project, seconds=max(0.1, left)) is None:
                # What would have helped was laid out on the cloth as it was.
                return replace(each, helps=(), seconds=time.monotonic() - begun)
        return None

    # --- laying --------------------------------------------------------------------------------------

    def _laid_anew(self, until: float) -> tuple[Project, Laid]:
        """A layout that keeps of the last one what still lies well, or failing that one that keeps the pins only; as
        much of it as is found in the time."""
        get_ready()
        project = self._known[0][0] if self._known else self.project
        before = (self._known[0][1] if self._known else (), self._part)
        stays = max((self._still_well(project, laid) for laid in before), key=area_of)
        tries = [(project, stays)]
        if len(stays) > len(self.pins):
            tries.append((self.project, self.pins))
        best: Laid = stays
        for n, (asked, kept) in enumerate(tries):
            for share, safe in ((_FOR_SAFE, True), (1.0, False)):
                left = until - time.monotonic()
                laid = self._around(asked, kept, max(0.05, left * share / (len(tries) - n)), safe=safe)
                if area_of(laid) > area_of(best) + 1e-6:
                    best = laid
                if not check(self.garments, asked, laid):
                    return asked, laid
                fewer, counted = as_many_as(asked, self.project, laid, self.pins)
                if not check(self.garments, fewer, counted):
                    return fewer, counted
                if time.monotonic() > until or self._stopped.is_set():
                    return project, best
        return project, best

    def _still_well(self, project: Project, laid: Laid, pins: Laid | None = None) -> Laid:
        """Of a layout the copies whose every part still lies well, pins first."""
        kept = list(self.pins if pins is None else pins)
        for key in dict.fromkeys((each.panel, each.copy) for each in laid):
            if any((pin.panel, pin.copy) == key for pin in kept):
                continue
            parts = [each for each in laid if (each.panel, each.copy) == key]
            if not check(self.garments, project, [*kept, *parts], partial=True):
                kept += parts
        return tuple(kept)

    def _around(self, project: Project, kept: Laid, seconds: float, *, safe: bool) -> Laid:
        """The kept placements and as much as is found of the rest, laid on what they leave of the cloth."""
        asked, names = what_is_missing(project, kept)
        asked = asked and without_kept(asked)  # what keeps something is laid by `improve`
        if asked is None or not (asked.panels or asked.strips):
            return kept
        lay = lay_of(self.garments)
        fabrics = {same_fabric(each.fabric) for each in parts_of(asked)}
        lay = lay.only(n for n, cloth in enumerate(lay.cloths) if cloth.fabric in fabrics)
        if safe:
            lay = lay.reshaped(lambda n, polygon: _taken_in(polygon, lay.where[n]))
        lay = _without(lay, kept, project.cutting_gap)
        if not lay.cloths:
            return kept
        # With an effort told, be it without end, no proof is looked for: of what is left none would be of use.
        budget = replace(Budget.start(seconds, seed=self._seed, stop=self._stopped.is_set), effort=_NO_PROOFS)
        layout = arrange(lay, asked, budget)
        return (*kept, *named_again(layout, names, kept))

    # --- putting it into an answer -------------------------------------------------------------------

    def _of(self, project: Project, laid: Laid, begun: float, seconds: float) -> Answer:
        faults = check(self.garments, project, laid, partial=True)
        if faults:  # something pinned lies where it may not
            laid = self._still_well(project, laid, pins=())
        missing, names = what_is_missing(project, laid)
        left_out = [] if missing is None else names_left_out(missing, names)
        plus_minus = plus_minus_on(self.garments, laid)
        remains: Mapping[str, LeftOver] = {}
        if laid:
            late = time.monotonic() - begun > _LEFT_UNTIL * seconds
            remains = area_left(self.garments, laid) if late else left_over(self.garments, laid)
        unit = project.unit
        if left_out:
            told = of_left_out(left_out, faults[0] if faults else "", pinned=bool(self.pins))
            verdict, spare = Verdict.UNSETTLED, None
        else:
            spare = clearance(self.garments, laid)
            joined = any(each.part is not None for each in laid)
            yes = Verdict.YES_WITH_JOINS if joined else Verdict.YES
            verdict = yes if spare >= plus_minus else Verdict.UNSETTLED
            told = of_clearance(spare, plus_minus, unit, enough=verdict is yes)
        return Answer(
            verdict=verdict,
            reasons=(told,),
            placements=laid,
            not_placed=tuple(left_out),
            spare=spare,
            plus_minus=plus_minus,
            seconds=time.monotonic() - begun,
            left_over=remains,
            fabrics=_by_fabric(project, verdict, left_out, told),
            many={each.name: each.cut for each, open_ in left_to_cloth(project, self.project) if open_},
            longest={
                each.name: each.length
                for each, other in zip(project.strips, self.project.strips, strict=True)
                if other.longest
            },
        )

    # --- one panel under the finger --------------------------------------------------------------------

    def why_not(self, placement: Placement) -> tuple[str, ...]:
        """What the checker has against one placement, beside the others of the last layout; nothing: it may lie there."""
        others = [
            each
            for each in (self.last.placements if self.last is not None else ())
            if (each.panel, each.copy, each.part) != (placement.panel, placement.copy, placement.part)
        ]
        project = self.project if self.last is None else closed(self.project, self.last)
        there = set(check(self.garments, project, others, partial=True))
        faults = check(self.garments, project, [*others, placement], partial=True)
        return tuple(each for each in faults if each not in there)

    def moved(
        self,
        placement: Placement,
        start_px: tuple[float, float],
        end_px: tuple[float, float],
        *,
        turn: float = 0.0,
    ) -> Placement:
        """A placement dragged on its photograph from one pixel to another, turned about its middle by so many degrees
        counter-clockwise; on the piece that lies under it then."""
        garment = self.garments[placement.garment]
        piece = piece_named(garment, placement.piece)
        frame = frames(garment).get(piece.photo.file) if piece.photo is not None else None
        if frame is None:
            raise UsageError(f"{placement.piece} has no photograph to drag on.")
        (x0, y0), (x1, y1) = frame.points_mm([start_px, end_px])
        return self.moved_by(placement, x1 - x0, y1 - y0, turn=turn)

    def moved_by(self, placement: Placement, x: float, y: float, *, turn: float = 0.0) -> Placement:
        """As `moved`, by so many mm to the right and up on the plane. On another piece it lies to that one's grain as it
        lay to the grain of the one before: no hand could turn it there to the degree."""
        garment = self.garments[placement.garment]
        piece = piece_named(garment, placement.piece)
        shape, angle = placement.shape, placement.angle
        middle = shape.envelope.centroid
        shape = turned(shape, turn, (middle.x, middle.y))
        shape = affinity.translate(shape, x, y)
        file = piece.photo.file if piece.photo is not None else None
        under = [
            each
            for each in garment.pieces
            if (each.photo.file if each.photo is not None else None) == file
            and (file is not None or each is piece)
        ]
        best = max(under, key=lambda each: each.outline.intersection(shape).area)
        here = best if best.outline.intersects(shape) else piece
        to_grain = turn_of_grain(piece, here)
        if to_grain:
            shape = affinity.rotate(shape, to_grain, origin=shape.envelope.centroid)
        return replace(
            placement,
            shape=shape,
            angle=(angle + turn + to_grain) % 360.0,
            piece=here.name,
            layer=min(placement.layer, here.layers),
        )


def _rank(answer: Answer) -> tuple[float, ...]:
    """What makes one answer to a question better than another. A no has its proof, so it goes before not knowing."""
    open_ = (sum(answer.many.values()), sum(answer.longest.values()))
    room = answer.spare if answer.spare is not None else area_of(answer.placements)
    return _BY_RANK.index(answer.verdict), *open_, room


def _by_fabric(
    project: Project, verdict: Verdict, left_out: Sequence[str], told: str
) -> dict[str, FabricAnswer]:
    of: dict[str, list[str]] = {}
    for each in parts_of(project):
        of.setdefault(each.fabric, []).append(each.name)
    found = {}
    for fabric, names in of.items():
        lacks = [each for each in left_out if each in names]
        whole = Verdict.YES if left_out and not lacks else verdict
        found[fabric] = FabricAnswer(whole, (told,) if whole is verdict else ())
    return found


# --- cloth -----------------------------------------------------------------------------------------


def _taken_in(polygon: Polygon, where: Where) -> list[Polygon]:
    return shrunk(polygon, plus_minus_of(where, extent_of(polygon)))


def _without(lay: Lay, kept: Laid, gap: float) -> Lay:
    """The lay less what is laid already, and the gap round it."""
    taken: dict[tuple[int, str, int], list[Polygon]] = {}
    for each in kept:
        wide = each.shape.buffer(gap + APART, join_style="mitre")
        taken.setdefault((each.garment, each.piece, each.layer), []).append(wide)

    def left(n: int, polygon: Polygon) -> list[Polygon]:
        place = lay.where[n]
        there = taken.get((place.garment, place.piece, place.layer))
        return [polygon] if there is None else polygons_of(polygon.difference(shapely.union_all(there)))

    return lay.reshaped(left)

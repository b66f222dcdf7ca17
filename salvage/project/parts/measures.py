"""The measures that a [[part]] gives, and what a kind of part makes of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from salvage.errors import SalvageError
from salvage.project.keys import choice_of, count_of, flag_of, length_of, only_known, size_of, text_of
from salvage.project.outlines import grown, rectangle
from salvage.project.project import Grain, Guide, Join, Notion, Panel, Point, Seam, Strip
from salvage.units import Unit

COMMON = "common practice"
_EVERY = {"name", "kind", "fabric", "seam_allowance", "from", "cut", "grain"}


@dataclass(frozen=True, slots=True)
class Made:
    """What a part gives. formulas: how finished sizes follow from the measures, in words."""

    panels: tuple[Panel, ...] = ()
    strips: tuple[Strip, ...] = ()
    seams: tuple[Seam, ...] = ()
    formulas: tuple[str, ...] = ()
    notions: tuple[Notion, ...] = ()


@dataclass(frozen=True, slots=True)
class PartKind:
    """A kind of part. said: `a bag`; needs: measures without which it can't be; may: what else it may say.

    build: from the measures. source: of its formulas.
    """

    name: str
    said: str
    needs: tuple[str, ...]
    may: tuple[str, ...]
    build: Callable[[Measures], Made]
    source: str = COMMON


@dataclass(frozen=True, slots=True)
class Measures:
    """One [[part]] as its kind reads it. earlier: the parts above it in the file, as parsed, by name.

    allowance: mm; pieces: names of the pieces it may be cut from.
    """

    entry: Mapping[str, Any]
    kind: PartKind
    unit: Unit
    where: str
    allowance: float
    pieces: tuple[str, ...]
    earlier: Mapping[str, Mapping[str, Any]]

    def check(self) -> None:
        """Raise SalvageError for a key that means nothing to this kind, or a measure that is missing."""
        for key in self.kind.needs:
            if key not in self.entry:
                needs = ", ".join(self.kind.needs[:-1]) + f" and {self.kind.needs[-1]}"
                needs = needs if len(self.kind.needs) > 1 else self.kind.needs[0]
                raise SalvageError(f"{self.where}: {self.kind.said} needs {needs}; {key} is not given.")
        only_known(self.entry, _EVERY | {*self.kind.needs, *self.kind.may}, self.where)

    @property
    def name(self) -> str:
        return text_of(self.entry, "name", self.where)

    @property
    def cut(self) -> int:
        return count_of(self.entry, "cut", self.where, default=1, least=1, most=1000)

    def size(self, key: str) -> float:
        """A length that must be given, more than 0, mm."""
        return size_of(self.entry, key, self.unit, self.where)

    def length(self, key: str, default: float) -> float:
        return length_of(self.entry, key, self.unit, self.where, default=default)

    def count(self, key: str, default: int, least: int, most: int) -> int:
        return count_of(self.entry, key, self.where, default=default, least=least, most=most)

    def flag(self, key: str) -> bool:
        return flag_of(self.entry, key, self.where)

    def choice(self, key: str, kind: Any, default: Any) -> Any:
        return choice_of(self.entry, key, kind, default, self.where)

    def text(self, key: str, default: str) -> str:
        return text_of(self.entry, key, self.where, default=default)

    def wrong(self, what: str) -> SalvageError:
        return SalvageError(f"{self.where}: {what}")

    def panel(
        self, role: str, finished: tuple[Point, ...], *, cut: int = 1, grain: Grain = Grain.ALONG,
        mirrored: bool = False, top: float | None = None, guides: tuple[Guide, ...] = (), fabric: str = "",
    ) -> Panel:  # fmt: skip
        """A panel of that finished outline, `allowance` all round. role: what it is of the part, "" if it is all of it.

        top: mm above a rectangle's upper edge, where that is not the allowance. guides: in the frame of finished.
        """
        a = self.allowance
        xs, ys = zip(*finished, strict=True)
        size = (max(xs) - min(xs), max(ys) - min(ys))
        if top is None:
            outline, stitching = grown(finished, a) if a else finished, finished if a else ()
        else:
            outline, stitching = rectangle(*size, a, a, a, top), finished
        return Panel(
            name=f"{self.name} {role}".strip(),
            outline=outline,
            fabric=fabric or self.text("fabric", "shell"),
            cut=cut * self.cut,
            grain=self.choice("grain", Grain, grain),
            mirrored=mirrored,
            finished=size,
            seam_allowance=a,
            pieces=self.pieces,
            stitching=stitching,
            guides=guides,
        )

    def strip(
        self, role: str, cut_width: float, length: float, *, grain: Grain = Grain.ALONG, join: Join = Join.BIAS,
        finished_width: float | None = None, folds: int = 1,
    ) -> Strip:  # fmt: skip
        """A strip of that cut width, `length` as sewn together, ends included."""
        least = min(length, self.length("shortest", 100.0))
        return Strip(
            name=f"{self.name} {role}".strip(),
            cut_width=cut_width,
            length=length,
            fabric=self.text("fabric", "shell"),
            cut=self.cut,
            join=self.choice("join", Join, join),
            shortest=least,
            grain=self.choice("grain", Grain, grain),
            finished_width=finished_width,
            folds=folds,
            seam_allowance=self.allowance,
            pieces=self.pieces,
        )

"""A pen that keeps what it is given, so that a test can ask what was drawn where."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry import LineString

from salvage.report.pen.draw import Page
from salvage.report.pen.marks import Area, Mark, Stroke, Words


@dataclass
class Collected:
    """A pen. marks: all that was put, in its order."""

    marks: list[Mark] = field(default_factory=list)

    def put(self, mark: Mark) -> None:
        self.marks.append(mark)

    def page(self, points_per_unit: float = 1.0) -> Page:
        return Page(self, points_per_unit)

    @property
    def words(self) -> list[Words]:
        return [each for each in self.marks if isinstance(each, Words)]

    @property
    def areas(self) -> list[Area]:
        return [each for each in self.marks if isinstance(each, Area)]

    @property
    def lines(self) -> list[LineString]:
        return [LineString(run) for each in self.marks if isinstance(each, Stroke) for run in each.runs]

"""A section of the report behind the cutting chart, before anybody sets it: the page and the PDF set all alike."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.report.say.table import Table


@dataclass(frozen=True, slots=True)
class Section:
    """A title with points, paragraphs or a table; one with nothing under its title is left out.

    note: said before the table on the page in the browser, which has the room. careful: its points are cautions.
    keep: mm of it that stay on one sheet with its title.
    """

    title: str
    points: tuple[str, ...] = ()
    texts: tuple[str, ...] = ()
    table: Table | None = None
    note: str = ""
    careful: bool = False
    keep: float = 25.0

    def __bool__(self) -> bool:
        return bool(self.points or self.texts or (self.table is not None and self.table.rows))

"""Templates as files' bytes, by the ending of the file's name."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.fit.require import with_pieces_named
from salvage.project.project import Project
from salvage.report.template.drawing import Drawing
from salvage.report.template.kept import thing_in
from salvage.report.template.lay import frame_of, one_sheet, tiled
from salvage.report.template.pattern import pattern_of
from salvage.report.template.pdf import sheet_pdf, tiled_pdf
from salvage.report.template.vector import to_dxf, to_svg
from salvage.trade.paper import ROLL_USUAL
from salvage.units import Unit

ENDINGS = (".pdf", ".svg", ".dxf")


def patterns_of(
    project: Project, unit: Unit, *, strips: bool, garments: Sequence[Garment] = ()
) -> list[Drawing]:
    """A template for each panel, and for each strip if asked for. garments: whose things the panels are cut round."""
    if garments:
        project = with_pieces_named(project, garments)
    panels = [pattern_of(panel, unit, thing_in(panel, garments)) for panel in project.panels]
    return panels + [pattern_of(strip, unit) for strip in project.strips if strips]


def templates(
    project: Project,
    ending: str,
    unit: Unit,
    *,
    paper: str = "A4",
    roll: float | None = None,
    strips: bool = False,
    garments: Sequence[Garment] = (),
) -> bytes:
    """All templates of a project: `.pdf` tiled on paper (on one sheet with roll, its width in mm), `.svg`, `.dxf`.

    garments: where a panel is cut round something of one of them, that is drawn where it shall lie.

    Raises UsageError where one is wider than the roll.
    """
    patterns = patterns_of(project, unit, strips=strips, garments=garments)
    if ending == ".pdf" and roll is None:
        frame = frame_of(paper)
        return tiled_pdf(tiled(patterns, frame), project, frame, paper, unit, strips_drawn=strips)
    width = roll if roll is not None else max(ROLL_USUAL, *(min(each.size) + 10.0 for each in patterns))
    return as_bytes(one_sheet(project.name, patterns, width, unit), ending, unit, width=roll)


def as_bytes(drawing: Drawing, ending: str, unit: Unit, *, width: float | None = None) -> bytes:
    """One drawing, on one sheet."""
    if ending == ".svg":
        return to_svg(drawing).encode()
    if ending == ".dxf":
        return to_dxf(drawing)
    return sheet_pdf(drawing, unit, width=width)


def sheet_count(project: Project, unit: Unit, paper: str, *, strips: bool) -> int:
    """How many sheets of that paper the templates take, the page of instructions left out."""
    groups = tiled(patterns_of(project, unit, strips=strips), frame_of(paper))
    return sum(len(group.tiles) for group in groups)

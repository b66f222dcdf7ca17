"""`salvage square`: reference squares to print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .shared.options import can_write, length, say

NAME = "square"


def run(
    side: Annotated[
        str, typer.Option("--side", help="Side of the square, such as 150mm or 6in.", metavar="LENGTH")
    ] = "150mm",
    count: Annotated[int, typer.Option("--count", help="How many squares.", min=1, max=4)] = 2,
    paper: Annotated[str, typer.Option("--paper", help="Sheet to print on: A4 or Letter.")] = "A4",
    out: Annotated[Path, typer.Option("--out", help="The PDF to write.")] = Path("squares.pdf"),
) -> None:
    """Write a PDF of reference squares to print, with a ruler to check the printer.

    Print at 100 % (no "fit to page"). Lay two squares at opposite sides of the garment: that is the ordinary way.
    """
    from salvage.ours import check_ours, write_ours
    from salvage.report.paper.squares import square_pdf
    from salvage.trade.paper import FOR_SQUARES

    millimetres = length(side, "--side")
    assert millimetres is not None
    can_write(out, (".pdf",), "a sheet of squares")
    check_ours(out)
    paper = {name.lower(): name for name in FOR_SQUARES}.get(paper.lower(), paper)
    write_ours(out, square_pdf(side=millimetres, count=count, paper=paper))
    say(
        f"{out}: {count} square{'s' * (count > 1)} of {millimetres:.1f} mm. Print at 100 % and check the ruler.",
        aside=True,
    )

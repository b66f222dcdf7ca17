"""`salvage layplan`: how a project lies on plain cloth, and how much of it to buy."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .shared.options import Json, Seed, Units, can_write, length, print_json, say

NAME = "layplan"
NARROWEST, WIDEST = 200.0, 4000.0  # mm


def run(
    project_file: Annotated[Path, typer.Argument(help="The project.", metavar="PROJECT.toml")],
    width: Annotated[
        list[str] | None,
        typer.Option(
            "--width",
            help="Width of the cloth with its selvedges, such as 1120mm or 54in; 1400 mm or 54 in unless told. May be "
            "repeated.",
            metavar="LENGTH",
        ),
    ] = None,
    folded: Annotated[
        bool, typer.Option("--folded", help="Folded in half lengthwise: pairs are cut through both layers.")
    ] = False,
    one_way: Annotated[
        bool, typer.Option("--one-way", help="With a nap or a one-way print: every panel with its top up.")
    ] = False,
    fabric: Annotated[
        str | None,
        typer.Option("--fabric", help="Only what is cut from this fabric, by its name in the project."),
    ] = None,
    seconds: Annotated[
        float, typer.Option("--seconds", help="How long to search for each plan.", min=0.2, max=3600)
    ] = 5.0,
    seed: Seed = 0,
    out: Annotated[Path | None, typer.Option("--out", help="The lay plan to write (.pdf).")] = None,
    units: Units = None,
    json: Json = False,
) -> int:
    """Lay a project on plain cloth off the bolt, and say how much to buy: no garment, no pockets in the way.

    Grain and nap are kept, nothing lies on the selvedges, and every plan has passed the same check as a fit.
    """
    from dataclasses import replace

    from salvage.errors import UsageError
    from salvage.fit.bolt.plan import plans_of
    from salvage.ours import check_ours, write_ours
    from salvage.project.read import read_project
    from salvage.report.cutting.lay_plans import BUY_MORE, plan_title, plan_words, plans_data
    from salvage.trade.widths import CUT_OFF, USUAL_WIDTH

    if out is not None:
        can_write(out, (".pdf",), "the lay plan")
        check_ours(out)
    project = read_project(project_file)
    for note in project.notes:
        say(f"note: {note}", aside=True)
    unit = units or project.unit
    project = replace(project, unit=unit)
    widths = [_width(text) for text in width] if width else [USUAL_WIDTH[unit]]
    if fabric is not None:
        called = fabric.strip().casefold()
        project = replace(
            project,
            panels=tuple(each for each in project.panels if each.fabric.strip().casefold() == called),
            strips=tuple(each for each in project.strips if each.fabric.strip().casefold() == called),
        )
        if not project.panels and not project.strips:
            raise UsageError(f"--fabric {fabric}: the project asks for none of it.")
    plans = [
        plan
        for each in widths
        for plan in plans_of(
            project, each, CUT_OFF[unit], one_way=lambda _: one_way, folded=folded, seconds=seconds, seed=seed
        )
    ]
    if not json:
        for plan in plans:
            say(f"{plan_title(plan, unit)}.\n  {plan_words(plan, unit)}")
        if any(plan.length is not None for plan in plans):
            say(BUY_MORE)
    if out is not None:
        from salvage.report.paper.lay_plans import lay_plans_pdf

        write_ours(out, lay_plans_pdf(plans, project.name or "Project without a name", unit))
        say(f"wrote {out}", aside=True)
    if json:
        data = {"format": "salvage layplan 1", "units": "mm", "plans": plans_data(plans)}
        print_json(data | {"notes": list(project.notes)})
    return 0


def _width(text: str) -> float:
    from salvage.errors import UsageError

    wide = length(text, "--width")
    if wide is None or not NARROWEST <= wide <= WIDEST:
        raise UsageError(f"--width {text}: give the width of the cloth, from 200 mm to 4 m, such as 1400mm.")
    return wide

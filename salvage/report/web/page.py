"""The fit report as one HTML page that needs nothing else: pictures inside, no scripts."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.fit.bolt.plan import LayPlan
from salvage.photo.photo import Photo
from salvage.project.project import Project
from salvage.report.content import Content, content
from salvage.report.cutting.lay_plans import BUY_MORE, TITLE, plan_alt, plan_table, plan_title, plan_words
from salvage.report.drawing.bolt import bolt_leaf
from salvage.report.drawing.figures import apart_alt, common_scale, photo_figures, photo_key, plan_figures
from salvage.report.drawing.ground import OnPhoto
from salvage.report.drawing.panels import drawn_parts, parts_alt, parts_leaf
from salvage.report.drawing.picture import layout_on_photo
from salvage.report.drawing.plan import PLAN_PAPER, apart_leaf, as_picture, layout_on_plane
from salvage.report.drawing.plan_legend import legend_alt, legend_leaf
from salvage.report.pen.draw import PLAIN, Printing
from salvage.report.pen.fonts import lacking
from salvage.report.pen.palette import VERDICT_COLOUR
from salvage.report.say.table import Table
from salvage.report.say.words import PLUS_MINUS_WORDS
from salvage.units import Unit

_PICTURE_BUDGET = 2_300_000  # bytes of all photographs together; a third more as base64
_MOST_PX = 1600
_LEAST_PX = 700
_LONGEST_SIZE = 26  # letters of a size in inches with two fractions


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture as the template has it. source: a data: address."""

    source: str
    alt: str
    caption: str = ""
    key: str = ""
    marks: tuple[tuple[str, str], ...] = ()


def fit_report_html(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    *,
    photos: Mapping[str, Photo],
    planes: Mapping[str, OnPhoto],
    unit: Unit,
    printing: Printing = PLAIN,
    plans: Sequence[LayPlan] = (),
) -> str:
    """The fit report as an HTML page.

    plans: how the project lies on other cloth.

    photos, planes: by the file name in the piece's record, or by `salvage.report.keys.picture_key` where two
    garments have files of one name. A piece whose photograph is missing is shown on its flat plan only.
    """
    said = content(answer, garments, project, unit, lacking, plans)
    looks = [name for name, on in (("large", printing.large), ("grey", printing.grey)) if on]
    return (
        _environment()
        .get_template("fit.html")
        .render(
            said=said,
            looks=" ".join(looks),
            say_colour="#000000" if printing.grey else VERDICT_COLOUR[said.tone],
            bars=_bars(answer),
            photographs=_photographs(said, photos, planes, printing),
            legend=_legend(said, printing),
            plans=_plans(said, printing),
            apart=_apart(said, printing),
            drawn_parts=_parts(said, printing),
            lay_plans=[_lay_plan(plan, unit, printing) for plan in plans],
            lay_plans_title=TITLE,
            buy_more=BUY_MORE,
            plus_minus=PLUS_MINUS_WORDS,
        )
        + "\n"
    )


@lru_cache(maxsize=1)
def _environment() -> Environment:
    """Whatever a name holds is escaped; a name that a template misspells is an error."""
    found = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
    )
    found.filters["stays_whole"] = _stays_whole
    return found


def _stays_whole(cell: str, title: str) -> bool:
    """A size or a run of numbers stays on one line."""
    return len(cell) <= _LONGEST_SIZE and (title.endswith("size") or title == "No.")


def _bars(answer: Answer) -> list[tuple[str, int, str]]:
    """Spare and plus-minus, which the reasons tell in words, as two bars of one scale; none without a layout."""
    spare = answer.spare or 0.0
    longest = max(spare, answer.plus_minus)
    if answer.spare is None or answer.plus_minus <= 0:
        return []
    rows = (("spare", spare, "have"), ("plus-minus", answer.plus_minus, "need"))
    return [(name, round(100 * value / longest), kind) for name, value, kind in rows]


def _photographs(
    said: Content, photos: Mapping[str, Photo], planes: Mapping[str, OnPhoto], printing: Printing
) -> list[Figure]:
    figures = photo_figures(said, photos, planes)
    if not figures:
        return []
    most_bytes = _PICTURE_BUDGET // len(figures)
    most_px = max(_LEAST_PX, min(_MOST_PX, round(_MOST_PX * (6 / len(figures)) ** 0.5)))
    found = []
    for figure in figures:
        picture = layout_on_photo(
            figure.photo,
            figure.plane,
            figure.spreads,
            pieces=figure.pieces,
            unit=said.unit,
            most_px=most_px,
            most_bytes=most_bytes,
            printing=printing,
        )
        found.append(Figure(_source(picture, "image/jpeg"), figure.alt, figure.caption, photo_key(figure)))
    return found


def _plans(said: Content, printing: Printing) -> list[Figure]:
    figures = plan_figures(said)
    scale = common_scale(figures, *PLAN_PAPER)
    return [
        Figure(
            _source(
                *layout_on_plane(
                    figure.spread, figure.usable, unit=said.unit, no_larger=scale, printing=printing
                )
            ),
            figure.alt,
            figure.caption,
            marks=figure.marks,
        )
        for figure in figures
    ]


def _legend(said: Content, printing: Printing) -> Figure | None:
    if not plan_figures(said):
        return None
    laid = bool(said.spreads)
    drawn = legend_leaf(PLAN_PAPER[0], printing, laid=laid)
    return Figure(_source(*as_picture(drawn)), legend_alt(laid=laid))


def _apart(said: Content, printing: Printing) -> Figure | None:
    if not said.unplaced:
        return None
    scale = common_scale(plan_figures(said), *PLAN_PAPER)
    drawn, sheet = apart_leaf(said.unplaced, said.unit, no_larger=scale, printing=printing)
    caption = f"drawn 1 : {sheet.scale:g}, grain up."
    return Figure(_source(*as_picture(drawn)), apart_alt(said.unplaced), caption)


def _parts(said: Content, printing: Printing) -> Figure | None:
    panels = drawn_parts(said.project)
    if not panels:
        return None
    drawn, sheet = parts_leaf(panels, said.unit, printing)
    caption = f"Solid: cut; dashed: stitch; dots: folds and openings; numbered notches meet. 1 : {sheet.scale:g}, grain up."
    return Figure(_source(*as_picture(drawn)), parts_alt(panels), caption)


def _lay_plan(plan: LayPlan, unit: Unit, printing: Printing) -> tuple[str, str, Figure | None, Table | None]:
    """Title, sentences, drawing and table of a plan; of one that there isn't, no drawing."""
    title, words = plan_title(plan, unit), plan_words(plan, unit)
    if plan.length is None:
        return title, words, None, None
    drawn, sheet = bolt_leaf(plan, unit, printing)
    caption = f"Drawn 1 : {sheet.scale:g}, warp up. The number is the order of cutting."
    figure = Figure(_source(*as_picture(drawn)), plan_alt(plan), caption)
    return title, words, figure, plan_table(plan, unit)


def _source(data: bytes, kind: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode()}"

"""The fit report as one HTML page that needs nothing else: pictures inside, no scripts."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping, Sequence
from html import escape

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.photo.photo import Photo
from salvage.project.project import Project
from salvage.report.drawing.figures import (
    PlanFigure,
    apart_alt,
    common_scale,
    photo_figures,
    photo_key,
    plan_figures,
)
from salvage.report.drawing.fonts import lacking
from salvage.report.drawing.ground import OnPhoto
from salvage.report.drawing.palette import VERDICT_COLOUR
from salvage.report.drawing.picture import layout_on_photo
from salvage.report.drawing.plan import PLAN_PAPER, apart_figure, as_picture, layout_on_plane
from salvage.report.say.content import Content, Table, content
from salvage.report.say.words import PLUS_MINUS_WORDS
from salvage.report.web.style import STYLE
from salvage.units import Unit

_PICTURE_BUDGET = 2_300_000  # bytes of all photographs together; a third more as base64
_MOST_PX = 1600
_LEAST_PX = 700
_LONGEST_SIZE = 26  # letters of a size in inches with two fractions


def fit_report_html(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    *,
    photos: Mapping[str, Photo],
    planes: Mapping[str, OnPhoto],
    unit: Unit,
) -> str:
    """The fit report as an HTML page.

    photos, planes: by the file name in the piece's record, or by `salvage.report.keys.picture_key` where two
    garments have files of one name. A piece whose photograph is missing is shown on its flat plan only.
    """
    said = content(answer, garments, project, unit, lacking)
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="generator" content="salvage">',
            f"<title>{escape(said.title)}: {escape(said.headline)}</title>",
            f"<style>{STYLE}</style>",
            "</head>",
            f'<body style="--say: {VERDICT_COLOUR[said.tone]}">',
            '<div class="tape" aria-hidden="true"></div>',
            "<main>",
            *_top(said),
            *_photographs(said, photos, planes),
            *_plans(said),
            *_chart(said),
            *_listing("Joins", said.joins),
            *_tabled("What is left over", said.left_over),
            *_listing("What would help", said.suggestions),
            *_paragraphs("Order of cutting", said.order),
            *_listing("Before you cut", said.cautions, kind="cautions"),
            *_measured(said),
            f"<footer>{escape(said.title)}. Sizes are width × length; length runs along the panel’s own length."
            " Left, right, up and down are those of the photograph or plan.</footer>",
            "</main>",
            "</body>",
            "</html>",
            "",
        ]
    )


def _top(said: Content) -> Iterable[str]:
    yield "<header>"
    yield f'<p class="project"><b>{escape(said.title)}</b>, {escape(said.from_garments)}</p>'
    mark = f'<span class="mark" aria-hidden="true">{escape(said.mark)}</span>'
    yield f'<h1 class="verdict">{mark}{escape(said.headline)}</h1>'
    if said.unsuited or said.reasons:
        yield f'<ul class="reasons">{_items((*said.unsuited, *said.reasons))}</ul>'
    yield _bars(said.answer)
    if said.larger:
        yield f"<p>{escape(said.larger)}</p>"
    yield f'<p class="next">{escape(said.next_step)}</p>'
    if said.grave:
        yield f'<ul class="cautions">{_items(said.grave)}</ul>'
    if said.notes:
        yield f"<p><b>Look at the project again.</b> {escape(' '.join(said.notes))}</p>"
    yield "</header>"


def _bars(answer: Answer) -> str:
    """Spare and plus-minus, which the reasons tell in words, as two bars of one scale; "" without a layout."""
    spare = answer.spare or 0.0
    longest = max(spare, answer.plus_minus)
    if answer.spare is None or answer.plus_minus <= 0:
        return ""
    rows = (("spare", spare, "have"), ("plus-minus", answer.plus_minus, "need"))
    bars = "".join(
        f'<span class="name">{name}</span><span class="bar {kind}" style="width: {100 * value / longest:.0f}%"></span>'
        for name, value, kind in rows
    )
    return f'<div class="bars" aria-hidden="true">{bars}</div>'


def _photographs(said: Content, photos: Mapping[str, Photo], planes: Mapping[str, OnPhoto]) -> Iterable[str]:
    figures = photo_figures(said, photos, planes)
    if not figures:
        return
    most_bytes = _PICTURE_BUDGET // len(figures)
    most_px = max(_LEAST_PX, min(_MOST_PX, round(_MOST_PX * (6 / len(figures)) ** 0.5)))
    yield "<section><h2>On the photograph</h2>"
    for figure in figures:
        picture = layout_on_photo(
            figure.photo,
            figure.plane,
            figure.spreads,
            pieces=figure.pieces,
            unit=said.unit,
            most_px=most_px,
            most_bytes=most_bytes,
        )
        yield '<figure class="photo">'
        yield _image(picture, "image/jpeg", figure.alt)
        yield f"<figcaption><b>{escape(figure.caption)}</b>. {escape(photo_key(figure))}</figcaption></figure>"
    yield "</section>"


def _plans(said: Content) -> Iterable[str]:
    figures = plan_figures(said)
    if not figures:
        return
    yield "<section><h2>On the flat plane, to scale</h2>"
    letters = (
        " A ringed letter is a landmark to lay the tape at; "
        "the small open dot is the corner of the panel that the tape lengths of the chart lead to."
    )
    yield f"<p>White is usable, grey is not.{letters if said.spreads else ''}</p>"
    if said.boxes:
        yield f"<p>{escape(said.boxes)}</p>"
    scale = common_scale(figures, *PLAN_PAPER)
    for figure in figures:
        picture, kind = layout_on_plane(figure.spread, figure.usable, unit=said.unit, no_larger=scale)
        yield "<figure>"
        yield _image(picture, kind, figure.alt)
        yield f"<figcaption><b>{escape(figure.caption)}</b>{_letters(figure)}</figcaption></figure>"
    if said.unplaced:
        drawn, sheet = apart_figure(said.unplaced, said.unit, no_larger=scale)
        picture, kind = as_picture(drawn)
        yield "<figure>"
        yield _image(picture, kind, apart_alt(said.unplaced))
        yield f"<figcaption><b>Without a place</b>, drawn 1 : {sheet.scale:g}, grain up.</figcaption></figure>"
    yield "</section>"


def _letters(figure: PlanFigure) -> str:
    if not figure.marks:
        return ""
    items = "".join(f"<li><b>{letter}</b>{escape(words)}</li>" for letter, words in figure.marks)
    return f'<ul class="letters">{items}</ul>'


def _chart(said: Content) -> Iterable[str]:
    yield "<section><h2>Cutting chart</h2>"
    yield "<h3>What to cut</h3>"
    yield _table(said.panels)
    yield f"<p>{escape(said.allowance)}</p>"
    if said.places.rows:
        yield "<h3>Where to cut it</h3>"
        yield _table(said.places)
        if said.places_left_out:
            yield f"<p>{said.places_left_out} smaller shapes are not listed: read them off the plan.</p>"
    yield "</section>"


def _measured(said: Content) -> Iterable[str]:
    yield "<section><h2>How it was measured</h2>"
    yield _table(said.measured)
    if said.photographed:
        yield f"<p>{escape(PLUS_MINUS_WORDS)}</p>"
    if said.warnings:
        yield f"<h3>Warnings from the photographs</h3><ul>{_items(said.warnings)}</ul>"
    yield "</section>"


def _listing(title: str, texts: Sequence[str], *, kind: str = "") -> Iterable[str]:
    if texts:
        attribute = f' class="{kind}"' if kind else ""
        yield f"<section><h2>{title}</h2><ul{attribute}>{_items(texts)}</ul></section>"


def _paragraphs(title: str, texts: Sequence[str]) -> Iterable[str]:
    if texts:
        yield f"<section><h2>{title}</h2>{''.join(f'<p>{escape(text)}</p>' for text in texts)}</section>"


def _tabled(title: str, table: Table) -> Iterable[str]:
    if table.rows:
        yield f"<section><h2>{title}</h2>{_table(table)}</section>"


def _items(texts: Sequence[str]) -> str:
    return "".join(f"<li>{escape(text)}</li>" for text in texts)


def _table(table: Table) -> str:
    head = "".join(f'<th scope="col">{escape(title)}</th>' for title in table.columns)
    rows = "\n".join(
        "<tr>" + "".join(_cell(title, cell) for title, cell in zip(table.columns, row, strict=True)) + "</tr>"
        for row in table.rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cell(title: str, cell: str) -> str:
    """One cell; a size or a run of numbers stays on one line."""
    whole = len(cell) <= _LONGEST_SIZE and (title.endswith("size") or title == "No.")
    kind = " whole" if whole else ""
    nothing = ' class="nothing"' if cell == "–" else ""  # left out where a row is a card of its own
    return f'<td data-title="{escape(title)}"{nothing}><span class="cell{kind}">{escape(cell)}</span></td>'


def _image(data: bytes, kind: str, alt: str) -> str:
    return f'<img src="data:{kind};base64,{base64.b64encode(data).decode()}" alt="{escape(alt)}">'

"""The HTML report stands alone, is well formed, and hides nothing behind markup in a name."""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO

import pytest
from PIL import Image
from report_kit import Placed, TiltedCamera
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer, Verdict
from salvage.photo.photo import Photo
from salvage.project.project import Project
from salvage.report.keys import picture_key
from salvage.report.web.page import fit_report_html
from salvage.units import Unit

VOID = {"meta", "img", "br", "hr", "link", "input"}


class Reader(HTMLParser):
    """Checks that every element is closed, and collects what the tests ask for."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.images: list[dict[str, str | None]] = []
        self.links: list[str] = []
        self.headings: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if tag == "img":
            self.images.append(found)
        self.links += [value for name, value in attrs if name in ("href", "src", "action") and value]
        assert tag != "script"
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "h2":
            self.headings.append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text += data
        if self.open and self.open[-1] == "h2":
            self.headings[-1] += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


def report(
    answer: Answer,
    garments: Sequence[Garment],
    project: Project,
    photo: Photo | None = None,
    camera: TiltedCamera | None = None,
    unit: Unit = Unit.MM,
) -> str:
    photos = {"back.jpg": photo} if photo is not None else {}
    planes = {"back.jpg": camera} if camera is not None else {}
    return fit_report_html(answer, garments, project, photos=photos, planes=planes, unit=unit)


def test_every_picture_is_inside_and_described(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    reader = read(report(answer, [coat], project, photo, camera))
    assert len(reader.images) == 4  # the photograph, the legend, the plans of back and lining
    for image in reader.images:
        assert len(image["alt"] or "") > 20
        source = re.fullmatch(r"data:image/([a-z+]+);base64,(.+)", image["src"] or "")
        assert source is not None
        kind, data = source.groups()
        content = base64.b64decode(data, validate=True)
        if kind == "jpeg":
            assert Image.open(BytesIO(content)).size[0] >= 600
        else:
            assert b"<svg" in content
    assert not [link for link in reader.links if not link.startswith("data:")]


def test_the_verdict_stands_first_and_the_sections_in_order(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    reader = read(report(answer, [coat], project, photo, camera))
    assert "Yes, with joins" in reader.text[:400]
    assert reader.headings == [
        "On the photograph",
        "On the flat plane, to scale",
        "Cutting chart",
        "Joins",
        "What is left over",
        "What would help",
        "Order of cutting",
        "Before you cut",
        "How the cloth behaves",
        "What it takes beside cloth",
        "What can be saved",
        "From other cloth",
        "How it was measured",
    ]


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (Verdict.YES, "Yes: it can be cut"),
        (Verdict.TOO_CLOSE, "measure by hand before cutting"),
        (Verdict.NO, "No: it can't be cut"),
        (Verdict.UNSETTLED, "Unsettled"),
    ],
)
def test_each_verdict_is_said_in_words(
    answer: Answer, coat: Garment, project: Project, verdict: Verdict, words: str
) -> None:
    assert words in read(report(replace(answer, verdict=verdict), [coat], project)).text


def test_names_are_text_and_never_markup(answer: Answer, coat: Garment, project: Project) -> None:
    wicked = '<script>alert("x")</script> & $\\frac{1}{0}$'
    panels = (replace(project.panels[0], name=wicked), *project.panels[1:])
    placements = tuple(replace(p, panel=wicked) if p.panel == "body" else p for p in answer.placements)
    named = replace(coat, name=wicked, cautions=(wicked,))
    page = report(
        replace(answer, placements=placements, reasons=(wicked,)),
        [named],
        replace(project, name=wicked, panels=panels),
    )
    assert wicked in read(page).text


def test_without_photographs_the_plans_are_enough(answer: Answer, coat: Garment, project: Project) -> None:
    reader = read(report(answer, [coat], project))
    assert "On the photograph" not in reader.headings
    assert len(reader.images) == 3


def test_a_no_without_layout_shows_the_panel_beside_the_largest_piece(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    refused = replace(answer, verdict=Verdict.NO, placements=(), spare=None, not_placed=("body", "body"))
    reader = read(report(refused, [coat], project, photo, camera))
    assert any("without a place: body" in (image["alt"] or "") for image in reader.images)


def test_two_garments_with_photographs_of_one_name_are_kept_apart(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    page = fit_report_html(
        answer, [coat, replace(coat, name="second coat")], project,
        photos={picture_key(1, "back.jpg"): photo}, planes={picture_key(1, "back.jpg"): camera}, unit=Unit.MM,
    )  # fmt: skip
    assert (
        "On the photograph" not in read(page).headings
    )  # only the second has its photograph, nothing lies on it


def test_the_person_s_unit_is_used_everywhere(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    text = read(report(answer, [coat], project, photo, camera, Unit.INCH)).text
    chart = text[text.index("What to cut") : text.index("Joins")]
    assert " mm" not in chart
    assert "7.87 × 9.84 in" in chart  # 200 x 250 mm


def test_the_same_answer_gives_the_same_page(
    answer: Answer, coat: Garment, project: Project, photo: Photo, camera: TiltedCamera
) -> None:
    assert report(answer, [coat], project, photo, camera) == report(answer, [coat], project, photo, camera)


def test_five_hundred_shapes_make_a_page_of_less_than_four_megabytes(
    answer: Answer, project: Project, placed: Placed
) -> None:
    big = Garment("stack", (Piece("roll", box(0, 0, 1500, 2200)),))
    many = tuple(
        placed("flap", n + 1, 2 + 60 * (n % 24), 2 + 100 * (n // 24), 50, 90, piece="roll")
        for n in range(500)
    )
    page = report(replace(answer, placements=many, left_over={}), [big], project)
    assert len(page) < 4_000_000
    read(page)


def test_cloth_that_does_not_suit_is_the_headline_and_traps_stand_under_it(
    answer: Answer, coat: Garment, project: Project
) -> None:
    padded = replace(coat, kind="padded")
    told = replace(project, notes=("A seam allowance of 1 mm, for body, is very little.",))
    page = report(answer, [padded], told)
    head = read(page[: page.index("</header>")] + "</header></main></body></html>").text
    assert "Don't cut by this: the cloth is not suited" in head
    assert "padding doesn't lie flat" in head
    assert told.notes[0] in head
    assert "Lay the panels as drawn" not in page

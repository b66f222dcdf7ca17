"""What one takes along, in a real browser: the report in several looks, everything at full size, what is left kept."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from browsing import PHONE, Hands
from desk_garments import COAT, draw_photo
from pypdfium2 import PdfDocument

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.rail.note import rest_named, used_of

RECORD, PROJECT = "coat.json", "pouch.toml"
POUCH = 'name = "Pouch"\nseam_allowance = 10\n[[panel]]\nname = "front"\nfinished = [80, 100]\n'
A4 = (210.0, 297.0)  # mm, ISO 216:2007


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("keep")
    draw_photo(made / "coat.jpg")
    (made / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    (made / PROJECT).write_text(POUCH)
    return made


@pytest.fixture(scope="module")
def hands(browser: Any, address: str) -> Any:
    hands = Hands(browser, address, PHONE)
    hands.go("keep", RECORD, PROJECT, until=".files li")
    yield hands
    assert not hands.faults
    hands.close()


def saved(hands: Hands, said: str) -> tuple[str, bytes]:
    """The name and the bytes of a file that is saved from the page."""
    with hands.page.expect_download() as download:
        hands.page.locator(f".files li:has-text('{said}') >> text=Save").first.click()
    return download.value.suggested_filename, Path(download.value.path()).read_bytes()


def test_the_report_has_its_chart_and_other_looks(hands: Hands) -> None:
    name, chart = saved(hands, "for a spreadsheet")
    assert name == "coat-pouch-chart.csv"
    rows = list(csv.reader(io.StringIO(chart.decode("utf-8-sig"))))
    assert [row[1] for row in rows if row and row[0] == "1"] == ["front"]
    plain = saved(hands, "to print")[1]
    hands.page.check("text=large print")
    hands.page.check("text=black and white")
    hands.page.click("text=Draw it again")
    hands.page.wait_for_selector(".files li:has-text('coat-pouch-large-grey.pdf')", timeout=60_000)
    large = saved(hands, "to print")[1]
    assert large.startswith(b"%PDF")
    assert len(PdfDocument(large)) >= len(PdfDocument(plain))
    read = hands.context.new_page()
    # the longest that a size gets: that of a folded strip
    read.set_content(saved(hands, "to read")[1].decode().replace(">80 × 100 mm<", ">25 × 400 mm, folded 4×<"))
    assert read.locator(".cell:has-text('folded')").count() == 1
    for width in (360, 1200):  # a phone's and a desk's: nothing lies beside the window in large print
        read.set_viewport_size({"width": width, "height": 740})
        assert read.evaluate("document.documentElement.scrollWidth") <= width
    read.close()


def test_panels_come_at_full_size_on_paper_and_the_layout_for_a_plotter(hands: Hands) -> None:
    page = hands.page
    page.click("text=Draw at full size")
    page.wait_for_selector("[data-ref=full_files] li:has-text('template-pouch-A4.pdf')", timeout=60_000)
    sheets = PdfDocument(saved(hands, "template-pouch-A4.pdf")[1])
    size = [each * 25.4 / 72 for each in sheets[0].get_size()]
    assert sorted(size) == pytest.approx(A4, abs=0.1)
    page.select_option("[name=what]", "layout")
    page.select_option("[name=ending]", ".dxf")
    assert page.is_disabled("[name=paper]")
    page.click("text=Draw at full size")
    page.wait_for_selector("[data-ref=full_files] li:has-text('coat-pouch-layout.dxf')", timeout=60_000)
    drawing = ezdxf.read(io.StringIO(saved(hands, "layout.dxf")[1].decode("utf-8")))
    assert len(drawing.modelspace()) > 3


def test_once_it_is_cut_what_is_left_hangs_as_a_garment_of_its_own(hands: Hands, folder: Path) -> None:
    page = hands.page
    page.click("text=I have cut it so")
    page.wait_for_selector("[data-ref=cut_said]:has-text('What is left is kept')", timeout=60_000)
    used = used_of(read_garment(folder / RECORD))
    assert used is not None
    assert (used.purpose, used.rest) == ("Pouch", "coat-rest.json")
    rest = read_garment(folder / "coat-rest.json")
    of = rest_named(rest)
    assert of is not None
    assert of.name == "coat"

    def area(garment: Garment) -> float:
        return sum(usable(each).area for each in garment.pieces)

    assert area(rest) < area(COAT) - 100 * 120
    page.click("[data-ref=cut_said] a:has-text('coat-rest.json')")
    page.wait_for_selector("main.found .piece", state="attached")

"""All garments of a folder at once, in a real browser: searched, sorted, asked about, measured, marked as used up."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from browsing import PHONE, Hands
from desk_garments import COAT, SHOT, draw_photo
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.files import content_hash
from salvage.rail.note import used_of

BED_SHEET = Garment("bed sheet", (Piece("sheet", box(0, 0, 1400, 2000), fabric="cotton"),), kind="woven")
APRON = Garment("apron", (Piece("front", box(0, 0, 500, 700)),), kind="denim")
SMALL = 'name = "Pouch"\n[[panel]]\nname = "front"\nsize = [100, 120]\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, demo_images: Path) -> Path:
    made = tmp_path_factory.mktemp("rail")
    draw_photo(made / "coat.jpg")
    shot = replace(SHOT, content=content_hash(made / "coat.jpg"))
    coat = replace(COAT, name="old coat", pieces=tuple(replace(each, photo=shot) for each in COAT.pieces))
    for garment in (coat, BED_SHEET, APRON):
        (made / f"{garment.name}.json").write_text(garment_to_json(garment), encoding="utf-8")
    (made / "pouch.toml").write_text(SMALL)
    shutil.copy(demo_images / "refused-blurred.jpg", made)
    return made


@pytest.fixture
def hands(browser: Any, address: str) -> Any:
    hands = Hands(browser, address, PHONE)
    hands.go("rail", until=".hanger")
    yield hands
    assert not hands.faults
    hands.close()


def names(hands: Hands) -> list[str]:
    return [each.strip() for each in hands.page.locator(".hanger h2").all_inner_texts()]


def found(hands: Hands, *wanted: str) -> None:
    """Wait until these cards are shown, in this order."""
    hands.page.wait_for_function(
        "wanted => JSON.stringify([...document.querySelectorAll('.hanger h2')].map((e) => e.textContent)) === wanted",
        arg=str(list(wanted)).replace("'", '"').replace(", ", ","),
    )


def test_garments_are_searched_sorted_and_shown_with_their_pictures(hands: Hands) -> None:
    page = hands.page
    assert names(hands) == ["bed sheet", "apron", "old coat"]
    page.locator("[data-file='old coat.json'] h2").scroll_into_view_if_needed()
    page.wait_for_selector("[data-file='old coat.json'] img[src^=blob]")
    page.select_option("[name=sort]", "name")
    found(hands, "apron", "bed sheet", "old coat")
    page.select_option("[name=cloth]", "fabric:cotton")
    found(hands, "bed sheet")
    page.select_option("[name=cloth]", "")
    page.fill("[name=width]", "45 cm")
    page.fill("[name=length]", "650")
    found(hands, "apron", "bed sheet")
    page.fill("[name=length]", "nonsense")
    page.wait_for_selector(".notice.bad:has-text('nonsense')")
    page.fill("[name=width]", "")
    page.fill("[name=length]", "")
    page.fill("[name=text]", "COAT")
    found(hands, "old coat")
    page.reload()
    found(hands, "old coat")
    page.fill("[name=text]", "")
    page.select_option("[name=sort]", "area")
    found(hands, "bed sheet", "apron", "old coat")


def test_what_can_be_made_of_a_garment_is_told_project_by_project(hands: Hands) -> None:
    page = hands.page
    page.click("[data-file='apron.json'] >> text=What can I make of it?")
    page.wait_for_selector(".madeline[data-verdict=yes]:has-text('Pouch')", timeout=120_000)
    page.wait_for_selector(".madeline[data-verdict=no]:has-text('Sun hat')")
    page.click(".madeline >> text=Pouch")
    page.wait_for_selector("main.answer [data-verdict=yes]", timeout=60_000)


def test_after_a_no_the_other_garments_are_asked(hands: Hands, folder: Path) -> None:
    (folder / "board.toml").write_text(SMALL.replace("Pouch", "Board").replace("[100, 120]", "[400, 600]"))
    page = hands.page
    hands.go("answer", "old coat.json", "board.toml")
    page.wait_for_selector("[data-verdict=no]", timeout=120_000)
    page.click("text=Which of my other garments would do?")
    page.click("a:has-text('apron')", timeout=60_000)
    page.wait_for_selector("main.answer [data-verdict=yes]", timeout=60_000)


def test_a_garment_is_marked_used_up_and_free_again(hands: Hands, folder: Path) -> None:
    page = hands.page
    page.once("dialog", lambda asked: asked.accept("Pouch"))
    page.click("[data-file='apron.json'] >> text=Used up")
    page.wait_for_selector(".hanger.used:has-text('cut for Pouch')")
    used = used_of(read_garment(folder / "apron.json"))
    assert used is not None
    assert used.purpose == "Pouch"
    page.select_option("[name=used]", "no")
    found(hands, "bed sheet", "old coat")
    page.select_option("[name=used]", "")
    page.click("[data-file='apron.json'] >> text=Not used up after all")
    page.wait_for_selector(".hanger.used", state="detached")
    assert used_of(read_garment(folder / "apron.json")) is None


def test_photographs_are_measured_all_at_once_and_bad_ones_told(hands: Hands) -> None:
    page = hands.page
    page.wait_for_selector("text=One photograph is not measured yet")
    page.fill("[data-ref=side]", "150mm")
    page.click("text=Measure them all")
    page.wait_for_selector(".badlist li:has-text('blurred')", timeout=120_000)
    page.click(".badlist >> text=Look at it")
    page.wait_for_selector("main.photo")

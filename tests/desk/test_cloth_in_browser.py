"""Cloth that isn't one photograph with a square, in a real browser: sizes typed in, another side, a known length."""

from __future__ import annotations

import math
import shutil
from pathlib import Path
from typing import Any

import pytest
from browsing import PHONE, Hands
from desk_garments import COAT, SIZE_PX, draw_photo, px

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import garment_to_json, read_garment
from salvage.cloth.usable import usable

RECORD = "coat.json"
SMALL = 'name = "Pouch"\n[[panel]]\nname = "front"\nsize = [300, 500]\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, demo_images: Path) -> Path:
    made = tmp_path_factory.mktemp("cloth")
    draw_photo(made / "coat.jpg")
    (made / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    (made / "pouch.toml").write_text(SMALL)
    shutil.copy(demo_images / "cut-piece.jpg", made)
    return made


@pytest.fixture
def hands(browser: Any, address: str) -> Any:
    hands = Hands(browser, address, PHONE)
    yield hands
    assert not hands.faults
    hands.close()


def on_ground(garment: Garment, *points: tuple[float, float]) -> list[list[float]]:
    """Places of typed-in cloth, mm, as its plain ground shows them: 40 mm round it, a pixel a millimetre."""
    boxes = [each.outline.bounds for each in garment.pieces if each.photo is None]
    left, top = min(each[0] for each in boxes), max(each[3] for each in boxes)
    return [[x - left + 40, top - y + 40] for x, y in points]


def test_cloth_is_typed_in_drawn_on_and_answered(hands: Hands, folder: Path) -> None:
    page = hands.page
    page.click("text=Type in cloth without a photograph")
    page.fill("[name=name]", "linen remnant")
    page.select_option("[name=kind]", "woven")
    row = page.locator(".partrow").first
    row.get_by_label("Width").fill("600")
    page.click("text=Lay it on the table")
    page.wait_for_selector("[data-ref=said] .wrong:has-text('length is not given')")
    row.get_by_label("Length along the grain").fill("90 cm")
    row.locator("svg").wait_for()
    page.click("text=Lay it on the table")
    page.wait_for_selector("main.found .piece", state="attached")
    record = folder / "linen remnant.json"
    garment = read_garment(record)
    hands.tool("patch", kind="stain", way="ring")
    with hands.saved():
        hands.stroke(*on_ground(garment, (100, 100), (200, 100), (200, 200), (100, 200), (100, 105)))
    (stain,) = read_garment(record).pieces[0].blocked
    assert stain.shape.bounds == pytest.approx((100, 100, 200, 200), abs=5)
    hands.tool("usable", way="ring")
    with hands.saved():
        hands.stroke(*on_ground(garment, (20, 20), (580, 20), (580, 700), (20, 700), (20, 25)))
    drawn = read_garment(record).pieces[0]
    assert drawn.usable is not None
    assert usable(drawn).area == pytest.approx(560 * 680 - 106 * 106, rel=0.02)
    hands.tool("tape")
    for point in on_ground(garment, (0, 300), (600, 300)):
        hands.click(point)
    page.wait_for_function("() => document.querySelector('.say').textContent.includes('±')")
    assert float(page.inner_text(".say").split()[0]) == pytest.approx(600, abs=4)
    hands.tool("look")
    hands.click(on_ground(garment, (400, 400))[0])
    with hands.saved():
        page.click("text=Use all of it again")
    assert read_garment(record).pieces[0].usable is None
    hands.go("answer", record.name, "pouch.toml")
    page.wait_for_selector("[data-verdict=yes]", timeout=120_000)
    assert page.locator(".laid").count() == 1


def test_another_side_is_answered_together_with_the_first(hands: Hands, folder: Path) -> None:
    """The lining, photographed beside squares, becomes pieces of the same garment; the first side stays as it was."""
    page = hands.page
    before = read_garment(folder / RECORD)
    hands.garment()
    page.click("text=Add another side or the lining")
    page.wait_for_selector("h1:has-text('Another side of coat')")
    page.fill("#side", "150mm")
    page.fill("#fabric", "lining")
    page.set_input_files("[data-ref=file]", folder / "cut-piece.jpg")
    page.fill("#fabric", "lining")
    page.wait_for_selector(".stamp.good, .stamp.mindful", timeout=120_000)
    page.click("text=Find the pieces")
    page.wait_for_selector("main.found [data-ref=pictures] button", timeout=120_000)
    after = read_garment(folder / RECORD)
    assert after.pieces[: len(before.pieces)] == before.pieces
    assert {each.fabric for each in after.pieces[len(before.pieces) :]} == {"lining"}
    page.click("text=Picture 2")
    page.wait_for_selector(".board[data-shown='cut-piece.jpg'] .piece", state="attached")


def test_a_known_length_gives_the_scale_where_there_is_no_square(hands: Hands, folder: Path) -> None:
    """The drawn coat has no square beside it; its back is 400 mm long."""
    page = hands.page
    (folder / "coat.json").unlink(missing_ok=True)
    hands.go("photo", "coat.jpg", until=".stamp")
    page.wait_for_selector("[data-ref=known_block][open]")
    page.click("text=Mark its two ends")
    ends = px((150, 5), (150, 395))
    for point in ends:
        hands.click(point)
    page.fill("[data-ref=known]", "390 mm")
    page.click("[data-ref=known_form] button")
    page.wait_for_selector("text=From the length you gave", timeout=120_000)
    page.click("text=Find the pieces")
    page.wait_for_selector("main.found .piece", state="attached", timeout=120_000)
    garment = read_garment(folder / "coat.json")
    (known,) = next(each.photo for each in garment.pieces if each.photo is not None).camera["told"]["known"]
    assert known[4] == 390.0
    assert max(math.dist(known[:2], ends[0]), math.dist(known[2:4], ends[1])) < 0.01 * max(SIZE_PX)
    back = max(garment.pieces, key=lambda each: each.outline.area)
    low_x, low_y, high_x, high_y = back.outline.bounds
    assert max(high_x - low_x, high_y - low_y) == pytest.approx(400, rel=0.1)

"""Cloth that isn't one photograph with a square, in a real browser: sizes typed in, another side, a known length."""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path
from typing import Any

import pytest
from browsing import PHONE, Hands
from desk_garments import COAT, draw_photo

from salvage.cloth.garment import Garment
from salvage.cloth.record.file import garment_to_json, read_garment
from salvage.cloth.usable import usable
from salvage.desk.workers.tasks import _telling
from salvage.errors import UsageError

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
    page.click("text=Keep this cloth")
    page.wait_for_selector("[data-ref=said] .wrong:has-text('length is not given')")
    row.get_by_label("Length along the grain").fill("90 cm")
    row.locator("svg").wait_for()
    page.click("text=Keep this cloth")
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
        hands.stroke(*on_ground(garment, (300, 20), (580, 20), (580, 700), (20, 700), (20, 20), (295, 20)))
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
    page.wait_for_selector(".stamp.good, .stamp.mindful", timeout=120_000)
    page.click("text=Find the pieces")
    page.wait_for_selector("main.found [data-ref=pictures] button", timeout=120_000)
    after = read_garment(folder / RECORD)
    assert after.pieces[: len(before.pieces)] == before.pieces
    assert {each.fabric for each in after.pieces[len(before.pieces) :]} == {"lining"}
    page.click("text=Picture 2")
    page.wait_for_selector(".board[data-shown='cut-piece.jpg'] .piece", state="attached")


def test_a_known_length_gives_the_scale_where_no_square_does(
    hands: Hands, folder: Path, demo_images: Path
) -> None:
    """Nobody says how large the squares are, but how far a corner of one is from a corner of the other."""
    shutil.copy(demo_images / "cut-piece.jpg", folder / "piece.jpg")
    one, other = json.loads((demo_images / "cut-piece.truth.json").read_text())["squares"]
    ends = one["corners_px"][0], other["corners_px"][2]
    length = math.dist(one["corners"][0], other["corners"][2])
    page = hands.page
    hands.go("photo", "piece.jpg", until=".stamp")
    page.fill("#side", "")
    page.press("#side", "Enter")
    page.wait_for_selector("[data-ref=known_block][open]", timeout=60_000)
    page.click("text=Mark its two ends")
    for end in ends:
        hands.click(end)
    page.fill("[data-ref=known]", f"{length / 10:.1f} cm")
    page.click("[data-ref=known_form] button")
    page.wait_for_selector("text=From the length you gave", timeout=60_000)
    page.wait_for_selector("text=Find the pieces")


def test_what_is_told_of_a_known_length_is_read_or_refused_in_words() -> None:
    told = _telling("", {"known": [[10, 20, 400, 20, "60 cm"]]})
    assert told.known[0].row == [10, 20, 400, 20, 600.0]
    for row, said in (
        ([10, 20, 12, 20, "60 cm"], "pixels apart and need 40"),
        ([10, 20, 400, 20, "5 mm"], "no length"),
    ):
        with pytest.raises(UsageError, match=said):
            _telling("", {"known": [row]})

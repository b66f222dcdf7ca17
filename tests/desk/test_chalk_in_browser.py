"""Every chalk action in a real browser, with mouse, finger, pen and keys; after each the record is read by Python."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import PHONE, Hands
from desk_garments import COAT, draw_photo, px

from salvage.cloth.garment import Blocked, BlockedKind, FoundBy, Garment
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable

RECORD = "coat.json"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("desk")
    draw_photo(made / "coat.jpg")
    return made


@pytest.fixture(scope="module")
def laptop(browser: Any, address: str, folder: Path) -> Iterator[Hands]:
    (folder / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    hands = Hands(browser, address)
    yield hands
    assert not hands.faults
    hands.close()


@pytest.fixture
def record(folder: Path) -> Path:
    """The record as it was at first."""
    (folder / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    return folder / RECORD


@pytest.fixture
def hands(laptop: Hands, record: Path) -> Hands:
    laptop.go("")
    laptop.garment()
    laptop.take_over()
    return laptop


def drawn(record: Path) -> list[Blocked]:
    """What a person drew into the record."""
    garment = read_garment(record)
    return [each for piece in garment.pieces for each in piece.blocked if each.found_by is FoundBy.PERSON]


def names(record: Path) -> list[str]:
    return [each.name for each in read_garment(record).pieces]


def area(garment: Garment, name: str) -> float:
    return usable(next(each for each in garment.pieces if each.name == name)).area


def test_a_garment_is_called_otherwise(hands: Hands, record: Path) -> None:
    hands.page.once("dialog", lambda asked: asked.accept(" Anna's blue coat "))
    with hands.saved():
        hands.page.click("text=Call it otherwise")
    assert read_garment(record).name == "Anna's blue coat"
    assert hands.page.inner_text("h1") == "Anna's blue coat"


def test_a_field_that_was_refused_shows_what_is_kept(hands: Hands, record: Path) -> None:
    hands.page.click("[data-ref=pieces_block] summary")
    hands.page.click("[data-key='piece 0']")
    layers = hands.page.locator("[data-ref=picked] input[type=number]").first
    layers.fill("99")
    layers.press("Enter")
    hands.page.wait_for_selector(".notice.bad:has-text('1 to 20')")
    hands.page.wait_for_function(
        "() => document.querySelector('[data-ref=picked] input[type=number]').value === '1'"
    )
    assert read_garment(record).pieces[0].layers == 1


# --- lines and patches ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["seam", "hem", "closure"])
def test_a_line_is_drawn_by_hand(hands: Hands, record: Path, kind: str) -> None:
    hands.tool("line", kind=kind)
    with hands.saved():
        hands.stroke(*px((40, 300), (100, 310), (160, 300)))
    (line,) = drawn(record)
    assert line.kind == BlockedKind(kind)
    low_x, low_y, high_x, high_y = line.shape.bounds
    assert (low_x, high_x) == pytest.approx((40, 160), abs=4)
    assert (low_y, high_y) == pytest.approx((300, 310), abs=5)


def test_a_line_is_tapped_point_by_point_and_done(hands: Hands, record: Path) -> None:
    hands.tool("line", kind="seam")
    for point in px((40, 300), (100, 300), (160, 330)):
        hands.click(point)
    with hands.saved():
        hands.page.click(".options >> text=Done")
    (line,) = drawn(record)
    assert len(line.shape.coords) >= 3


def test_a_seam_right_across_parts_the_piece(hands: Hands, record: Path) -> None:
    hands.tool("line", kind="seam")
    with hands.saved():
        hands.stroke(*px((-30, 300), (150, 300), (330, 300)))
    assert len(names(record)) == 4


@pytest.mark.parametrize(
    ("kind", "blocked"), [("pocket", "pocket"), ("stain", "worn"), ("worn", "worn"), ("other", "other")]
)
def test_a_patch_is_drawn_round(hands: Hands, record: Path, kind: str, blocked: str) -> None:
    hands.tool("patch", kind=kind, way="ring")
    with hands.saved():
        hands.stroke(*px((60, 100), (120, 100), (120, 160), (60, 160), (60, 105)))
    (patch,) = drawn(record)
    assert patch.kind == BlockedKind(blocked)
    assert patch.shape.area == pytest.approx(3600, rel=0.15)


def test_a_patch_is_rubbed_with_a_brush(hands: Hands, record: Path) -> None:
    hands.tool("patch", kind="stain", way="brush")
    with hands.saved():
        hands.stroke(*px((60, 250), (140, 250)))
    (patch,) = drawn(record)
    low_x, low_y, high_x, high_y = patch.shape.bounds
    assert high_x - low_x > 80 + (high_y - low_y) * 0.8


def test_a_sound_patch_clears_what_was_found(hands: Hands, record: Path) -> None:
    before = area(read_garment(record), "back")
    hands.tool("clear", way="ring")
    with hands.saved():
        hands.stroke(*px((185, 185), (255, 185), (255, 255), (185, 255), (185, 190)))
    after = read_garment(record)
    assert not [each for each in after.pieces[0].blocked if each.what == "stain"]
    assert area(after, "back") > before


# --- marks ------------------------------------------------------------------------------------------------


def number_of(record: Path, what: str) -> int:
    return next(each.number for each in read_garment(record).pieces[0].blocked if each.what == what)


def test_a_mark_is_tapped_and_taken_out(hands: Hands, record: Path) -> None:
    hands.click(px((220, 220))[0])
    with hands.saved():
        hands.page.click(".picked-card >> text=Not there")
    after = read_garment(record)
    assert not [each for each in after.pieces[0].blocked if each.what == "stain"]
    assert after.pieces[0].cleared


def test_a_mark_is_of_another_kind(hands: Hands, record: Path) -> None:
    hands.click(px((220, 220))[0])
    with hands.saved():
        hands.page.select_option(".picked-card select", "pocket")
    assert [each.kind for each in drawn(record)] == [BlockedKind.POCKET]


def test_a_mark_is_drawn_again(hands: Hands, record: Path) -> None:
    hands.click(px((220, 220))[0])
    hands.page.click(".picked-card >> text=Draw it again")
    hands.page.check(".options input[value=ring]", force=True)
    with hands.saved():
        hands.stroke(*px((205, 205), (235, 205), (235, 232), (205, 232), (205, 207)))
    (patch,) = drawn(record)
    assert patch.shape.area == pytest.approx(810, rel=0.2)


# --- outlines and pieces ----------------------------------------------------------------------------------


def test_a_point_of_an_outline_is_dragged(hands: Hands, record: Path) -> None:
    hands.tool("edge")
    hands.click(px((60, 475))[0])
    with hands.saved():
        hands.stroke(*px((120, 500), (150, 520)))
    cuff = next(each for each in read_garment(record).pieces if each.name == "cuff")
    assert cuff.outline.bounds[2:] == pytest.approx((150, 520), abs=3)
    assert "outline" in cuff.by_person


def test_a_point_is_added_and_taken_out(hands: Hands, record: Path) -> None:
    hands.tool("edge")
    hands.click(px((60, 475))[0])
    with hands.saved():
        hands.click(px((60, 500))[0])
    count = len(read_garment(record).pieces[2].outline.exterior.coords)
    assert count == 6
    hands.click(px((60, 500))[0])
    with hands.saved():
        hands.page.click(".options >> text=Take the point out")
    assert len(read_garment(record).pieces[2].outline.exterior.coords) == 5


def test_an_edge_is_drawn_anew(hands: Hands, record: Path) -> None:
    hands.tool("redraw")
    hands.click(px((60, 475))[0])
    with hands.saved():
        hands.stroke(*px((0, 450), (140, 450), (140, 520), (0, 520), (0, 455)))
    assert read_garment(record).pieces[2].outline.area == pytest.approx(9800, rel=0.1)


def test_a_piece_is_cut_apart_and_joined_again(hands: Hands, record: Path) -> None:
    hands.tool("split")
    with hands.saved():
        hands.stroke(*px((60, 430), (60, 475), (60, 520)))
    assert len(names(record)) == 4
    hands.tool("join")
    hands.click(px((30, 475))[0])
    with hands.saved():
        hands.click(px((90, 475))[0])
    assert len(names(record)) == 3


def test_the_grain_is_drawn_as_an_arrow(hands: Hands, record: Path) -> None:
    hands.tool("grain")
    with hands.saved():
        hands.stroke(*px((100, 100), (200, 200)))
    assert read_garment(record).pieces[0].grain == pytest.approx(45, abs=2)


def test_a_length_is_measured_between_two_taps(hands: Hands, record: Path) -> None:
    before = record.read_bytes()
    hands.tool("tape")
    for point in px((0, 100), (300, 100)):
        hands.click(point)
    hands.page.wait_for_function("() => document.querySelector('.say').textContent.includes('±')")
    said = hands.page.inner_text(".say")
    assert float(said.split()[0]) == pytest.approx(300, abs=3)
    assert record.read_bytes() == before


def test_a_piece_is_named_and_told_about(hands: Hands, record: Path) -> None:
    hands.click(px((60, 475))[0])
    for label, value in (
        ("Name", "left cuff"),
        ("Fabric", "lining"),
        ("Layers", "2"),
        ("Grain, degrees", "80"),
    ):
        with hands.saved():
            hands.page.get_by_label(label, exact=True).fill(value)
            hands.page.keyboard.press("Tab")
    with hands.saved():
        hands.page.get_by_label("Nap or print runs one way").check()
    cuff = read_garment(record).pieces[2]
    assert (cuff.name, cuff.fabric, cuff.layers, cuff.grain, cuff.one_way) == (
        "left cuff",
        "lining",
        2,
        80.0,
        True,
    )


def test_a_piece_is_taken_out_and_put_back(hands: Hands, record: Path) -> None:
    hands.click(px((60, 475))[0])
    with hands.saved():
        hands.page.click("text=Take this piece out")
    assert names(record) == ["back", "side"]
    hands.page.click("summary:has-text('Taken out')")
    with hands.saved():
        hands.page.click("text=Put back")
    assert names(record) == ["back", "side", "cuff"]


@pytest.mark.parametrize("tool", ["cloth", "floor"])
def test_a_stroke_over_cloth_or_floor_is_kept_and_the_finder_runs(
    hands: Hands, record: Path, tool: str
) -> None:
    """What it finds in this drawn photograph, without a square, is not the question here."""
    hands.tool(tool)
    with hands.saved():
        hands.stroke(*px((100, 100), (150, 120)))
    hands.page.wait_for_selector(".bar", state="attached")
    hands.page.wait_for_selector(".bar", state="detached", timeout=120_000)
    (hints,) = read_garment(record).hints
    assert len(hints.cloth if tool == "cloth" else hints.floor) == 1


# --- undo, and whatever happens -----------------------------------------------------------------------------


def test_undo_and_redo_with_keys_and_buttons(hands: Hands, record: Path) -> None:
    before = read_garment(record)
    hands.tool("patch", kind="stain", way="ring")
    for x in (40, 100):
        with hands.saved():
            hands.stroke(*px((x, 100), (x + 30, 100), (x + 30, 130), (x, 130), (x, 103)))
    after = read_garment(record)
    for _ in range(2):
        with hands.saved():
            hands.page.keyboard.press("Control+z")
    assert read_garment(record) == before
    for _ in range(2):
        with hands.saved():
            hands.page.click("[data-tool=redo]")
    assert read_garment(record) == after
    hands.page.reload()
    hands.page.wait_for_selector(".screen[data-revision] .piece", state="attached")
    with hands.saved():
        hands.page.click("[data-tool=undo]")
    assert len(drawn(record)) == 1


def test_a_reload_loses_nothing(hands: Hands, record: Path) -> None:
    hands.tool("line", kind="hem")
    with hands.saved():
        hands.stroke(*px((40, 300), (160, 300)))
    hands.page.reload()
    hands.page.wait_for_selector(".mark.person", state="attached")
    assert len(drawn(record)) == 1


def test_a_second_tab_is_told_and_takes_over(hands: Hands, record: Path) -> None:
    other = hands.context.new_page()
    other.goto(hands.page.url)
    other.wait_for_selector("[data-ref=held]:not([hidden])")
    assert other.locator(".chalkbar [data-tool=line]").is_disabled()
    other.click("text=Work on it here")
    other.wait_for_selector("[data-ref=held]", state="hidden")
    hands.tool("line", kind="hem")
    hands.stroke(*px((40, 300), (160, 300)))
    hands.page.wait_for_selector("[data-ref=held]:not([hidden])")
    assert drawn(record) == []
    other.close()


def test_what_a_command_changes_meanwhile_is_shown(hands: Hands, record: Path) -> None:
    from salvage.desk.edit.journal import edit

    with hands.saved():
        edit(record, {"do": "set", "piece": 2, "name": "pocket bag"})
    hands.page.wait_for_selector("text=pocket bag", state="attached")


# --- fingers and keys ------------------------------------------------------------------------------------------


def test_a_finger_draws_and_two_bring_it_nearer(browser: Any, address: str, record: Path) -> None:
    hands = Hands(browser, address, PHONE, has_touch=True, is_mobile=True)
    hands.garment()
    hands.take_over()
    hands.page.locator(".board").scroll_into_view_if_needed()
    hands.tool("line", kind="seam")
    touch = hands.context.new_cdp_session(hands.page)

    def fingers(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(places)]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    (a, b) = (hands.on_screen(point) for point in px((40, 300), (240, 300)))
    with hands.saved():
        fingers("touchStart", a)
        for n in range(1, 6):
            fingers("touchMove", (a[0] + (b[0] - a[0]) * n / 5, a[1] + (b[1] - a[1]) * n / 5))
        fingers("touchEnd")
    assert [each.kind for each in drawn(record)] == [BlockedKind.SEAM]
    before = hands.on_screen((700, 700))[0] - hands.on_screen((500, 700))[0]
    x, y = hands.on_screen((700, 700))
    fingers("touchStart", (x - 20, y), (x + 20, y))
    for n in range(1, 6):
        fingers("touchMove", (x - 20 - 8 * n, y), (x + 20 + 8 * n, y))
    fingers("touchEnd")
    after = hands.on_screen((700, 700))[0] - hands.on_screen((500, 700))[0]
    assert after > 2 * before
    assert len(drawn(record)) == 1
    assert not hands.faults
    hands.close()


def test_everything_is_drawn_with_keys_alone(hands: Hands, record: Path) -> None:
    page = hands.page
    page.locator(".chalkbar [data-tool=look]").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert page.get_attribute(".chalkbar [data-tool=line]", "aria-pressed") == "true"
    page.locator(".board").focus()
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    for _ in range(2):
        page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")
    with hands.saved():
        page.keyboard.press("f")
    (line,) = drawn(record)
    assert line.shape.length > 20
    with hands.saved():
        page.keyboard.press("Control+z")
    assert drawn(record) == []
    page.keyboard.press("Escape")
    assert page.get_attribute(".chalkbar [data-tool=look]", "aria-pressed") == "true"


def test_a_screen_that_was_left_before_it_was_ready_takes_no_focus(hands: Hands) -> None:
    page = hands.page
    late: list[Any] = []
    page.route("**/api/folder", lambda route: late.append(route))
    hands.go("")
    hands.garment()
    page.locator(".board").focus()
    title = page.title()
    with page.expect_response("**/api/folder"):
        (waiting,) = late
        waiting.continue_()
    page.unroute("**/api/folder")
    page.wait_for_timeout(100)
    assert page.evaluate("() => document.activeElement.className").startswith("board")
    assert page.title() == title


def test_a_point_of_an_outline_is_moved_with_keys_alone(hands: Hands, record: Path) -> None:
    page = hands.page
    page.locator(".chalkbar [data-tool=edge]").focus()
    page.keyboard.press("Enter")
    page.locator(".board").focus()
    for _ in range(3):  # from the middle of the picture onto the back
        page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Point after").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Shift+ArrowLeft")
    with hands.saved():
        page.keyboard.press("Enter")
    moved = [each.name for each in read_garment(record).pieces if "outline" in each.by_person]
    assert len(moved) == 1


def test_the_wheel_brings_it_nearer_where_the_pointer_is(hands: Hands) -> None:
    at = hands.on_screen((700, 700))
    hands.page.mouse.move(*at)
    hands.page.mouse.wheel(0, -400)
    hands.page.wait_for_timeout(100)
    assert hands.on_screen((700, 700)) == pytest.approx(at, abs=1.5)
    assert hands.on_screen((800, 700))[0] - at[0] > 40

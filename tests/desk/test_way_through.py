"""The job in a real browser, from a photograph to files, and what may go wrong on the way."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from browsing import LAPTOP, PHONE, Hands, served
from desk_garments import COAT, draw_photo, px

from salvage.cloth.garment import Reply
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.project.read import read_project

RECORD, PROJECT = "coat.json", "tool_roll.toml"
SCREENS = (
    ("",),
    ("rail",),
    ("photo",),
    ("photo", "", RECORD),
    ("found", RECORD),
    ("project", RECORD),
    ("answer", RECORD, "small.toml"),
)
SMALL = """name = "Pouch"
seam_allowance = 10
[[panel]]
name = "front"
finished = [80, 100]
[[panel]]
name = "flap"
finished = [60, 40]
grain = "either"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("desk")
    draw_photo(made / "coat.jpg")
    (made / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    (made / "small.toml").write_text(SMALL)
    return made


def test_from_a_photograph_to_a_verdict_and_files(browser: Any, tmp_path: Path, demo_images: Path) -> None:
    """On a telephone's screen: choose a photograph, see it checked and measured, answer a question, choose a project,
    read the verdict, take the files."""
    with served(tmp_path) as address:
        hands = Hands(browser, address, PHONE, has_touch=True, is_mobile=True)
        page = hands.page
        page.set_default_timeout(180_000)
        page.click("a:has-text('Photograph a garment')")
        page.fill("#side", "150mm")
        page.set_input_files("[data-ref=file]", demo_images / "coat-back.jpg")
        page.wait_for_selector(".stamp.good, .stamp.mindful")
        assert page.locator(".square.top").count() == 2
        page.click("text=Find the pieces")
        page.wait_for_selector(".screen[data-revision] .swing")
        record = tmp_path / "coat-back.json"
        asked = read_garment(record).questions[0].number
        count = len(read_garment(record).questions)
        assert page.locator(".swing").count() == min(count, 3)
        page.click("text=Show all")
        assert page.locator(".swing").count() == count
        page.locator(".swing").last.get_by_text("Can't tell").click()
        assert page.locator(".swing").count() == count - 1
        page.click("text=Leave the rest out of use")
        assert page.locator(".swing").count() == 0
        page.click("text=Ask me again")
        assert page.locator(".swing").count() == count
        with hands.saved():
            page.locator(".swing").first.locator(".choices button").nth(1).click()
        answered = next(each for each in read_garment(record).questions if each.number == asked)
        assert answered.answer is Reply.NO
        page.click("text=Choose a project")
        page.click("li:has-text('Tool roll') >> text=Ask: can it be cut?")
        page.wait_for_selector("[data-verdict=yes]")
        assert page.locator(".laid").count() == 3
        page.click("text=Print and keep")
        page.wait_for_selector(".files li")
        with page.expect_download() as saved:
            page.locator(".files li:has-text('to print') >> text=Save").click()
        assert Path(saved.value.path()).read_bytes().startswith(b"%PDF")
        page.go_back()
        page.wait_for_selector("main.answer .verdict")
        page.go_back()
        page.wait_for_selector("main.project")
        page.go_back()
        page.wait_for_selector(".screen[data-revision] .piece", state="attached")
        assert (
            next(each for each in read_garment(record).questions if each.number == asked).answer is Reply.NO
        )
        assert not hands.faults
        hands.close()
    names = {path.name for path in tmp_path.iterdir()}
    assert {"coat-back.jpg", "coat-back.json", "tool_roll.toml", "coat-back-tool_roll.pdf"} <= names


def test_a_project_is_typed_as_a_table_and_drawn(browser: Any, address: str, folder: Path) -> None:
    hands = Hands(browser, address)
    page = hands.page
    hands.go("project", RECORD)
    page.click("text=Type in a project")
    page.fill("[data-field=name]", "Key pouch")
    row = page.locator(".partrow").first
    row.get_by_label("Width").fill("60")
    row.get_by_label("Length").fill("9 cm")
    row.locator("svg").wait_for()
    page.wait_for_function("() => document.querySelector('.partrow .size').textContent.includes('80 × 110')")
    page.click("text=Add a strap")
    strap = page.locator(".partrow").nth(1)
    for label, value in (("Name", "loop"), ("Width", "15"), ("Length", "120")):
        strap.get_by_label(label, exact=True).fill(value)
    page.wait_for_function("() => document.querySelectorAll('.partrow')[1].querySelector('svg')")
    page.click("text=Save and ask")
    page.wait_for_selector("[data-verdict]", timeout=120_000)
    made = read_project(folder / "Key pouch.toml")
    assert (made.panels[0].finished, made.strips[0].name) == ((60.0, 90.0), "loop")
    hands.go("project", RECORD)
    page.click("li:has-text('Key pouch') >> text=Change")
    page.locator(".partrow").first.get_by_label("Width").fill("nonsense")
    page.wait_for_selector(".size.wrong")
    assert read_project(folder / "Key pouch.toml") == made
    assert not hands.faults
    hands.close()


def test_a_half_typed_project_outlives_units_a_step_back_and_a_reload(
    browser: Any, address: str, folder: Path
) -> None:
    hands = Hands(browser, address)
    page = hands.page
    width = page.locator(".partrow").first.get_by_label("Width")
    hands.go("project", RECORD)
    page.click("text=Type in a project")
    page.fill("[data-field=name]", "Needle case")
    width.fill("70")
    page.select_option("[data-ref=units]", "cm")
    page.wait_for_selector(".notice:has-text('what you were typing')")
    assert width.input_value() == "70"
    hands.go("found", RECORD)
    page.go_back()
    page.wait_for_selector(".partrow")
    page.reload()
    page.wait_for_selector(".partrow")
    assert width.input_value() == "70"
    page.locator(".partrow").first.get_by_label("Length").fill("90")
    page.dblclick("text=Save and ask")
    page.wait_for_selector("main.answer")
    assert [path.name for path in folder.glob("Needle case*.toml")] == ["Needle case.toml"]
    hands.go("project", RECORD)
    page.wait_for_selector("li:has-text('Needle case')")
    assert page.is_hidden("[data-ref=form]")
    page.select_option("[data-ref=units]", "mm")
    assert not hands.faults
    hands.close()


def test_nothing_to_cut_is_said_in_plain_words(browser: Any, address: str) -> None:
    hands = Hands(browser, address)
    page = hands.page
    hands.go("project", RECORD)
    page.click("text=Type in a project")
    page.click("text=Take out")
    page.wait_for_selector("[data-ref=said]:has-text('nothing to cut yet')")
    page.click("text=Save and ask")
    assert "[[" not in page.inner_text("[data-ref=said]")
    page.click("text=Cancel")
    hands.close()


def test_a_panel_is_dragged_told_why_not_and_pinned(browser: Any, address: str, folder: Path) -> None:
    hands = Hands(browser, address)
    page = hands.page
    hands.go("answer", RECORD, "small.toml")
    page.wait_for_selector("[data-verdict=yes]", timeout=120_000)
    page.wait_for_selector(".bar", state="detached")
    before = page.get_attribute(".laid >> nth=0 >> .fill", "d")
    box = page.locator(".laid").first.bounding_box()
    assert box is not None
    start = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    away = hands.on_screen(px((600, 600))[0])
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*away, steps=6)
    page.wait_for_selector(".laid.wrong", state="attached")
    assert "Not here" in page.inner_text("[data-ref=say]")
    page.mouse.up()
    page.wait_for_selector(".laid.wrong", state="detached")
    assert page.get_attribute(".laid >> nth=0 >> .fill", "d") == before
    assert "Back where it was" in page.inner_text("[data-ref=say]")
    page.mouse.click(*start)
    page.click("text=Pin it here")
    page.wait_for_selector(".laid.pinned", state="attached")
    page.wait_for_selector("main:not(:has(.old)) [data-verdict=yes]", timeout=60_000)
    hands.go("project", RECORD)
    page.go_back()
    page.wait_for_selector(".laid.pinned", state="attached")
    page.click("text=Let all pins go")
    page.wait_for_selector(".laid.pinned", state="detached")
    assert not hands.faults
    hands.close()


def test_after_a_no_what_would_help_is_tried_with_a_tap(browser: Any, address: str, folder: Path) -> None:
    """The cloth is 300 x 400: a panel of 80 x 500 must become shorter, or be pieced; the project stays as it is."""
    (folder / "long.toml").write_text(SMALL.replace("Pouch", "Long pouch").replace("[80, 100]", "[80, 500]"))
    before = (folder / "long.toml").read_bytes()
    hands = Hands(browser, address, PHONE)
    page = hands.page
    hands.go("answer", RECORD, "long.toml")
    page.wait_for_selector("[data-verdict=no]", timeout=120_000)
    way = page.locator(".helps li:has-text('instead of')").first
    way.wait_for(timeout=60_000)
    way.get_by_role("button").click()
    page.wait_for_selector("main.answer [data-verdict=yes]", timeout=120_000)
    assert not (folder / "Long pouch, changed.toml").exists()
    page.click("text=Keep it as a project")
    page.wait_for_selector("text=Keep it as a project", state="detached")
    made = read_project(folder / "Long pouch, changed.toml")
    assert made.panels[0].finished is not None
    assert 300 < made.panels[0].finished[1] < 400
    assert (folder / "long.toml").read_bytes() == before
    assert not hands.faults
    hands.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_keeps_people_from_using_it(browser: Any, address: str, scheme: str) -> None:
    """axe-core finds nothing serious on any screen (WCAG 2.2 A and AA, contrast among them)."""
    from axe_playwright_python.sync_playwright import Axe

    hands = Hands(browser, address, PHONE, color_scheme=scheme)
    found = []
    for screen in SCREENS:
        hands.go(*screen)
        hands.page.wait_for_timeout(600)
        if screen[0] == "answer":
            hands.page.wait_for_selector("[data-verdict]", timeout=120_000)
        told = Axe().run(
            hands.page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]}
        )
        for each in told.response["violations"]:
            if each["impact"] in ("serious", "critical"):
                found.append(
                    (screen[0], each["id"], each["nodes"][0]["target"], each["nodes"][0]["failureSummary"])
                )
    hands.close()
    assert not found


@pytest.mark.parametrize("size", [PHONE, LAPTOP])
def test_every_screen_fits_and_every_target_can_be_hit(
    browser: Any, address: str, size: tuple[int, int]
) -> None:
    """No sideways scrolling, and no button or field under 24 px (WCAG 2.2, 2.5.8)."""
    hands = Hands(browser, address, size)
    small = """() => [...document.querySelectorAll('main a[href], main button, main select, main input, .tape a, .top a')]
        .filter((e) => e.offsetParent && !e.closest('.pill, .drop, .file') && (e.offsetWidth < 24 || e.offsetHeight < 24))
        .map((e) => e.outerHTML.slice(0, 90))"""
    for screen in SCREENS:
        hands.go(*screen)
        hands.page.wait_for_timeout(400)
        wide = hands.page.evaluate("() => document.documentElement.scrollWidth")
        assert wide <= size[0], f"{screen} is {wide} px wide"
        assert hands.page.evaluate(small) == [], screen
    hands.close()


def test_a_bad_photograph_is_refused_on_the_page(browser: Any, address: str, tmp_path: Path) -> None:
    bad = tmp_path / "letter.jpg"
    bad.write_bytes(b"no photograph at all")
    hands = Hands(browser, address)
    hands.go("photo")
    hands.page.set_input_files("[data-ref=file]", bad)
    hands.page.wait_for_selector("[data-ref=notice]:has-text('not a picture')")
    hands.close()


def test_a_name_runs_no_script(browser: Any, address: str, folder: Path) -> None:
    name = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    record = folder / "named.json"
    record.write_text(
        garment_to_json(COAT)
        .replace('"cuff"', '"' + name + '"')
        .replace('"name": "coat"', f'"name": "{name}"')
    )
    hands = Hands(browser, address)
    said: list[str] = []

    def dismiss(dialog: Any) -> None:
        said.append(dialog.message)
        dialog.dismiss()

    hands.page.on("dialog", dismiss)
    hands.go("found", "named.json")
    hands.page.wait_for_selector(".screen[data-revision] h1:has-text('onerror')")
    hands.go("")
    hands.page.wait_for_timeout(300)
    record.unlink()
    assert said == []
    hands.close()


def test_without_the_address_nothing_is_shown(browser: Any, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(address.split("#")[0])
    page.wait_for_selector("[data-ref=notice]:not([hidden])")
    assert page.locator("main > .screen").count() == 0
    context.close()


# --- the command itself -------------------------------------------------------------------------------


def started(folder: Path, *more: str) -> tuple[subprocess.Popen[str], str]:
    """`salvage chalk` as a person starts it; gives the process and the address that it prints."""
    command = [
        sys.executable,
        "-P",  # the package that is installed, not the folder that the tests stand in
        "-c",
        "from salvage.commands.main import main; main()",
        "chalk",
        str(folder),
        "--no-browser",
        *more,
    ]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=dict(os.environ)
    )
    assert process.stdout is not None
    for line in process.stdout:
        if match := re.search(r"http://127\.0\.0\.1:\d+/#\S+", line):
            return process, match[0]
    raise AssertionError("no address")


def test_a_killed_server_has_lost_nothing(browser: Any, tmp_path: Path) -> None:
    draw_photo(tmp_path / "coat.jpg")
    (tmp_path / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    process, address = started(tmp_path)
    try:
        hands = Hands(browser, address)
        hands.garment()
        hands.tool("patch", kind="stain", way="ring")
        with hands.saved():
            hands.stroke(*px((40, 100), (80, 100), (80, 140), (40, 140), (40, 105)))
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert len(read_garment(tmp_path / RECORD).pieces[0].blocked) == len(COAT.pieces[0].blocked) + 1
    hands.stroke(*px((140, 100), (180, 100), (180, 140), (140, 140), (140, 105)))
    hands.page.wait_for_selector("[data-ref=notice]:has-text('does not answer')")
    process, address = started(tmp_path)
    try:
        hands.page.goto(address)
        hands.page.wait_for_selector("main.shelf .garments a")
        hands.garment()
        hands.page.wait_for_selector(".mark.person", state="attached")
        with hands.saved():
            hands.page.click("[data-tool=undo]")
        assert len(read_garment(tmp_path / RECORD).pieces[0].blocked) == len(COAT.pieces[0].blocked)
        hands.close()
    finally:
        process.kill()
        process.wait()


def test_a_busy_port_and_a_closed_folder_are_told_in_the_terminal(tmp_path: Path) -> None:
    import socket

    from typer.testing import CliRunner

    from salvage.commands.main import app

    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        told = CliRunner().invoke(app, ["chalk", str(tmp_path), "--no-browser", "--port", str(port)])
    assert told.exit_code == 4
    assert f"port {port} is busy" in told.stderr
    file = tmp_path / "file"
    file.write_text("")
    told = CliRunner().invoke(app, ["chalk", str(file), "--no-browser"])
    assert told.exit_code == 2
    assert "is a file" in told.stderr

"""A browser over the page: a server in this process, and hands that draw in pixels of the photograph."""

from __future__ import annotations

import re
import shutil
import socket
import threading
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

ARGUMENTS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
PHONE, LAPTOP = (360, 740), (1366, 768)
Point = Sequence[float]


@contextmanager
def chromium() -> Iterator[Any]:
    """A running browser; skips, and says so among the warnings, where there is none."""
    place = next(
        (
            found
            for name in ("chromium", "chromium-browser", "google-chrome")
            if (found := shutil.which(name))
        ),
        None,
    )
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        place = None
    if place is None:
        warnings.warn(
            "NO BROWSER: the tests of the page in a browser were skipped. Install Debian's chromium.",
            stacklevel=2,
        )
        pytest.skip("needs Chromium and playwright")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=place, args=list(ARGUMENTS))
        yield browser
        browser.close()


@contextmanager
def served(folder: Path, *, ahead: bool = False) -> Iterator[str]:
    """The page of a folder, served in this process; gives its address. ahead: as for a person, the workers load at once."""
    import uvicorn

    from salvage.desk.desk import Desk
    from salvage.desk.serving.guard import Keys
    from salvage.desk.serving.server import make_app
    from salvage.desk.shelf import Shelf

    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen(64)
    port = listener.getsockname()[1]
    keys = Keys()
    shelf = Shelf(folder)
    app = make_app(shelf, keys, [f"127.0.0.1:{port}"], Desk(shelf, ahead=ahead))
    server = uvicorn.Server(uvicorn.Config(app, log_level="critical", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{port}/#{keys.new_key()}"
    server.should_exit = True
    thread.join(5.0)


class Hands:
    """A person before the page. faults: what the browser complained of (scripts, the content policy)."""

    def __init__(self, browser: Any, address: str, size: tuple[int, int] = LAPTOP, **more: Any) -> None:
        self.context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
        self.page = self.context.new_page()
        self.page.set_default_timeout(30_000)
        self.faults: list[str] = []
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on(
            "console", lambda said: self.faults.append(said.text) if "Content Security" in said.text else None
        )
        self.address = address
        self.page.goto(address)
        self.page.wait_for_selector("main > .screen")

    def go(self, *parts: str, until: str = ".screen") -> None:
        """Open a screen by its address behind #."""
        self.page.evaluate("where => { location.hash = where }", "#/" + "/".join(parts))
        self.page.wait_for_selector(f"main.{parts[0] or 'shelf'} {until}")

    def garment(self, record: str = "coat.json") -> None:
        self.go("found", record, until=".board")
        self.page.wait_for_selector(".screen[data-revision] .piece", state="attached")

    def take_over(self) -> None:
        """Have the garment to oneself: a window that another test closed may hold it for some seconds."""
        if self.page.is_visible("[data-ref=held]"):
            self.page.click("text=Work on it here")
            self.page.wait_for_selector("[data-ref=held]", state="hidden")

    def tool(self, name: str, **options: str) -> None:
        """Take a tool, and choose among what it offers: kind="hem", way="brush"."""
        self.page.click(f".chalkbar [data-tool={name}]")
        for key, value in options.items():
            self.page.check(f".options input[name={key}][value={value}]", force=True)

    def revision(self) -> str:
        return str(self.page.get_attribute(".screen", "data-revision"))

    @contextmanager
    def saved(self) -> Iterator[None]:
        """What is done inside changes the record, and the page shows it."""
        before = self.revision()
        yield
        self.page.wait_for_function(
            "was => document.querySelector('.screen').dataset.revision !== was", arg=before
        )

    # --- in pixels of the photograph --------------------------------------------------------------------

    def on_screen(self, point: Point) -> tuple[float, float]:
        move = self.page.get_attribute(".board svg.over > g", "transform")
        left, top, scale = map(float, re.findall(r"-?\d[\d.]*(?:e-?\d+)?", move or ""))
        box = self.page.locator(".board").bounding_box()
        assert box is not None
        return box["x"] + left + point[0] * scale, box["y"] + top + point[1] * scale

    def click(self, point: Point) -> None:
        self.page.mouse.click(*self.on_screen(point))

    def stroke(self, *points: Point) -> None:
        """Press at the first point, draw along the others, let go."""
        self.page.mouse.move(*self.on_screen(points[0]))
        self.page.mouse.down()
        for point in points[1:]:
            self.page.mouse.move(*self.on_screen(point), steps=4)
        self.page.mouse.up()

    def close(self) -> None:
        self.context.close()

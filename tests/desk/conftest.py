"""A folder with a small garment, its photograph drawn, and the server over it, asked without a browser or with one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import chromium, served
from desk_garments import COAT, PHOTO, draw_photo
from starlette.testclient import TestClient

from salvage.cloth.record.write import garment_to_json
from salvage.desk.desk import Desk
from salvage.desk.serving.guard import Keys
from salvage.desk.serving.server import make_app
from salvage.desk.shelf import Shelf

HOST = "127.0.0.1:8617"
RECORD = "coat.json"
PROJECT = "tool_roll.toml"


@pytest.fixture
def shelf(tmp_path: Path, projects: Path) -> Shelf:
    """A folder with one garment, its photograph and one project."""
    (tmp_path / RECORD).write_text(garment_to_json(COAT), encoding="utf-8")
    draw_photo(tmp_path / PHOTO)
    shutil.copy(projects / PROJECT, tmp_path / PROJECT)
    return Shelf(tmp_path)


@pytest.fixture
def keys() -> Keys:
    return Keys()


@pytest.fixture
def stranger(shelf: Shelf, keys: Keys) -> Iterator[TestClient]:
    """Somebody who knows the server's address and nothing else."""
    desk = Desk(shelf)
    yield TestClient(make_app(shelf, keys, [HOST], desk), base_url=f"http://{HOST}")
    desk.close()


@pytest.fixture
def client(stranger: TestClient, keys: Keys) -> TestClient:
    """The page, come in with a key."""
    given = stranger.post("/api/enter", json={"key": keys.new_key()}).json()["pass"]
    stranger.headers["x-salvage-pass"] = given
    return stranger


@pytest.fixture(scope="package")  # starting one takes seconds, and each test has a window of its own
def browser() -> Iterator[Any]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    """The page over a folder; `folder` is the test file's own."""
    with served(folder) as found:
        yield found

"""What the page can ask for, without a browser: each handler, and that the record is what it should be afterwards."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from desk_garments import px
from PIL import Image
from starlette.testclient import TestClient

from salvage.cloth.garment import BlockedKind, FoundBy
from salvage.cloth.record.file import read_garment
from salvage.desk.desk import Desk
from salvage.desk.serving import server
from salvage.desk.shelf import Shelf
from salvage.desk.workers.process import Job

RECORD = {"record": "coat.json", "tab": "one"}
STAIN = {"do": "stain", "px": px((50, 50), (80, 50), (80, 90), (50, 90))}


def asked(client: TestClient, name: str, told: dict[str, Any], status: int = 200) -> dict[str, Any]:
    answer = client.post(f"/api/{name}", json=told)
    assert answer.status_code == status, answer.text
    found: dict[str, Any] = answer.json()
    return found


def jpeg(size: tuple[int, int] = (640, 480)) -> bytes:
    stream = io.BytesIO()
    Image.effect_noise(size, 40).convert("RGB").save(stream, "JPEG")
    return stream.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that claims to be so large."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


# --- the folder --------------------------------------------------------------------------------------


def test_the_folder_tells_what_lies_in_it(client: TestClient) -> None:
    told = asked(client, "folder", {})
    assert [(each["file"], each["pieces"], each["photos"]) for each in told["garments"]] == [
        ("coat.json", 3, ["coat.jpg"])
    ]
    assert told["photos"] == ["coat.jpg"]
    assert [each["name"] for each in told["projects"]] == ["Tool roll"]
    assert "tool_roll.toml" not in [each["file"] for each in told["samples"]]


def test_a_record_that_cannot_be_read_is_told_and_the_others_are_there(
    client: TestClient, shelf: Shelf
) -> None:
    (shelf.folder / "broken.json").write_text('{"format": ')
    told = asked(client, "folder", {})["garments"]
    assert "not valid JSON" in told[0]["error"]
    assert told[1]["file"] == "coat.json"


def test_side_and_units_are_remembered(client: TestClient) -> None:
    asked(client, "settings", {"side": "6in", "units": "in"})
    assert asked(client, "folder", {})["settings"] == {"side": "6in", "units": "in"}
    assert "not a length" in asked(client, "settings", {"side": "six"}, 400)["error"]


def test_squares_to_print_come_as_a_pdf(client: TestClient, shelf: Shelf) -> None:
    (told,) = asked(client, "squares", {})["files"]
    assert client.get(f"/take/{told['ticket']}/{told['name']}").content.startswith(b"%PDF")
    (shelf.folder / told["name"]).write_bytes(b"somebody's own")
    assert "squares-to-print.pdf" in asked(client, "squares", {}, 422)["error"]


def test_the_check_asks_for_nothing_that_only_a_command_line_can() -> None:
    from salvage.desk.workers.tasks import on_the_page
    from salvage.scale.find import _no_square

    for pointed_at in ((), ((10.0, 20.0),)):
        said = on_the_page(_no_square(None, pointed_at).message)
        assert "--" not in said
        assert "`" not in said
    assert "tap" in said.casefold()


def test_a_bare_side_is_in_the_units_chosen_and_stays_that_long(client: TestClient) -> None:
    asked(client, "settings", {"units": "cm"})
    assert asked(client, "settings", {"side": "15"})["side"] == "15 cm"
    assert asked(client, "settings", {"units": "mm"})["side"] == "15 cm"
    assert asked(client, "settings", {"side": "1 1/2 in"})["side"] == "1 1/2 in"


def test_a_sample_is_laid_into_the_folder_with_its_drawing(client: TestClient, shelf: Shelf) -> None:
    asked(client, "sample", {"project": "saddle_cover.toml"})
    assert (shelf.folder / "saddle_cover.toml").is_file()
    assert asked(client, "project", {"project": "saddle_cover.toml"})["parts"]
    asked(client, "sample", {"project": "../secret.toml"}, 400)


# --- photographs -------------------------------------------------------------------------------------


def test_a_photograph_is_taken_under_a_free_name(client: TestClient, shelf: Shelf) -> None:
    data = jpeg()
    first = client.post("/api/photo", params={"name": "coat.jpg"}, content=data)
    assert first.json() == {"photo": "coat-2.jpg", "known": False}
    assert (shelf.folder / "coat-2.jpg").read_bytes() == data
    again = client.post("/api/photo", params={"name": "other.jpg"}, content=data)
    assert again.json() == {"photo": "coat-2.jpg", "known": True}


@pytest.mark.parametrize(
    "name", ["../../x.jpg", "/etc/x.jpg", "..", "", ".jpg", "a" * 300 + ".jpg", "<img>.jpg"]
)
def test_a_photographs_name_never_leaves_the_folder(client: TestClient, shelf: Shelf, name: str) -> None:
    before = set(shelf.folder.parent.iterdir())
    told = client.post("/api/photo", params={"name": name}, content=jpeg()).json()
    assert (shelf.folder / told["photo"]).is_file()
    assert set(shelf.folder.parent.iterdir()) == before


def test_what_is_no_photograph_is_refused_in_words(client: TestClient, shelf: Shelf) -> None:
    before = sorted(shelf.folder.iterdir())
    answer = client.post("/api/photo", params={"name": "notes.jpg"}, content=b"%PDF-1.4 no picture")
    assert answer.status_code == 422
    assert answer.json()["error"].startswith("notes.jpg: not a picture")
    assert sorted(shelf.folder.iterdir()) == before


def test_a_picture_of_too_many_pixels_is_refused(client: TestClient) -> None:
    for side in (60_000, 12_000):
        answer = client.post("/api/photo", params={"name": "bomb.png"}, content=bomb(side, side))
        assert answer.status_code == 422
        assert "pixels" in answer.json()["error"]


def test_a_file_that_is_too_large_is_refused(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "MOST_BYTES", 1000)
    assert client.post("/api/photo?name=x.jpg", content=b"x" * 1001).status_code == 413
    chunks = (b"x" * 100 for _ in range(20))  # without a length told before
    assert client.post("/api/photo?name=x.jpg", content=chunks).status_code == 413


def test_a_reduced_picture_and_a_part(client: TestClient) -> None:
    whole = client.get("/api/picture", params={"photo": "coat.jpg", "most": 480})
    assert max(Image.open(io.BytesIO(whole.content)).size) == 480
    part = client.get("/api/picture", params={"photo": "coat.jpg", "box": "100,100,300,200", "most": 100})
    assert Image.open(io.BytesIO(part.content)).size == (100, 50)
    outside = client.get(
        "/api/picture", params={"photo": "coat.jpg", "box": "-900,5000,9000,9000", "most": 100}
    )
    assert outside.status_code == 200
    assert client.get("/api/picture", params={"photo": "../x.jpg"}).status_code == 400
    assert client.get("/api/picture", params={"photo": "none.jpg"}).status_code == 422


def test_a_turned_photograph_is_shown_upright(client: TestClient, shelf: Shelf) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned a quarter clockwise
    Image.effect_noise((900, 600), 40).convert("RGB").save(shelf.folder / "turned.jpg", exif=exif)
    assert asked(client, "size", {"photo": "turned.jpg"}) == {"width": 600, "height": 900}
    shown = client.get("/api/picture", params={"photo": "turned.jpg", "most": 480})
    assert Image.open(io.BytesIO(shown.content)).size == (320, 480)


def test_a_photograph_as_phones_write_it(client: TestClient, tmp_path: Path) -> None:
    """HEIC: browsers mostly can't show it, so the page gets it as JPEG."""
    import pillow_heif

    path = tmp_path / "IMG_1.HEIC"
    pillow_heif.from_pillow(Image.effect_noise((1200, 900), 40).convert("RGB")).save(path, quality=60)
    told = client.post("/api/photo", params={"name": "IMG_1.HEIC"}, content=path.read_bytes()).json()
    assert asked(client, "size", told) == {"width": 1200, "height": 900}
    shown = client.get("/api/picture", params={"photo": told["photo"], "most": 480})
    assert Image.open(io.BytesIO(shown.content)).format == "JPEG"


# --- the record ---------------------------------------------------------------------------------------


def test_a_garment_is_told_in_pixels_of_its_photograph(client: TestClient) -> None:
    told = asked(client, "garment", RECORD)
    assert [each["name"] for each in told["pieces"]] == ["back", "side", "cuff"]
    assert told["photos"][0]["file"] == "coat.jpg"
    assert told["photos"][0]["there"] is True
    corner = px((0, 0))[0]
    near = min(abs(x - corner[0]) + abs(y - corner[1]) for x, y in told["pieces"][0]["rings"][0])
    assert near < 0.1
    numbers = [each["number"] for each in told["marks"]] + [each["number"] for each in told["pieces"]]
    assert len(set(numbers)) == len(numbers)


def test_a_change_is_in_the_record_at_once_and_can_be_taken_back(client: TestClient, shelf: Shelf) -> None:
    before = read_garment(shelf.record("coat.json"))
    told = asked(client, "edit", {**RECORD, "action": STAIN})
    drawn = read_garment(shelf.record("coat.json")).pieces[0].blocked[-1]
    assert (drawn.kind, drawn.found_by) == (BlockedKind.WORN, FoundBy.PERSON)
    assert told["undo"]["do"] == "stain"
    told = asked(client, "undo", {**RECORD, "expects": told["revision"]})
    assert read_garment(shelf.record("coat.json")) == before
    asked(client, "redo", {**RECORD, "expects": told["revision"]})
    assert read_garment(shelf.record("coat.json")).pieces[0].blocked[-1].shape.equals(drawn.shape)


def test_what_cannot_be_done_is_told_and_changes_nothing(client: TestClient, shelf: Shelf) -> None:
    before = shelf.record("coat.json").read_bytes()
    assert (
        "no mark 99" in asked(client, "edit", {**RECORD, "action": {"do": "not", "mark": 99}}, 400)["error"]
    )
    assert asked(client, "edit", {**RECORD, "action": {"do": "dance"}}, 400)["error"]
    assert asked(client, "edit", {**RECORD, "action": 3}, 400)["error"]
    assert shelf.record("coat.json").read_bytes() == before


def test_a_change_of_an_old_state_is_refused(client: TestClient) -> None:
    revision = asked(client, "garment", RECORD)["revision"]
    asked(client, "edit", {**RECORD, "action": STAIN, "expects": revision})
    told = asked(client, "edit", {**RECORD, "action": STAIN, "expects": revision}, 409)
    assert told["stale"] is True


def test_a_second_tab_is_told_and_can_take_over(client: TestClient, shelf: Shelf) -> None:
    other = {"record": "coat.json", "tab": "two"}
    assert asked(client, "garment", RECORD)["held"] is False
    assert asked(client, "garment", other)["held"] is True
    before = shelf.record("coat.json").read_bytes()
    assert asked(client, "edit", {**other, "action": STAIN}, 423)["elsewhere"] is True
    assert shelf.record("coat.json").read_bytes() == before
    assert asked(client, "take_over", other)["held"] is False
    assert asked(client, "state", RECORD)["held"] is True
    asked(client, "edit", {**RECORD, "action": STAIN}, 423)
    asked(client, "state", {**other, "leave": True})
    assert asked(client, "state", RECORD)["held"] is False


def test_a_length_has_its_plus_minus(client: TestClient) -> None:
    told = asked(client, "tape", {**RECORD, "photo": "coat.jpg", "px": px((0, 0), (300, 0))})
    assert told["length"] == pytest.approx(300.0, abs=0.5)
    assert told["plus_minus"] > 0
    assert "±" in told["said"]


def test_a_name_of_a_record_is_only_ever_words(client: TestClient, shelf: Shelf) -> None:
    """The page gets it as JSON and sets it as text; the server's own page holds nothing of a record."""
    name = "<img src=x onerror=alert(1)>"
    told = asked(client, "edit", {**RECORD, "action": {"do": "set", "piece": 0, "name": name}})
    assert told["pieces"][0]["name"] == name
    answer = client.post("/api/garment", json=RECORD)
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "onerror" not in client.get("/").text


# --- projects ----------------------------------------------------------------------------------------


def test_each_row_of_a_table_is_drawn_by_itself(client: TestClient) -> None:
    table = {
        "name": "bag", "units": "mm", "sizes": "finished", "seam_allowance": "10",
        "panels": [{"name": "front", "cut": 1, "width": "60", "length": "9 cm"}, {"name": "", "width": "50", "length": ""},
                   {"name": "back", "cut": 1, "width": "sixty", "length": "90"}],
        "strips": [{"name": "tie", "width": "15", "folds": "4", "length": "300"}],
        "parts": [{"kind": "bag", "name": "tote", "measures": {"width": 200, "height": 250, "depth": 60}},
                  {"kind": "lining", "name": "inside", "fabric": "lining", "measures": {"of": "tote"}}],
    }  # fmt: skip
    told = asked(client, "draw", {"table": table})["rows"]
    assert told["panels"][0]["parts"][0]["size"] == "80 × 110 mm"
    assert told["panels"][1] == {"parts": []}
    assert "sixty" in told["panels"][2]["error"]
    assert told["strips"][0]["parts"][0]["strip"] is True
    assert told["parts"][0]["parts"]
    assert {each["fabric"] for each in told["parts"][1]["parts"]} == {"lining"}


def test_a_table_with_a_mistake_is_not_written(client: TestClient, shelf: Shelf) -> None:
    before = sorted(shelf.folder.iterdir())
    table = {"name": "bag", "panels": [{"name": "front", "width": "x", "length": "9"}]}
    assert "front" in asked(client, "save_project", {"table": table}, 422)["error"]
    assert sorted(shelf.folder.iterdir()) == before


def test_a_project_is_changed_in_its_own_file_and_comments_stay(client: TestClient, shelf: Shelf) -> None:
    told = asked(client, "project", {"project": "tool_roll.toml"})
    told["table"]["panels"][0]["width"] = "310"
    asked(client, "save_project", {"table": told["table"], "file": "tool_roll.toml"})
    text = (shelf.folder / "tool_roll.toml").read_text()
    assert "finished = [310, 190]" in text
    assert "# Three panels" in text


# --- errors ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"[" * 100_000, b'"x"', b"\xff\xfe"])
def test_what_is_no_question_is_refused(client: TestClient, body: bytes) -> None:
    answer = client.post("/api/folder", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 400


@pytest.mark.parametrize(
    "name", ["garment", "edit", "undo", "state", "tape", "measure", "check", "project", "drag"]
)
def test_a_question_that_lacks_something_is_no_crash(client: TestClient, name: str) -> None:
    assert 400 <= client.post(f"/api/{name}", json={}).status_code < 500


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("measure", {"photo": "coat.jpg", "known": [[]]}),
        ("tape", {"record": "coat.json", "px": [[1, 2], 5]}),
        ("draw", {"table": 5}),
        ("save_project", {"table": "bag"}),
    ],
)
def test_a_question_of_another_shape_is_no_crash(client: TestClient, name: str, told: dict[str, Any]) -> None:
    assert asked(client, name, told, 400)["error"]


@pytest.mark.parametrize(
    "path", ["picture?photo=coat.jpg&box=inf,0,1,1", "picture?photo=coat.jpg&most=x", "job/1?seen=x"]
)
def test_an_address_of_another_shape_is_no_crash(
    client: TestClient, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Desk, "job", lambda _, number: Job("check", {}, number))
    assert client.get(f"/api/{path}").status_code == 400


def test_a_folder_that_cannot_be_written_is_told_on_the_page(client: TestClient, shelf: Shelf) -> None:
    """The record is read-only: what was drawn isn't saved, and that is said."""
    path = shelf.record("coat.json")
    path.chmod(0o400)
    try:
        told = asked(client, "edit", {**RECORD, "action": STAIN}, 422)
    finally:
        path.chmod(0o600)
    assert "read-only" in told["error"]


def test_a_full_disk_is_told_on_the_page(
    client: TestClient, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    import os

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    before = shelf.record("coat.json").read_bytes()
    monkeypatch.setattr(os, "fsync", full)
    told = asked(client, "edit", {**RECORD, "action": STAIN}, 422)
    assert "No space left" in told["error"]
    assert shelf.record("coat.json").read_bytes() == before
    picture = shelf.photo("coat.jpg").read_bytes() + b"another"
    taken = client.post("/api/photo?name=new.jpg", content=picture)
    assert taken.status_code == 422
    assert taken.json()["error"].startswith("new.jpg: can't write there")


def test_an_error_tells_no_path_of_the_machine(client: TestClient, shelf: Shelf) -> None:
    (shelf.folder / "broken.json").write_text('{"format": ')
    for told in (
        asked(client, "garment", {"record": "broken.json", "tab": "one"}, 422),
        asked(client, "project", {"project": "none.toml"}, 422),
    ):
        assert str(shelf.folder) not in told["error"]
        assert told["error"].startswith(("broken.json", "none.toml"))


def test_an_unknown_job_is_told(client: TestClient) -> None:
    assert client.get("/api/job/999999").status_code == 404


def test_the_words_are_the_catalogue(stranger: TestClient) -> None:
    told = stranger.get("/words", headers={"accept-language": "xx, en;q=0.5"}).json()
    assert told["language"] == "en"
    assert told["words"]["app.name"] == "salvage"


def test_scripts_and_styles_are_the_packages_own(stranger: TestClient) -> None:
    assert "text/css" in stranger.get("/static/page.css").headers["content-type"]
    for path in (
        "/static/../desk.py",
        "/static/%2e%2e/desk.py",
        "/static/..%2fdesk.py",
        "/static//etc/passwd",
    ):
        assert stranger.get(path).status_code in (401, 404)

"""No other site can drive the page: who is let in, what is refused, and what a browser is told it may run."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient
from starlette.types import Receive, Scope, Send
from starlette.websockets import WebSocketDisconnect

from salvage.desk.serving.guard import Guard, Keys

ASKS = ("folder", "garment", "edit", "undo", "measure", "save_project", "report", "settings")


@pytest.mark.parametrize("name", ASKS)
def test_nothing_is_told_or_done_without_a_pass(stranger: TestClient, name: str) -> None:
    assert stranger.post(f"/api/{name}", json={}).status_code == 401
    wrong = stranger.post(f"/api/{name}", json={}, headers={"x-salvage-pass": "guessed"})
    assert wrong.status_code == 401


def test_a_photograph_needs_a_pass(stranger: TestClient) -> None:
    assert stranger.get("/api/picture", params={"photo": "coat.jpg"}).status_code == 401
    assert stranger.post("/api/photo?name=x.jpg", content=b"x").status_code == 401


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8617", "127.0.0.1:9", "127.0.0.1", ""])
def test_a_foreign_name_that_leads_here_is_refused(client: TestClient, host: str) -> None:
    assert client.post("/api/folder", json={}, headers={"host": host}).status_code == 421
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1:9", "https://127.0.0.1:8617"]
)
def test_another_origin_is_refused_even_with_a_pass(client: TestClient, origin: str) -> None:
    assert client.post("/api/folder", json={}, headers={"origin": origin}).status_code == 403


def test_the_page_itself_is_let_in(client: TestClient) -> None:
    headers = {"origin": "http://127.0.0.1:8617", "sec-fetch-site": "same-origin"}
    assert client.post("/api/folder", json={}, headers=headers).status_code == 200


def test_what_another_site_embeds_is_refused(client: TestClient) -> None:
    for path in ("/static/app.js", "/words", "/api/job/1"):
        answer = client.get(path, headers={"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"})
        assert answer.status_code == 403
    assert (
        client.get("/", headers={"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}).status_code
        == 200
    )


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_a_form_of_another_site_is_never_read(client: TestClient, kind: str) -> None:
    answer = client.post("/api/settings", content=b'{"units": "in"}', headers={"content-type": kind})
    assert answer.status_code == 415
    assert client.post("/api/folder", json={}).json()["settings"]["units"] == "mm"


def test_no_question_whether_another_site_may_is_ever_answered_with_yes(client: TestClient) -> None:
    headers = {
        "origin": "http://evil.example",
        "access-control-request-method": "POST",
        "access-control-request-headers": "x-salvage-pass",
    }
    answer = client.options("/api/folder", headers=headers)
    assert answer.status_code == 403
    assert not [name for name in answer.headers if name.startswith("access-control")]


def test_the_page_may_run_only_its_own_files(client: TestClient) -> None:
    policy = client.get("/").headers["content-security-policy"]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == rules["style-src"] == rules["connect-src"] == "'self'"
    assert rules["frame-ancestors"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert "unsafe" not in policy


def test_nothing_inline_is_in_the_page(client: TestClient) -> None:
    page = client.get("/").text
    assert " style=" not in page
    assert " onclick" not in page
    assert page.count("<script") == page.count('<script type="module" src="/static/')
    assert "https://" not in page


def test_there_are_no_cookies(client: TestClient, keys: Keys) -> None:
    for answer in (client.get("/"), client.post("/api/enter", json={"key": keys.new_key()})):
        assert "set-cookie" not in answer.headers


def test_a_key_that_opens_once_opens_once() -> None:
    keys = Keys()
    once, often = keys.new_key(once=True), keys.new_key()
    assert keys.enter(once) is not None
    assert keys.enter(once) is None
    assert keys.enter(often) is not None
    assert keys.enter(often) is not None
    assert keys.enter("") is None
    assert not keys.knows("")


def test_a_wrong_key_gives_no_pass(stranger: TestClient) -> None:
    assert stranger.post("/api/enter", json={"key": "guessed"}).status_code == 401
    assert stranger.post("/api/enter", json={}).status_code == 401


def test_a_result_is_fetched_with_its_ticket_only(client: TestClient) -> None:
    told = client.post("/api/files", json={"names": ["coat.json", "missing.pdf"]}).json()["files"]
    assert [each["name"] for each in told] == ["coat.json"]
    ticket = told[0]["ticket"]
    assert client.get(f"/take/{ticket}/coat.json").status_code == 200
    assert client.get(f"/take/{ticket}/tool_roll.toml").status_code == 404
    assert client.get("/take/guessed/coat.json").status_code == 404
    answer = client.get(f"/take/{ticket}/coat.json")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert "sandbox" in answer.headers["content-security-policy"]


def test_only_plain_requests_are_spoken() -> None:
    """A web socket would not be bound by the rules above, so there is none."""

    async def never(scope: Scope, receive: Receive, send: Send) -> None:
        raise AssertionError("reached")

    guard = Guard(never, Keys(), ["127.0.0.1:1"])
    with pytest.raises(WebSocketDisconnect), TestClient(guard).websocket_connect("/api/folder"):
        pass

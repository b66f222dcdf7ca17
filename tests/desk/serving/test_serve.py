"""Addresses and the code that a telephone reads; ports; what is printed."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import segno

from salvage.desk.serving import serve, share
from salvage.errors import SalvageError


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is printed; the server itself isn't run, but its application is made."""
    lines: list[str] = []

    class NoServer:
        def __init__(self, config: Any) -> None:
            lines.append(f"hosts {sorted(config.app.hosts)}")

        def run(self, sockets: list[socket.socket]) -> None:
            lines.append(f"bound {sockets[0].getsockname()[0]}")
            sockets[0].close()

    monkeypatch.setattr(serve.uvicorn, "Server", NoServer)
    return lines


def test_alone_it_is_for_this_machine_only(tmp_path: Path, told: list[str]) -> None:
    serve.serve(tmp_path / "new", share=False, port=None, tell=told.append, show=lambda _: None)
    assert "bound 127.0.0.1" in told
    assert any("http://127.0.0.1:" in line and "/#" in line for line in told)
    assert not any("telephone" in line for line in told)


def test_shared_it_has_an_address_and_a_code_for_a_telephone(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serve, "home_address", lambda: "192.168.7.5")
    serve.serve(tmp_path, share=True, port=None, tell=told.append, show=lambda _: None)
    text = "\n".join(told)
    assert "bound 0.0.0.0" in told
    assert "192.168.7.5:" in text
    assert "opens once" in text
    assert "isn't encrypted" in text
    assert any("192.168.7.5" in line for line in told if line.startswith("hosts"))


def test_without_a_network_sharing_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serve, "home_address", lambda: None)
    with pytest.raises(SalvageError, match="no network"):
        serve.serve(tmp_path, share=True, port=None, tell=print, show=lambda _: None)


def test_the_code_is_read_by_another_library() -> None:
    """OpenCV's reader, which shares nothing with the writer."""
    text = share.address("192.168.7.5", 8617, "Q2x1c3RlcnNvZmtleXM")
    modules = np.array([[bool(cell) for cell in row] for row in segno.make(text, error="l").matrix])
    picture = np.where(np.kron(np.pad(modules, 4), np.ones((8, 8))) > 0, 0, 255).astype(np.uint8)
    read, *_ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert read == text
    assert len(share.code(text).splitlines()) > 10


def test_the_next_port_is_taken_where_the_usual_one_is_busy(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        monkeypatch.setattr(serve, "PORT", busy.getsockname()[1])
        listener = serve._listener("127.0.0.1", None)
        assert listener.getsockname()[1] != busy.getsockname()[1]
        listener.close()

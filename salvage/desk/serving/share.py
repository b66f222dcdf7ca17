"""The addresses under which the page is reached, and the code that a telephone reads one from."""

from __future__ import annotations

import io
import socket

import segno

LOOPBACK = "127.0.0.1"


def home_address() -> str | None:
    """This machine's address in the local network; None without one. Nothing is sent: a datagram socket is only pointed."""
    for away in ("192.0.2.1", "10.255.255.255"):  # RFC 5737 documentation addresses belong to nobody
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((away, 9))
            except OSError:
                continue
            address: str = probe.getsockname()[0]
            if not address.startswith("127.") and address != "0.0.0.0":
                return address
    return None


def address(host: str, port: int, key: str) -> str:
    """Where to open the page. The key stands behind #, which browsers send to nobody."""
    return f"http://{host}:{port}/#{key}"


def code(text: str) -> str:
    """A QR code (ISO/IEC 18004) for a terminal, two rows of it to a line."""
    stream = io.StringIO()
    segno.make(text, error="l").terminal(stream, compact=True, border=2)
    return stream.getvalue()

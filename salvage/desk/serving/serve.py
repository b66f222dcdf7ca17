"""Serving the page until it is stopped."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from salvage.desk.serving.guard import Keys
from salvage.desk.serving.server import make_app
from salvage.desk.serving.share import LOOPBACK, address, code, home_address
from salvage.desk.shelf import open_folder
from salvage.errors import SalvageError, UsageError

PORT = 8617  # where it is free; else the next ones are tried
_NEXT_PORTS = 20
_ANYWHERE = "0.0.0.0"


def serve(
    folder: Path, *, share: bool, port: int | None, tell: Callable[[str], None], show: Callable[[str], object]
) -> None:
    """Serve the page of a folder until Ctrl-C. tell: prints a line; show: opens an address in the browser.

    share: on the local network too. port: None for the usual one or the next free. Raises SalvageError where the
    folder can't be used or the port is busy.
    """
    shelf = open_folder(folder)
    home = home_address() if share else None
    if share and home is None:
        raise SalvageError("--share: this machine is in no network. Join one, or leave --share out.")
    listener = _listener(_ANYWHERE if share else LOOPBACK, port)
    number = listener.getsockname()[1]
    keys, guests = Keys(), None
    hosts = [f"{name}:{number}" for name in (LOOPBACK, "localhost")]
    if number == 80:
        hosts += [LOOPBACK, "localhost"]
    if home is not None:
        hosts.append(f"{home}:{number}")
        guests = address(home, number, keys.new_key(once=True))
    here = address(LOOPBACK, number, keys.new_key())
    tell(f"The page is open at\n\n  {here}\n")
    tell(
        f"It works in {shelf.folder.resolve()}. Nothing leaves this machine. Ctrl-C ends it; everything is saved."
    )
    if guests is not None:
        tell(
            f"\nFor a telephone in the same network (this address opens once):\n\n  {guests}\n\n{code(guests)}"
        )
        tell("Share only in a network that you trust: what is sent there isn't encrypted.")
    config = uvicorn.Config(
        make_app(shelf, keys, hosts), log_level="critical", access_log=False, server_header=False, proxy_headers=False,
        date_header=False, ws="none", timeout_graceful_shutdown=1,
    )  # fmt: skip
    with contextlib.suppress(Exception):
        show(here)
    with contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listener])
    tell("Closed.")


def _listener(host: str, port: int | None) -> socket.socket:
    """A socket that listens. Raises SalvageError saying what to do where it can't."""
    wanted = [port] if port is not None else [*range(PORT, PORT + _NEXT_PORTS), 0]
    for each in wanted:
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # a port that was just given back may be taken again; a busy one never
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, each))
            listener.listen(64)
            return listener
        except OverflowError:
            listener.close()
            raise UsageError(f"--port {each}: a port is a number from 1 to 65535.") from None
        except OSError as error:
            listener.close()
            busy = error.errno == errno.EADDRINUSE
            if port is not None or not busy:
                why = (
                    "is busy: another program, or another page of this one, uses it"
                    if busy
                    else f"can't be used ({error.strerror})"
                )
                raise SalvageError(
                    f"port {each} {why}. Choose another with --port, or leave --port out."
                ) from None
    raise SalvageError("no free port was found. Name one with --port.")

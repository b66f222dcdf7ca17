"""Memory kept by a command that looks at a photograph."""

from __future__ import annotations

import ctypes
import subprocess
import sys

import pytest

from salvage.commands.shared import memory

THREADS = """
import ctypes, sys, threading
from salvage.commands.shared.memory import keep_memory
if "keep" in sys.argv:
    keep_memory()
kept = []
threads = [threading.Thread(target=lambda: kept.append(ctypes.create_string_buffer(100_000))) for _ in range(2)]
for each in threads:
    each.start()
for each in threads:
    each.join()
ctypes.CDLL(None).malloc_stats()
"""


@pytest.mark.skipif(
    sys.platform != "linux" or not hasattr(ctypes.CDLL(None), "malloc_stats"),
    reason="the GNU C library alone tells of its heaps",
)
def test_threads_share_one_heap() -> None:
    def heaps(*told: str) -> int:
        run = subprocess.run(
            [sys.executable, "-P", "-c", THREADS, *told], capture_output=True, text=True, check=True
        )
        return run.stderr.count("Arena ")

    assert heaps("keep") == 1 < heaps()


def test_another_c_library_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory.sys, "platform", "linux")
    monkeypatch.setattr(memory.ctypes, "CDLL", lambda _: object())
    memory.keep_memory()

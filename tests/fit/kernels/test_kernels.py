"""Keeping the compiled search, and the clock that stands still while it is compiled."""

from __future__ import annotations

import ctypes
import logging
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from salvage.fit import clock
from salvage.fit.kernels import cache
from salvage.fit.kernels.packed import pack


def test_code_is_kept_whole_and_read_again(tmp_path: Path) -> None:
    file = tmp_path / "a" / "search.bin"
    assert cache._read(file) is None
    cache._keep(file, b"code")
    assert cache._read(file) == b"code"
    assert [each.name for each in file.parent.iterdir()] == ["search.bin"]


@pytest.mark.parametrize("cut", [0, 10, 35])
def test_code_that_is_damaged_is_not_used(tmp_path: Path, cut: int) -> None:
    file = tmp_path / "search.bin"
    cache._keep(file, b"code")
    file.write_bytes(file.read_bytes()[:cut])
    assert cache._read(file) is None


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="needs owners of files")
def test_code_that_others_could_have_put_there_is_not_used(tmp_path: Path) -> None:
    file = tmp_path / "search.bin"
    cache._keep(file, b"code")
    file.chmod(0o666)
    assert cache._read(file) is None


def test_a_folder_that_cannot_be_written_is_told_and_does_no_harm(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "file").write_text("no folder")
    with caplog.at_level(logging.WARNING):
        cache._keep(tmp_path / "file" / "search.bin", b"code")
    (told,) = caplog.messages
    assert "can't be kept" in told
    assert cache.FOLDER in told


def test_the_clock_stands_still_while_something_is_compiled() -> None:
    wall, begun = time.monotonic(), clock.now()
    with clock.stopped():
        time.sleep(0.2)
    assert time.monotonic() - wall - (clock.now() - begun) == pytest.approx(0.2, abs=0.1)
    assert clock.now() >= begun


def test_arrays_are_packed_one_after_the_other_with_room_behind() -> None:
    floats = {"x": np.arange(3.0), "y": np.ones((2, 2))}
    packed, views = pack(("n", "x", "y", "left", "k"), floats, {"k": np.array([7])}, ({"left": 5}, {}), n=3)
    assert views["y"].shape == (2, 2)
    views["y"][1, 0] = 5.0
    assert packed.f[3 + 2] == 5.0
    words = np.ctypeslib.as_array((ctypes.c_int64 * 8).from_address(packed.address))
    assert words.tolist() == [packed.f.ctypes.data, packed.i.ctypes.data, 0, 3, 0, 3, 7, 0]
    assert len(packed.f) >= 12


def test_what_a_glance_answers_needs_no_compiler() -> None:
    """A fit that is roomy loads neither the compiler nor what it made."""
    code = (
        "import sys\n"
        "from shapely.geometry import box\n"
        "from salvage.fit.layout.decide import decide\n"
        "from salvage.fit.question import Cloth, Question, Shape\n"
        "square = Shape('square', ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0)), count=3)\n"
        "found = decide(Question((Cloth('cloth', box(0, 0, 300, 300)),), (square,), 1.0))\n"
        "assert found.complete\n"
        "print([name for name in ('numba', 'llvmlite') if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

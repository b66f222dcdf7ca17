"""Time and memory of the whole job on a 12-megapixel photograph, as a person runs it.

pytest -m bench tests/bench/test_speed.py -s
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

SALVAGE = Path(sys.executable).with_name("salvage")


def run(*arguments: str | Path) -> tuple[float, float]:
    """Seconds and peak megabytes of one command, children included."""
    begun = time.perf_counter()
    process = subprocess.Popen([str(SALVAGE), *map(str, arguments)], stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    assert os.waitstatus_to_exitcode(status) in (0, 1, 3)
    return time.perf_counter() - begun, usage.ru_maxrss / 1024


@pytest.mark.bench
def test_speed_of_the_whole_job(tmp_path: Path, demo_images: Path, projects: Path) -> None:
    photo, record = demo_images / "coat-back.jpg", tmp_path / "coat.json"
    help_seconds = min(run("--help")[0] for _ in range(5))
    run(
        "fit", photo, projects / "tool_roll.toml", "--side", "150mm", "--out", tmp_path / "warm.html"
    )  # compiles
    ends = ("--from", "900,800", "--to", "2400,850")
    tape_seconds = min(run("tape", photo, "--side", "150mm", *ends)[0] for _ in range(3))
    measure_seconds, measure_mb = run("measure", photo, "--side", "150mm", "--out", record)
    fit_seconds, fit_mb = run("fit", record, projects / "tool_roll.toml", "--out", tmp_path / "fit.html")
    whole_seconds, whole_mb = run(
        "fit", photo, projects / "tool_roll.toml", "--side", "150mm", "--out", tmp_path / "whole.html"
    )
    print(f"\nsalvage --help              {help_seconds:5.2f} s")
    print(f"tape, 12 megapixels         {tape_seconds:5.2f} s")
    print(f"measure, 12 megapixels      {measure_seconds:5.2f} s  {measure_mb:6.0f} MB")
    print(f"fit, report included        {fit_seconds:5.2f} s  {fit_mb:6.0f} MB")
    print(f"photograph to fit report    {whole_seconds:5.2f} s  {whole_mb:6.0f} MB")
    assert help_seconds < 0.6
    assert tape_seconds < 2
    assert whole_seconds < 12
    assert whole_mb < 1500

"""What the package reads beside its modules is installed with it."""

from __future__ import annotations

import tomllib
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
IN_THE_CHECKOUT_ONLY = (
    "*.md",
    "LICENSE",
    "*.pyc",
    "*.nbi",
    "*.nbc",
)  # for who reads the code; what Python leaves there


def test_every_file_beside_the_modules_is_told_to_setuptools() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"][
        "package-data"
    ]
    patterns = [f"{package.replace('.', '/')}/{each}" for package, names in told.items() for each in names]
    there = [path for path in (ROOT / "salvage").rglob("*") if path.is_file() and path.suffix != ".py"]
    data = [path for path in there if not any(fnmatch(path.name, each) for each in IN_THE_CHECKOUT_ONLY)]
    assert len(data) > 20
    lost = [
        name
        for path in data
        if not any(fnmatch(name := path.relative_to(ROOT).as_posix(), each) for each in patterns)
    ]
    assert lost == []

"""What several test folders share: where the outside data lies, if it is there."""

from __future__ import annotations

import os
from pathlib import Path

# Linear algebra on one thread, as `salvage` itself runs it (cli/main.py): on small matrices a second one only waits for the
# first, and waits busily. Before NumPy is loaded, by whatever import; processes that tests start inherit it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from fit_questions import FitQuestions
from hypothesis import settings

# The same examples on every machine: what fails for one fails for all, and what is kept is kept on purpose.
settings.register_profile("fixed", derandomize=True, deadline=None)
settings.load_profile("fixed")

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def shared() -> Path:
    """A folder of photographs and questions with known answers beside the checkout; skips where it is absent."""
    folder = ROOT.parent / "shared"
    if not folder.is_dir():
        pytest.skip("needs the folder ../shared")
    return folder


@pytest.fixture(scope="session")
def demo_images() -> Path:
    return ROOT / "demo_images"


@pytest.fixture(scope="session")
def projects() -> Path:
    return ROOT / "fixtures" / "projects"


@pytest.fixture(scope="session")
def questions(shared: Path) -> FitQuestions:
    """The fit questions with known answers."""
    if not (shared / "fitbench").is_dir():
        pytest.skip("needs the folder ../shared/fitbench")
    return FitQuestions(shared / "fitbench")

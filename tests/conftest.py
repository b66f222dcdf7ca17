"""What several test folders share: where the outside data lies, if it is there."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
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
def questions(shared):  # type: ignore[no-untyped-def]
    """The fit questions with known answers; the module that reads them lies beside this file."""
    if not (shared / "fitbench").is_dir():
        pytest.skip("needs the folder ../shared/fitbench")
    sys.path.insert(0, str(Path(__file__).parent))
    from fit_questions import FitQuestions

    return FitQuestions(shared / "fitbench")

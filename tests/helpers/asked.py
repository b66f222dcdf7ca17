"""Questions on photographs whose answer is known: how an answer counts, and whether its layout lies on the cloth."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

from modules import module_at

from salvage.fit.answer import Verdict


def score(verdict: Verdict, truth: str) -> str:
    """The six counts of the questions' own scoring rule."""
    if verdict in (Verdict.YES, Verdict.YES_WITH_JOINS):
        return "right" if truth == "yes" else "false yes"
    if verdict is Verdict.NO:
        return "right" if truth == "no" else "false no"
    return verdict.value


def layout_checker(folder: Path) -> ModuleType:
    """off_cloth.py of the questions' own folder."""
    return module_at(folder / "off_cloth.py")

"""One catalogue for the server's templates and the page's scripts: nothing is missing, nothing stands in it in vain."""

from __future__ import annotations

import re
from pathlib import Path

import salvage.desk
from salvage.desk.project.table import part_kinds
from salvage.desk.words import catalogue
from salvage.fit.answer import Verdict
from salvage.rail.answer.settle import UNSUITED

DESK = Path(salvage.desk.__file__).parent
SCRIPTS = sorted((DESK / "static").glob("*.js"))
TEMPLATES = sorted((DESK / "templates").rglob("*.html"))
# Keys that are put together from a part that isn't known before: `found.by_` + photo.
_MADE = re.compile(r"[`\"']([a-z]+\.[a-z_]*)(?:\$\{|\" ~)")
_PLAIN = re.compile(r"[\"'`]([a-z]+\.[a-z][a-z_]+)[\"'`]")


def text_of(files: list[Path]) -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def test_every_word_that_is_asked_for_is_there() -> None:
    asked = set(_PLAIN.findall(text_of([*SCRIPTS, *TEMPLATES])))
    parts = {key.split(".")[0] for key in catalogue()}
    missing = {key for key in asked if key.split(".")[0] in parts and key not in catalogue()}
    assert not missing


def test_every_word_is_asked_for() -> None:
    text = text_of([*SCRIPTS, *TEMPLATES, *(DESK / "serving").glob("*.py")])
    plain = set(re.findall(r"[a-z]+\.[a-z_]+|say_[a-z_]+", text))
    made = tuple(set(_MADE.findall(text)))
    idle = [key for key in catalogue() if key not in plain and not key.startswith(made)]
    assert not idle


def keys_of(part: str) -> set[str]:
    return {key.partition(".")[2] for key in catalogue() if key.startswith(f"{part}.")}


def test_there_is_a_word_for_each_verdict_and_no_other() -> None:
    assert keys_of("verdict") == {*map(str, Verdict), UNSUITED}


def test_there_is_a_word_for_each_measure_of_a_part_and_no_other() -> None:
    measures = {key for kind in part_kinds() for key in (*kind["needs"], *kind["may"])} - {"fabrics"}
    answers = {"usual", "bottom_seam", "bottom_fold"}  # what a list of choices may say besides
    assert keys_of("measure") == measures | answers


def test_no_word_is_written_in_the_page_itself() -> None:
    """Text between tags of the templates is of the catalogue: letters outside braces and tags are none of it."""
    assert len(TEMPLATES) > 5
    for path in TEMPLATES:
        text = re.sub(
            r"\{\{.*?\}\}|\{%.*?%\}|<option>\w+</option>",
            "",
            path.read_text(encoding="utf-8"),
            flags=re.DOTALL,
        )
        words = re.findall(r">([^<>]*[A-Za-z]{2}[^<>]*)<", text)
        assert not words, f"{path.name}: {words}"

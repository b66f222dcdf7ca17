"""Options read without typer's own checks come out as typer reads them."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Annotated, Any

import pytest
import typer
from typer.core import TyperCommand
from typer.testing import CliRunner

from salvage.commands.shared.quick import Quick, QuickCommand
from salvage.units import Unit


def read_by(cls: type[TyperCommand], words: list[str]) -> tuple[int, list[Any], str]:
    """Exit status, what the command got, and what was said."""
    app, got = typer.Typer(rich_markup_mode=None), []

    @app.command(cls=cls)
    def run(
        files: list[Path],
        side: str | None = None,
        known: Annotated[list[str] | None, typer.Option()] = None,
        kind: str = "",
        folder: Annotated[Path, typer.Option(exists=True)] = Path(),
        seconds: Annotated[float, typer.Option(min=0.1)] = 10.0,
        seed: int = 0,
        units: Unit | None = None,
        json: bool = False,
    ) -> None:
        got.extend([files, side, known, kind, folder, seconds, seed, units, json])

    result = CliRunner().invoke(app, words)
    return result.exit_code, got, result.output


@pytest.mark.parametrize(
    "options",
    [
        "",
        "--side 150mm --kind wool",
        "--side 15ö",
        "--known 1 --known 2",
        "--seconds 3 --seed 4 --json --units cm",
        "--seconds soon",
        "--seconds 0",
        "--units ell",
        "--folder /",
        "--folder /no/such/folder",
        "--side",
    ],
)
def test_options_are_read_as_typer_reads_them(options: str) -> None:
    words = ["a.json", "b.toml", *options.split()]
    ours, theirs = read_by(QuickCommand, words), read_by(TyperCommand, words)
    assert ours == theirs
    assert (ours[0] == 0) == bool(ours[1])


def test_no_files_is_wrong_usage() -> None:
    assert read_by(QuickCommand, []) == read_by(TyperCommand, [])
    assert read_by(QuickCommand, [])[0] == 2


def test_parameters_of_another_make_are_left_as_they_are() -> None:
    class Other:
        def get_params(self, ctx: Any) -> list[Any]:
            return [SimpleNamespace(name="side")]

    class Command(Quick, Other):
        pass

    assert Command().get_params(None) == [SimpleNamespace(name="side")]

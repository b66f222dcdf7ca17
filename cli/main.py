"""The `salvage` command: registers the commands, turns errors into exit statuses.

Exit status: 0 yes (and any command without a verdict that went well), 1 no, 2 wrong usage, 3 too close or
unsettled, 4 an input that can't be used.
"""

from __future__ import annotations

import functools
import gc
import itertools
import os
import sys
from collections.abc import Callable, Sequence
from typing import Any

import typer
from typer.core import TyperGroup

from salvage import __version__
from salvage.errors import SalvageError, UsageError, shown
from salvage.files import closed

from . import chalk, check, demo, fit, holds, layplan, match, measure, rail, square, tape, template
from .shared import streams
from .shared.options import error_data, print_json, say
from .shared.quick import Quick, QuickCommand
from .shared.status import INTERRUPTED, UNUSABLE, WRONG_USAGE

# Objects made, and rounds, between looks for what is to be thrown away: most of what a command makes it needs, and
# Python's own 700 cost a twentieth of its time.
_LOOKS = (50_000, 10, 10)
# Seconds that one thread may keep Python to itself while another waits for it: the usual 5 ms are longer than most calls
# of OpenCV, after each of which whoever works on a photograph would wait so long for what loads or solves beside it.
_TURN = 0.0005


class _Commands(Quick, TyperGroup):
    """The commands; what the option parser finds wrong is an object too where `--json` was given."""

    _given: Sequence[str] = ()

    def make_context(self, info_name: Any, args: list[str], *rest: Any, **more: Any) -> Any:
        self._given = tuple(args)
        return self._told(super().make_context, info_name, args, *rest, **more)

    def invoke(self, ctx: Any) -> Any:
        return self._told(super().invoke, ctx)

    def _told(self, do: Callable[..., Any], *args: Any, **more: Any) -> Any:
        try:
            return do(*args, **more)
        except Exception as error:  # which class is the parser's own affair; these two it has
            message = getattr(error, "format_message", None)
            options = itertools.takewhile(lambda each: each != "--", self._given)
            if (
                message is not None
                and getattr(error, "exit_code", None) == WRONG_USAGE
                and "--json" in options
            ):
                print_json(error_data(message(), WRONG_USAGE))
            raise


app = typer.Typer(
    cls=_Commands,
    name="salvage",
    help="Can this project be cut from this garment? From a photograph to a yes or a no, and a way to cut it.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"salvage {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version."
    ),
) -> None:
    pass


def with_status(run: Callable[..., int | None]) -> Callable[..., None]:
    """The command, ending with its exit status; errors become one line on standard error, never a traceback."""

    @functools.wraps(run)
    def command(*args: Any, **kwargs: Any) -> None:
        raise typer.Exit(_status_of(run, args, kwargs))

    return command


def _status_of(run: Callable[..., int | None], args: tuple[Any, ...], kwargs: dict[str, Any]) -> int:
    ended = functools.partial(_said, as_json=bool(kwargs.get("json")))
    try:
        return run(*args, **kwargs) or 0
    except UsageError as error:
        return ended(str(error), WRONG_USAGE)
    except SalvageError as error:
        return ended(str(error), UNUSABLE)
    except KeyboardInterrupt:
        return ended("stopped.", INTERRUPTED)
    except PermissionError as error:  # a folder that may not be looked into, mostly
        return ended(str(closed(error.filename or "a file")), UNUSABLE)
    except MemoryError:
        return ended("there is not enough memory for this input. Try a smaller photograph.", UNUSABLE)
    except Exception as error:
        if os.environ.get("SALVAGE_TRACEBACK"):
            raise
        return ended(
            f"something went wrong inside salvage ({type(error).__name__}: {shown(error)}). Files it has written are "
            "whole, no other was touched. Please report it with the command you gave; SALVAGE_TRACEBACK=1 shows "
            "where it happened.",
            UNUSABLE,
        )


def _said(message: str, status: int, *, as_json: bool) -> int:
    say(f"salvage: {message}", aside=True)
    if as_json:
        print_json(error_data(message, status))
    return status


for module in (square, check, tape, measure, chalk, fit, holds, match, rail, template, layplan, demo):
    options = getattr(module, "CONTEXT", None)
    app.command(name=module.NAME, cls=QuickCommand, context_settings=options)(with_status(module.run))


def main() -> None:
    """Entry point of the console script."""
    # Our matrices are small: threads of the linear algebra wait for each other longer than they work.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(*_LOOKS)
    sys.setswitchinterval(_TURN)
    streams.prepare()
    try:
        app()
    finally:
        lost = streams.finish()
        gc.freeze()  # all goes with the process: taking it apart object by object takes a quarter of a second
        if lost:
            raise SystemExit(lost)

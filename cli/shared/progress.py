"""Progress bars on standard error, only where a person watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def steps(total: int) -> Iterator[Callable[[str], None]]:
    """A bar that moves one step each time the given function is called with what happens next."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=total)
        begun = False

        def step(what: str) -> None:
            nonlocal begun
            bar.update(task, description=what, advance=1 if begun else 0)
            begun = True

        yield step


@contextmanager
def share(what: str) -> Iterator[Callable[[float], None]]:
    """A bar for work that tells how far it is, from 0 to 1."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        yield lambda done: bar.update(task, completed=done)

"""Options read without loading what only unusual ones need: typer's checks of values take longer than most commands.

typer (0.29) has no public way to this: every value but a flag goes through a pydantic adapter, also one whose option has
a `parser` or a `click_type`, and building the first adapter loads pydantic, about a quarter of a second. So the reader
that a parameter keeps for itself is replaced here. That leans on two inner names, `get_runtime_param` and
`type_descriptor`; where a version of typer lacks either, nothing is replaced and all is read as ever. tests/cli/test_quick.py
holds both ways to the same values and refusals. It can go once typer reads plain values by itself.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args, get_origin

from typer.core import TyperCommand


class Quick:
    """Beside a class of typer's commands: texts, file names and what was not given are read by itself, all else by
    typer, as ever."""

    def get_params(self, ctx: Any) -> list[Any]:
        """All that the command takes, `--help` among them."""
        params: list[Any] = super().get_params(ctx)  # type: ignore[misc]
        for param in params:
            # In versions of typer that have no such method reading a value costs nothing worth saving.
            whole = getattr(param, "get_runtime_param", None)
            described = getattr(param, "type_descriptor", None)
            if whole is not None and described is not None and not hasattr(param, "quick"):
                param.quick = _Quick(whole, described.annotation, described.parameter_info)
                param.get_runtime_param = lambda quick=param.quick: quick
        return params


class QuickCommand(Quick, TyperCommand):
    """A command whose usual options are read at once."""


class _Quick:
    """Stands where typer has the reader of a parameter's value. whole: gives that reader."""

    def __init__(self, whole: Any, annotation: Any, info: Any) -> None:
        self.whole = whole
        self.several = get_origin(annotation) is list
        self.kind = get_args(annotation)[0] if self.several else annotation
        checked = ("exists", "resolve_path", "path_type", "allow_dash", "parser", "click_type")
        self.plain = not any(getattr(info, name, None) for name in checked)

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """The value of a parameter as the command gets it."""
        if value is None:
            return () if param.multiple or param.nargs == -1 else None
        given = value if self.several and isinstance(value, list | tuple) else [value]
        if not self.plain or not all(self._is_quick(each) for each in given):
            return self.whole().coerce(value, param=param, ctx=ctx)
        read = [self.kind(each) for each in given]
        return read if self.several else read[0]

    def _is_quick(self, value: Any) -> bool:
        if self.kind is Path:
            return isinstance(value, str)
        if self.kind is str:  # letters that are none are refused by the other reader
            return isinstance(value, str) and value.isascii()
        return self.kind in (int, float) and type(value) is self.kind  # a default of ours

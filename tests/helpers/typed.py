"""The commands as a person types them, in this process; the parser is built once, not for each of a thousand commands."""

from __future__ import annotations

import os
from unittest.mock import patch

from typer import testing
from typer.main import get_command

from salvage.commands.main import app

_COMMAND = get_command(app)


def salvage(*arguments: str | os.PathLike[str]) -> testing.Result:
    """What the command line answers; no traceback is ever shown."""
    with patch.object(testing, "_get_command", return_value=_COMMAND):
        done = testing.CliRunner().invoke(app, [os.fspath(each) for each in arguments])
    assert "Traceback" not in done.output, done.output
    return done

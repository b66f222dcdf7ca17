"""What a command ends with, for scripts that call it."""

from __future__ import annotations

DONE = 0  # and a yes, with joins too
NO = 1  # proven; of many, nothing can be made
WRONG_USAGE = 2
OPEN = 3  # too close, or unsettled
UNUSABLE = 4  # an input can't be used
INTERRUPTED = 130  # by Ctrl-C, as a shell has it

"""What a recheck may cost, and how it gives up.

Tolerances all err to the side of doubt: shapes are taken in by SLACK before anything is concluded from
them, which is more than a proof's cloth may lack of the true one (COVERS) and far more than rounding moves
a point (about 1e-11 mm). Shapely's predicates (covers, intersects) are exact for the coordinates they get.
"""

from __future__ import annotations

import time
from collections.abc import Callable

SLACK = 1e-3  # mm
COVERS = 4e-4  # mm


class Doubt(Exception):
    """The proof is not accepted; the text says what could not be confirmed."""


class Limit:
    """Ends a recheck that takes too long: by tests made, and by seconds where they are given."""

    def __init__(
        self, seconds: float | None, tests: int = 4_000_000, stop: Callable[[], bool] | None = None
    ) -> None:
        self.until = None if seconds is None else time.monotonic() + seconds
        self.tests, self.stop = tests, stop

    def spend(self, tests: int) -> None:
        """Count tests; raises Doubt when there are no more, or time is up."""
        self.tests -= tests
        late = self.until is not None and time.monotonic() > self.until
        if self.tests < 0 or late or (self.stop is not None and self.stop()):
            raise Doubt("it took too long to confirm")

"""What the tests of the commands share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="module")
def looked_once() -> Iterator[None]:
    """Where measuring isn't the point: what was seen in a photograph before isn't looked for again."""
    from looked_once import looked_once

    with looked_once():
        yield

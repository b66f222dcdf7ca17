"""What the tests of scale share: scenes made of numbers only."""

from __future__ import annotations

import pytest
from made_scene import At, MakeScene, MakeWaves, make_scene, make_waves, place_at


@pytest.fixture(scope="session")
def scene() -> MakeScene:
    """Make a scene; see `make_scene`."""
    return make_scene


@pytest.fixture(scope="session")
def at() -> At:
    """Floor point seen at a share of the picture's width and height."""
    return place_at


@pytest.fixture(scope="session")
def waves() -> MakeWaves:
    """Make what a lens does beyond the camera's numbers; see `make_waves`."""
    return make_waves

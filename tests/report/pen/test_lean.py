"""matplotlib loaded without the manual that it writes for itself."""

from __future__ import annotations

import pytest
from matplotlib.artist import Artist

from salvage.report.pen import lean  # noqa: F401  it does its work as it is loaded


def test_an_artist_made_afterwards_has_no_manual_and_is_set_as_ever() -> None:
    class Mine(Artist):
        pass

    mine = Mine()
    mine.set(alpha=0.25, zorder=7)
    assert (mine.get_alpha(), mine.get_zorder()) == (0.25, 7)
    assert not Mine.set.__doc__
    with pytest.raises(AttributeError, match="colour"):
        mine.set(colour="red")

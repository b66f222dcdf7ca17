from __future__ import annotations

import pytest

from salvage.cloth.garment import BlockedKind
from salvage.errors import UsageError
from salvage.trade.cautions import (
    ALWAYS,
    CHILDREN,
    CHILDREN_CORDS,
    PROTECTIVE,
    PROTECTIVE_LOADS,
    STAINS,
    cautions_for,
)
from salvage.trade.kinds import KINDS, kind_named
from salvage.trade.margins import MARGIN


def test_every_kind_of_blocked_area_has_a_margin() -> None:
    assert set(MARGIN) == set(BlockedKind)


def test_only_padded_and_quilted_do_not_suit_and_say_why() -> None:
    assert {name for name, kind in KINDS.items() if not kind.suits} == {"padded", "quilted"}
    assert "filling" in kind_named("quilted").why_not


def test_an_unknown_kind_lists_the_known_ones() -> None:
    with pytest.raises(UsageError, match="denim"):
        kind_named("dennim")
    assert kind_named("").name == "woven"


def test_cautions_follow_from_names_and_worn_places() -> None:
    assert cautions_for(("Tool roll",), has_worn_places=False) == ALWAYS
    assert set(STAINS) <= set(cautions_for(("Tool roll",), has_worn_places=True))
    assert set(CHILDREN) <= set(cautions_for(("Kids' bib",), has_worn_places=False))
    assert set(PROTECTIVE) <= set(cautions_for(("Climbing harness pouch",), has_worn_places=False))
    harness = cautions_for(("Market bag", "strap"), ("old climbing harness",), has_worn_places=False)
    assert harness[:2] == (*PROTECTIVE, *PROTECTIVE_LOADS)
    assert not set(PROTECTIVE_LOADS) & set(
        cautions_for(("Market bag", "strap"), ("work coat",), has_worn_places=False)
    )
    romper = cautions_for(("Baby's romper", "drawstring casing"), has_worn_places=False)
    assert romper[:2] == (*CHILDREN, *CHILDREN_CORDS)
    assert not set(CHILDREN) & set(cautions_for(("Cotton skidproof mat",), has_worn_places=False))

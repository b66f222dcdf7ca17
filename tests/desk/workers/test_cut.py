"""It was cut as laid out: the page does with the records what `fit --keep-rest` does."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import box

from salvage.cloth.garment import Garment, Piece
from salvage.cloth.record.file import read_garment, update_garment
from salvage.cloth.usable import usable
from salvage.desk.teller import Teller
from salvage.desk.workers.papers import cut
from salvage.errors import UsageError
from salvage.rail.note import rest_named, used_of

TELLER = Teller(lambda **_: None, lambda: False)
PROJECT = 'name = "Pouch"\nseam_allowance = 0\n[[panel]]\nname = "body"\nsize = [{side}, 100]\n'


@pytest.fixture
def coat(tmp_path: Path) -> Path:
    place = tmp_path / "coat.json"
    update_garment(place, lambda _: Garment("coat", (Piece("back", box(0, 0, 300, 400)),)))
    return place


def project(folder: Path, side: int) -> str:
    place = folder / "pouch.toml"
    place.write_text(PROJECT.format(side=side))
    return str(place)


def test_the_rest_is_kept_and_the_garment_marked(coat: Path) -> None:
    told = cut(TELLER, [str(coat)], project(coat.parent, 100), "mm")
    assert told == {"rests": {"coat.json": "coat-rest.json"}}
    rest = read_garment(coat.parent / "coat-rest.json")
    assert sum(usable(each).area for each in rest.pieces) == pytest.approx(300 * 400 - 100 * 100, abs=2000)
    named, used = rest_named(rest), used_of(read_garment(coat))
    assert named is not None
    assert named.name == "coat"
    assert used is not None
    assert (used.purpose, used.rest) == ("Pouch", "coat-rest.json")


def test_a_rest_that_is_there_already_stays(coat: Path) -> None:
    other = coat.parent / "coat-rest.json"
    other.write_text("mine")
    told = cut(TELLER, [str(coat)], project(coat.parent, 100), "mm")
    assert other.read_text() == "mine"
    assert told["rests"]["coat.json"] not in ("", "coat-rest.json")


def test_what_could_not_be_laid_out_was_not_cut(coat: Path) -> None:
    with pytest.raises(UsageError, match="no layout that could have been cut"):
        cut(TELLER, [str(coat)], project(coat.parent, 1000), "mm")
    assert used_of(read_garment(coat)) is None

"""A folder of garments: measured once, told, found again; whatever else lies there stops nobody."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from rail_crew import MadeUp, draw
from rail_garments import cloth, garment
from shapely.geometry import box

from salvage.cloth.garment import Garment
from salvage.cloth.record.edits import at, set_fields
from salvage.cloth.record.file import read_garment, update_garment
from salvage.cloth.record.write import garment_to_json
from salvage.errors import SalvageError
from salvage.ours import write_ours
from salvage.rail.folder import shared_cloth
from salvage.rail.note import mark_free, mark_used, told_of, used_of
from salvage.rail.rail import open_rail
from salvage.telling import Telling

SIDE = Telling(side=150.0)


def grain_of_80(made: Garment | None) -> Garment:
    assert made is not None
    return at(made, 0, lambda piece: set_fields(piece, grain=80.0))


def without_extra(made: Garment | None) -> Garment:
    assert made is not None
    return replace(made, extra={})


def write(path: Path, made: Garment) -> Path:
    path.write_text(garment_to_json(made), encoding="utf-8")
    return path


@pytest.fixture
def pile(tmp_path: Path) -> Path:
    """Three photographs, one of them bad, and one of them there twice."""
    for number, name in enumerate(["a.png", "b.png", "bad.png"]):
        draw(tmp_path / name, 20 * number)
    shutil.copyfile(tmp_path / "a.png", tmp_path / "copy of a.png")
    return tmp_path


def hang(folder: Path, told: Telling = SIDE, **more: object) -> tuple[list[str], dict[str, str]]:
    """Which photographs were measured, and what could not be used."""
    crew = MadeUp(**{k: v for k, v in more.items() if k == "stop_after"})  # type: ignore[arg-type]
    with open_rail(folder, crew=crew) as rail:
        try:
            rail.hang(told, again=bool(more.get("again")))
        except KeyboardInterrupt:
            return crew.seen, {}
        return crew.seen, {each.file: each.reason for each in rail.bad}


def test_each_is_measured_once(pile: Path) -> None:
    seen, bad = hang(pile)
    assert seen == ["a.png", "b.png", "bad.png"]
    assert "the same photograph as a.png" in bad["copy of a.png"]
    assert "no square" in bad["bad.png"]
    assert read_garment(pile / "a.json").pieces[0].photo.file == "a.png"  # type: ignore[union-attr]
    seen, bad = hang(pile)
    assert seen == []
    assert "no square" in bad["bad.png"]  # from the index
    assert hang(pile, Telling())[0] == []  # what isn't told again still holds
    assert hang(pile, again=True)[0] == ["bad.png"]


def test_it_goes_on_where_it_was_stopped(pile: Path) -> None:
    assert hang(pile, stop_after=1)[0] == ["a.png"]
    assert (pile / "a.json").exists()
    assert hang(pile)[0] == ["b.png", "bad.png"]


def test_the_index_is_made_again_from_the_records(pile: Path) -> None:
    hang(pile)
    with open_rail(pile) as rail:
        before = rail.cards()
    shutil.rmtree(pile / ".salvage")
    with open_rail(pile) as rail:
        assert rail.cards() == before
        assert [p.name for p in rail.photographs] == ["bad.png"]


def test_another_telling_measures_again_and_keeps_what_a_person_set(pile: Path) -> None:
    hang(pile)
    update_garment(pile / "a.json", grain_of_80)
    seen, _ = hang(pile, Telling(fabric="denim"))
    assert sorted(seen) == ["a.png", "b.png", "bad.png"]
    again = read_garment(pile / "a.json")
    assert again.pieces[0].grain == 80.0
    assert again.pieces[0].fabric == "denim"
    assert told_of(again) == Telling(side=150.0, fabric="denim")
    assert hang(pile, Telling(fabric="denim"))[0] == []


def test_a_record_that_a_person_measured_stays_as_it_is(pile: Path) -> None:
    hang(pile)
    update_garment(pile / "a.json", without_extra)
    assert sorted(hang(pile, Telling(side=200.0))[0]) == ["b.png", "bad.png"]


def test_a_photograph_taken_again_replaces_a_record_that_nobody_touched(pile: Path) -> None:
    hang(pile)
    draw(pile / "a.png", 200)
    draw(pile / "b.png", 210)
    update_garment(pile / "b.json", grain_of_80)
    seen, bad = hang(pile)
    assert seen[:2] == ["a.png", "b.png"]
    assert len(read_garment(pile / "a.json").pieces) == 1
    assert "taken again" in bad["b.png"]
    assert read_garment(pile / "b.json").pieces[0].grain == 80.0


def test_another_record_is_never_written_over(pile: Path) -> None:
    write(pile / "a.json", cloth("typed", box(0, 0, 100, 100)))
    (pile / "b.json").write_text("{broken")
    _, bad = hang(pile)
    assert read_garment(pile / "a.json").name == "typed"
    assert (pile / "b.json").read_text() == "{broken"
    assert "not valid JSON" in bad["b.json"]
    assert read_garment(pile / "a-2.json").name == "a"
    assert read_garment(pile / "b-2.json").name == "b"


def test_what_is_no_garment_is_passed_over(pile: Path) -> None:
    (pile / "other.json").write_text('{"format": "salvage fit 1"}')
    (pile / "list.json").write_text("[1, 2]")
    (pile / "notes.txt").write_text("hello")
    (pile / ".hidden.json").write_text("{")
    png = (pile / "b.png").read_bytes()
    write_ours(pile / "a-marked.png", png)  # a picture that we made
    seen, bad = hang(pile)
    assert seen == ["a.png", "b.png", "bad.png"]
    assert set(bad) == {"bad.png", "copy of a.png"}


def test_records_can_lie_elsewhere(pile: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    out = tmp_path_factory.mktemp("records")
    with open_rail(pile, out, crew=MadeUp()) as rail:
        assert rail.hang(SIDE) == 2
        assert [each.name for each in rail.cards()] == ["a", "b"]
    assert not list(pile.glob("*.json"))
    assert (out / read_garment(out / "a.json").pieces[0].photo.file).resolve() == pile / "a.png"  # type: ignore[union-attr]
    with open_rail(pile, out, crew=MadeUp()) as rail:
        assert rail.hang(SIDE) == 0


def test_the_same_cloth_in_two_records_counts_once(pile: Path) -> None:
    hang(pile)
    whole = read_garment(pile / "a.json")
    write(pile / "z.json", whole)
    _, bad = hang(pile)
    assert "same cloth" in bad["z.json"]
    assert shared_cloth(whole, read_garment(pile / "z.json"))
    assert not shared_cloth(whole, read_garment(pile / "b.json"))


def test_two_garments_typed_alike_are_two(tmp_path: Path) -> None:
    write(tmp_path / "a.json", cloth("apron", box(0, 0, 100, 100)))
    write(tmp_path / "b.json", cloth("apron", box(0, 0, 100, 100)))
    with open_rail(tmp_path) as rail:
        assert len(rail.cards()) == 2


def test_used_up_is_kept_in_the_record(pile: Path) -> None:
    hang(pile)
    update_garment(pile / "a.json", lambda g: mark_used(g, purpose="Tool roll", date="2026-11-26"))  # type: ignore[arg-type]
    shutil.rmtree(pile / ".salvage")
    hang(pile, Telling(side=200.0))  # and it isn't measured again
    used = used_of(read_garment(pile / "a.json"))
    assert used is not None
    assert used.words == "cut for Tool roll on 2026-11-26"
    with open_rail(pile) as rail:
        assert {each.name: each.used for each in rail.cards()} == {"a": used.words, "b": ""}
    update_garment(pile / "a.json", mark_free)  # type: ignore[arg-type]
    with open_rail(pile) as rail:
        assert not any(each.used for each in rail.cards())


def test_used_may_be_written_by_hand(tmp_path: Path) -> None:
    data = json.loads(garment_to_json(garment(3))) | {"used": True}
    (tmp_path / "a.json").write_text(json.dumps(data))
    with open_rail(tmp_path) as rail:
        assert rail.cards()[0].used == "used up"


def test_a_size_the_raster_leaves_open_is_looked_at(tmp_path: Path) -> None:
    # two stretches: the largest rectangle is the wide one, and 103 x 503 fits the other by 2 mm
    write(tmp_path / "a.json", cloth("a", box(0, 0, 400, 300), box(500, 0, 605, 505)))
    with open_rail(tmp_path) as rail:
        cards = rail.cards()
        assert rail.find(cards, least=(103, 503))
        assert not rail.find(cards, least=(103, 507))
        assert not rail.find(cards, least=(103, 503), fabric="lining")
        assert rail.find(cards, least=(400, 300), fabric=" Shell ")


def test_a_record_that_is_taken_away_meanwhile_stops_nobody(tmp_path: Path) -> None:
    gone, stays = (
        write(tmp_path / f"{name}.json", cloth(name, box(0, 0, 300, 400))) for name in ("gone", "stays")
    )
    with open_rail(tmp_path, crew=MadeUp()) as rail:
        gone.unlink()
        assert [each.file for each in rail.cards()] == [stays.name]
        (bad,) = rail.bad
        assert (bad.file, bad.reason.partition(".")[0]) == (gone.name, "no such file")


def test_a_folder_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(SalvageError, match="folder"), open_rail(tmp_path / "no"):
        pass

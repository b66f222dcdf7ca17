"""A photograph measured again on the page: told what was told before, merged by its own name, and undone whole.

What the measuring sees is put in its place: that it sees rightly is tested where it is.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from desk_garments import COAT, PHOTO, SHOT, draw_photo
from shapely import affinity
from shapely.geometry import box

from salvage import job
from salvage.cloth.garment import Garment, Hints, Piece, Question
from salvage.cloth.record.file import read_garment
from salvage.cloth.record.write import garment_to_json
from salvage.cloth.usable import usable
from salvage.desk.edit import journal
from salvage.desk.edit.actions import apply
from salvage.desk.edit.refind import refind, telling_again
from salvage.errors import SalvageError, UsageError
from salvage.telling import Telling

FILE = f"photos/{PHOTO}"
INSIDE = "photos/inside.jpg"


def shot(file: str, content: str, **camera: Any) -> Any:
    return replace(SHOT, file=file, content=content, camera={**SHOT.camera, **camera})


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """A coat with two photographs in a folder of their own; a person drew a pocket and pointed at cloth."""
    (tmp_path / "photos").mkdir()
    draw_photo(tmp_path / FILE)
    (tmp_path / INSIDE).write_bytes((tmp_path / FILE).read_bytes() + b"\0")
    contents = [hashlib.sha256((tmp_path / each).read_bytes()).hexdigest() for each in (FILE, INSIDE)]
    outside = tuple(
        replace(each, photo=shot(FILE, contents[0], told={"side": 150.0})) for each in COAT.pieces
    )
    inside = Piece("lining", box(0, 0, 200, 200), photo=shot(INSIDE, contents[1]), fabric="lining")
    garment = replace(COAT, pieces=(*outside, inside), hints=(Hints(FILE, (((700.0, 700.0),),)),))
    garment = apply(garment, {"do": "pocket", "mm": [[50, 50], [90, 50], [90, 90]], "piece": 0})
    path = tmp_path / "coat.json"
    path.write_text(garment_to_json(garment), encoding="utf-8")
    return path


@pytest.fixture
def seen(monkeypatch: pytest.MonkeyPatch) -> list[Telling]:
    """What was told to the measuring, which sees a coat a little larger and asks about its stain."""
    told: list[Telling] = []

    def look(photo: Any, telling: Telling, **_: Any) -> Any:
        told.append(telling)
        return SimpleNamespace(photo=photo)

    def measure(looks: Any, telling: Telling, *, name: str, **_: Any) -> Any:
        (one,) = looks
        content = hashlib.sha256(one.photo.path.read_bytes()).hexdigest()
        pieces = tuple(
            replace(
                each,
                outline=affinity.scale(each.outline, 1.01, 1.01, origin=(0, 0)),
                photo=shot(one.photo.name, content),
            )
            for each in COAT.pieces
        )
        stain = pieces[0].blocked[2]
        asks = Question(1, "Is this a stain?", stain.id, stain.shape, one.photo.name, 9e4)
        return SimpleNamespace(garment=Garment(name, pieces, questions=(asks,)))

    monkeypatch.setattr(job, "look", look)
    monkeypatch.setattr(job, "measure", measure)
    monkeypatch.setattr(job, "refuse_bad", lambda _: None)
    return told


def test_the_outline_is_as_seen_now_and_what_was_drawn_stays(record: Path, seen: list[Telling]) -> None:
    before = read_garment(record)
    state = refind(record)
    after = read_garment(record)
    assert state.garment.pieces == after.pieces
    assert after.pieces[0].outline.area == pytest.approx(300 * 400 * 1.01**2, rel=1e-4)
    drawn = before.pieces[0].blocked[-1]
    assert drawn in after.pieces[0].blocked
    assert not usable(after.pieces[0]).intersects(drawn.shape)
    assert after.hints == before.hints
    assert [each.name for each in after.pieces] == ["back", "side", "cuff", "lining"]
    lining = next(each for each in after.pieces if each.name == "lining")
    assert lining == before.pieces[3]  # of the other photograph, which nobody pointed at
    files = {each.photo.file for each in after.pieces if each.photo is not None}
    assert files == {FILE, INSIDE}
    assert {each.photo for each in after.questions} <= {FILE}


def test_an_undo_gives_the_record_back_as_it_was(record: Path, seen: list[Telling]) -> None:
    before = record.read_bytes()
    assert refind(record, PHOTO).undo == {"do": "found again", "photo": FILE}
    assert record.read_bytes() != before
    journal.undo(record)
    assert record.read_bytes() == before


def test_the_measuring_is_told_what_was_told_before(record: Path, seen: list[Telling]) -> None:
    steps: list[str] = []
    refind(record, step=steps.append)
    (telling,) = seen
    assert telling.side == 150.0
    assert (700.0, 700.0) in telling.cloth_at
    assert steps[0] == f"reading {FILE}"


def test_which_photograph_is_measured(record: Path, seen: list[Telling]) -> None:
    for told in (FILE, PHOTO):
        assert refind(record, told).undo == {"do": "found again", "photo": FILE}
    assert refind(record, "inside.jpg").undo == {"do": "found again", "photo": INSIDE}
    with pytest.raises(UsageError, match=rf"no photograph sleeve\.jpg; it has {FILE}, {INSIDE}"):
        refind(record, "sleeve.jpg")
    garment = replace(read_garment(record), hints=())
    record.write_text(garment_to_json(garment), encoding="utf-8")
    count = len(seen)
    with pytest.raises(UsageError, match="no photograph that could be measured"):
        refind(record)  # of two, neither pointed at
    alone = replace(garment, pieces=garment.pieces[:3])
    record.write_text(garment_to_json(alone), encoding="utf-8")
    refind(record)  # of one, it
    assert len(seen) == count + 1


def test_a_photograph_that_is_gone_is_named_and_the_record_stays(record: Path, seen: list[Telling]) -> None:
    before = record.read_bytes()
    (record.parent / FILE).unlink()
    with pytest.raises(SalvageError, match=PHOTO):
        refind(record)
    assert record.read_bytes() == before


def coat_of(*pieces: Piece, **fields: Any) -> Garment:
    return Garment("coat", pieces, **fields)


def test_what_is_told_again_is_what_measuring_had_and_not_what_a_person_set_since() -> None:
    bare = replace(SHOT, camera={})
    mine = Piece("a", box(0, 0, 500, 500), "silk", 4, photo=bare, by_person=("fabric", "layers"))
    large = Piece("b", box(0, 0, 300, 300), "canvas", 2, photo=bare)
    small = Piece("c", box(0, 0, 90, 90), "lining", 2, photo=bare)
    once = Piece("d", box(0, 0, 80, 80), "lining", 1, photo=bare)
    garment = coat_of(mine, large, small, once, kind="denim")
    assert telling_again(garment, PHOTO) == Telling(side=150.0, fabric="canvas", layers=2)
    assert telling_again(replace(garment, by_person=("kind",)), PHOTO).kind == "denim"
    assert telling_again(coat_of(mine), PHOTO) == Telling(side=150.0, fabric="silk", layers=1)
    with pytest.raises(SalvageError, match=r"sleeve\.jpg: is no photograph of coat"):
        telling_again(garment, "sleeve.jpg")


@pytest.mark.parametrize("key", ["side", "paper", "known"])
def test_a_scale_that_the_camera_keeps_is_not_told_twice(key: str) -> None:
    piece = Piece("a", box(0, 0, 9, 9), photo=replace(SHOT, camera={"told": {key: 1}}))
    assert telling_again(coat_of(piece), PHOTO).side is None
    old = Piece("a", box(0, 0, 9, 9), photo=replace(SHOT, camera={key: 1}))  # as records once had it
    assert telling_again(coat_of(old), PHOTO).side is None

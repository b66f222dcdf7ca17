"""Undo, redo and two windows: what the journal keeps, and what a kill at any moment leaves."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from desk_garments import COAT, px
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from salvage.cloth.record.file import read_garment, update_garment
from salvage.cloth.record.write import garment_to_json
from salvage.desk.edit import journal
from salvage.errors import SalvageError, UsageError

STAIN = {"do": "stain", "px": px((150, 150), (170, 150), (170, 170))}
NAME = {"do": "set", "piece": "side", "name": "gore"}
SEAM = {"do": "seam", "px": px((5, 250), (395, 250))}


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "coat.json"
    path.write_text(garment_to_json(COAT), encoding="utf-8")
    return path


def test_what_was_done_is_undone_to_the_letter_and_done_again(record: Path) -> None:
    texts = [record.read_text()]
    for action in (STAIN, NAME, SEAM):
        state = journal.edit(record, action)
        assert state.undo == action
        texts.append(record.read_text())
    for before in reversed(texts[:-1]):
        state = journal.undo(record)
        assert record.read_text() == before
    assert (state.undo, state.redo) == (None, STAIN)
    with pytest.raises(UsageError, match="nothing to undo"):
        journal.undo(record)
    for after in texts[1:]:
        journal.redo(record)
        assert record.read_text() == after
    with pytest.raises(UsageError, match="nothing to do again"):
        journal.redo(record)


def test_something_new_after_an_undo_ends_what_could_be_done_again(record: Path) -> None:
    journal.edit(record, STAIN)
    journal.undo(record)
    assert journal.edit(record, NAME).redo is None
    assert journal.undo(record).redo == NAME


def test_an_action_that_can_not_be_leaves_record_and_journal_as_they_were(record: Path) -> None:
    journal.edit(record, STAIN)
    before = record.read_bytes(), journal.journal_of(record).read_bytes()
    with pytest.raises(UsageError):
        journal.edit(record, {"do": "not", "mark": 99})
    assert (record.read_bytes(), journal.journal_of(record).read_bytes()) == before


def test_a_second_window_is_told_and_can_take_over(record: Path) -> None:
    first = journal.state_of(record)
    journal.edit(record, STAIN, expects=first.revision)
    with pytest.raises(journal.Stale, match="changed elsewhere") as stale:
        journal.edit(record, NAME, expects=first.revision)
    assert stale.value.revision == journal.state_of(record).revision
    taken_over = journal.edit(record, NAME, expects=stale.value.revision)
    assert {"gore"} <= {each.name for each in taken_over.garment.pieces}
    assert any(b.what == "stain" and b.found_by == "person" for b in taken_over.garment.pieces[0].blocked)


def test_what_others_changed_is_a_step_of_its_own(record: Path) -> None:
    journal.edit(record, STAIN)
    data = json.loads(record.read_text())
    data["pieces"][1]["grain"] = 77.0
    by_hand = json.dumps(data, indent=3)
    drawn = record.read_text()
    record.write_text(by_hand, encoding="utf-8")
    assert journal.state_of(record).undo == {"do": "elsewhere"}
    journal.edit(record, NAME)
    journal.undo(record)
    assert record.read_text() == by_hand
    journal.undo(record)
    assert record.read_text() == drawn
    journal.redo(record)
    assert read_garment(record).pieces[1].grain == 77.0


def test_measuring_again_goes_on_the_record_as_it_is_and_can_be_undone(record: Path) -> None:
    journal.edit(record, STAIN)
    drawn = record.read_text()
    update_garment(record, lambda old: replace(COAT, name="coat, again"))
    journal.undo(record)
    assert record.read_text() == drawn


def test_a_line_whose_record_was_never_written_counts_as_nothing(record: Path) -> None:
    journal.edit(record, STAIN)
    drawn = record.read_text()
    journal.edit(record, NAME)
    record.write_text(drawn, encoding="utf-8")  # as if killed between the two
    assert journal.state_of(record).undo == STAIN
    journal.edit(record, SEAM)
    journal.undo(record)
    assert record.read_text() == drawn
    assert journal.undo(record).undo is None


def test_a_line_cut_off_counts_as_nothing(record: Path) -> None:
    journal.edit(record, STAIN)
    drawn = record.read_text()
    file = journal.journal_of(record)
    whole = file.read_bytes()
    journal.edit(record, NAME)
    file.write_bytes(file.read_bytes()[: len(whole) + 40])
    record.write_text(drawn, encoding="utf-8")
    journal.edit(record, SEAM)
    assert journal.undo(record).undo == STAIN


def test_a_journal_of_another_record_begins_anew(record: Path) -> None:
    journal.edit(record, STAIN)
    file = journal.journal_of(record)
    file.write_text(file.read_text().splitlines()[1] + "\n")  # its beginning is gone
    record.write_text(garment_to_json(COAT), encoding="utf-8")
    state = journal.edit(record, NAME)
    assert state.undo == NAME
    assert journal.undo(record).undo is None


def test_a_damaged_journal_never_harms_the_record(record: Path) -> None:
    journal.journal_of(record).parent.mkdir()
    journal.journal_of(record).write_bytes(
        b"\xff\x00{nonsense\n[1]\n{}\n" + b'{"before": "a", "after": "b"}\n'
    )
    assert journal.edit(record, STAIN).undo == STAIN
    assert journal.undo(record).undo is None


def test_no_room_for_the_journal_is_told_and_the_record_stays(record: Path) -> None:
    journal.journal_of(record).parent.write_text("a file where the folder should be")
    before = record.read_bytes()
    with pytest.raises(SalvageError, match="can't"):
        journal.edit(record, STAIN)
    assert record.read_bytes() == before


KILLED = """
import json, sys
sys.path.insert(0, sys.argv[2])
from pathlib import Path
from desk_garments import px
from salvage.desk.edit import journal
print("ready", flush=True)
k = 0
while True:
    k += 1
    journal.edit(Path(sys.argv[1]), {"do": "stain", "px": px((20 + k % 200, 50), (30, 90 + k % 90), (60, 60))})
    if k % 3 == 0:
        journal.undo(Path(sys.argv[1]))
    print(k, flush=True)
"""


@pytest.mark.parametrize("after", [0.0, 0.02, 0.07, 0.15, 0.31])
def test_killed_at_any_moment_nothing_that_was_said_to_be_done_is_lost(record: Path, after: float) -> None:
    helpers = str(Path(__file__).parents[2] / "helpers")
    command = [sys.executable, "-c", KILLED, str(record), helpers]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        child.stdout.readline()
        time.sleep(after)
        os.kill(child.pid, signal.SIGKILL)
        said = 1 + len(child.stdout.read().splitlines())
    drawn = sum(b.found_by == "person" for b in read_garment(record).pieces[0].blocked)
    kept = said - said // 3
    assert kept <= drawn <= kept + 2  # one more may have been done and not said, or not yet undone
    while journal.state_of(record).undo is not None:
        journal.undo(record)
    assert record.read_text() == garment_to_json(COAT)


ACTIONS: list[dict[str, Any]] = [
    STAIN, NAME, SEAM, {"do": "not", "mark": 4}, {"do": "not", "mark": 6}, {"do": "not", "mark": 3},
    {"do": "split", "piece": 0, "px": px((0, 100), (300, 100))}, {"do": "remove", "piece": 0},
    {"do": "put_back", "removed": 0}, {"do": "join", "pieces": [0, 1]},
    {"do": "clear", "px": px((190, 190), (250, 190), (250, 250), (190, 250))},
    {"do": "outline", "piece": 0, "mm": [[0, 0], [330, 0], [330, 400], [0, 400]]},
    {"do": "kind", "mark": 6, "kind": "other"}, {"do": "cloth", "px": px((10, 10))},
    {"do": "set", "piece": 0, "grain": 12.0, "layers": 2}, {"do": "garment", "name": "mine"},
    {"do": "shape", "mark": 4, "px": px((250, -5), (250, 405))},
]  # fmt: skip


@given(st.lists(st.sampled_from([*ACTIONS, "undo", "redo"]), max_size=14))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_sequence_is_undone_to_the_record_as_it_was_and_done_again(
    tmp_path_factory: pytest.TempPathFactory, sequence: list[Any]
) -> None:
    record = tmp_path_factory.mktemp("any") / "coat.json"
    record.write_text(garment_to_json(COAT), encoding="utf-8")
    texts, at = [record.read_text()], 0
    for action in sequence:
        try:
            if action == "undo":
                journal.undo(record)
                at -= 1
            elif action == "redo":
                journal.redo(record)
                at += 1
            else:
                journal.edit(record, action)
                if record.read_text() != texts[at]:
                    texts[at + 1 :] = [record.read_text()]
                    at += 1
        except UsageError:
            pass
        assert record.read_text() == texts[at]
    while at > 0:
        journal.undo(record)
        at -= 1
        assert record.read_text() == texts[at]
    assert journal.state_of(record).undo is None
    for text in texts[1:]:
        journal.redo(record)
        assert record.read_text() == text

"""Each network has a card, of the file that ships, which run time and training both read."""

from __future__ import annotations

import hashlib
import importlib
import re
import subprocess
from pathlib import Path
from types import ModuleType

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

import salvage.cloth
from salvage.cloth.card import KEYS, card_of
from salvage.cloth.flat import chances
from salvage.cloth.outline import net

CLOTH = Path(salvage.cloth.__file__).parent
NETWORKS = {
    "outline": CLOTH / "outline" / "outline.onnx",
    "inside": CLOTH / "flat" / "inside.onnx",
    "whole": CLOTH / "flat" / "whole.onnx",
}
ROOT = Path(__file__).parents[2]


@pytest.fixture
def cards(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The module that the training reads them by."""
    monkeypatch.syspath_prepend(str(ROOT))
    return importlib.import_module("fixtures.train.cards")


def test_every_network_that_ships_has_a_card() -> None:
    assert set(CLOTH.rglob("*.onnx")) == set(NETWORKS.values())


@pytest.mark.parametrize("name", NETWORKS)
def test_the_card_is_of_the_file_that_ships(name: str) -> None:
    card = card_of(NETWORKS[name])
    assert set(KEYS) <= set(card)
    assert hashlib.sha256(NETWORKS[name].read_bytes()).hexdigest() == card["sha256"]


def test_the_cards_name_commits_of_this_history() -> None:
    """A commit that was put on top of another has a new name, and the old one is soon nowhere."""
    named = {name: card_of(path)["trained_at"] for name, path in NETWORKS.items()}
    assert all(re.fullmatch("[0-9a-f]{7,40}", each) for each in named.values()), named
    before = {name: _is_before_this(commit) for name, commit in named.items()}
    if not any(before.values()):
        pytest.skip("the history isn't here")
    assert all(before.values()), {name: named[name] for name in named if not before[name]}


def _is_before_this(commit: str) -> bool:
    asked = ["git", "-C", str(ROOT), "merge-base", "--is-ancestor", commit, "HEAD"]
    try:
        return subprocess.run(asked, capture_output=True, check=False).returncode == 0
    except OSError:  # no git
        return False


@pytest.mark.parametrize("name", NETWORKS)
def test_training_reads_the_same_card(name: str, cards: ModuleType) -> None:
    assert cards.card(name) == card_of(NETWORKS[name])


@pytest.mark.parametrize("name", ["outline", "inside"])
def test_the_network_reads_every_plane_of_its_card_and_tells_as_many_as_that_says(name: str) -> None:
    card = card_of(NETWORKS[name])
    network = cv2.dnn.readNetFromONNX(str(NETWORKS[name]))
    size = 4 * int(card["multiple_px"])
    planes = np.random.default_rng(0).normal(0, 1, (1, len(card["inputs"]), size, size)).astype(np.float32)

    def told(seen: NDArray[np.float32]) -> NDArray[np.float32]:
        network.setInput(seen)
        return np.array(network.forward(), np.float32)

    usual = told(planes)
    assert usual.shape[1] == len(card["outputs"])
    for number in range(len(card["inputs"])):
        without = planes.copy()
        without[:, number] = 0.0
        assert np.abs(told(without) - usual).max() > 0.05, card["inputs"][number]


def test_run_time_reads_what_the_cards_say() -> None:
    inside, outline = (card_of(NETWORKS[name]) for name in ("inside", "outline"))
    assert inside["every"] == chances.EVERY
    assert list(chances.OUTPUTS) == inside["outputs"][: len(chances.OUTPUTS)]
    assert chances.network_input(np.zeros((64, 64, 3), np.float32), np.ones((64, 64), bool)).shape[0] == len(
        inside["inputs"]
    )
    assert (outline["mean"], outline["spread"], outline["click_px"]) == (net.MEAN, net.SPREAD, net.CLICK_PX)


def test_the_drawings_have_the_maps_that_the_card_of_the_inside_names(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.syspath_prepend(str(ROOT))
    drawn = importlib.import_module("fixtures.train.garment_canvas").LABELS
    assert tuple(card_of(NETWORKS["inside"])["outputs"][: len(drawn)]) == drawn == chances.OUTPUTS

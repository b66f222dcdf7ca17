"""The trainer of the whole look: what turns with a picture, and that two GPUs learn what one would. Needs PyTorch."""

from __future__ import annotations

import importlib
import multiprocessing
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

torch = pytest.importorskip("torch")

ROOT = Path(__file__).resolve().parents[1]
Maps = dict[str, Any]


def trainer(name: str) -> ModuleType:
    return importlib.import_module(f"fixtures.train.{name}")


@pytest.fixture(scope="module", autouse=True)
def found() -> Iterator[None]:
    """The scripts are found, and PyTorch keeps to one thread, for processes are forked below."""
    sys.path.insert(0, str(ROOT))
    torch.set_num_threads(1)
    yield
    sys.path.remove(str(ROOT))


@pytest.fixture(scope="module")
def maps() -> Maps:
    """Two garments with both cuffs in sight, as the trainer gets them."""
    drawing, chance = trainer("whole_maps"), trainer("textures").Chance(3)
    cuffs = [trainer("whole_canvas").LANDMARKS.index(f"cuff_{side}") for side in ("left", "right")]
    plan = drawing.layout()
    rows: list[Any] = []
    while len(rows) < 2:
        drawn = trainer("whole_garment").any_garment(chance)
        if drawn.marks[cuffs, 2].all():
            rows.append(np.zeros(plan[-1][4], np.uint8))
            drawing.packed(drawn, plan, rows[-1])
    return dict(drawing.unpacked(torch.from_numpy(np.stack(rows)), plan))


def same(one: Maps, other: Maps) -> None:
    assert one.keys() == other.keys()
    for name, value in one.items():
        ours, theirs = value.clone(), other[name].clone()
        if name in ("table", "facts"):  # angles, once round
            place = (..., 1 if name == "table" else 4)
            ours[place], theirs[place] = ours[place] % 360, theirs[place] % 360
        assert torch.allclose(ours.double(), theirs.double(), atol=1e-3), name


def test_four_quarter_turns_are_none(maps: Maps) -> None:
    turned = maps
    for _ in range(4):
        turned = trainer("whole_maps").quartered(turned, 1)
    same(maps, turned)
    same(
        trainer("whole_maps").quartered(maps, 3),
        trainer("whole_maps").quartered(trainer("whole_maps").quartered(maps, 2), 1),
    )


def test_mirrored_twice_is_as_before(maps: Maps) -> None:
    once = trainer("whole_maps").mirrored(maps)
    assert not torch.equal(once["region"], maps["region"])
    same(maps, trainer("whole_maps").mirrored(once))


def test_every_picture_of_a_garment_is_turned_and_mirrored(maps: Maps) -> None:
    told = {"table", "marks", "facts"}  # what is said of it in figures
    turned, mirrored = trainer("whole_maps").quartered(maps, 1), trainer("whole_maps").mirrored(maps)
    for name in maps.keys() - told:
        assert torch.equal(turned[name], torch.rot90(maps[name], 1, (-2, -1))), name
    for name in maps.keys() - told - {"part"}:  # whose parts are renamed too
        assert torch.equal(mirrored[name], maps[name].flip(-1)), name


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_landmarks_are_found_on_the_turned_picture(maps: Maps, quarters: int) -> None:
    """What is to be found of landmarks, drawn from where they are told, is the turned picture of what was."""
    turned = trainer("whole_maps").quartered(maps, quarters)
    heat = trainer("whole_loss").truth_of
    assert torch.allclose(
        heat(turned)["heat"], torch.rot90(heat(maps)["heat"], quarters, (-2, -1)), atol=1e-4
    )


def test_landmarks_are_found_on_the_mirrored_picture_under_the_other_sides_name(maps: Maps) -> None:
    names = trainer("whole_canvas").LANDMARKS
    before = trainer("whole_loss").truth_of(maps)["heat"].flip(-1)
    after = trainer("whole_loss").truth_of(trainer("whole_maps").mirrored(maps))["heat"]
    for k, name in enumerate(names):
        side, other = ("left", "right") if name.endswith("left") else ("right", "left")
        assert torch.allclose(after[:, k], before[:, names.index(name.replace(side, other))], atol=1e-4), name
    assert after[:, names.index("cuff_left")].amax((1, 2)).min() > 0.5


def test_parts_of_the_left_become_parts_of_the_right(maps: Maps) -> None:
    parts = trainer("whole_canvas").PARTS
    after = trainer("whole_maps").mirrored(maps)["part"].flip(-1)
    left, right, collar = (parts.index(n) for n in ("sleeve_left", "sleeve_right", "collar"))
    assert (maps["part"] == left).any()
    for before, now in ((left, right), (right, left), (collar, collar)):
        assert torch.equal(maps["part"] == before, after == now)


@pytest.mark.parametrize("change", ["mirrored", "quarter"])
def test_angles_go_with_the_picture(maps: Maps, change: str) -> None:
    """The way up and the grain, as arrows of the picture (y down), are changed as its places are."""
    middle = (trainer("whole_canvas").SIDE - 1) / 2

    def moved(arrow: Any) -> Any:
        x, y = arrow
        return (-x, y) if change == "mirrored" else (y, -x)

    def arrow(degrees: Any) -> Any:
        return torch.cos(torch.deg2rad(degrees)), -torch.sin(torch.deg2rad(degrees))

    drawing = trainer("whole_maps")
    after = drawing.mirrored(maps) if change == "mirrored" else drawing.quartered(maps, 1)
    x, y = moved((maps["marks"][..., 0] - middle, maps["marks"][..., 1] - middle))
    seen = maps["marks"][..., 2] > 0
    places = {tuple(p) for p in torch.stack([x + middle, y + middle], -1)[seen].round().tolist()}
    assert {tuple(p) for p in after["marks"][after["marks"][..., 2] > 0][:, :2].round().tolist()} == places
    for now, before in zip(arrow(after["facts"][:, 4]), moved(arrow(maps["facts"][:, 4])), strict=True):
        assert torch.allclose(now, before, atol=1e-4)
    (a, b), (c, d) = arrow(after["table"][..., 1]), moved(arrow(maps["table"][..., 1]))
    assert (a * d - b * c).abs().max() < 1e-3  # a grain has no head: parallel is enough


# --- two GPUs, played by two processes ---------------------------------------------------------------


def learner() -> Any:
    torch.manual_seed(1)
    return torch.nn.Sequential(torch.nn.Linear(5, 7), torch.nn.Tanh(), torch.nn.Linear(7, 1))


def example() -> Any:
    torch.manual_seed(2)
    return torch.randn(8, 5), torch.randn(8, 1)


def slopes(net: Any, x: Any, y: Any) -> list[Any]:
    ((net(x) - y) ** 2).mean().backward()
    return [p.grad for p in net.parameters()]


def one_of_two(rank: int, meet: str, told: Any) -> None:
    torch.set_num_threads(1)
    torch.distributed.init_process_group("gloo", init_method=f"file://{meet}", rank=rank, world_size=2)
    net, (x, y) = learner(), example()
    found = slopes(net, x[rank::2], y[rank::2])
    used = trainer("train_whole").averaged(net, 0.25 + rank, 2)
    told.put((rank, float(used), [each.numpy().copy() for each in found]))
    torch.distributed.destroy_process_group()


@pytest.mark.skipif("fork" not in multiprocessing.get_all_start_methods(), reason="processes can't be forked")
def test_two_processes_learn_what_one_would_from_the_whole_batch(tmp_path: Path) -> None:
    trainer("train_whole")  # loaded once, before the fork
    both = multiprocessing.get_context("fork")
    told = both.Queue()
    hands = [both.Process(target=one_of_two, args=(k, str(tmp_path / "meet"), told)) for k in (0, 1)]
    for hand in hands:
        hand.start()
    answers = [told.get(timeout=60) for _ in hands]
    for hand in hands:
        hand.join(timeout=60)
    whole = [each.numpy() for each in slopes(learner(), *example())]
    for _, used, found in answers:
        assert used == pytest.approx(1.5)  # 0.25 + 1.25: all keep the same time
        for ours, theirs in zip(found, whole, strict=True):
            assert np.allclose(ours, theirs, atol=1e-6)

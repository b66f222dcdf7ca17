"""Projects of the folder and the samples: nothing is written before it is right, and nothing of anybody's is lost."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from shapely.geometry import Polygon

from salvage.desk import projects as projects_module
from salvage.desk.projects import ProjectDesk
from salvage.desk.shelf import Shelf
from salvage.errors import SalvageError, UsageError
from salvage.project.read import read_project
from salvage.units import Unit

BAG = {
    "name": "My bag", "units": "mm", "seam_allowance": "10", "sizes": "finished",
    "panels": [{"name": "body", "cut": "2", "width": "200", "length": "300"}],
}  # fmt: skip
WITH_DRAWING = "saddle_cover.toml"  # names a drawing in SVG, and one in DXF


@pytest.fixture
def desk(tmp_path: Path) -> ProjectDesk:
    return ProjectDesk(Shelf(tmp_path), lambda: Unit.MM)


def there(folder: Path) -> list[str]:
    return sorted(each.name for each in folder.iterdir() if not each.name.startswith("."))


def test_the_list_is_of_the_folder_and_the_samples_that_it_lacks(
    desk: ProjectDesk, tmp_path: Path, projects: Path
) -> None:
    every = {each.name for each in projects.glob("*.toml")}
    assert {each["file"] for each in desk.sample_lines()} == every
    shutil.copy(projects / "tool_roll.toml", tmp_path)
    (tmp_path / "spoilt.toml").write_text("name = ")
    roll = read_project(projects / "tool_roll.toml")
    spoilt, told = desk.lines()
    assert told == {
        "file": "tool_roll.toml",
        "name": roll.name,
        "parts": len(roll.panels) + len(roll.strips),
    }
    assert spoilt["file"] == spoilt["name"] == "spoilt.toml"
    assert "spoilt.toml" in spoilt["error"]
    assert {each["file"] for each in desk.sample_lines()} == every - {"tool_roll.toml"}


def test_a_sample_is_laid_in_with_the_drawings_it_names_and_no_others(
    desk: ProjectDesk, tmp_path: Path, projects: Path
) -> None:
    assert desk.path(WITH_DRAWING).read_bytes() == (projects / WITH_DRAWING).read_bytes()
    assert there(tmp_path) == ["saddle_cover.dxf", "saddle_cover.svg", WITH_DRAWING]
    assert desk.take_sample("tool_roll.toml") == "tool_roll.toml"
    assert len(there(tmp_path)) == 4
    with pytest.raises(UsageError, match="is no sample"):
        desk.take_sample("hat.toml")


def test_a_project_of_ones_own_is_never_taken_for_the_sample_of_its_name(
    desk: ProjectDesk, tmp_path: Path
) -> None:
    mine = 'name = "mine"\n[[panel]]\nname = "a"\nsize = [50, 60]\n'
    (tmp_path / "tool_roll.toml").write_text(mine)
    assert desk.path("tool_roll.toml").read_text() == mine
    assert desk.shapes({"project": "tool_roll.toml"})["name"] == "mine"


def test_shapes_are_drawn_of_a_sample_without_laying_it_in(desk: ProjectDesk, tmp_path: Path) -> None:
    told = desk.shapes({"project": "tool_roll.toml"})
    assert told["name"] == "Tool roll"
    assert there(tmp_path) == []
    with pytest.raises(SalvageError, match=r"hat\.toml"):
        desk.shapes({"project": "hat.toml"})


def test_a_new_table_becomes_a_file_called_like_the_project(desk: ProjectDesk, tmp_path: Path) -> None:
    assert desk.save({"table": BAG})["file"] == "My bag.toml"
    assert desk.save({"table": BAG})["file"] == "My bag-2.toml"
    panel = read_project(tmp_path / "My bag.toml").panels[0]
    assert panel.cut == 2
    assert Polygon(panel.outline).bounds[2:] == (220, 320)  # an allowance of 10 on each side
    changed = desk.save({"table": BAG | {"name": "Other"}, "file": "My bag.toml"})
    assert (changed["file"], changed["name"]) == ("My bag.toml", "Other")
    assert there(tmp_path) == ["My bag-2.toml", "My bag.toml"]


def test_a_table_with_a_mistake_leaves_the_file_as_it_was(desk: ProjectDesk, tmp_path: Path) -> None:
    desk.save({"table": BAG})
    before = (tmp_path / "My bag.toml").read_bytes()
    wrong = BAG | {"panels": [{"name": "body", "width": "200", "length": "wide"}]}
    for told in ({"table": wrong, "file": "My bag.toml"}, {"table": wrong}):
        with pytest.raises(SalvageError):
            desk.save(told)
    assert there(tmp_path) == ["My bag.toml"]
    assert (tmp_path / "My bag.toml").read_bytes() == before


def test_an_opened_table_saved_as_it_is_changes_nothing(desk: ProjectDesk, tmp_path: Path) -> None:
    for name in ("tool_roll.toml", WITH_DRAWING, "zip_tote.toml"):
        opened = desk.open({"project": name})
        before = read_project(tmp_path / name)
        desk.save({"table": opened["table"], "file": name})
        assert read_project(tmp_path / name) == before


def test_sizes_are_said_in_the_unit_chosen_on_the_page(tmp_path: Path, desk: ProjectDesk) -> None:
    desk.save({"table": BAG})
    inches = ProjectDesk(Shelf(tmp_path), lambda: Unit.INCH)
    assert inches.open({"project": "My bag.toml"})["units"] == "in"
    assert inches.shapes({"project": "My bag.toml"})["units"] == "in"
    assert read_project(tmp_path / "My bag.toml").unit is Unit.MM


# --- what would help, tried ---------------------------------------------------------------------


def tried(desk: ProjectDesk, percent: float = 90.0) -> str:
    return str(desk.help({"project": "My bag.toml", "percent": percent})["file"])


def test_a_change_is_tried_on_a_hidden_copy(desk: ProjectDesk, tmp_path: Path) -> None:
    desk.save({"table": BAG})
    before = (tmp_path / "My bag.toml").read_bytes()
    name = tried(desk)
    assert there(tmp_path) == ["My bag.toml"]
    assert (tmp_path / "My bag.toml").read_bytes() == before
    assert [each["file"] for each in desk.lines()] == ["My bag.toml"]
    width = Polygon(read_project(desk.path(name)).panels[0].outline).bounds[2]
    assert width == pytest.approx(200 * 0.9 + 20, abs=1.1)  # the allowance isn't scaled


def test_what_was_tried_is_kept_once_and_with_what_was_changed_on_it(
    desk: ProjectDesk, tmp_path: Path
) -> None:
    desk.save({"table": BAG})
    name = tried(desk)
    opened = desk.open({"project": name})
    table: dict[str, Any] = opened["table"] | {"seam_allowance": "7"}
    assert desk.save({"table": table, "file": name})["file"] == name  # saving keeps it
    assert there(tmp_path) == sorted(["My bag.toml", name])
    assert read_project(tmp_path / name).seam_allowance == 7.0
    assert desk.keep({"project": name}) == {"file": name}
    assert not Shelf(tmp_path).trials()


def test_keeping_never_goes_over_a_project_that_came_to_be_there_meanwhile(
    desk: ProjectDesk, tmp_path: Path
) -> None:
    desk.save({"table": BAG})
    name = tried(desk)
    trial = Shelf(tmp_path).trial(name)
    (tmp_path / name).write_text('name = "mine"\n[[panel]]\nname = "a"\nsize = [50, 60]\n')
    assert desk.keep({"project": name}) == {"file": name}
    assert read_project(tmp_path / name).name == "mine"
    assert trial.exists()


def test_what_is_saved_just_as_a_trial_is_kept_stays(
    desk: ProjectDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program writes the project's file between the look at it and the keeping."""
    desk.save({"table": BAG})
    name = tried(desk)
    mine = b'name = "mine"\n[[panel]]\nname = "a"\nsize = [50, 60]\n'
    real = projects_module.update

    def after_another(path: Path, change: Callable[[bytes | None], bytes]) -> None:
        path.write_bytes(mine)
        real(path, change)

    monkeypatch.setattr(projects_module, "update", after_another)
    assert desk.keep({"project": name}) == {"file": name}
    assert (tmp_path / name).read_bytes() == mine


def test_two_that_keep_a_trial_at_once_keep_it_once(
    desk: ProjectDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other thread has kept it, and changed it since, between the first one's look at it and its reading."""
    desk.save({"table": BAG})
    name = tried(desk)
    trial = desk.path(name)
    kept = trial.read_bytes() + b"# and more\n"

    def kept_meanwhile(self: ProjectDesk, name: str) -> Path:
        trial.unlink()
        (tmp_path / name).write_bytes(kept)
        return trial

    monkeypatch.setattr(ProjectDesk, "path", kept_meanwhile)
    assert desk.keep({"project": name}) == {"file": name}
    assert (tmp_path / name).read_bytes() == kept


def test_two_new_projects_of_one_name_saved_at_once_are_two(
    desk: ProjectDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other thread saves between the first one's choice of a name and its writing."""
    real = projects_module.update

    def after_another(path: Path, change: Callable[[bytes | None], bytes]) -> None:
        monkeypatch.setattr(projects_module, "update", real)
        desk.save({"table": BAG | {"seam_allowance": "7"}})
        real(path, change)

    monkeypatch.setattr(projects_module, "update", after_another)
    assert desk.save({"table": BAG})["file"] == "My bag-2.toml"
    allowances = [read_project(tmp_path / file).seam_allowance for file in there(tmp_path)]
    assert allowances == [10.0, 7.0]  # the -2 comes first in there(): "-" sorts before "."


def test_only_the_last_ten_trials_stay(desk: ProjectDesk, tmp_path: Path) -> None:
    desk.save({"table": BAG})
    shelf = Shelf(tmp_path)
    old = [tmp_path / f".old {n}.toml" for n in range(12)]
    for n, each in enumerate(old):
        each.write_text("name = 'x'")
        os.utime(each, (1000 + n, 1000 + n))
    name = tried(desk)
    assert [each.name for each in shelf.trials()] == [f".{name}", *(each.name for each in old[:2:-1])]

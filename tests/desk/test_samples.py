"""Samples travel with the program: each is there, can be read, and nothing breaks where they are missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.desk import samples
from salvage.desk.samples import PHOTO, SIDE, data_folder, sample_projects
from salvage.errors import SalvageError
from salvage.project.read import read_project
from salvage.units import parse_length


def test_the_samples_are_those_of_the_checkout_and_each_can_be_read(projects: Path) -> None:
    found = sample_projects()
    assert list(found) == sorted(each.name for each in projects.glob("*.toml"))
    for name, path in found.items():
        assert path.name == name
        assert read_project(path).panels


def test_the_photograph_of_every_install_is_there(demo_images: Path) -> None:
    assert (data_folder("demo_images") / PHOTO).read_bytes() == (demo_images / PHOTO).read_bytes()
    assert parse_length(SIDE) == 150.0  # as fixtures render it


def test_what_was_not_installed_is_said_or_is_simply_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(samples.salvage, "__file__", str(tmp_path / "salvage" / "__init__.py"))
    assert sample_projects() == {}
    with pytest.raises(SalvageError, match="demo_images are missing"):
        data_folder("demo_images")


def test_an_install_has_its_data_inside_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(samples.salvage, "__file__", str(tmp_path / "salvage" / "__init__.py"))
    for folder in ("salvage/demo_images", "salvage/sample_projects", "demo_images"):
        (tmp_path / folder).mkdir(parents=True)
    assert data_folder("demo_images") == tmp_path / "salvage" / "demo_images"
    assert data_folder("projects") == tmp_path / "salvage" / "sample_projects"

"""The order of the rooms: data goes one way, nothing imports a later room, and rooms within rooms have an order too.

The order stands in design notes and in DEVELOPERS.md; it is typed here once more, so that a stray import fails.
"""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

# Each room may import itself and the rooms named before it.
ORDER = (
    "errors",
    "units",
    "files",
    "ours",
    "shapes",
    "naming",
    "same",
    "trade",
    "photo",
    "scale",
    "cloth",
    "project",
    "telling",
    "fit",
    "job",
    "report",
    "rail",
    "loading",
    "desk",
)
# A room in the first place knows nothing of those in the second, though the order above would let it.
APART = (
    ("trade", ("photo", "scale", "cloth", "project", "fit", "report", "job", "rail", "loading")),
    ("project", ("photo", "scale", "cloth", "fit", "report", "job")),
    ("photo", ("trade",)),
    ("fit", ("photo", "scale", "job")),
)
# Within a room, the same: a sub-room may import those named before it.
WITHIN = {
    "fit": ("kernels", "geometry", "search", "proof", "keep", "help", "verdict", "bolt"),
    "scale": ("seeing", "solving", "floor"),
    "cloth": ("flat", "finders", "cut", "pieces"),
    "cloth/finders": ("lines", "sewn", "wear"),
    "report": ("say", "cutting", "pen", "drawing", "paper"),
    "rail": ("known", "answer", "crew", "show"),
    "desk": ("project", "edit", "answer", "workers", "serving"),
}
# More than so many modules side by side and a reader can't keep them apart.
MOST_IN_A_ROOM = 13
# What the checker and the search have in common must stay nothing but the plain data.
CHECKER_KNOWS = {"salvage.cloth.garment", "salvage.fit.answer", "salvage.project.project"}
RECHECK_KNOWS = {
    "salvage.cloth.garment",
    "salvage.fit.claim",
    "salvage.fit.question",
    "salvage.project.project",
}


def imports_of(file: Path) -> set[str]:
    """Modules of this project that a file imports, whatever they are needed for."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("salvage"):
            found.add(node.module)
            found |= {f"{node.module}.{each.name}" for each in node.names}
        elif isinstance(node, ast.Import):
            found |= {each.name for each in node.names if each.name.startswith("salvage")}
    return found


def files_of(room: str) -> list[Path]:
    place = ROOT / "salvage" / room
    files = sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    assert files, f"no file in {room}"
    return files


def rooms_in(imports: set[str], before: str = "salvage") -> set[str]:
    deep = before.count(".") + 1
    return {name.split(".")[deep] for name in imports if name.startswith(before + ".")}


@pytest.mark.parametrize("room", ORDER)
def test_a_room_imports_no_later_one(room: str) -> None:
    later = set(ORDER[ORDER.index(room) + 1 :])
    for file in files_of(room):
        wrong = rooms_in(imports_of(file)) & later
        assert not wrong, f"{file.relative_to(ROOT)} imports {sorted(wrong)}"


@pytest.mark.parametrize(("room", "unknown"), APART)
def test_rooms_that_know_nothing_of_each_other(room: str, unknown: tuple[str, ...]) -> None:
    for file in files_of(room):
        wrong = rooms_in(imports_of(file)) & set(unknown)
        assert not wrong, f"{file.relative_to(ROOT)} imports {sorted(wrong)}"


@pytest.mark.parametrize("room", WITHIN)
def test_rooms_within_a_room_have_an_order(room: str) -> None:
    for place, earlier in enumerate(WITHIN[room]):
        later = set(WITHIN[room][place + 1 :])
        for file in files_of(f"{room}/{earlier}"):
            wrong = rooms_in(imports_of(file), f"salvage.{room.replace('/', '.')}") & later
            assert not wrong, f"{file.relative_to(ROOT)} imports {sorted(wrong)}"


@pytest.mark.parametrize(("room", "plain"), [("check", CHECKER_KNOWS), ("recheck", RECHECK_KNOWS)])
def test_who_trusts_nobody_knows_plain_data_only(room: str, plain: set[str]) -> None:
    """And nothing that a layout or a proof was found with; what they need of geometry they work out for themselves."""
    known = {
        name
        for file in files_of(f"fit/{room}")
        for name in imports_of(file)
        if (ROOT / f"{name.replace('.', '/')}.py").exists() and not name.startswith(f"salvage.fit.{room}.")
    }
    assert known == plain


def test_words_need_no_drawing_library() -> None:
    for file in [*files_of("report/say"), *files_of("report/cutting")]:
        tree = ast.parse(file.read_text(encoding="utf-8"))
        names = {n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
        names |= {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
        assert not [
            n
            for n in names
            if n.startswith(("pydyf", "fontTools", "PIL", "salvage.report.drawing", "salvage.report.pen"))
        ], file.name


def test_every_room_is_in_the_order() -> None:
    """A new room or module must say where it stands."""
    there = {
        p.stem for p in (ROOT / "salvage").iterdir() if p.suffix == ".py" or (p / "__init__.py").exists()
    }
    assert there - {"__init__"} == set(ORDER)


def test_no_room_is_crowded() -> None:
    rooms = {p.parent for p in (ROOT / "salvage").rglob("__init__.py")}
    crowded = {r.name: n for r in rooms if (n := len(list(r.glob("*.py"))) - 1) > MOST_IN_A_ROOM}
    assert not crowded


# What two rooms each call by the plain word, and never meet with the other's: a seam that is found and one of a project ...
SHARED_NAMES = {
    "Assignment", "Card", "Copies", "Frame", "Grain", "Ground", "Inside", "Joint", "Kept", "Landmark", "Measured", "Outline",
    "Question", "Run", "Seam", "State", "Strip",
}  # fmt: skip


def test_a_name_means_one_thing() -> None:
    homes: dict[str, list[str]] = {}
    for file in (ROOT / "salvage").rglob("*.py"):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(str(file.relative_to(ROOT)))
    several = {name: places for name, places in homes.items() if len(places) > 1}
    assert not {name: several[name] for name in several.keys() - SHARED_NAMES}
    assert set(several) == SHARED_NAMES, "a shared name that is shared no longer"


def test_every_package_is_installed() -> None:
    """pyproject.toml can't find packages by itself, since cli/ installs inside salvage; so this finds them."""
    told = set(
        tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]["packages"]
    )
    there = {".".join(p.parent.relative_to(ROOT).parts) for p in (ROOT / "salvage").rglob("__init__.py")}
    assert told == there | {
        "salvage.commands",
        "salvage.commands.shared",
        "salvage.demo_images",
        "salvage.sample_projects",
    }


# What is compiled as one and called by `salvage.fit.kernels.calls` alone: tests/fit/kernels asks it through that.
CALLED_AS_ONE = {
    f"salvage.fit.kernels.{name}"
    for name in ("build", "contact", "doors", "entries", "kinds", "moves", "overlap")
}


def test_every_module_is_imported_by_a_test() -> None:
    """That it runs on the way to something else isn't enough: who breaks it should see a test of its own fail."""
    there = {
        ".".join(p.relative_to(ROOT).with_suffix("").parts)
        for p in (ROOT / "salvage").rglob("*.py")
        if p.name != "__init__.py"
    }
    tested = set().union(*(imports_of(p) for p in (ROOT / "tests").rglob("*.py")))
    assert len(there) > 300
    assert sorted(there - tested - CALLED_AS_ONE) == []
    assert not CALLED_AS_ONE - (there - tested), "an exception that is none any more"

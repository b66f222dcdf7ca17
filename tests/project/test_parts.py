from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from salvage.errors import SalvageError
from salvage.project.parts.kinds import KINDS
from salvage.project.project import Panel, Project
from salvage.project.read import project_from, read_project

EXAMPLES: dict[str, dict[str, Any]] = {
    "bag": {"width": 260, "height": 240, "depth": 80},
    "flat pocket": {"width": 120, "height": 140},
    "zip pocket": {"zip": 160, "depth": 110},
    "lining": {"of": "outer"},
    "gusset": {"width": 300, "height": 220, "depth": 70},
    "round base": {"diameter": 200, "height": 150},
    "casing": {"around": 600, "cord": 6},
    "strap": {"width": 25, "length": 600},
    "binding": {"width": 10, "around": 900},
    "patchwork": {"width": 400, "height": 320, "columns": 5, "rows": 4},
    "hat": {"head": 570, "crown": 170, "brim": 60},
}
OUTER = {"name": "outer", "kind": "bag", **EXAMPLES["bag"]}


def project(*parts: dict[str, Any], **more: Any) -> Project:
    return project_from({"seam_allowance": 10, "part": list(parts), **more}, folder=Path())


def test_each_kind_has_an_example() -> None:
    assert EXAMPLES.keys() == KINDS.keys()


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_gives_named_panels_with_a_formula_and_a_source(kind: str) -> None:
    made = project(OUTER, {"name": "x", "kind": kind, **EXAMPLES[kind]})
    part = made.parts[-1]
    assert part.formulas
    assert part.source
    names = {each.name for each in [*made.panels]} | {each.name for each in made.strips}
    assert part.items
    assert set(part.items) <= names
    assert all(name.startswith("x") for name in part.items)


@pytest.mark.parametrize("kind", KINDS)
def test_a_missing_measure_is_named(kind: str) -> None:
    for key in KINDS[kind].needs:
        entry = {k: v for k, v in EXAMPLES[kind].items() if k != key}
        with pytest.raises(SalvageError, match=f"part 'x': .*{key} is not given"):
            project(OUTER, {"name": "x", "kind": kind, **entry})


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"kind": "bagg"}, "Did you mean 'bag'"),
        ({}, "kind is not given"),
        ({"kind": "bag", "width": 260, "height": 240, "depth": 0}, "depth must be more than 0"),
        ({"kind": "bag", "width": 60, "height": 240, "depth": 80}, "depth must be less than width"),
        (
            {"kind": "bag", "width": 260, "height": 240, "depth": 80, "bottum": "fold"},
            "Did you mean 'bottom'",
        ),
        ({"kind": "bag", "width": 260, "height": 240, "depth": 80, "bottom": "hem"}, "none of seam, fold"),
        ({"kind": "flat pocket", "width": 90, "height": 15}, "hem must be less than height"),
        ({"kind": "lining", "of": "nothing"}, "names no .*part.* above it"),
        ({"kind": "lining", "of": "outer", "shorter": 500}, "shorter must be less"),
        ({"kind": "gusset", "width": 100, "height": 90, "depth": 9, "corner": 60}, "no more than height"),
        ({"kind": "casing", "around": 600}, "either cord"),
        ({"kind": "casing", "around": 600, "cord": 5, "width": 9}, "either cord"),
        ({"kind": "round base", "diameter": 200, "height": 90, "sides": 0}, "sides must be a whole number"),
        ({"kind": "patchwork", "width": 9, "height": 9, "columns": 99, "rows": 9}, "too many"),
        ({"kind": "patchwork", "width": 9, "height": 9, "columns": 2, "rows": 2, "fabrics": []}, "fabrics"),
        ({"kind": "hat", "head": 570, "crown": 170, "brim": 60, "slope": 90}, "slope must be"),
        ({"kind": "hat", "head": 570, "crown": 170, "gores": 2}, "gores must be a whole number"),
    ],
)
def test_errors_are_in_the_words_of_the_file(entry: dict[str, Any], said: str) -> None:
    with pytest.raises(SalvageError, match=said):
        project(OUTER, {"name": "x", **entry})


def test_two_parts_of_one_name() -> None:
    with pytest.raises(SalvageError, match="more than one part"):
        project(OUTER, OUTER)


def test_a_hem_lies_above_the_stitching_line() -> None:
    made = project({"name": "b", "kind": "bag", "width": 200, "height": 150, "depth": 40, "hem": 25})
    (wall,) = made.panels
    assert max(y for _, y in wall.outline) - max(y for _, y in wall.stitching) == pytest.approx(35)
    assert max(x for x, _ in wall.outline) - max(x for x, _ in wall.stitching) == pytest.approx(10)


POCKET = {"name": "pocket", "finished": [120, 100]}
BACK = {"name": "back", "finished": [120, 200]}


def test_a_seam_puts_the_same_notch_on_both_sides() -> None:
    made = project(panel=[BACK, POCKET], seam=[{"sew": "pocket, bottom", "to": "back, bottom"}])
    back, pocket = made.panels
    assert [n.label for n in back.notches] == [n.label for n in pocket.notches] == ["1"]
    assert back.notches[0].at == pytest.approx((70, 0))
    assert back.notches[0].inward == pytest.approx((0, 1))


def test_a_seam_of_uneven_sides_is_told() -> None:
    made = project(panel=[BACK, POCKET], seam=[{"sew": "pocket, left", "to": "back, left"}])
    assert any("200 mm" in note and "100 mm" in note for note in made.notes)
    assert not project(panel=[BACK, POCKET], seam=[{"sew": "pocket, top", "to": "back, top"}]).notes


@pytest.mark.parametrize(
    ("seam", "said"),
    [
        ({"sew": "pocket", "to": "back, top"}, "one of its sides"),
        ({"sew": "pocket, upper", "to": "back, top"}, "one of its sides"),
        ({"sew": "poket, top", "to": "back, top"}, "Did you mean 'pocket'"),
        ({"sew": "pocket, top"}, "to must be a text"),
        ({"sew": "pocket, top", "onto": "back, top"}, "means nothing here"),
    ],
)
def test_seams_that_can_not_be(seam: dict[str, str], said: str) -> None:
    with pytest.raises(SalvageError, match=said):
        project(panel=[BACK, POCKET], seam=[seam])


def test_parts_without_an_allowance_are_told() -> None:
    made = project_from({"part": [OUTER]}, folder=Path())
    assert any("No seam_allowance" in note and "outer" in note for note in made.notes)


def test_a_part_can_be_cut_more_than_once_from_named_pieces(tmp_path: Path) -> None:
    file = tmp_path / "p.toml"
    file.write_text(
        'units = "in"\nseam_allowance = "1/2"\n[[part]]\nname = "tote"\nkind = "bag"\nwidth = 12\nheight = "10 1/2"\n'
        'depth = 3\ncut = 2\nfrom = ["back"]\ngrain = "either"\n',
        encoding="utf-8",
    )
    (wall,) = read_project(file).panels
    assert isinstance(wall, Panel)
    assert (wall.cut, wall.pieces, wall.grain.value) == (4, ("back",), "either")
    assert wall.finished == pytest.approx((15 * 25.4, 12 * 25.4))

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import Polygon

from salvage.errors import SalvageError
from salvage.project.drawing import read_drawing
from salvage.project.project import Around, Edge, Grain, Join
from salvage.project.read import read_project
from salvage.units import Unit

PROJECTS = Path(__file__).parents[2] / "fixtures" / "projects"


def written(folder: Path, text: str) -> Path:
    path = folder / "p.toml"
    path.write_text(text, encoding="utf-8")
    return path


def size(outline: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    left, bottom, right, top = Polygon(outline).bounds
    return right - left, top - bottom


@pytest.mark.parametrize("path", sorted(PROJECTS.glob("*.toml")), ids=lambda p: p.stem)
def test_each_sample_project_reads_without_notes(path: Path) -> None:
    project = read_project(path)
    assert project.panels
    assert project.notes == ()
    for panel in project.panels:
        assert Polygon(panel.outline).exterior.is_ccw


def test_basket_bag_is_cut_as_its_comments_say() -> None:
    project = read_project(PROJECTS / "basket_bag.toml")
    panels = {panel.name: panel for panel in project.panels}
    assert project.unit is Unit.INCH
    assert size(panels["wall"].outline) == pytest.approx((14.75 * 25.4, 10.75 * 25.4))
    assert size(panels["inner pocket"].outline) == pytest.approx((9.75 * 25.4, 6.75 * 25.4))
    assert panels["inner pocket"].joins == 1
    (strap,) = project.strips
    assert strap.cut_width == pytest.approx(4 * 25.4)
    assert strap.join is Join.BIAS


def test_drawn_panels_have_their_drawn_size_and_only_grow() -> None:
    project = read_project(PROJECTS / "saddle_cover.toml")
    panels = {panel.name: panel for panel in project.panels}
    # The drawn path's extreme points in y are its on-curve points 8 and 268.9 or less.
    _, length = size(panels["top"].outline)
    assert 2 * 8 + 258 < length < 2 * 8 + 262
    assert panels["side"].mirrored
    # Straight long side of 290 plus two rounded ends: sagitta = bulge x half the chord.
    width = 290 + 0.35 * 55 / 2 + 0.30 * 95 / 2 + 16
    assert size(panels["side"].outline)[0] == pytest.approx(width, abs=3.0)
    assert size(panels["side"].outline)[0] >= 306


def test_finished_size_gains_an_allowance_on_each_side(tmp_path: Path) -> None:
    project = read_project(
        written(tmp_path, 'seam_allowance = 10\n[[panel]]\nname = "a"\nfinished = [100, "20cm"]\n')
    )
    assert size(project.panels[0].outline) == pytest.approx((120, 220))
    assert project.panels[0].finished == (100, 200)
    assert project.panels[0].grain is Grain.ALONG


def test_cut_size_is_taken_as_it_is(tmp_path: Path) -> None:
    project = read_project(
        written(tmp_path, 'seam_allowance = 10\n[[panel]]\nname = "a"\nsize = [100, 200]\n')
    )
    assert size(project.panels[0].outline) == (100, 200)
    assert project.panels[0].finished == (80, 180)


def test_a_clockwise_outline_is_turned_round(tmp_path: Path) -> None:
    project = read_project(
        written(tmp_path, '[[panel]]\nname = "a"\noutline = [[0,0],[0,50],[80,50],[80,0]]\n')
    )
    assert Polygon(project.panels[0].outline).exterior.is_ccw


def test_sizes_meant_in_another_unit_are_noticed(tmp_path: Path) -> None:
    project = read_project(written(tmp_path, '[[panel]]\nname = "a"\nsize = [14, 9]\n'))
    assert "really in millimetres" in project.notes[0]


PANEL = '[[panel]]\nname = "a"\nsize = [10, 10]\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "nothing to cut"),
        ("name = ", "not a project file"),
        ('units = "ell"\n' + PANEL, "none of mm, cm, in"),
        ("seam_alowance = 3\n" + PANEL, "Did you mean 'seam_allowance'"),
        (PANEL + PANEL, "used more than once"),
        ('[[panel]]\nname = "a"\n', "found none"),
        ('[[panel]]\nname = "a"\nsize = [1, 2]\nfinished = [1, 2]\n', "give its shape once"),
        ('[[panel]]\nname = "a"\nsize = [0, 10]\n', "more than 0"),
        ('[[panel]]\nname = "a"\nsize = ["-5", 10]\n', "not a length"),
        ('[[panel]]\nname = "a"\nsize = [50000, 10]\n', "more than 10 m"),
        ('[[panel]]\nname = "a"\noutline = [[0,0],[10,10],[10,0],[0,10]]\n', "crosses itself"),
        (PANEL + "cut = 0\n", "whole number, 1 or more"),
        (PANEL + "cut = 3\nmirrored = true\n", "is odd"),
        (PANEL + 'grain = "sideways"\n', "none of along"),
        (PANEL + 'grain = "any"\nrotations = [0]\n', "not both"),
        ('[[panel]]\nname = "a"\ndrawing = "none.svg"\n', "no such drawing"),
        ('[[strip]]\nname = "s"\nlength = 100\n', "finished_width"),
        ('[[strip]]\nname = "s"\ncut_width = 10\nlength = 100\nshortest = 200\n', "longer than the strip"),
        ('panel = "a"\n', "[[panel]]"),
    ],
)
def test_what_is_wrong_is_said_in_the_words_of_the_file(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SalvageError, match=r"p\.toml") as caught:
        read_project(written(tmp_path, text))
    assert said in str(caught.value)


def test_a_drawing_without_the_named_path_lists_what_it_has(tmp_path: Path) -> None:
    (tmp_path / "d.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 50 50">'
        '<rect id="square" width="40" height="30"/></svg>'
    )
    with pytest.raises(SalvageError, match="square"):
        read_project(written(tmp_path, '[[panel]]\nname = "a"\ndrawing = "d.svg#round"\n'))
    project = read_project(written(tmp_path, '[[panel]]\nname = "a"\ndrawing = "d.svg#square"\n'))
    assert size(project.panels[0].outline) == pytest.approx((40, 30))


def test_binary_rubbish_is_no_project(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    path.write_bytes(bytes(range(256)))
    with pytest.raises(SalvageError, match="text"):
        read_project(path)
    with pytest.raises(SalvageError, match="no such file"):
        read_project(tmp_path / "missing.toml")


def test_inches_read_for_millimetres_are_noticed(tmp_path: Path) -> None:
    text = 'units = "in"\n[[panel]]\nname = "flap"\nsize = [300, 200]\n'
    assert (
        "flap is 7.6 m long: are its sizes really in inches" in read_project(written(tmp_path, text)).notes[0]
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[panel]]\nname = 'a'\nsize = [9, 9]\n[[panel]]\nsize = [9, 9]\n", "panel number 2: name must be"),
        ("[[panel]]\nname = 'a'\nsize = [9, 9]\njoins = 99999\n", "whole number, from 0 to 9"),
        ("[[panel]]\nname = 'a'\noutline = [[0, 0], [9, 9], [9, 0], [0, 9]]\n", "List its corners in order"),
        ("[[panel]]\nname = 'a'\ndrawing = 'd.svg'\n", r"has 2 closed paths \(left, right\). Name the one"),
        ("[[panel]]\nname = 'a'\ndrawing = 'd.svg#ring'\n", "closed path called 'ring'"),
        ("[panel]\nname = 'a'\n", r"under its own \[\[panel\]\]"),
    ],
)
def test_what_is_wrong_comes_with_what_to_do(tmp_path: Path, text: str, words: str) -> None:
    paths = "".join(f'<path id="{n}" d="M{x} 0 h40 v40 h-40 Z"/>' for n, x in (("left", 0), ("right", 60)))
    (tmp_path / "d.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg">{paths}</svg>')
    with pytest.raises(SalvageError, match=words):
        read_project(written(tmp_path, text))


def test_a_panel_with_a_hole_is_refused_in_so_many_words(tmp_path: Path) -> None:
    ring = '<path id="ring" d="M0 0 h90 v90 h-90 Z M30 30 h20 v20 h-20 Z"/>'
    (tmp_path / "d.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg">{ring}</svg>')
    with pytest.raises(SalvageError, match="2 closed lines are called 'ring'"):
        read_project(written(tmp_path, "[[panel]]\nname = 'a'\ndrawing = 'd.svg#ring'\n"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            'seam_allowance = "3/8"\n[[panel]]\nname = "a"\nsize = [90, 80]',
            'seam_allowance = "3/8" is taken as millimetres',
        ),
        ('[[panel]]\nname = "a"\nfinished = [90, "7 1/2"]\nseam_allowance = 9', 'write "7 1/2in"'),
        (
            'seam_allowance = 1\n[[panel]]\nname = "a"\nsize = [90, 80]',
            "A seam allowance of 1 mm, for a, is very little",
        ),
        (
            'units = "in"\nseam_allowance = 10\n[[panel]]\nname = "a"\nsize = [30, 40]',
            "A seam allowance of 10 in (254 mm), for a, is very much: is it really in inches?",
        ),
        (
            '[[panel]]\nname = "a"\nfinished = [90, 80]\n[[strip]]\nname = "s"\nfinished_width = 20\nlength = 300',
            "No seam_allowance is given, so a, s would be cut at the finished size",
        ),
    ],
)
def test_traps_are_told(tmp_path: Path, text: str, says: str) -> None:
    notes = read_project(written(tmp_path, text)).notes
    assert len(notes) == 1
    assert says in notes[0]


@pytest.mark.parametrize(
    "text",
    [
        'seam_allowance = 0\n[[panel]]\nname = "a"\nfinished = [90, 80]',
        'units = "in"\nseam_allowance = "3/8"\n[[panel]]\nname = "a"\nfinished = [9, "7 1/2"]',
        'seam_allowance = "3/8in"\n[[panel]]\nname = "a"\nfinished = [90, 80]',
        '[[panel]]\nname = "1/2"\nsize = [90, 80]\n[[strip]]\nname = "s"\nfinished_width = 20\nfolds = 4\nlength = 300',
    ],
)
def test_what_is_meant_is_no_trap(tmp_path: Path, text: str) -> None:
    assert read_project(written(tmp_path, text)).notes == ()


@pytest.mark.parametrize("points", ["0,0 50,0 60," + "9" * 200_000, "0,0" + " " * 200_000 + "50,0 60,40"])
def test_an_endless_number_in_a_drawing_is_refused_before_it_is_looked_for(
    tmp_path: Path, points: str
) -> None:
    """What reads drawings for us takes hours over it."""
    (tmp_path / "d.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg"><polygon id="p" points="{points}"/></svg>'
    )
    with pytest.raises(SalvageError, match="endless"):
        read_drawing("d.svg", tmp_path, Unit.MM)


KEEPING = '[[panel]]\nname = "bag"\nfinished = [200, 300]\nseam_allowance = 10\n'


def test_what_a_panel_keeps_is_read_in_the_frame_of_its_cut_outline(tmp_path: Path) -> None:
    (bag,) = read_project(
        written(tmp_path, KEEPING + 'around = "pocket"\nat = [100, 120]\ntolerance = 5\n')
    ).panels
    assert bag.around == Around("pocket", (110.0, 130.0), 5.0)
    (bag,) = read_project(written(tmp_path, KEEPING + "around = 12\n")).panels
    assert bag.around == Around("12", None, 10.0)


@pytest.mark.parametrize(
    ("side", "cut"),
    [("bottom", (220, 310)), ("top", (220, 310)), ("left", (210, 320)), ("right", (210, 320))],
)
def test_a_side_on_a_hem_has_no_allowance(tmp_path: Path, side: str, cut: tuple[float, float]) -> None:
    (bag,) = read_project(written(tmp_path, KEEPING + f'edge = "hem"\nedge_side = "{side}"\n')).panels
    assert bag.edge == Edge("hem", side)
    assert size(bag.outline) == pytest.approx(cut)
    assert size(bag.stitching) == pytest.approx((200, 300))


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("at = [10, 10]", "at says more about around, and there is no around"),
        ('edge_side = "top"', "edge_side says more about edge"),
        ('around = "pocket"\nedge = "hem"', "give around or edge, not both"),
        ("around = true", 'around must be a text such as "pocket"'),
        ('around = ""', 'around must be a text such as "pocket"'),
        ('around = "pocket"\nat = [400, 10]', "lies outside of the panel"),
        ('around = "pocket"\nat = 3', "at: needs two lengths"),
        ('around = "pocket"\ntolerance = -1', "tolerance"),
        ('around = "pocket"\nflip = true', "around and flip don't go together"),
        ('around = "pocket"\ncut = "many"', 'around and cut = "many" don\'t go together'),
        ('edge = "hem"\nedge_side = "front"', "edge_side = 'front' is none of top, left, bottom, right"),
        (
            'edge = "hem"\nedge_side = "left"\nmirrored = true\ncut = 2',
            "has its edge at the top or the bottom",
        ),
        ('joins = 1\njoins_where = "middle"', "joins_where = 'middle' is none of"),
        ('joins_where = "bottom"', "it allows none. Add joins = 1"),
    ],
)
def test_what_is_wrong_with_what_is_kept_says_file_panel_and_key(
    tmp_path: Path, more: str, said: str
) -> None:
    path = written(tmp_path, KEEPING + more + "\n")
    with pytest.raises(SalvageError) as error:
        read_project(path)
    assert str(error.value).startswith(f"{path}: panel 'bag'")
    assert said in str(error.value)

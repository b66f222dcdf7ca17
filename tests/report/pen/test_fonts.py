"""Letters: which font has them, and what a font of a few of them holds, read back by FreeType (through Pillow)."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont

from salvage.report.pen import fonts, letters
from salvage.report.pen.fonts import ALL_OF, USUAL, USUAL_BOLD, Font, font_of, lacking, runs_of

HAN = "袋"


def drawn(font: ImageFont.FreeTypeFont, letter: str) -> np.ndarray:
    picture = Image.new("L", (160, 160))
    ImageDraw.Draw(picture).text((30, 120), letter, 255, font, "ls")
    return np.asarray(picture).astype(float)


@pytest.fixture
def post_script(tmp_path: Path) -> Font:
    """A font of PostScript outlines whose one letter is a square with a round corner, 600 of 1000 wide, on the line."""
    pen = T2CharStringPen(800, None)
    pen.moveTo((100, 0))
    pen.lineTo((700, 0))
    pen.lineTo((700, 300))
    pen.curveTo((700, 466), (566, 600), (400, 600))
    pen.lineTo((100, 600))
    pen.closePath()
    empty = T2CharStringPen(500, None).getCharString()
    made = FontBuilder(1000, isTTF=False)
    made.setupGlyphOrder([".notdef", "bag"])
    made.setupCharacterMap({ord(HAN): "bag"})
    made.setupCFF("Bag", {"FullName": "Bag"}, {".notdef": empty, "bag": pen.getCharString()}, {})
    made.setupHorizontalMetrics({".notdef": (500, 0), "bag": (800, 100)})
    made.setupHorizontalHeader(ascent=800, descent=-200)
    made.setupNameTable({"familyName": "Bag", "styleName": "Regular"})
    made.setupOS2()
    made.setupPost()
    made.save(tmp_path / "bag.otf")
    return Font(str(tmp_path / "bag.otf"))


def test_the_usual_fonts_have_the_letters_that_they_are_not_asked_for() -> None:
    for font in (USUAL, USUAL_BOLD):
        known = letters.opened(font).names
        assert [hex(each) for part in ALL_OF for each in part if each not in known] == []


def test_the_usual_fonts_come_with_matplotlib_which_is_not_loaded() -> None:
    assert letters.opened(USUAL).read["name"].getDebugName(1) == "DejaVu Sans"
    assert Path(USUAL_BOLD.path).is_file()
    asked = "import sys, salvage.report.pen.fonts; print(any(each.startswith('matplotlib') for each in sys.modules))"
    told = subprocess.run([sys.executable, "-P", "-c", asked], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"


@pytest.mark.parametrize("font", [USUAL, USUAL_BOLD])
def test_a_font_of_a_few_letters_draws_them_as_the_whole_one_does(font: Font) -> None:
    """Hinted by another hinter, so by grey that differs at edges only."""
    text = "aÅé½ж“"
    few = ImageFont.truetype(io.BytesIO(_with_names(letters.font_with(font, text), text)), 90)
    whole = ImageFont.truetype(font.path, 90)
    for letter in text:
        one, other = drawn(few, letter), drawn(whole, letter)
        assert other.sum() > 50_000
        assert np.abs(one - other).sum() < 0.15 * other.sum()
        assert few.getlength(letter) == pytest.approx(whole.getlength(letter), abs=1)


def _with_names(data: bytes, text: str) -> bytes:
    """The font with a table that says which letter is which, as readers of font files want it and PDFs do not."""
    read = TTFont(io.BytesIO(data))
    made = FontBuilder(font=read)
    names = read.getGlyphOrder()[1:]
    made.setupCharacterMap({ord(letter): name for letter, name in zip(text, names, strict=True)})
    stream = io.BytesIO()
    read.save(stream)
    return stream.getvalue()


def test_what_a_font_lacks_is_drawn_as_its_box() -> None:
    few = TTFont(io.BytesIO(letters.font_with(USUAL, "\U0010fffd")))
    missing, drawn_for_it = (few["glyf"][name] for name in few.getGlyphOrder())
    assert drawn_for_it.coordinates == missing.coordinates
    assert missing.numberOfContours > 0


def test_the_same_letters_give_the_same_font() -> None:
    assert letters.font_with(USUAL, "abc") == letters.font_with(USUAL, "abc")


def test_kerning_is_the_font_s_own() -> None:
    em = letters.opened(USUAL).em
    first, last = letters.steps(USUAL, "AV")
    read = TTFont(USUAL.path)
    assert first * em == read["hmtx"]["A"][0] + read["kern"].kernTables[0].kernTable["A", "V"]
    assert last * em == read["hmtx"]["V"][0]


def test_a_font_of_post_script_outlines_is_carried_along_as_curves_of_the_other_kind(
    post_script: Font,
) -> None:
    few = TTFont(io.BytesIO(letters.font_with(post_script, HAN)))
    shape = few["glyf"][few.getGlyphOrder()[1]]
    assert (shape.xMin, shape.yMin, shape.xMax, shape.yMax) == (100, 0, 700, 600)
    assert letters.advance(post_script, HAN) == 0.8
    picture = drawn(
        ImageFont.truetype(io.BytesIO(_with_names(letters.font_with(post_script, HAN), HAN)), 100), HAN
    )
    cut = 300**2 - np.pi * 300**2 / 4  # what the round corner leaves out
    assert picture.sum() / 255 == pytest.approx((600 * 600 - cut) / 100, rel=0.01)


def test_a_font_of_this_machine_is_used_for_letters_that_the_usual_one_lacks(
    post_script: Font, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "broken.ttf").write_bytes(b"no font")
    files = [str(tmp_path / "broken.ttf"), post_script.path]
    monkeypatch.setattr(fonts, "_files", lambda: iter(files))
    for each in (fonts._installed, fonts._having):
        each.cache_clear()
    try:
        assert font_of(HAN) == font_of(HAN, True) == post_script
        assert lacking([HAN, "é"]) == ""
        assert runs_of(f"a {HAN}b", bold=True) == [(USUAL_BOLD, "a "), (post_script, HAN), (USUAL_BOLD, "b")]
    finally:
        for each in (fonts._installed, fonts._having):
            each.cache_clear()

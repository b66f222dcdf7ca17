"""Names in scripts that run from right to left, beside what Raqm (FriBidi and HarfBuzz, through Pillow) makes of them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont, features

from salvage.report.pen.fonts import USUAL, font_of, runs_of
from salvage.report.pen.order import plain, seen

# "bag", "shirt" and "coat" in Hebrew, "bag", "no" and "shirt" in Arabic, from memory
WORDS = [
    "תיק",
    "חולצה",
    "מעיל",
    "حقيبة",
    "لا",
    "قميص",
    "flap",
    "sleeve",
    "12",
    "3,5",
    "40%",
    "(",
    ")",
    "–",
    ",",
    "/",
]


def drawn(text: str, layout: ImageFont.Layout) -> np.ndarray:
    font = ImageFont.truetype(USUAL.path, 40, layout_engine=layout)
    off = ["-liga", "-kern", "-mark", "-mkmk"] if layout is ImageFont.Layout.RAQM else None
    picture = Image.new("L", (1600, 90))
    ImageDraw.Draw(picture).text((10, 60), text, 255, font, "ls", features=off)
    return np.asarray(picture).astype(float)


@pytest.mark.skipif(
    not (features.check("raqm") and features.check("fribidi")), reason="Pillow has no Raqm here"
)
@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=6).map(" ".join))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_line_looks_as_raqm_lays_it_out(text: str) -> None:
    """But for kerning, which Raqm knows: the same letters, each within a few pixels."""
    one, other = drawn(seen(text), ImageFont.Layout.BASIC), drawn(text, ImageFont.Layout.RAQM)
    for picture in (one, other):
        assert picture.sum() > 0
    columns = [np.flatnonzero(picture.sum(axis=0)) for picture in (one, other)]
    assert columns[0][-1] == pytest.approx(columns[1][-1], rel=0.02, abs=5)
    one, other = (cv2.GaussianBlur(picture, (0, 0), 5) for picture in (one, other))
    assert np.abs(one - other).sum() < 0.18 * other.sum()


def test_what_runs_from_left_to_right_stays_as_it_is() -> None:
    for text in ("flap (left), 12 mm", "Täschchen für Žofie ¾ × 5″", "袋 Ωж"):
        assert seen(text) == text


def test_an_accent_is_put_together_with_its_letter() -> None:
    assert seen("Ta\u0308schchen") == "Täschchen"


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("אבג", "גבא"),
        ("bag אבג 12", "bag 12 גבא"),
        ("אבג bag", "bag גבא"),
        ("bag (אבג) x", "bag (גבא) x"),
        ("(אבג) bag", "bag (גבא)"),
    ],
)
def test_letters_and_brackets_stand_in_the_order_in_which_they_are_seen(text: str, order: str) -> None:
    assert seen(text) == order


def test_letters_of_arabic_are_joined_and_stand_for_themselves_when_copied() -> None:
    shaped = seen("حقيبة")
    assert len(set(shaped) & set("حقيبة")) == 0
    assert "".join(plain(each) for each in reversed(shaped)) == "حقيبة"
    assert [plain(each) for each in seen("لا")] == ["لا"]
    assert {font for font, _ in runs_of("حقيبة")} == {font_of("a")}

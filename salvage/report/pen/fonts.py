"""Which fonts draw a text: the one that comes with matplotlib, then whatever this machine has.

The first one lacks scripts such as Chinese, Japanese and Korean. Installed fonts are looked through only where a name
needs them.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from PIL import ImageFont

from salvage.report.pen.order import plain, seen


@dataclass(frozen=True, slots=True)
class Font:
    """A font file. number: which font of it, where it holds several."""

    path: str
    number: int = 0


def _shipped(name: str) -> Font:
    """A font of matplotlib's, which is found but never loaded: that takes half a second."""
    package = find_spec("matplotlib")
    if package is None or package.origin is None:
        raise ImportError(
            "matplotlib, whose letters pages are written with, is missing: install salvage again"
        )
    return Font(str(Path(package.origin).with_name("mpl-data") / "fonts" / "ttf" / name))


# They come with every installation, so every machine draws the same page.
USUAL, USUAL_BOLD = _shipped("DejaVuSans.ttf"), _shipped("DejaVuSans-Bold.ttf")
# Of these both have every letter, which a test holds: Latin with all its accents, dashes, quotation marks and dots.
ALL_OF = (range(0x20, 0x7F), range(0xA0, 0x250), range(0x2010, 0x2028), range(0x2030, 0x203B))
_NO_LETTERS = ("lastresort", "emoji", "blank")  # fonts of boxes, or of pictures that can't be drawn as lines
_ENDINGS = (".ttf", ".otf", ".ttc", ".otc")
_REGULAR, _BOLD = 400, 700  # weights as OpenType counts them (OS/2 table, usWeightClass)


def lacking(texts: Iterable[str]) -> str:
    """The letters of these texts that no font here has, each once."""
    letters = dict.fromkeys(letter for text in texts for letter in text if not letter.isspace())
    return "".join(letter for letter in letters if _having(letter, False) is None)


def font_of(letter: str, bold: bool = False) -> Font:
    """The font that draws a letter; the usual one where none has it."""
    return _having(letter, bold) or (USUAL_BOLD if bold else USUAL)


def runs_of(text: str, bold: bool = False) -> list[tuple[Font, str]]:
    """A line of text as it is drawn from left to right, cut wherever another font goes on."""
    letters = (some for letter in seen(text) for some in (letter if _having(letter, bold) else plain(letter)))
    return [
        (font, "".join(run)) for font, run in itertools.groupby(letters, lambda each: font_of(each, bold))
    ]


@lru_cache(maxsize=256)
def face(font: Font, size_px: float) -> ImageFont.FreeTypeFont:
    """A font for pixels; letters stand side by side as they are written, whatever else is installed to lay them out."""
    return ImageFont.truetype(font.path, size_px, index=font.number, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=4096)
def _having(letter: str, bold: bool) -> Font | None:
    usual = USUAL_BOLD if bold else USUAL
    code = ord(letter)
    if any(code in letters for letters in ALL_OF) or code in letters_of(usual):
        return usual
    return next((font for font in _installed(bold) if code in letters_of(font)), None)


@lru_cache(maxsize=1024)
def letters_of(font: Font) -> frozenset[int]:
    """The code points that a font has."""
    from fontTools.ttLib import TTFont

    try:
        with TTFont(font.path, fontNumber=font.number, lazy=True) as read:
            return frozenset(read.getBestCmap() or ())
    except (
        Exception
    ):  # whatever else lies among this machine's fonts, damaged or not understood, has no letters
        return frozenset()


@lru_cache(maxsize=2)
def _installed(bold: bool) -> tuple[Font, ...]:
    """This machine's fonts, upright ones first, then the nearest in weight, then by name."""
    wanted = _BOLD if bold else _REGULAR
    found = [each for file in sorted(_files()) for each in _fonts_in(file)]
    return tuple(font for font, slanted, weight in sorted(found, key=lambda e: (e[1], abs(e[2] - wanted))))


def _files() -> Iterator[str]:
    """Font files of the folders in which Linux, macOS and Windows keep them."""
    home, data = Path.home(), os.environ.get("XDG_DATA_HOME")
    folders = [
        Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".fonts",
        Path(data, "fonts") if data else home / ".local/share/fonts",
        Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts",
        Path(os.environ.get("WINDIR", r"C:\Windows"), "Fonts"),
        home / "AppData/Local/Microsoft/Windows/Fonts",
    ]  # fmt: skip
    for folder in folders:
        for inside, _, files in os.walk(folder):
            yield from (os.path.join(inside, file) for file in files if file.lower().endswith(_ENDINGS))


def _fonts_in(file: str) -> list[tuple[Font, bool, int]]:
    """Fonts of a file that are drawn as outlines, each with whether it is slanted and its weight."""
    from fontTools.ttLib import TTCollection, TTFont

    if any(word in os.path.basename(file).lower() for word in _NO_LETTERS):
        return []
    try:
        several = file.lower().endswith("c")
        reads = list(TTCollection(file, lazy=True)) if several else [TTFont(file, lazy=True)]
        return [
            (Font(file, number), bool(read["head"].macStyle & 2), int(read["OS/2"].usWeightClass))
            for number, read in enumerate(reads)
            if "OS/2" in read and ("glyf" in read or "CFF " in read)
        ]
    except Exception:  # as above
        return []

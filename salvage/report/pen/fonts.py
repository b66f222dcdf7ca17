"""Which fonts draw a text: the one that comes with matplotlib, then whatever this machine has.

The first one lacks scripts such as Chinese, Japanese and Korean. Installed fonts are looked through only
where a name needs them, and matplotlib itself is loaded only then.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from PIL import ImageFont

FAMILY = "DejaVu Sans"  # comes with matplotlib, so every machine draws the same page
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}  # thin and bold
# Of these it has every letter, which a test holds: Latin with all its accents, dashes, quotation marks and dots.
ALL_OF = (range(0x20, 0x7F), range(0xA0, 0x250), range(0x2010, 0x2028), range(0x2030, 0x203B))
_NO_LETTERS = ("LastResort", "Emoji", "Blank")  # fonts of boxes, or of pictures that can't be drawn as lines

# What a person reads on the terminal is ours: that a font has no bold is no news to them.
logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)


def families(text: str) -> list[str]:
    """The font families to draw a text with, in the order in which they are to be tried."""
    return list(dict.fromkeys([FAMILY, *(font for each in text if (font := _family_of(each)))]))


def lacking(texts: Iterable[str]) -> str:
    """The letters of these texts that no font here has, each once."""
    letters = dict.fromkeys(letter for text in texts for letter in text if not letter.isspace())
    return "".join(letter for letter in letters if _family_of(letter) is None)


@lru_cache(maxsize=4096)
def file_of(letter: str, bold: bool) -> str:
    """The file of the font that has a letter; of the usual one where none has it."""
    family = _family_of(letter)
    if family is None or family == FAMILY:
        return _file_of_family(bold)
    from matplotlib.font_manager import FontProperties, findfont

    return str(findfont(FontProperties(family=family, weight="bold" if bold else "normal")))


@lru_cache(maxsize=256)
def face(file: str, size_px: float) -> ImageFont.FreeTypeFont:
    """A font for pixels; letters stand side by side as they are written, whatever else is installed to lay them out."""
    return ImageFont.truetype(file, size_px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=4096)
def _family_of(letter: str) -> str | None:
    """The family that has a letter; None where there is none."""
    if any(ord(letter) in letters for letters in ALL_OF) or _draws(_file_of_family(), letter):
        return FAMILY
    from matplotlib.font_manager import fontManager

    for entry in sorted(fontManager.ttflist, key=lambda each: (each.style, abs(_weight(each.weight) - 400))):
        if not any(word in entry.name.replace(" ", "") for word in _NO_LETTERS) and _draws(
            entry.fname, letter
        ):
            return str(entry.name)
    return None


def _weight(weight: object) -> int:
    return weight if isinstance(weight, int) else 400


@lru_cache(maxsize=2)
def _file_of_family(bold: bool = False) -> str:
    """Found beside matplotlib without loading it, which takes longer than drawing a picture; where its data lie
    elsewhere, as some systems have it, by asking it."""
    spec = find_spec("matplotlib")
    for folder in (spec and spec.submodule_search_locations) or ():
        file = Path(folder, "mpl-data", "fonts", "ttf", _FILES[bold])
        if file.is_file():
            return str(file)
    from matplotlib.font_manager import FontProperties, findfont

    return str(findfont(FontProperties(family=FAMILY, weight="bold" if bold else "normal")))


def _draws(file: str, letter: str) -> bool:
    return ord(letter) in _letters_of(file)


@lru_cache(maxsize=512)
def _letters_of(file: str) -> frozenset[int]:
    """The code points that a font file has; none for one that can't be read."""
    from matplotlib.font_manager import get_font

    try:
        return frozenset(get_font(file).get_charmap())
    except (OSError, RuntimeError, ValueError):
        return frozenset()

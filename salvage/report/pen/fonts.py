"""Which fonts draw a text: the one that comes with matplotlib, then whatever this machine has.

The first one lacks scripts such as Chinese, Japanese and Korean. Installed fonts are looked through only
where a name needs them.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from functools import lru_cache

FAMILY = "DejaVu Sans"  # comes with matplotlib, so every machine draws the same page
_NO_LETTERS = ("LastResort", "Emoji", "Blank")  # fonts of boxes, or of pictures that can't be drawn as lines

# What a person reads on the terminal is ours: that a font has no bold is no news to them.
logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)


def families(text: str) -> list[str]:
    """The font families to draw a text with, in the order in which they are to be tried."""
    return list(dict.fromkeys([FAMILY, *(font for each in text if (font := _font_of(each)))]))


def lacking(texts: Iterable[str]) -> str:
    """The letters of these texts that no font here has, each once."""
    letters = dict.fromkeys(letter for text in texts for letter in text if not letter.isspace())
    return "".join(letter for letter in letters if _font_of(letter) is None)


@lru_cache(maxsize=4096)
def _font_of(letter: str) -> str | None:
    """The family that has a letter; None where there is none."""
    if ord(letter) < 0x250 or _draws(_file_of_family(), letter):
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


@lru_cache(maxsize=1)
def _file_of_family() -> str:
    from matplotlib.font_manager import findfont

    return str(findfont(FAMILY))


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

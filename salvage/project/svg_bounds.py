"""How much an SVG drawing would unfold to, found out before it is unfolded.

A few hundred bytes can name ten things that each name ten things and so on; what reads drawings for us unfolds
them all. So the file is first gone through once with a bare XML parser that keeps next to nothing.
"""

from __future__ import annotations

import bisect
import re
from xml.parsers import expat

DEEPEST = 100  # groups in groups; drawings have ten or so
MOST_ELEMENTS = 20_000  # with every <use> unfolded
_LONGEST_PATHS = 1_000_000  # letters of all paths' points together
_LONGEST_VALUE = (
    20_000  # of any other attribute, and between braces of a style sheet, which is searched in squares
)
_DEEPEST_USE = 50
# Numbers are found by patterns that try every way to cut a run of digits in two, so a long run takes for ever.
_ENDLESS = re.compile(r"[0-9]{100}|\s{2000}")
_DATA = ("d", "points")


class TooMuchError(Exception):
    """What is wrong with the drawing, and what to do."""


class _Gone:
    """What is remembered while the file is gone through: for each element where its inside ends, by number."""

    def __init__(self) -> None:
        self.ends: list[int] = []
        self.open: list[int] = []
        self.names: dict[str, list[int]] = {}
        self.uses: list[tuple[int, str]] = []
        self.path_letters = 0
        self.style: list[str] = []
        self.in_style = 0

    def start(self, tag: str, values: dict[str, str]) -> None:
        number = len(self.ends)
        self.ends.append(number + 1)
        self.open.append(number)
        if len(self.open) > DEEPEST:
            raise TooMuchError(f"groups lie more than {DEEPEST} deep in each other. Ungroup the panels.")
        if number > MOST_ELEMENTS:
            raise TooMuchError(f"has more than {MOST_ELEMENTS} elements. Save the panels alone.")
        bare = tag.rpartition(":")[2]
        self.in_style += bare == "style"
        for key, value in values.items():
            name = key.rpartition(":")[2]
            if _ENDLESS.search(value):
                raise TooMuchError(
                    f"{key[:40]!r} of an element holds an endless number or gap. Draw it again."
                )
            if name in _DATA:
                self.path_letters += len(value)
            elif name != "href" and len(value) > _LONGEST_VALUE:
                raise TooMuchError(f"{key[:40]!r} of an element is endless. Save the panels alone.")
            if name == "id":
                self.names.setdefault(value, []).append(number)
            if name == "href" and bare == "use":
                self.uses.append((number, value.removeprefix("#")))
        if self.path_letters > _LONGEST_PATHS:
            raise TooMuchError("its paths have too many points. Save the panels alone, with fewer points.")

    def end(self, tag: str) -> None:
        self.ends[self.open.pop()] = len(self.ends)
        self.in_style -= tag.rpartition(":")[2] == "style"

    def text(self, text: str) -> None:
        if self.in_style:
            self.style.append(text)

    def entity(self, _name: str, _parameter: int, value: str | None, *_rest: str | None) -> None:
        if value is not None and ("&" in value or "<" in value or len(value) > 1000):
            raise TooMuchError("has entities that stand for more than a name. Save it as plain SVG.")


def check_svg(data: bytes) -> None:
    """Raise TooMuchError where the drawing would unfold beyond all sense, and expat.ExpatError where it is no XML."""
    gone = _Gone()
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = gone.start
    parser.EndElementHandler = gone.end
    parser.CharacterDataHandler = gone.text
    parser.EntityDeclHandler = gone.entity
    parser.Parse(data, True)
    if any(len(part) > _LONGEST_VALUE for part in "".join(gone.style).split("{")):
        raise TooMuchError("its style sheet is endless. Save it as plain SVG.")
    if _unfolded(gone) > MOST_ELEMENTS:
        raise TooMuchError(
            f"unfolds to more than {MOST_ELEMENTS} elements, because things are used again within things used again. "
            "Save the panels alone."
        )


def _unfolded(gone: _Gone) -> int:
    """How many elements there are with every <use> replaced by what it names."""
    places = [number for number, _ in gone.uses]
    known: dict[int, int] = {}

    def inside(element: int, above: tuple[int, ...]) -> int:
        if element in above:
            raise TooMuchError("something in it is used within itself. Save the panels alone.")
        if len(above) > _DEEPEST_USE:
            raise TooMuchError(f"things are used within things {_DEEPEST_USE} deep. Save the panels alone.")
        if element not in known:
            end = gone.ends[element]
            within = gone.uses[bisect.bisect_left(places, element) : bisect.bisect_left(places, end)]
            more = 0
            for _, name in within:
                more += sum(inside(each, (*above, element)) for each in gone.names.get(name, ()))
                if more > MOST_ELEMENTS:
                    break
            known[element] = end - element + more
        return known[element]

    return inside(0, ()) if gone.ends else 0

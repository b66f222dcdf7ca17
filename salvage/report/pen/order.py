"""The letters of a line as they are seen from left to right, for names in scripts that run the other way.

Hebrew, Arabic and their like are written from right to left, figures and Latin words among them from left to right: the
Unicode bidirectional algorithm (UAX #9, revision 50), of which the rules for lines without marks of direction are
followed. Letters of Arabic take the shape that they have beside their neighbours (Unicode 16, section 9.2).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import lru_cache

_FROM_RIGHT = ("R", "AL")  # of Hebrew, of Arabic
_STRONG = ("L", *_FROM_RIGHT)
_OPENING, _CLOSING = "([{", ")]}"
_MIRRORED = str.maketrans("()[]{}<>«»‹›", ")(][}{><»«›‹")
_FORMS = (range(0xFB50, 0xFE00), range(0xFE70, 0xFEFD))  # code charts "Arabic Presentation Forms" A and B
_LAM, _TATWEEL = "\u0644", "\u0640"


def seen(text: str) -> str:
    """A line of text in the order in which it is drawn, accents put together with their letters where there is one of
    both."""
    if text.isascii():
        return text
    text = unicodedata.normalize("NFC", text)
    if not any(unicodedata.bidirectional(letter) in _FROM_RIGHT for letter in text):
        return text
    letters = _clusters(_joined(text))
    levels = _levels(letters)
    drawn = [
        each.translate(_MIRRORED) if level % 2 else each for each, level in zip(letters, levels, strict=True)
    ]
    order = list(range(len(drawn)))
    for level in range(max(levels), 0, -1):  # rule L2
        start = 0
        while start < len(order):
            end = start
            while end < len(order) and levels[order[end]] >= level:
                end += 1
            order[start:end] = reversed(order[start:end])
            start = end + 1
    return "".join(drawn[index] for index in order)


def plain(letter: str) -> str:
    """The letters of a text that a drawn one stands for."""
    if any(ord(letter) in forms for forms in _FORMS):
        return unicodedata.normalize("NFKC", letter)
    return letter


def _clusters(text: str) -> list[str]:
    """Letters, each with the accents that stand over or under it."""
    found: list[str] = []
    for letter in text:
        if found and unicodedata.category(letter) == "Mn":
            found[-1] += letter
        else:
            found.append(letter)
    return found


def _levels(letters: list[str]) -> list[int]:
    """How deep each letter lies in stretches of changing direction: even from left to right, odd from right to left."""
    kinds = [unicodedata.bidirectional(each[0]) for each in letters]
    base = next((int(kind != "L") for kind in kinds if kind in _STRONG), 0)  # P2, P3
    outside = "R" if base else "L"
    known = _weak(kinds, outside)
    _set_brackets(letters, known, outside)
    for index, kind in enumerate(known):  # N1, N2
        if kind == "ON":
            before, after = _strong_in(reversed(known[:index]), outside), _strong_in(known[index:], outside)
            known[index] = before if before == after else outside
    deeper = {"L": (0, 2), "R": (1, 1), "EN": (2, 2), "AN": (2, 2)}  # I1, I2
    return [deeper[kind][base] for kind in known]


def _strong_in(kinds: Iterable[str], outside: str) -> str:
    """The first direction that some letters have, figures counted as from right to left; else the one outside."""
    return next(("L" if kind == "L" else "R" for kind in kinds if kind != "ON"), outside)


def _set_brackets(letters: list[str], known: list[str], outside: str) -> None:
    """Both brackets of a pair get one direction, by what stands in them and before them. Rule N0."""
    opened: list[int] = []
    pairs = []
    for index, letter in enumerate(letters):
        if letter in _OPENING:
            opened.append(index)
        elif letter in _CLOSING:
            wanted = _OPENING[_CLOSING.index(letter)]
            match = next((at for at in reversed(opened) if letters[at] == wanted), None)
            if match is not None:
                del opened[opened.index(match) :]
                pairs.append((match, index))
    for start, end in sorted(pairs):
        inside = {"L" if kind == "L" else "R" for kind in known[start + 1 : end] if kind != "ON"}
        if not inside:
            continue
        kind = outside
        if outside not in inside and _strong_in(reversed(known[:start]), outside) != outside:
            kind = inside.pop()
        known[start] = known[end] = kind


def _weak(kinds: list[str], outside: str) -> list[str]:
    """Figures and what belongs to them resolved: L, R, EN and AN are left, and others as ON. Rules W2 to W7."""
    known = list(kinds)
    strong = outside
    for index, kind in enumerate(kinds):
        strong = kind if kind in _STRONG else strong
        if kind == "EN" and strong == "AL":
            known[index] = "AN"
    known = ["R" if kind == "AL" else kind for kind in known]
    for index in range(1, len(known) - 1):
        before, kind, after = known[index - 1 : index + 2]
        if before == after and (
            (kind == "ES" and before == "EN") or (kind == "CS" and before in ("EN", "AN"))
        ):
            known[index] = before
    for steps in (range(1, len(known)), range(len(known) - 2, -1, -1)):
        for index in steps:
            beside = known[index - 1] if steps.step > 0 else known[index + 1]
            if known[index] == "ET" and beside == "EN":
                known[index] = "EN"
    known = [kind if kind in ("L", "R", "EN", "AN") else "ON" for kind in known]
    strong = outside
    for index, kind in enumerate(known):
        strong = kind if kind in ("L", "R") else strong
        if kind == "EN" and strong == "L":
            known[index] = "L"
    return known


# --- Arabic --------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _forms() -> dict[str, dict[str, str]]:
    """The shapes of Arabic letters, and of lam with an alef, by where they are joined: isolated, initial, medial, final."""
    found: dict[str, dict[str, str]] = {}
    for code in (code for forms in _FORMS for code in forms):
        kind, *codes = unicodedata.decomposition(chr(code)).split() or [""]
        letters = "".join(chr(int(each, 16)) for each in codes)
        if len(letters) == 1 or (
            len(letters) == 2 and letters[0] == _LAM and letters[1] in "\u0622\u0623\u0625\u0627"
        ):
            found.setdefault(letters, {}).setdefault(kind.strip("<>"), chr(code))
    return found


def _joined(text: str) -> str:
    """Arabic letters in the shapes that they take beside each other."""
    forms = _forms()
    letters = list(text)
    drawn: list[str] = []
    index = 0
    before = False  # whether the letter before reaches on to this one
    while index < len(letters):
        letter = letters[index]
        if unicodedata.category(letter) == "Mn":  # is passed over
            drawn.append(letter)
            index += 1
            continue
        pair = "".join(letters[index : index + 2])
        taken = pair if len(pair) == 2 and pair in forms else letter
        own = forms.get(taken, {})
        after = next(
            (each for each in letters[index + len(taken) :] if unicodedata.category(each) != "Mn"), ""
        )
        joins_before = before and ("final" in own or letter == _TATWEEL)
        reaches = "initial" in own or letter == _TATWEEL
        joins_after = reaches and ("final" in forms.get(after, {}) or after == _TATWEEL)
        kind = {
            (False, False): "isolated",
            (False, True): "initial",
            (True, True): "medial",
            (True, False): "final",
        }
        drawn.append(own.get(kind[joins_before, joins_after], taken))
        before = reaches
        index += len(taken)
    return "".join(drawn)

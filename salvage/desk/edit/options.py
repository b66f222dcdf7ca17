"""Edits written on a command line, in their order, as actions: `--not 7 --seam 10,20 300,25 --name 3=yoke`."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from salvage.desk.edit.drawn import LINES, PATCHES
from salvage.errors import UsageError

Step = dict[str, Any]  # an action; {"do": "undo"} and {"do": "redo"} too

_POINT = re.compile(r"(-?\d+(?:\.\d+)?)[,;](-?\d+(?:\.\d+)?)")
_MOST_UNDONE = 10_000


@dataclass(slots=True)
class _Reader:
    """Words after an option, read one by one."""

    option: str
    words: list[str]
    photo: str | None
    fields: dict[str, str] = field(default_factory=dict)

    def one(self, what: str) -> str:
        if not self.words:
            raise UsageError(f"{self.option}: {what} is missing.")
        return self.words.pop(0)

    def points(self, least: int) -> list[list[float]]:
        found = []
        while self.words:
            word = self.words.pop(0)
            match = _POINT.fullmatch(word)
            if match is not None:
                found.append([float(match[1]), float(match[2])])
            elif re.match(r"(what|brush)=", word):
                key, _, value = word.partition("=")
                self.fields[key] = value
            else:
                raise UsageError(f"{self.option} {word}: is no point. Write pixels as X,Y, such as 1200,860.")
        if len(found) < least:
            raise UsageError(
                f"{self.option}: needs {least} point{'s' if least > 1 else ''} X,Y; {len(found)} given."
            )
        return found

    def done(self) -> None:
        if self.words:
            raise UsageError(f"{self.option}: what is {self.words[0]!r}? Put names with spaces in quotes.")

    def drawn(self, action: Step) -> Step:
        """An action with the photograph, and with what= and brush=, if they were told."""
        if self.photo is not None:
            action["photo"] = self.photo
        if "what" in self.fields:
            action["what"] = self.fields["what"]
        if "brush" in self.fields:
            try:
                action["brush"] = float(self.fields["brush"])
            except ValueError:
                raise UsageError(
                    f"{self.option}: brush={self.fields['brush']} is no number of pixels."
                ) from None
        return action


def steps_of(words: Sequence[str]) -> list[Step]:
    """The edits in words of a command line, in their order. Raises UsageError for what is none."""
    found: list[Step] = []
    photo: str | None = None
    rest = list(words)
    while rest:
        option = rest.pop(0)
        option, equals, value = option.partition("=") if option.startswith("--") else (option, "", "")
        mine = [value] if equals else []
        while rest and not rest[0].startswith("--"):
            mine.append(rest.pop(0))
        if option == "--photo":
            photo = _Reader(option, mine, None).one("the photograph's file")
            continue
        read = _OPTIONS.get(option)
        if read is None:
            raise UsageError(f"{option}: is no edit. See salvage chalk --help.")
        reader = _Reader(option, mine, photo)
        found += read(reader)
        reader.done()
    return found


# --- options ---------------------------------------------------------------------------------------


def _number(reader: _Reader, text: str) -> int:
    if not text.strip().isdigit():
        raise UsageError(f"{reader.option} {text}: is no number of a mark. Look at the marked picture.")
    return int(text)


def _pair(reader: _Reader, example: str) -> tuple[str, str]:
    word = reader.one(example)
    name, equals, value = word.partition("=")
    if not equals or not name.strip() or not value.strip():
        raise UsageError(f"{reader.option} {word}: write it as {example}.")
    return name.strip(), value.strip()


def _nots(reader: _Reader) -> list[Step]:
    first = reader.one("the number of a mark")
    numbers = [first, *reader.words]
    reader.words.clear()
    return [{"do": "not", "mark": _number(reader, each)} for each in numbers]


def _line(do: str) -> Callable[[_Reader], list[Step]]:
    def read(reader: _Reader) -> list[Step]:
        points = reader.points(2)
        return [reader.drawn({"do": do, "px": points})]

    return read


def _patch(do: str) -> Callable[[_Reader], list[Step]]:
    def read(reader: _Reader) -> list[Step]:
        points = reader.points(1)
        if "brush" not in reader.fields:
            points = _round(reader, points)
        return [reader.drawn({"do": do, "px": points})]

    return read


def _round(reader: _Reader, points: list[list[float]]) -> list[list[float]]:
    """Two points are opposite corners of a rectangle, more go round the place."""
    if len(points) == 1:
        raise UsageError(
            f"{reader.option}: one point is no patch. Give two opposite corners, points round it, or brush=R."
        )
    if len(points) > 2:
        return points
    (x0, y0), (x1, y1) = points
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def _redraw(reader: _Reader) -> list[Step]:
    mark = _number(reader, reader.one("the number of a mark"))
    points = reader.points(2)
    return [reader.drawn({"do": "shape", "mark": mark, "px": points})]


def _is(reader: _Reader) -> list[Step]:
    number, kind = _pair(reader, "N=KIND, such as 12=pocket")
    return [{"do": "kind", "mark": _number(reader, number), "kind": kind.lower()}]


def _set(key: str, example: str, value_of: Callable[[str], Any] = str) -> Callable[[_Reader], list[Step]]:
    def read(reader: _Reader) -> list[Step]:
        name, value = _pair(reader, example)
        try:
            return [{"do": "set", "piece": name, key: value_of(value)}]
        except ValueError:
            raise UsageError(f"{reader.option} {name}={value}: write it as {example}.") from None

    return read


def _yes(text: str) -> bool:
    if text.lower() not in ("yes", "no", "true", "false"):
        raise ValueError(text)
    return text.lower() in ("yes", "true")


def _grain(reader: _Reader) -> list[Step]:
    name = reader.one("a piece")
    if not reader.words:
        name, _, degrees = name.partition("=")
        try:
            return [{"do": "set", "piece": name.strip(), "grain": float(degrees)}]
        except ValueError:
            raise UsageError(f"{reader.option}: write NAME X,Y X,Y, or NAME=DEGREES.") from None
    points = reader.points(2)
    return [reader.drawn({"do": "grain", "piece": name, "px": points})]


def _split(reader: _Reader) -> list[Step]:
    name = reader.one("a piece")
    return [{"do": "split", "piece": name, "px": reader.points(2)}]


def _join(reader: _Reader) -> list[Step]:
    return [{"do": "join", "pieces": [reader.one("a piece"), reader.one("a second piece")]}]


def _remove(reader: _Reader) -> list[Step]:
    return [{"do": "remove", "piece": reader.one("a piece")}]


def _put_back(reader: _Reader) -> list[Step]:
    return [{"do": "put_back", "removed": reader.one("the name of a piece that was taken out")}]


def _usable(reader: _Reader) -> list[Step]:
    name = reader.one("a piece")
    if not reader.words:
        return [{"do": "usable", "piece": name, "px": None}]
    return [{"do": "usable", "piece": name, "px": _round(reader, reader.points(2))}]


def _answer(reader: _Reader) -> list[Step]:
    number, reply = _pair(reader, "3=yes or 3=no")
    number = number.lower().removeprefix("q")
    reply = {"y": "yes", "n": "no"}.get(reply.lower(), reply.lower())
    return [{"do": "answer", "question": _number(reader, number), "reply": reply}]


def _garment(key: str) -> Callable[[_Reader], list[Step]]:
    return lambda reader: [{"do": "garment", key: reader.one("a name")}]


def _stroke(do: str) -> Callable[[_Reader], list[Step]]:
    def read(reader: _Reader) -> list[Step]:
        points = reader.points(1)
        return [reader.drawn({"do": do, "px": points})]

    return read


def _times(do: str) -> Callable[[_Reader], list[Step]]:
    def read(reader: _Reader) -> list[Step]:
        times = _number(reader, reader.words.pop(0)) if reader.words else 1
        if not 1 <= times <= _MOST_UNDONE:
            raise UsageError(f"{reader.option} {times}: give a number from 1 to {_MOST_UNDONE}.")
        return [{"do": do}] * times

    return read


_OPTIONS: dict[str, Callable[[_Reader], list[Step]]] = {
    "--not": _nots,
    **{f"--{name}": _line(name) for name in LINES},
    **{f"--{name}": _patch(name) for name in (*PATCHES, "clear")},
    "--redraw": _redraw,
    "--is": _is,
    "--name": _set("name", "OLD=NEW"),
    "--fabric": _set("fabric", "NAME=FABRIC"),
    "--layers": _set("layers", "NAME=2", int),
    "--one-way": _set("one_way", "NAME=yes or NAME=no", _yes),
    "--grain": _grain,
    "--split": _split,
    "--join": _join,
    "--remove": _remove,
    "--put-back": _put_back,
    "--usable": _usable,
    "--answer": _answer,
    "--cloth": _stroke("cloth"),
    "--floor": _stroke("floor"),
    "--call": _garment("name"),
    "--kind": _garment("kind"),
    "--undo": _times("undo"),
    "--redo": _times("redo"),
}

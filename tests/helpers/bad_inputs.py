"""Inputs that no reader may choke on, by kind: made here, because many are huge or no text at all.

Each has a name, its files by name, and what is to be said of it (None: it may also be answered).
"""

from __future__ import annotations

import io
import json
import struct
import zlib
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import numpy as np
from PIL import Image


@dataclass(frozen=True)
class Bad:
    kind: str  # record, project, svg, dxf, photograph
    name: str
    file: str  # the one to hand in; the others lie beside it
    files: dict[str, bytes]
    said: str | None = None


def ring(*corners: tuple[float, float]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": [[list(c) for c in (*corners, corners[0])]]}


def square(x: float, y: float, side: float) -> dict[str, Any]:
    return ring((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def cloth() -> dict[str, Any]:
    stain = {"kind": "worn", "margin": 3.0, "found_by": "person", "shape": square(60, 60, 80)}
    piece = {
        "name": "back", "fabric": "shell", "layers": 1, "grain": 90.0, "one_way": False,
        "outline": square(0, 0, 400), "blocked": [stain], "plus_minus": {"scale_percent": 0.4, "edge": 2.0},
        "photo": {"file": "back.jpg", "side": 150.0, "camera": {}, "mm_to_pixel": {}},
    }  # fmt: skip
    return {"format": "salvage garment 1", "units": "mm", "name": "coat", "pieces": [piece]}


VALUES: tuple[object, ...] = (
    None, True, -1, 0, 1e300, 10**400, "x", "", "\ud800", "n" * 100_000, [], {}, [[[[]]]], [None], {"type": []},
)  # fmt: skip


def records() -> Iterator[Bad]:
    def bad(name: str, data: Any, said: str | None = None) -> Bad:
        text = data if isinstance(data, (str, bytes)) else json.dumps(data)
        return Bad(
            "record", name, "r.json", {"r.json": text if isinstance(text, bytes) else text.encode()}, said
        )

    whole = json.dumps(cloth())
    yield bad("nothing", b"", "not valid JSON")
    yield bad("no text", bytes(range(256)), "text")
    yield bad("deep", "[" * 100_000, "without end")
    yield bad(
        "deep in an own field",
        whole.replace('"units"', '"x": ' + "[" * 900 + "]" * 900 + ', "units"'),
        "deep",
    )
    yield bad("digits", whole.replace("90.0", "9" * 5000), "digits")
    yield bad("NaN", whole.replace("[400, 0]", "[NaN, 0]"), "no number")
    yield bad("infinity in an own field", whole.replace('"units"', '"x": 1e999, "units"'), "not a number")
    yield bad("twice", whole.replace('"fabric"', '"blocked": [], "fabric"'), "twice")
    for right, slip in {
        "one_way": "oneWay",
        "grain": "grian",
        "edge": "egde",
        "coordinates": "coordinate",
    }.items():
        yield bad(f"slip {slip}", whole.replace(f'"{right}"', f'"{slip}"'), "Did you mean")
    hole = deepcopy(cloth())
    hole["pieces"][0]["outline"]["coordinates"] *= 2
    yield bad("hole as large as the outline", hole, "holes are as large")
    margin = deepcopy(cloth())
    margin["pieces"][0]["blocked"][0]["margin"] = 1e9
    yield bad("margin", margin, "margin")
    many = deepcopy(cloth())
    many["pieces"] *= 5000
    yield bad("pieces", many, "pieces")
    for path in _places(cloth()):
        for number, value in enumerate(VALUES):
            yield bad(f"{'.'.join(map(str, path))} {number}", _with(cloth(), path, value))


def _places(data: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    steps = data.items() if isinstance(data, dict) else enumerate(data[:1]) if isinstance(data, list) else ()
    for key, value in steps:
        yield (*at, key)
        yield from _places(value, (*at, key))


def _with(data: Any, path: tuple[Any, ...], value: Any) -> Any:
    inner = data
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    return data


PANEL = '[[panel]]\nname = "a"\n'


def projects() -> Iterator[Bad]:
    def bad(name: str, text: str | bytes, said: str | None = None) -> Bad:
        return Bad(
            "project", name, "p.toml", {"p.toml": text.encode() if isinstance(text, str) else text}, said
        )

    yield bad("no text", bytes(range(256)), "text")
    yield bad("deep lists", "a = " + "[" * 10_000, "without end")
    yield bad("deep key", "a." * 50_000 + "a = 1", "dozens of parts")
    yield bad("deep table", "[" + '"a" . ' * 5_000 + "a]", "dozens of parts")
    yield bad("digits", "name = " + "9" * 5000, "digits")
    yield bad("long name", f'[[panel]]\nname = "{"n" * 100_000}"\nsize = [80, 60]\n', "letters")
    yield bad("too large", "# " + "x" * 2_000_000, "larger than")
    for value, said in {
        f'"{"9" * 500}/1"': "not a length", "9" * 400: "not a length", "nan": "not a length", "inf": "not a length",
        "1e-300": "more than 0", "1e300": "not a length", '"1/0"': "divides by zero", "[]": "not a length",
    }.items():  # fmt: skip
        yield bad(f"size {value[:12]}", f"{PANEL}size = [{value}, 60]\n", said)
    for line, said in {
        "cut = " + "9" * 23: "whole number", "rotations = [nan]": "angles", "rotations = [1e400]": "angles",
        "joins = " + "9" * 400: "whole number", "off_grain = nan": "number from", "fabric = []": "text",
        "grain = []": "none of", f'seam_allowance = "{"1" * 5000}"': "not a length",
    }.items():  # fmt: skip
        yield bad(line[:20], f"{PANEL}size = [80, 60]\n{line}\n", said)
    yield bad("outline of nan", f"{PANEL}outline = [[0,0],[nan,0],[9,9]]\n", "not a length")
    yield bad("outline too far", f"{PANEL}outline = [[0,0],[1e11,0],[9,9]]\n", "reaches beyond")
    yield bad("folds", '[[strip]]\nname="s"\nfinished_width=9\nlength=99\nfolds=' + "9" * 30, "folds")
    for file in ("/dev/zero", "n" * 5000 + ".svg", "\\u0000.svg", "..", ""):
        yield bad(f"drawing {file[:9]}", f'{PANEL}drawing = "{file}"\n', "drawing")


SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="99mm" height="99mm">'


def drawings() -> Iterator[Bad]:
    def svg(name: str, inside: str, said: str | None = None, *, whole: bool = False) -> Bad:
        text = inside if whole else f"{SVG}{inside}</svg>"
        project = f'{PANEL}drawing = "d.svg#x"\n'
        return Bad("svg", name, "p.toml", {"p.toml": project.encode(), "d.svg": text.encode()}, said)

    def path(d: str) -> str:
        return f'<path id="x" d="{d}"/>'

    groups = "".join(f'<g id="a{n}">' + f'<use xlink:href="#a{n - 1}"/>' * 10 + "</g>" for n in range(1, 12))
    yield svg(
        "uses of uses", f'<g id="a0">{path("M0 0H9V9Z")}</g>{groups}<use xlink:href="#a11"/>', "unfolds"
    )
    yield svg("use of itself", '<g id="x"><use xlink:href="#x"/></g>', "within itself")
    yield svg("deep groups", "<g>" * 50_000 + path("M0 0H9V9Z") + "</g>" * 50_000, "deep in each other")
    lol = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 12))
    yield svg(
        "entities",
        f'<!DOCTYPE svg [<!ENTITY l0 "lol">{lol}]>{SVG}<g id="&l11;"/></svg>',
        "entities",
        whole=True,
    )
    yield svg(
        "other namespace",
        SVG.replace("w3.org/2000", "wC.org/2000") + path("M0 0H9V9Z") + "</svg>",
        "svg",
        whole=True,
    )
    yield svg("no XML", "<svg", "can't|can be read", whole=True)
    yield svg("arc of 1e9", path("M0 0A1e9 1e9 0 1 1 1 1Z"))
    yield svg("arc of 1e200", path("M0 0A1e200 1e200 0 1 1 50 50Z"))
    yield svg("curve of 1e13", path("M0 0C1e13 0 1e13 1e13 0 1e13Z"), "reaches beyond")
    yield svg("curve of 1e300", path("M0 0C1e300 0 1e300 1e300 0 1e300Z"))
    yield svg("nan", path("M0 0LnanNaN 0 9 9Z"))
    yield svg("points", path("M0 0" + "L1 1" * 400_000 + "Z"), "too many points")
    yield svg("style", "<style>" + "a" * 1_000_000 + "</style>" + path("M0 0H9V9Z"), "style sheet")
    yield svg("endless attribute", f'<g transform="{"(" * 1_000_000}">{path("M0 0H9V9Z")}</g>', "endless")
    for transform in ("scale(1e300)", "scale(0)", "matrix(nan 0 0 nan 0 0)", "rotate(1e400)"):
        yield svg(transform, f'<g transform="{transform}">{path("M0 0H90V90Z")}</g>')
    yield svg("nothing to see", SVG.replace("99mm", "0") + path("M0 0H9V9Z") + "</svg>", whole=True)
    for name, lines, said in (
        ("circle of 1e9", _circle(1e9), "reaches beyond"), ("circle of 1e300", _circle(1e300), "reaches beyond"),
        ("circle of nan", _circle("nan"), "reaches beyond"), ("no number", _circle("*.0"), "can be read"),
        ("no DXF", "hello\nthere\n", "can be read"), ("cut short", _circle(9)[:60], None), ("nothing", "", "can be read"),
        ("lines", "".join(_line(n) for n in range(4000)), "lines"),
    ):  # fmt: skip
        text = (
            lines
            if name in ("no DXF", "cut short", "nothing")
            else f"0\nSECTION\n2\nENTITIES\n{lines}0\nENDSEC\n0\nEOF\n"
        )
        project = f'{PANEL}drawing = "d.dxf#x"\n'
        yield Bad("dxf", name, "p.toml", {"p.toml": project.encode(), "d.dxf": text.encode()}, said)


def _circle(radius: object) -> str:
    return f"0\nCIRCLE\n8\nx\n10\n0.0\n20\n0.0\n30\n0.0\n40\n{radius}\n"


def _line(number: int) -> str:
    return f"0\nLINE\n8\nx\n10\n{number}.0\n20\n0.0\n11\n{number}.0\n21\n9.0\n"


def photographs() -> Iterator[Bad]:
    def bad(name: str, data: bytes, said: str | None, ending: str = "jpg") -> Bad:
        return Bad("photograph", name, f"p.{ending}", {f"p.{ending}": data}, said)

    eps = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 400 400\n%%EndComments\n(x) (w) file closefile\n"
    head = struct.pack("<IIIIIIIH", 0xC6D3D0C5, 32, len(eps), 0, 0, 0, 0, 0xFFFF)
    for ending in ("jpg", "png", "eps", "tiff"):
        yield bad(f"EPS as {ending}", eps, "not a picture", ending)
    yield bad("EPS with its DOS head", head + b"\0" * 2 + eps, "not a picture")
    yield bad("PDF", b"%PDF-1.7\n", "not a picture")
    grey = Image.fromarray(np.tile(np.arange(240, dtype=np.uint8), (240, 1))).convert("RGB")
    for form in ("GIF", "PPM", "TGA", "ICO", "PCX", "SGI", "DDS", "JPEG2000"):
        yield bad(form, _saved(grey, form), "not a picture")
    for form in ("JPEG", "PNG", "WEBP", "TIFF", "BMP"):
        whole = _saved(grey, form)
        yield bad(f"{form} cut short", whole[: len(whole) // 2], "damaged|not a picture")
    yield bad("PNG of 40 milliard pixels", _png_of(200_000, 200_000), "million pixels")
    yield bad("PNG bomb", _png_of(13_000, 13_000), "no photograph")
    yield bad(
        "TIFF bomb", _saved(Image.new("1", (13_000, 13_000)), "TIFF", compression="group4"), "no photograph"
    )
    scans = _saved(grey, "JPEG", progressive=True)
    last = scans.rindex(b"\xff\xda")
    yield bad("JPEG of thousands of scans", scans[:last] + scans[last:-2] * 3000 + b"\xff\xd9", "scans")


def _saved(image: Image.Image, form: str, **how: Any) -> bytes:
    stream = io.BytesIO()
    image.save(stream, form, **how)
    return stream.getvalue()


def _png_of(width: int, height: int) -> bytes:
    """A PNG (ISO/IEC 15948) of one colour, of a few kilobytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = zlib.compress(b"\0" * 20_000_000, 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))
        + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )  # fmt: skip

"""Leaves bound as a PDF: lines stay lines, words can be searched and copied, and fonts come along, of the letters used.

ISO 32000-1:2008 (PDF 1.7); its sections are named where they are followed.
"""

from __future__ import annotations

import hashlib
import io
import math
import zlib
from collections.abc import Iterable, Sequence

import numpy as np
import pydyf
import shapely
from numpy.typing import NDArray
from PIL import Image

from salvage.report.pen import letters
from salvage.report.pen.fonts import Font, runs_of
from salvage.report.pen.hatching import DOT, RING, dots, hatching, is_dotted
from salvage.report.pen.leaf import Box, Leaf, Pasted
from salvage.report.pen.marks import NO_COLOUR, Area, Dashes, Run, Stroke, Words, line_start, rgba
from salvage.report.pen.order import plain

_HATCH_WIDTH = 0.5  # points
_QUALITY = 92  # of JPEG; colours are kept as finely as the rest
_SYMBOLIC = 4  # flag of a font whose letters have numbers of their own (table 123)
_ROUND, _MITRE = 1, 0  # corners of lines (table 55)
_SPECK = 0.01  # points: of a line whose round ends make a dot; some readers draw none that has no length
_CIRCLE = 4 / 3 * math.tan(math.pi / 8)  # handles of four Bézier curves that make a circle


def pdf_of(leaves: Iterable[Leaf], title: str) -> bytes:
    """A PDF with a page for each leaf. It has no date: the same leaves give the same file."""
    book = _Book()
    for leaf in leaves:
        book.add(leaf)
    return book.data(title)


class _Book:
    """Pages, and the fonts, pictures and opacities that they share."""

    def __init__(self) -> None:
        self._pdf = pydyf.PDF()
        self._fonts: dict[Font, _Letters] = {}
        self._pictures = pydyf.Dictionary()
        self._opacities = pydyf.Dictionary()
        self._shared = pydyf.Dictionary()
        self._pdf.add_object(self._shared)

    def add(self, leaf: Leaf) -> None:
        drawn = _Drawn(self)
        for mark, clip in leaf.marks():
            drawn.put(mark, clip)
        content = _stream(b"\n".join(drawn.said))
        self._pdf.add_object(content)
        wide, high = (round(each, 3) for each in leaf.size)
        page = {
            "Type": "/Page", "Parent": self._pdf.pages.reference, "MediaBox": pydyf.Array([0, 0, wide, high]),
            "Resources": self._shared.reference, "Contents": content.reference,
        }  # fmt: skip
        self._pdf.add_page(pydyf.Dictionary(page))

    def letters(self, font: Font) -> _Letters:
        return self._fonts.setdefault(font, _Letters(font, f"F{len(self._fonts)}"))

    def opacity(self, alpha: float) -> bytes:
        """The name of a graphics state that lets so much through (11.6.4.4)."""
        key = f"a{round(1000 * alpha)}"
        self._opacities[key] = pydyf.Dictionary({"ca": round(alpha, 3), "CA": round(alpha, 3)})
        return key.encode()

    def picture(self, pixels: NDArray[np.uint8]) -> bytes:
        """The name of a picture that is carried along, as JPEG (7.4.8)."""
        stream = io.BytesIO()
        Image.fromarray(pixels).save(stream, "JPEG", quality=_QUALITY, subsampling=0)
        about = {
            "Type": "/XObject", "Subtype": "/Image", "Width": pixels.shape[1], "Height": pixels.shape[0],
            "ColorSpace": "/DeviceRGB", "BitsPerComponent": 8, "Filter": "/DCTDecode",
        }  # fmt: skip
        image = pydyf.Stream([stream.getvalue()], about)
        self._pdf.add_object(image)
        key = f"P{len(self._pictures)}"
        self._pictures[key] = image.reference
        return key.encode()

    def data(self, title: str) -> bytes:
        fonts = pydyf.Dictionary({each.key: each.written(self._pdf) for each in self._fonts.values()})
        self._shared.update({"Font": fonts, "XObject": self._pictures, "ExtGState": self._opacities})
        known = title.encode("utf-8", "replace").decode()  # the name of a file may hold what is no letter
        self._pdf.info.update({"Title": pydyf.String(known), "Creator": pydyf.String("salvage")})
        stream = io.BytesIO()
        self._pdf.write(stream)
        return stream.getvalue()


def _stream(data: bytes, about: dict[str, object] | None = None) -> pydyf.Stream:
    return pydyf.Stream([zlib.compress(data)], {"Filter": "/FlateDecode", **(about or {})})


class _Letters:
    """The letters used of a font, numbered in the order of their first use."""

    def __init__(self, font: Font, key: str) -> None:
        self.font, self.key = font, key
        self._numbers: dict[str, int] = {}

    def shown(self, text: str) -> bytes:
        """A text as what `TJ` shows (9.4.3): letters' numbers, and between them what kerning moves."""
        said: list[str] = []
        for letter, step in zip(text, letters.steps(self.font, text), strict=True):
            number = self._numbers.setdefault(letter, len(self._numbers) + 1)
            kerned = round(1000 * (letters.advance(self.font, letter) - step))
            said.append(f"{number:04x}" + (f">{kerned}<" if kerned else ""))
        return f"[<{''.join(said)}>]TJ".encode()

    def written(self, pdf: pydyf.PDF) -> bytes:
        """Put the font into a PDF (9.7); what it is known by there."""
        data = letters.font_with(self.font, self._numbers)
        tag = "".join(chr(65 + each % 26) for each in hashlib.sha256(data).digest()[:6])
        name = f"/{tag}+Letters"
        file = _stream(data, {"Length1": len(data)})
        known = letters.opened(self.font)
        head, around = known.read["head"], known.read["hhea"]
        low_high = [head.xMin, head.yMin, head.xMax, head.yMax, around.ascent, around.descent]
        *box, ascent, descent = (round(1000 * each / known.em) for each in low_high)
        pdf.add_object(file)
        descriptor = pydyf.Dictionary(
            {
                "Type": "/FontDescriptor", "FontName": name, "Flags": _SYMBOLIC, "FontBBox": pydyf.Array(box),
                "ItalicAngle": 0, "Ascent": ascent, "Descent": descent, "CapHeight": ascent, "StemV": 80,
                "FontFile2": file.reference,
            }
        )  # fmt: skip
        pdf.add_object(descriptor)
        widths = [round(1000 * letters.advance(self.font, letter), 1) for letter in self._numbers]
        system = {"Registry": pydyf.String("Adobe"), "Ordering": pydyf.String("Identity"), "Supplement": 0}
        inner = pydyf.Dictionary(
            {
                "Type": "/Font", "Subtype": "/CIDFontType2", "BaseFont": name, "CIDToGIDMap": "/Identity",
                "CIDSystemInfo": pydyf.Dictionary(system), "FontDescriptor": descriptor.reference,
                "W": pydyf.Array([1, pydyf.Array(widths)]),
            }
        )  # fmt: skip
        meant = _stream(_meant(self._numbers))
        for each in (inner, meant):
            pdf.add_object(each)
        outer = pydyf.Dictionary(
            {
                "Type": "/Font", "Subtype": "/Type0", "BaseFont": name, "Encoding": "/Identity-H",
                "DescendantFonts": pydyf.Array([inner.reference]), "ToUnicode": meant.reference,
            }
        )  # fmt: skip
        pdf.add_object(outer)
        return bytes(outer.reference)


def _meant(numbers: dict[str, int]) -> bytes:
    """Which letter each number stands for, so that words can be searched and copied (9.10.3)."""
    rows = [
        f"<{number:04x}> <{plain(letter).encode('utf-16-be', 'replace').hex()}>"
        for letter, number in numbers.items()
    ]
    parts = [rows[start : start + 100] for start in range(0, len(rows), 100)]
    blocks = [f"{len(part)} beginbfchar\n" + "\n".join(part) + "\nendbfchar" for part in parts]
    return "\n".join(
        [
            "/CIDInit /ProcSet findresource begin 12 dict begin begincmap",
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
            "/CMapName /Adobe-Identity-UCS def /CMapType 2 def",
            "1 begincodespacerange <0000> <ffff> endcodespacerange",
            *blocks,
            "endcmap CMapName currentdict /CMap defineresource pop end end",
        ]
    ).encode()


class _Drawn:
    """What a page says: operators of its content (annex A)."""

    def __init__(self, book: _Book) -> None:
        self._book = book
        self.said: list[bytes] = []

    def put(self, mark: Area | Stroke | Words | Pasted, clip: Box | None) -> None:
        if clip is not None:
            left, low, right, high = clip
            self.said.append(b"q %.3f %.3f %.3f %.3f re W n" % (left, low, right - left, high - low))
        if isinstance(mark, Area):
            self._area(mark)
        elif isinstance(mark, Stroke):
            self._lines(mark)
        elif isinstance(mark, Words):
            self._words(mark)
        else:
            left, low, right, high = mark.place
            at = b"q %.3f 0 0 %.3f %.3f %.3f cm" % (right - left, high - low, left, low)
            self.said += [self._colours("#000000"), at, b"/" + self._book.picture(mark.pixels) + b" Do Q"]
        if clip is not None:
            self.said.append(b"Q")

    def _colours(self, colour: str, alpha: float = 1.0) -> bytes:
        """Set colour and opacity of what follows, filled or drawn."""
        red, green, blue, own = rgba(colour)
        level = b"%.3f %.3f %.3f " % (red, green, blue)
        return b"/" + self._book.opacity(own * alpha) + b" gs " + level + b"rg " + level + b"RG"

    def _area(self, area: Area) -> None:
        rings = [
            np.asarray(ring.coords)[:, :2] for part in area.parts for ring in (part.exterior, *part.interiors)
        ]
        if area.face != NO_COLOUR:
            self.said += [self._colours(area.face, area.alpha), *map(_path, rings), b"f*"]
        if area.edge == NO_COLOUR:
            return
        if area.hatch:
            self.said.append(self._colours(area.edge, area.alpha))
            self._hatching(area)
        if area.width > 0:
            self.said += [self._colours(area.edge, area.alpha), _line(area.width, area.dashes)]
            self.said += [*map(_path, rings), b"S"]

    def _hatching(self, area: Area) -> None:
        whole = shapely.union_all([shapely.make_valid(part) for part in area.parts])
        if not is_dotted(area.hatch):
            runs = hatching(whole, area.hatch, 1.0, downwards=False)
            self.said += [_line(_HATCH_WIDTH), *map(_path, runs), b"S"]
            return
        middles = [(each.x, each.y) for each in dots(whole, 1.0).geoms]
        if area.hatch[0] == ".":
            self.said += [
                b"1 J",
                _line(2 * DOT + _HATCH_WIDTH),
                *(b"%.2f %.2f m %.2f %.2f l" % (x, y, x + _SPECK, y) for x, y in middles),
                b"S 0 J",
            ]
        else:
            self.said += [_line(_HATCH_WIDTH), *(_circle(*at, RING) for at in middles), b"S"]

    def _lines(self, line: Stroke) -> None:
        paths = [_path(run) for run in line.runs if len(run) > 1]
        if not paths:
            return
        dashes = tuple(each * line.width for each in line.dashes)
        if line.casing is not None:
            casing = line.casing
            self.said += [
                self._colours(casing.colour, casing.alpha),
                _line(casing.width, dashes, 1.0),
                *paths,
                b"S",
            ]
        self.said += [self._colours(line.colour), _line(line.width, dashes, 1.0), *paths, b"S"]

    def _words(self, words: Words) -> None:
        text = words.text.strip("\n")
        if not text.strip():
            return
        runs = runs_of(text, words.bold)
        x, y = line_start(words, letters.width(runs) * words.size, words.size)
        cos, sin = math.cos(math.radians(words.rotation)), math.sin(math.radians(words.rotation))
        begin = b"%.4f %.4f %.4f %.4f %.2f %.2f Tm" % (cos, sin, -sin, cos, words.x + x, words.y + y)
        shown = []
        for font, part in runs:
            own = self._book.letters(font)
            shown.append(b"/%s %.2f Tf %s" % (own.key.encode(), words.size, own.shown(part)))
        if words.halo is not None:
            round_it = _line(words.halo_width, join=_ROUND)
            self.said += [self._colours(words.halo), round_it, b"BT 1 Tr", begin, *shown, b"ET"]
        self.said += [self._colours(words.colour), b"BT 0 Tr", begin, *shown, b"ET"]


def _line(width: float, dashes: Dashes = (), unit: float | None = None, join: int = _MITRE) -> bytes:
    """Set width, dashes and corners of lines. dashes: in units, which are the line's width unless told."""
    lengths = b" ".join(b"%.2f" % (each * (width if unit is None else unit)) for each in dashes)
    return b"%.2f w %d j [%s] 0 d" % (width, join, lengths)


def _path(run: Run) -> bytes:
    """A line, or a ring where it ends where it begins."""
    ring = len(run) > 2 and bool((run[0] == run[-1]).all())
    points = run[:-1] if ring else run
    lines = b"%.2f %.2f m" + b" %.2f %.2f l" * (len(points) - 1) + (b" h" if ring else b"")
    return lines % tuple(np.asarray(points, float).ravel().tolist())


def _circle(x: float, y: float, radius: float) -> bytes:
    r, k = radius, radius * _CIRCLE
    corners: Sequence[float] = (
        x + r, y,
        x + r, y + k, x + k, y + r, x, y + r,
        x - k, y + r, x - r, y + k, x - r, y,
        x - r, y - k, x - k, y - r, x, y - r,
        x + k, y - r, x + r, y - k, x + r, y,
    )  # fmt: skip
    return (b"%.2f %.2f m" + b" %.2f %.2f %.2f %.2f %.2f %.2f c" * 4 + b" h") % tuple(corners)

"""Photographs as the page shows them: upright JPEGs, reduced, kept for the next time they are asked for."""

from __future__ import annotations

import io
import threading
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path

from PIL import Image, ImageOps

from salvage.errors import SalvageError
from salvage.photo.read import FORMATS, read_photo

SIZES = (480, 1600, 4096)  # longer sides, px, that the page may ask for
_QUALITY = 84
_KEPT = 48  # pictures in memory
_DRAFT_FORMATS = ("JPEG", "MPO")
_TURNED_BY_READING = (
    "HEIF",
    "AVIF",
)  # their readers turn the picture themselves, and say that it lies as it should
_ORIENTATION = 0x0112  # Exif 2.3, table 4


class Pictures:
    """Reduced pictures of photographs, by file and size. May be asked by several threads."""

    def __init__(self) -> None:
        self._made: OrderedDict[tuple[str, int, int, str], bytes] = OrderedDict()
        self._whole = _Whole()
        self._lock = threading.Lock()

    def reduced(self, path: Path, most_px: int) -> bytes:
        """The whole picture, its longer side at most so many pixels. Raises SalvageError for what is no photograph."""
        size = min((each for each in SIZES if each >= most_px), default=SIZES[-1])
        return self._kept(path, f"{size}", lambda: _reduced(path, size))

    def size_px(self, path: Path) -> tuple[int, int]:
        """Width and height of the upright picture. Raises SalvageError for what is no photograph."""
        try:
            with Image.open(path, formats=FORMATS) as image:
                width, height = image.size
                turned = image.format not in _TURNED_BY_READING and image.getexif().get(_ORIENTATION, 1) in (
                    5,
                    6,
                    7,
                    8,
                )
        except (OSError, SyntaxError, ValueError, EOFError):
            return read_photo(path).full_px  # which finds the words for what is wrong
        return (height, width) if turned else (width, height)

    def part(self, path: Path, box_px: tuple[int, int, int, int], most_px: int) -> bytes:
        """A part of it: left, top, right, bottom in its own pixels, as far as it lies in the picture."""
        return self._kept(path, f"{box_px} {most_px}", lambda: _part(*self._whole.of(path), box_px, most_px))

    def _kept(self, path: Path, what: str, make: Callable[[], bytes]) -> bytes:
        try:
            status = path.stat()
        except OSError as error:
            raise SalvageError(f"{path.name}: can't be opened ({error.strerror}).") from error
        key = (str(path), status.st_mtime_ns, status.st_size, what)
        with self._lock:
            if key in self._made:
                self._made.move_to_end(key)
                return self._made[key]
        made = make()
        with self._lock:
            self._made[key] = made
            while len(self._made) > _KEPT:
                self._made.popitem(last=False)
        return made


def _reduced(path: Path, most_px: int) -> bytes:
    try:
        with Image.open(path, formats=FORMATS) as image:
            if image.format in _DRAFT_FORMATS and image.mode == "RGB":
                image.draft(
                    "RGB", (most_px, most_px)
                )  # the decoder leaves out what would be thrown away: 5 x faster
                upright = ImageOps.exif_transpose(image)
                upright.thumbnail((most_px, most_px), Image.Resampling.LANCZOS)
                return _jpeg(upright)
    except (OSError, SyntaxError, ValueError, EOFError):
        pass  # read_photo finds the words for what is wrong
    picture = Image.fromarray(read_photo(path).pixels)
    picture.thumbnail((most_px, most_px), Image.Resampling.LANCZOS)
    return _jpeg(picture)


class _Whole:
    """The photograph that parts were cut from last: unpacking 12 megapixels for each would take too long."""

    def __init__(self) -> None:
        self._held: tuple[tuple[str, int], Image.Image, float] | None = None
        self._lock = threading.Lock()  # unpacked once, however many parts are asked for at a time

    def of(self, path: Path) -> tuple[Image.Image, float]:
        """The picture, and how many pixels of the file lie along one of its: very large ones are read reduced."""
        key = (str(path), path.stat().st_mtime_ns)
        with self._lock:
            if self._held is None or self._held[0] != key:
                photo = read_photo(path)
                self._held = (key, Image.fromarray(photo.pixels), photo.reduced_by)
            return self._held[1:]


def _part(whole: Image.Image, by: float, box_px: tuple[int, int, int, int], most_px: int) -> bytes:
    """by: pixels of the file, which the box is in, along one of the picture."""
    left, top, right, bottom = (round(each / by) for each in box_px)
    left, top = max(0, min(left, whole.width - 2)), max(0, min(top, whole.height - 2))
    right, bottom = max(left + 1, min(right, whole.width)), max(top + 1, min(bottom, whole.height))
    part = whole.crop((left, top, right, bottom))
    part.thumbnail((most_px, most_px), Image.Resampling.LANCZOS)
    return _jpeg(part)


def _jpeg(picture: Image.Image) -> bytes:
    stream = io.BytesIO()
    picture.convert("RGB").save(stream, "JPEG", quality=_QUALITY)
    return stream.getvalue()

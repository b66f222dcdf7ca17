"""Read a photograph from a file: upright, 8-bit RGB, with what its EXIF data says of the lens."""

from __future__ import annotations

import math
import stat
import struct
import warnings
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError
from pillow_heif import register_heif_opener

from salvage.errors import SalvageError, shown
from salvage.files import allowed, closed
from salvage.photo.photo import DIAGONAL_35MM, Photo

# Below this a reference square of any use can't be in the picture.
SMALLEST_SIDE_PX = 200
# What phones, cameras and scanners write, by content and not by the file's ending. Pillow knows many more, among
# them EPS, which it hands to another program to run: none of them is ever tried.
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "HEIF", "AVIF")
# No telephone writes more (the largest sensors have 200 million). JPEG is reduced while it is unpacked; all other
# formats are unpacked whole, some twice, and must fit in memory.
MOST_PIXELS = 220_000_000
MOST_PIXELS_OF_OTHERS = 110_000_000
MOST_PIXELS_OF = {"HEIF": 60_000_000, "AVIF": 60_000_000, "WEBP": 60_000_000}
Image.MAX_IMAGE_PIXELS = MOST_PIXELS  # Pillow refuses what has twice as many; by format it is done here
# Finer than this nothing is measured better, and larger ones take more memory than many machines have.
ENOUGH_PIXELS = 17_000_000
_WIDTHS_TRIED = 200  # for a reduced size with the same sides' ratio as nearly as can be
# A picture of more than this must weigh something: photographs of the largest sensors have 0.1 bytes a pixel or
# more (common practice), a bomb of one colour a thousandth of that.
_UNWEIGHED_PIXELS, _LEAST_BYTES_PER_PIXEL = 30_000_000, 0.02
# A progressive JPEG comes in ten scans or so, each of the whole picture; thousands of them take for ever.
_MOST_SCANS = 100
_START_OF_SCAN = b"\xff\xda"  # ITU-T T.81, table B.1; in coded data 0xFF is followed by 0 or a restart only
# Lenses outside this are no lenses of a camera that one holds over a floor; the tag is then rubbish.
FOCAL_35MM_RANGE = (8.0, 400.0)
# Pictures as sensors are built: 4:3, 3:2, 16:9 (a common readout mode), square and 5:4 backs.
_SENSOR_ASPECTS = (4 / 3, 3 / 2, 16 / 9, 1.0, 5 / 4)
_ASPECT_TOLERANCE = 0.02
# Exif FocalPlaneResolutionUnit (tag 0xA210): 2 inch, 3 cm; 4 and 5 (mm, um) occur in practice.
_MM_PER_FOCAL_PLANE_UNIT = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}

register_heif_opener()


def read_photo(path: Path) -> Photo:
    """Read a picture of one of FORMATS, known by its content, turned as its EXIF orientation says.

    Grey, 16-bit, CMYK and transparent pictures become 8-bit RGB (what shows through is white). A picture of more
    than ENOUGH_PIXELS is reduced to that.
    Raises SalvageError for a file that is missing, closed to the reader, no picture, empty, cut short, too small or too big.
    """
    path = Path(path)
    size_bytes = _check_file(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore"
            )  # of large pictures and of broken EXIF blocks; errors are still raised
            with Image.open(path, formats=FORMATS) as image:
                _check_size(path, image, size_bytes)
                exif = _exif(image)
                stored_size = image.size
                size = reduced_size(stored_size)
                pixels = _upright_rgb(_reduced(image, size))
    except SalvageError:
        raise
    except PermissionError as error:  # closed since it was looked at
        raise closed(path) from error
    except UnidentifiedImageError as error:
        raise SalvageError(
            f"{path}: not a picture that can be read. Give a photograph as JPEG, PNG, HEIC, WebP or TIFF."
        ) from error
    except Image.DecompressionBombError as error:
        raise SalvageError(_too_big(path, MOST_PIXELS)) from error
    except (OSError, SyntaxError, ValueError, EOFError, struct.error, RuntimeError) as error:
        raise SalvageError(
            f"{path}: the picture is damaged or cut short ({error}). Copy it from the phone again."
        ) from error
    except MemoryError as error:
        raise SalvageError(
            f"{path}: there is not enough memory for this picture. Save it smaller."
        ) from error
    pixels.flags.writeable = False
    return Photo(
        path=path,
        pixels=pixels,
        focal_35mm=focal_35mm(exif, stored_size),
        cropped=is_cropped(exif, stored_size),
        reduced_by=stored_size[0] / size[0],
    )


def focal_35mm(exif: dict[str, Any], size_px: tuple[int, int]) -> float | None:
    """The 35 mm equivalent focal length that EXIF gives or lets one work out, else None.

    size_px: (width, height) as stored. From FocalLengthIn35mmFilm; failing that from FocalLength and
    the focal plane's resolution, which give the focal length in pixels of the picture as it was written.
    """
    stated = _number(exif.get("FocalLengthIn35mmFilm"))
    if stated is not None and FOCAL_35MM_RANGE[0] <= stated <= FOCAL_35MM_RANGE[1]:
        return stated
    focal, resolution = _number(exif.get("FocalLength")), _number(exif.get("FocalPlaneXResolution"))
    unit = _number(exif.get("FocalPlaneResolutionUnit"))
    mm = _MM_PER_FOCAL_PLANE_UNIT.get(int(unit) if unit is not None else 2)
    if not focal or not resolution or mm is None:
        return None
    width = _number(exif.get("PixelXDimension")) or size_px[0]
    height = _number(exif.get("PixelYDimension")) or size_px[1]
    focal_px = focal * resolution / mm
    value = focal_px * DIAGONAL_35MM / math.hypot(width, height)
    return value if FOCAL_35MM_RANGE[0] <= value <= FOCAL_35MM_RANGE[1] else None


def is_cropped(exif: dict[str, Any], size_px: tuple[int, int]) -> bool:
    """Whether the picture is known to be a part of what the camera took.

    size_px: (width, height) as stored. It is when EXIF tells of a size with another shape than the file's
    (the same shape at another size is only scaled), or when a camera's picture has a shape no sensor has.
    """
    width, height = size_px
    aspect = max(width, height) / min(width, height)
    told = _number(exif.get("PixelXDimension")), _number(exif.get("PixelYDimension"))
    if told[0] and told[1]:
        told_aspect = max(told[0], told[1]) / min(told[0], told[1])
        if abs(told_aspect / aspect - 1) > _ASPECT_TOLERANCE:
            return True
    from_camera = any(exif.get(name) for name in ("FocalLengthIn35mmFilm", "FocalLength", "Model"))
    if not from_camera:
        return False
    return all(abs(aspect / sensor - 1) > _ASPECT_TOLERANCE for sensor in _SENSOR_ASPECTS)


def _check_file(path: Path) -> int:
    """Its size in bytes. Raises SalvageError for what can't be a photograph, without opening it."""
    try:
        status = path.stat()
    except PermissionError:
        raise closed(path) from None
    except (OSError, ValueError) as error:
        raise SalvageError(
            f"{shown(path)}: can't be opened ({getattr(error, 'strerror', error)}). Check the name and the folder."
        ) from error
    if stat.S_ISDIR(status.st_mode):
        raise SalvageError(f"{path}: a folder, not a photograph. Name the photographs in it.")
    allowed(path, "a photograph")
    if status.st_size == 0:
        raise SalvageError(f"{path}: the file is empty. Copy it from the phone again.")
    return status.st_size


def _check_size(path: Path, image: Image.Image, size_bytes: int) -> None:
    """Raise SalvageError for a picture that is too large or too small, before any of it is unpacked."""
    width, height = image.size
    jpeg = image.format in ("JPEG", "MPO")
    if width * height > MOST_PIXELS:
        raise SalvageError(_too_big(path, MOST_PIXELS))
    if width * height > max(_UNWEIGHED_PIXELS, size_bytes / _LEAST_BYTES_PER_PIXEL):
        raise SalvageError(
            f"{path}: {width} x {height} pixels in only {size_bytes} bytes, which is no photograph. "
            "Give it as the phone took it."
        )
    most = MOST_PIXELS if jpeg else MOST_PIXELS_OF.get(image.format or "", MOST_PIXELS_OF_OTHERS)
    if width * height > most:
        raise SalvageError(_too_big(path, most))
    if min(width, height) < SMALLEST_SIDE_PX:
        raise SalvageError(
            f"{path}: only {width} x {height} pixels, too few to measure from. "
            "Send the photograph in its original size."
        )
    if jpeg and path.read_bytes().count(_START_OF_SCAN) > _MOST_SCANS:
        raise SalvageError(
            f"{path}: a JPEG of more than {_MOST_SCANS} scans, which no phone writes. Save it again as a plain JPEG."
        )


def _too_big(path: Path, most: int) -> str:
    if most < MOST_PIXELS:
        return (
            f"{path}: more than {most // 1_000_000} million pixels, too many to unpack in this format. Save it as JPEG, "
            f"which may have {MOST_PIXELS // 1_000_000} million, or smaller."
        )
    return (
        f"{path}: more than {most // 1_000_000} million pixels, more than any phone takes. Save it smaller."
    )


def reduced_size(size: tuple[int, int]) -> tuple[int, int]:
    """(width, height) of as many pixels as are enough, the sides' ratio kept to a twentieth of a pixel or so."""
    width, height = size
    if width * height <= ENOUGH_PIXELS:
        return size
    most = int(width * math.sqrt(ENOUGH_PIXELS / (width * height)))

    def off(tried: int) -> float:
        exact = height * tried / width
        return abs(exact - round(exact))

    best = min(range(most, max(1, most - _WIDTHS_TRIED), -1), key=off)
    return best, max(1, round(height * best / width))


def _reduced(image: Image.Image, size: tuple[int, int]) -> Image.Image:
    """The picture, as it is stored, at this size. JPEG is unpacked to no more than it must be."""
    if image.size == size:
        return image
    full = image.size
    image.draft(None, size)
    image.load()
    by = max(1, round(full[0] / image.size[0]))  # of JPEG, 2, 4 or 8; its last pixels may be part pixels
    if image.mode in ("1", "P", "PA"):
        image = image.convert("RGBA" if "transparency" in image.info or image.mode == "PA" else "RGB")
    box = (0, 0, full[0] / by, full[1] / by)
    return _like(image, image.resize(size, Image.Resampling.BOX, box=box))


def _like(image: Image.Image, smaller: Image.Image) -> Image.Image:
    """The smaller picture with what is known of the other: its EXIF data, which of its colours is none."""
    smaller.info = dict(image.info)
    with suppress(Exception):  # of a broken EXIF block, as in `_exif`
        smaller.info["exif"] = image.getexif().tobytes()
    return smaller


def _exif(image: Image.Image) -> dict[str, Any]:
    """EXIF values by name, of the picture and its Exif part; empty if there are none or they are broken."""
    try:
        exif = image.getexif()
        found = {ExifTags.TAGS.get(tag, str(tag)): value for tag, value in exif.items()}
        part = exif.get_ifd(ExifTags.IFD.Exif)
        found.update({ExifTags.TAGS.get(tag, str(tag)): value for tag, value in part.items()})
    except Exception:  # a broken EXIF block must not cost the picture, and Pillow raises all sorts for it
        return {}
    # Exif 2.3 calls 0xA002 PixelXDimension, Pillow ExifImageWidth.
    found.setdefault("PixelXDimension", found.get("ExifImageWidth"))
    found.setdefault("PixelYDimension", found.get("ExifImageHeight"))
    return found


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _upright_rgb(image: Image.Image) -> NDArray[np.uint8]:
    image.load()
    try:
        ImageOps.exif_transpose(image, in_place=True)  # else it is copied, turned or not
    except MemoryError:
        raise
    except Exception:  # the same broken EXIF block as above; the picture is then taken as stored
        pass
    upright = image
    if upright.mode.startswith("I") or upright.mode == "F":
        return _from_deep(np.asarray(upright))
    if upright.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in upright.info:
        upright = upright.convert("RGBA")
        ground = Image.new("RGBA", upright.size, (255, 255, 255, 255))
        upright = Image.alpha_composite(ground, upright)
    return np.asarray(upright if upright.mode == "RGB" else upright.convert("RGB"), dtype=np.uint8)


def _from_deep(values: NDArray[Any]) -> NDArray[np.uint8]:
    """16-bit (or deeper) grey to 8-bit RGB: 65535 is white, unless no value is above 255."""
    deep = np.nan_to_num(values.astype(np.float32), nan=0.0, posinf=65535.0, neginf=0.0)
    white = 255.0 if deep.max(initial=0.0) <= 255.0 else 65535.0
    grey = np.clip(np.rint(deep * (255.0 / white)), 0, 255).astype(np.uint8)
    return np.repeat(grey[:, :, None], 3, axis=2)

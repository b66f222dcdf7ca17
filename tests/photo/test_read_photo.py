"""Whatever a person hands in as a photograph comes out upright, 8-bit RGB, or with a word on what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from salvage.errors import SalvageError
from salvage.photo.read import focal_35mm, is_cropped, read_photo

RED, GREEN, BLUE, WHITE = (220, 30, 30), (30, 200, 40), (40, 40, 220), (240, 240, 240)

# Exif 2.32 (CIPA DC-008), tag 0x0112: what has to be done to the stored picture to see it upright.
# Each as a NumPy recipe that undoes it, written from the standard's table and not with Pillow.
STORED_OF_UPRIGHT = {
    1: lambda a: a,
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.transpose(1, 0, 2),
    6: lambda a: a.transpose(1, 0, 2)[::-1],
    7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
    8: lambda a: a.transpose(1, 0, 2)[:, ::-1],
}


def quarters(width: int = 320, height: int = 240) -> np.ndarray:
    """Red, green, blue, white: top left, top right, bottom left, bottom right."""
    picture = np.empty((height, width, 3), np.uint8)
    picture[: height // 2, : width // 2], picture[: height // 2, width // 2 :] = RED, GREEN
    picture[height // 2 :, : width // 2], picture[height // 2 :, width // 2 :] = BLUE, WHITE
    return picture


def corner_colours(pixels: np.ndarray) -> list[tuple[int, ...]]:
    h, w = pixels.shape[:2]
    return [tuple(int(v) for v in pixels[y, x]) for y in (h // 4, 3 * h // 4) for x in (w // 4, 3 * w // 4)]


def save(path: Path, picture: np.ndarray, orientation: int | None = None, **exif: object) -> Path:
    image = Image.fromarray(np.ascontiguousarray(picture))
    tags = Image.Exif()
    if orientation:
        tags[0x0112] = orientation
    part = tags.get_ifd(0x8769)
    numbers = {"FocalLengthIn35mmFilm": 0xA405, "PixelXDimension": 0xA002, "PixelYDimension": 0xA003}
    for name, value in exif.items():
        part[numbers[name]] = value
    options: dict[str, Any] = {"quality": 95, "subsampling": 0} if path.suffix == ".jpg" else {}
    image.save(path, exif=tags, **options)
    return path


@pytest.mark.parametrize("orientation", STORED_OF_UPRIGHT)
def test_every_exif_orientation_comes_out_upright(tmp_path: Path, orientation: int) -> None:
    stored = STORED_OF_UPRIGHT[orientation](quarters())
    photo = read_photo(save(tmp_path / "turned.jpg", stored, orientation))
    assert (photo.width_px, photo.height_px) == (320, 240)
    seen = np.array(corner_colours(photo.pixels))
    assert np.abs(seen - np.array([RED, GREEN, BLUE, WHITE])).max() < 8


@pytest.mark.parametrize("suffix", [".png", ".jpg", ".heic", ".webp", ".tiff"])
def test_formats(tmp_path: Path, suffix: str) -> None:
    photo = read_photo(save(tmp_path / f"picture{suffix}", quarters()))
    assert photo.pixels.dtype == np.uint8
    assert photo.pixels.shape == (240, 320, 3)
    assert np.abs(np.array(corner_colours(photo.pixels)) - np.array([RED, GREEN, BLUE, WHITE])).max() < 12


def test_focal_length_is_read_from_jpeg_and_heic(tmp_path: Path) -> None:
    for suffix in (".jpg", ".heic"):
        assert (
            read_photo(save(tmp_path / f"p{suffix}", quarters(), FocalLengthIn35mmFilm=26)).focal_35mm == 26
        )
    assert read_photo(save(tmp_path / "none.jpg", quarters())).focal_35mm is None


def test_pixels_can_not_be_changed(tmp_path: Path) -> None:
    photo = read_photo(save(tmp_path / "p.png", quarters()))
    with pytest.raises(ValueError, match="read-only"):
        photo.pixels[0, 0] = 0


def test_focal_length_from_the_focal_planes_resolution() -> None:
    # A 1/2.55 inch sensor of 4032 x 3024 pixels of 1.4 um (5.645 x 4.234 mm, diagonal 7.056 mm) behind a 4.25 mm
    # lens: 4.25 x 43.267 / 7.056 = 26.06 mm, worked out by hand.
    exif = {"FocalLength": 4.25, "FocalPlaneXResolution": 4032 / 0.5645, "FocalPlaneResolutionUnit": 3}
    assert focal_35mm(exif, (4032, 3024)) == pytest.approx(26.06, abs=0.02)


@pytest.mark.parametrize("rubbish", [0, 65535, "wide", float("nan"), None, (1, 2)])
def test_rubbish_for_a_focal_length_counts_as_none(rubbish: object) -> None:
    assert focal_35mm({"FocalLengthIn35mmFilm": rubbish}, (400, 300)) is None


@pytest.mark.parametrize(
    ("size", "exif", "cropped"),
    [
        ((4032, 3024), {"FocalLength": 4.2}, False),
        ((3024, 4032), {"FocalLength": 4.2, "PixelXDimension": 4032, "PixelYDimension": 3024}, False),
        ((2016, 1512), {"PixelXDimension": 4032, "PixelYDimension": 3024}, False),  # only made smaller
        ((3000, 3024), {"PixelXDimension": 4032, "PixelYDimension": 3024}, True),
        ((3600, 1500), {"FocalLength": 4.2}, True),
        ((3600, 1500), {}, False),  # no camera's, so nothing is known
        ((1920, 1080), {"Model": "x"}, False),
    ],
)
def test_cropped_where_the_shape_tells(size: tuple[int, int], exif: dict, cropped: bool) -> None:
    assert is_cropped(exif, size) is cropped


def test_grey_16_bit_cmyk_and_transparent_pictures(tmp_path: Path) -> None:
    ramp = np.tile(np.linspace(0, 65535, 300).astype(np.uint16), (300, 1))
    Image.fromarray(ramp).save(tmp_path / "deep.png")
    deep = read_photo(tmp_path / "deep.png").pixels
    assert (int(deep[0, 0, 0]), int(deep[0, 150, 1]), int(deep[0, -1, 2])) == (0, 128, 255)

    Image.fromarray((ramp >> 8).astype(np.uint8)).save(tmp_path / "grey.png")
    assert read_photo(tmp_path / "grey.png").pixels[0, -1].tolist() == [255, 255, 255]

    Image.fromarray(quarters()).convert("CMYK").save(tmp_path / "cmyk.jpg", quality=95)
    assert read_photo(tmp_path / "cmyk.jpg").pixels.shape == (240, 320, 3)

    clear = np.zeros((300, 300, 4), np.uint8)
    clear[:, 150:] = (10, 20, 30, 255)
    Image.fromarray(clear).save(tmp_path / "clear.png")
    pixels = read_photo(tmp_path / "clear.png").pixels
    assert pixels[0, 0].tolist() == [255, 255, 255]
    assert pixels[0, -1].tolist() == [10, 20, 30]

    Image.fromarray(quarters()).quantize(16).save(tmp_path / "palette.png")
    assert read_photo(tmp_path / "palette.png").pixels.shape == (240, 320, 3)


def test_a_broken_exif_block_does_not_cost_the_picture(tmp_path: Path) -> None:
    path = save(tmp_path / "p.jpg", quarters(), 6, FocalLengthIn35mmFilm=26)
    data = bytearray(path.read_bytes())
    start = data.index(b"Exif\0\0") + 14
    data[start : start + 12] = b"\xff" * 12
    path.write_bytes(bytes(data))
    assert read_photo(path).pixels.shape[2] == 3


def bad_files(folder: Path) -> dict[str, tuple[Path, str]]:
    (folder / "a_folder").mkdir()
    (folder / "empty.jpg").write_bytes(b"")
    (folder / "words.jpg").write_text("not a picture at all")
    whole = save(folder / "whole.jpg", quarters(900, 900)).read_bytes()
    (folder / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    png = save(
        folder / "whole.png", np.random.default_rng(0).integers(0, 255, (300, 300, 3), np.uint8)
    ).read_bytes()
    (folder / "cut.png").write_bytes(png[: len(png) // 2])
    save(folder / "tiny.png", quarters(60, 60))
    header = bytearray(save(folder / "bomb.png", quarters(300, 300)).read_bytes())
    header[16:24] = (200_000).to_bytes(4, "big") * 2  # PNG's IHDR: width and height (ISO/IEC 15948, 11.2.2)
    import zlib

    header[29:33] = zlib.crc32(bytes(header[12:29])).to_bytes(4, "big")
    (folder / "bomb.png").write_bytes(bytes(header))
    return {
        "missing": (folder / "missing.jpg", "can't be opened"),
        "folder": (folder / "a_folder", "folder"),
        "empty": (folder / "empty.jpg", "empty"),
        "words": (folder / "words.jpg", "not a picture"),
        "cut jpeg": (folder / "cut.jpg", "damaged or cut short"),
        "cut png": (folder / "cut.png", "damaged or cut short"),
        "tiny": (folder / "tiny.png", "too few"),
        "bomb": (folder / "bomb.png", "million pixels"),
    }


@pytest.mark.parametrize(
    "what", ["missing", "folder", "empty", "words", "cut jpeg", "cut png", "tiny", "bomb"]
)
def test_what_can_not_be_read_is_said_with_the_files_name(tmp_path: Path, what: str) -> None:
    path, reason = bad_files(tmp_path)[what]
    with pytest.raises(SalvageError, match=reason) as caught:
        read_photo(path)
    assert path.name in str(caught.value)

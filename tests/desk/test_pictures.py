"""Pictures for the page: upright, of the part asked for, and of the file as it is now. The truth is PIL's own."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from salvage.desk import pictures
from salvage.desk.pictures import SIZES, Pictures
from salvage.errors import SalvageError
from salvage.photo.read import read_photo

QUARTERS = (
    (230, 30, 30),
    (30, 200, 30),
    (30, 30, 220),
    (230, 220, 40),
)  # top left, top right, bottom left, bottom right


def quarters(size: tuple[int, int] = (600, 400)) -> Image.Image:
    picture = Image.new("RGB", size)
    width, height = size[0] // 2, size[1] // 2
    for n, colour in enumerate(QUARTERS):
        picture.paste(colour, (n % 2 * width, n // 2 * height, (n % 2 + 1) * width, (n // 2 + 1) * height))
    return picture


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg))


def like(one: Image.Image, other: Image.Image) -> float:
    """The mean difference of two pictures of one size, grey levels."""
    assert one.size == other.size
    return float(
        np.abs(np.asarray(one.convert("RGB"), float) - np.asarray(other.convert("RGB"), float)).mean()
    )


@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_orientation_is_shown_upright_in_its_own_size(tmp_path: Path, orientation: int) -> None:
    path = tmp_path / "a.jpg"
    exif = Image.Exif()
    exif[0x0112] = orientation
    quarters().save(path, exif=exif, quality=95)
    upright = ImageOps.exif_transpose(Image.open(path))
    there = Pictures()
    assert there.size_px(path) == upright.size
    shown = opened(there.reduced(path, 480))
    upright.thumbnail((480, 480))
    assert like(shown, upright) < 6


@pytest.mark.parametrize("suffix", [".png", ".webp", ".tif", ".bmp"])
def test_other_kinds_of_file_too(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    quarters((1000, 700)).save(path)
    assert Pictures().size_px(path) == (1000, 700)
    shown = opened(Pictures().reduced(path, 400))
    assert (shown.format, shown.size) == ("JPEG", (480, 336))
    assert like(shown, quarters((1000, 700)).resize((480, 336))) < 6


@pytest.mark.parametrize(
    ("asked", "longer"), [(1, 480), (480, 480), (481, 1600), (1600, 1600), (1601, 2000), (9000, 2000)]
)
def test_a_picture_is_of_the_next_size_there_is_and_never_enlarged(
    tmp_path: Path, asked: int, longer: int
) -> None:
    path = tmp_path / "a.jpg"
    quarters((2000, 600)).save(path)
    assert max(opened(Pictures().reduced(path, asked)).size) == longer
    assert tuple(sorted(SIZES)) == SIZES


@pytest.mark.parametrize(
    ("box", "there"),
    [
        ((100, 50, 400, 250), (100, 50, 400, 250)),
        ((-40, -9, 200, 120), (0, 0, 200, 120)),  # as far as it lies in the picture
        ((500, 300, 999, 999), (500, 300, 600, 400)),
        ((590, 390, 590, 390), (590, 390, 591, 391)),
        ((999, 999, 1200, 1200), (598, 398, 600, 400)),
    ],
)
def test_a_part_is_cut_where_it_is_asked_for(
    tmp_path: Path, box: tuple[int, int, int, int], there: tuple[int, int, int, int]
) -> None:
    path = tmp_path / "a.png"
    quarters().save(path)
    part = opened(Pictures().part(path, box, 1000))
    assert like(part, quarters().crop(there)) < 6


def test_a_part_is_reduced_to_what_is_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    quarters().save(path)
    assert opened(Pictures().part(path, (100, 50, 500, 250), 200)).size == (200, 100)


def test_a_part_of_a_picture_that_was_read_reduced_is_told_in_the_files_pixels(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.png"
    quarters().save(path)
    photo = replace(read_photo(path), reduced_by=2.0)  # as if the file had 1200 x 800
    monkeypatch.setattr(pictures, "read_photo", lambda _: photo)
    part = opened(Pictures().part(path, (200, 100, 800, 500), 1000))
    assert like(part, quarters().crop((100, 50, 400, 250))) < 6


def test_a_picture_is_made_once_and_anew_when_its_file_is_another(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    quarters().save(path)
    there = Pictures()
    whole, part = there.reduced(path, 480), there.part(path, (0, 0, 90, 90), 480)
    assert there.reduced(path, 300) is whole
    assert there.part(path, (0, 0, 90, 90), 480) is part
    assert there.part(path, (300, 200, 390, 290), 480) != part
    ImageOps.mirror(quarters()).resize((640, 400)).save(path)
    assert opened(there.reduced(path, 480)).size == (480, 300)
    assert like(opened(there.part(path, (0, 0, 90, 90), 480)), Image.new("RGB", (90, 90), QUARTERS[1])) < 6


def test_only_so_many_are_kept_and_those_asked_for_last(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    quarters().save(path)
    there = Pictures()
    first = there.reduced(path, 480)
    for n in range(pictures._KEPT - 1):
        there.part(path, (0, 0, 20 + n, 20), 60)
    assert there.reduced(path, 480) is first
    parts = [there.part(path, (0, 0, 20 + n, 21), 60) for n in range(pictures._KEPT - 1)]
    assert there.reduced(path, 480) is first
    assert there.part(path, (0, 0, 20, 21), 60) is parts[0]
    assert len(there._made) == pictures._KEPT


def test_what_is_no_photograph_is_said_by_its_name(tmp_path: Path) -> None:
    path = tmp_path / "notes.jpg"
    path.write_text("not a picture")
    there = Pictures()
    for ask in (
        lambda: there.reduced(path, 480),
        lambda: there.size_px(path),
        lambda: there.part(path, (0, 0, 9, 9), 9),
    ):
        with pytest.raises(SalvageError, match=r"notes\.jpg"):
            ask()
    with pytest.raises(SalvageError, match=r"gone\.jpg: can't be opened"):
        there.reduced(tmp_path / "gone.jpg", 480)

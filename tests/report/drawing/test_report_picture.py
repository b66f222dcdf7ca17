"""What is drawn over a photograph lies where the camera says it lies."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from report_kit import Placed, TiltedCamera
from shapely.geometry import LineString, MultiLineString, MultiPolygon, box

from salvage.cloth.garment import Garment
from salvage.fit.answer import Answer
from salvage.photo.photo import Photo
from salvage.photo.problem import Code, Level, Problem
from salvage.project.project import Project
from salvage.report.cutting.chart import spreads
from salvage.report.drawing.ground import ground, ground_of
from salvage.report.drawing.picture import layout_on_photo, marked_check, marked_painting
from salvage.report.pen.draw import Page
from salvage.report.pen.labels import Labels
from salvage.report.pen.marks import NoPen
from salvage.report.pen.paint import Painting
from salvage.scale.square import Square
from salvage.units import Unit


def pixels(picture: bytes | Painting) -> np.ndarray:
    data = picture if isinstance(picture, bytes) else picture.jpeg()
    return np.asarray(Image.open(BytesIO(data)).convert("RGB")).astype(int)


def changed(photo: Photo, picture: np.ndarray) -> np.ndarray:
    """Where a picture differs clearly from the photograph it was drawn over."""
    return np.abs(picture[: photo.height_px, : photo.width_px] - photo.pixels).max(axis=2) > 70


@pytest.fixture
def still() -> Photo:
    return Photo(Path("back.jpg"), np.full((900, 1200, 3), 120, dtype=np.uint8))


def test_the_marked_photo_shows_the_pieces_edges_where_they_are(
    still: Photo, camera: TiltedCamera, coat: Garment, square: Square, outline_px: MultiPolygon
) -> None:
    marked = pixels(
        marked_painting(still, camera, coat, squares=[square], outline_px=outline_px, unit=Unit.MM)
    )
    drawn = changed(still, marked)
    edge = camera.to_px(np.column_stack([np.zeros(40), np.linspace(60, 600, 40)]))
    assert all(drawn[round(y) - 2 : round(y) + 3, round(x) - 2 : round(x) + 3].any() for x, y in edge)
    floor = camera.to_px([[-60.0, 300.0], [700.0, 600.0]])
    assert not any(drawn[round(y) - 5 : round(y) + 6, round(x) - 5 : round(x) + 6].any() for x, y in floor)


def test_a_doubtful_edge_is_marked_in_the_colour_that_nothing_else_has(
    still: Photo, camera: TiltedCamera, coat: Garment, outline_px: MultiPolygon
) -> None:
    ring = LineString(outline_px.geoms[0].exterior.coords[:2])
    plain = pixels(marked_painting(still, camera, coat, outline_px=outline_px, unit=Unit.MM))
    doubted = pixels(
        marked_painting(
            still, camera, coat, outline_px=outline_px, doubtful_px=MultiLineString([ring]), unit=Unit.MM
        )
    )

    def yellow(picture: np.ndarray) -> int:
        return ((picture[:850, :, 0] > 200) & (picture[:850, :, 1] > 170) & (picture[:850, :, 2] < 90)).sum()

    assert yellow(plain) == 0
    assert yellow(doubted) > 300


def test_panels_are_warped_into_the_picture(
    still: Photo, camera: TiltedCamera, coat: Garment, answer: Answer, project: Project
) -> None:
    laid = [spread for spread in spreads(answer, [coat], project) if spread.piece.name == "back"]
    assert sum(len(spread.cuts) for spread in laid) == 6
    drawn = pixels(layout_on_photo(still, camera, laid, unit=Unit.MM))
    for spread in laid:
        for cut in spread.cuts:
            x, y = camera.to_px(np.array(cut.placement.shape.centroid.coords))[0]
            patch = drawn[int(y) - 8 : int(y) + 9, int(x) - 8 : int(x) + 9]
            assert np.abs(patch - 120).max() > 40


def test_what_lies_beneath_a_panel_stays_to_be_seen(
    still: Photo, camera: TiltedCamera, coat: Garment, answer: Answer, project: Project
) -> None:
    """A panel is an outline: most of the photograph inside it is as it was."""
    (back, *_) = [s for s in spreads(answer, [coat], project) if s.piece.name == "back"]
    large = [replace(back, cuts=(cut,)) for cut in back.cuts if cut.placement.panel == "body"]
    assert len(large) == 2
    for spread in large:
        drawn = changed(still, pixels(layout_on_photo(still, camera, [spread], unit=Unit.MM)))
        ring = camera.to_px(np.array(spread.cuts[0].placement.shape.buffer(-6).exterior.coords))
        inside = Image.new("1", (still.width_px, still.height_px))
        ImageDraw.Draw(inside).polygon([tuple(p) for p in ring], fill=1)
        assert drawn[np.asarray(inside)].mean() < 0.25


def test_names_of_small_panels_lie_beside_them_and_over_no_other(
    still: Photo, camera: TiltedCamera, coat: Garment, answer: Answer, project: Project, placed: Placed
) -> None:
    """Twelve tags too small for a word: each gets its number or name at a place of its own."""
    page = Page(NoPen(), 1.0)
    labels = Labels(page, box(0, 0, 620, 700))
    shapes = [
        box(40 + 30 * (n % 4), 300 + 30 * (n // 4), 52 + 30 * (n % 4), 312 + 30 * (n // 4)) for n in range(12)
    ]
    found = [
        labels.place(s, (("a rather long name",), (f"{n}",)), outside=((f"tag {n}",),))
        for n, s in enumerate(shapes)
    ]
    laid = [each for each in found if each is not None]
    assert len(laid) == len(shapes)
    boxes = [label.box for label, _ in laid]
    assert all(not a.intersects(b) for i, a in enumerate(boxes) for b in boxes[:i])
    assert all(not leader.crosses(b) for _, leader in laid for b in boxes if leader is not None)


def test_the_picture_is_cut_down_to_the_garment(still: Photo, camera: TiltedCamera, coat: Garment) -> None:
    part = ground_of(still, camera, coat.pieces[:1], 1600)
    assert part.width < still.width_px
    points_px = camera.to_px(np.array(coat.pieces[0].outline.exterior.coords))
    page = part.points(points_px)
    assert page.min() > 0
    assert (page < [part.width, part.height]).all()
    assert part.to_px(page) == pytest.approx(points_px)


def test_a_large_photo_is_reduced_and_a_small_one_left(still: Photo) -> None:
    large = Photo(Path("x.jpg"), np.zeros((3000, 4000, 3), dtype=np.uint8))
    assert (ground(large, 1600).width, ground(large, 1600).height) == (1600, 1200)
    assert ground(still, 1600).pixels is not None
    assert ground(still, 1600).shrink == 1.0


def test_marks_of_pieces_on_other_photographs_are_left_out(
    still: Photo, camera: TiltedCamera, coat: Garment
) -> None:
    shot = coat.pieces[0].photo
    assert shot is not None
    other = replace(
        coat, pieces=tuple(replace(p, photo=replace(shot, file="front.jpg")) for p in coat.pieces)
    )
    drawn = changed(still, pixels(marked_painting(still, camera, other, unit=Unit.MM)))
    x, y = camera.to_px([[0.0, 300.0]])[0]
    assert not drawn[round(y) - 4 : round(y) + 5, round(x) - 4 : round(x) + 5].any()


def test_check_says_what_is_wrong_below_the_picture(
    still: Photo, square: Square, outline_px: MultiPolygon
) -> None:
    problem = Problem(Code.BLURRED, Level.ERROR, "The picture is blurred: hold still, or lean on something.")
    good = Image.open(BytesIO(marked_check(still, [square], [], outline_px)))
    bad = Image.open(BytesIO(marked_check(still, [square], [problem] * 6, outline_px)))
    assert bad.height > good.height > still.height_px


def test_pictures_keep_to_their_bytes(
    photo: Photo, camera: TiltedCamera, coat: Garment, answer: Answer, project: Project
) -> None:
    laid = spreads(answer, [coat], project)[:1]
    free = layout_on_photo(photo, camera, laid, unit=Unit.MM)
    kept = layout_on_photo(photo, camera, laid, unit=Unit.MM, most_bytes=len(free) * 2 // 3)
    assert len(kept) <= len(free) * 2 // 3

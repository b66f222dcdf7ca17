"""A coat, a project and an answer made by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from report_kit import MakeRectangle, Placed, TiltedCamera
from report_kit import placed as make_placed
from report_kit import rectangle as make_rectangle
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PiecePhoto, PlusMinus
from salvage.fit.answer import Answer, Help, HelpKind, LeftOver, Verdict
from salvage.photo.photo import Photo
from salvage.project.project import Grain, Panel, Project, Strip
from salvage.scale.square import Square, SquareKind


@pytest.fixture
def rectangle() -> MakeRectangle:
    """A function: the outline of a rectangle."""
    return make_rectangle


@pytest.fixture
def placed() -> Placed:
    """A function: a rectangle of a panel laid with its lower-left at (x, y)."""
    return make_placed


@pytest.fixture
def camera() -> TiltedCamera:
    return TiltedCamera()


@pytest.fixture
def photo() -> Photo:
    grain = np.random.default_rng(7).integers(90, 130, (900, 1200, 3), dtype=np.uint8)
    return Photo(Path("back.jpg"), grain)


@pytest.fixture
def square() -> Square:
    corners = np.array([[1000.0, 500.0], [1100.0, 500.0], [1100.0, 400.0], [1000.0, 400.0]])
    return Square(SquareKind.PLAIN, 150.0, 150.0, corners, np.full(4, 0.3))


@pytest.fixture
def coat() -> Garment:
    shot = PiecePhoto("back.jpg", 150.0)
    pocket = Blocked(BlockedKind.POCKET, box(300, 400, 420, 540), 3.0, what="patch pocket")
    seam = Blocked(BlockedKind.SEAM, LineString([(20, 640), (600, 640)]), 6.0)
    zip_ = Blocked(BlockedKind.CLOSURE, box(604, 0, 620, 700), 3.0, what="zip")
    stain = Blocked(BlockedKind.WORN, affinity.translate(box(0, 0, 40, 30), 480, 330), 3.0, what="stain")
    back = Piece(
        "back",
        box(0, 0, 620, 700),
        blocked=(pocket, seam, zip_, stain),
        plus_minus=PlusMinus(0.4, 2.0),
        photo=shot,
    )
    lining = Piece("lining", box(0, 0, 300, 260), fabric="lining")
    return Garment(
        "work coat", (back, lining), kind="canvas", cautions=("Feel for glue behind the collar.",),
        warnings=("back.jpg: the square is small in the picture; stand closer.",),
    )  # fmt: skip


@pytest.fixture
def project() -> Project:
    return Project(
        "Basket liner",
        (
            Panel("body", make_rectangle(200, 250), cut=2, finished=(180, 230), seam_allowance=10),
            Panel(
                "flap", make_rectangle(120, 90), mirrored=True, cut=2, grain=Grain.EITHER, finished=(100, 70)
            ),
            Panel("inner pocket", make_rectangle(150, 120), fabric="lining", joins=1, seam_allowance=10),
        ),
        (Strip("strap", 40, 420, finished_width=10, folds=4, seam_allowance=6),),
        cutting_gap=3,
    )


@pytest.fixture
def answer() -> Answer:
    placements = (
        make_placed("body", 1, 10, 10, 200, 250),
        make_placed("body", 2, 10, 270, 200, 250),
        make_placed("flap", 1, 230, 10, 120, 90),
        make_placed("flap", 2, 230, 110, 120, 90, angle=90.0, flipped=True),
        make_placed("strap", 1, 440, 10, 40, 280, part=1),
        make_placed("strap", 1, 490, 10, 40, 180, part=2),
        make_placed("inner pocket", 1, 10, 10, 80, 120, part=1, piece="lining"),
        make_placed("inner pocket", 1, 120, 10, 80, 120, part=2, piece="lining"),
    )
    return Answer(
        Verdict.YES_WITH_JOINS,
        ("All 8 shapes to cut fit, on back and lining.", "The strap is joined from two lengths."),
        placements,
        spare=7.2,
        plus_minus=3.9,
        largest_scale_percent=108.4,
        left_over={"shell": LeftOver(150000.0, ((200.0, 150.0, 0, "back"),)), "lining": LeftOver(9000.0)},
        helps=(Help(HelpKind.SHRINK, "Shorten the body by 10 mm."),),
        join_plan=("strap: 2 lengths 280, 180 mm, joined on the bias (each join uses 40 mm)",),
    )


@pytest.fixture
def outline_px(camera: TiltedCamera) -> MultiPolygon:
    return MultiPolygon([Polygon(camera.to_px(np.array(box(0, 0, 620, 700).exterior.coords)))])

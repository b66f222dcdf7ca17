"""Pieces turned so that their grain runs up the page, as a sewer lays them on the table."""

from __future__ import annotations

from dataclasses import replace

from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.garment import Piece


def turn_of(piece: Piece) -> float:
    """By how much a piece is turned on its plan, degrees counter-clockwise, about the plane's (0, 0).

    With a nap its up goes up; else by no more than a quarter, so that what was up in the picture stays up.
    """
    turn = (90.0 - piece.grain + 180.0) % 360.0 - 180.0
    if piece.one_way:
        return turn
    return (turn + 90.0 - 1e-9) % 180.0 - 90.0 + 1e-9


def turned(shape: BaseGeometry, turn: float) -> BaseGeometry:
    """A shape of the plane as it lies on the plan."""
    return affinity.rotate(shape, turn, origin=(0, 0)) if turn else shape


def upright(piece: Piece) -> Piece:
    """The piece as it lies on the plan."""
    turn = turn_of(piece)
    if not turn:
        return piece
    outline, usable = turned(piece.outline, turn), piece.usable
    assert isinstance(outline, Polygon)
    if usable is not None:
        usable = turned(usable, turn)
        assert isinstance(usable, Polygon | MultiPolygon)
    blocked = tuple(replace(each, shape=turned(each.shape, turn)) for each in piece.blocked)
    return replace(piece, outline=outline, usable=usable, blocked=blocked, grain=piece.grain + turn)

"""What is wrong with a photograph as a picture of cloth."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, box

from salvage.cloth.outline.colour import Array, shrink
from salvage.photo.problem import Code, Level, Problem

CUT = 0.03  # of the outline: more than this along the frame, and cloth is missing
FRAME_PX = 1.5  # how near the frame counts as on it
FAINT = 5.0  # colour difference (CIE 1976) across the outline that the eye just sees at a glance
FAINT_SHARE = 0.5  # of the outline
WORK_PX = 600  # long side at which colours are compared
APART = 0.012  # of the long side: how far in and out of the outline the two colours are taken


def nothing() -> Problem:
    return Problem(
        Code.NO_GARMENT,
        Level.ERROR,
        "No cloth was found. Lay the garment flat on a floor of another colour, all of it in the picture, or "
        "point at the cloth with --cloth X,Y.",
    )


def on_frame(shape: MultiPolygon, width_px: int, height_px: int) -> float:
    """Share of the outline that runs along the frame of the picture."""
    inner = box(-0.5 + FRAME_PX, -0.5 + FRAME_PX, width_px - 0.5 - FRAME_PX, height_px - 0.5 - FRAME_PX)
    edge = shape.boundary
    return float(edge.difference(inner).length / edge.length) if edge.length else 0.0


def contrast(pixels: Array, shape: MultiPolygon) -> NDArray[np.float64]:
    """Colour difference between just inside and just outside, at places all along the outline."""
    small = shrink(pixels, WORK_PX)
    factor = small.shape[1] / pixels.shape[1]
    shape = affinity.translate(shape, 0.5, 0.5)
    shape = affinity.translate(affinity.scale(shape, factor, factor, origin=(0, 0)), -0.5, -0.5)
    height, width = small.shape[:2]
    lab = cv2.cvtColor(cv2.GaussianBlur(small, (0, 0), 0.8), cv2.COLOR_RGB2LAB)
    lab = lab.astype(np.float32) * np.array([100 / 255, 1, 1], np.float32)
    away = APART * max(width, height)
    steps = []
    for part in shape.geoms:
        ring = LineString(part.exterior.coords)
        for along in np.arange(0, ring.length, 2 * away):
            a, b = ring.interpolate(along), ring.interpolate(min(along + away, ring.length))
            run = np.array([b.x - a.x, b.y - a.y])
            if np.hypot(*run) < 1e-6:
                continue
            normal = np.array([-run[1], run[0]]) / np.hypot(*run)
            middle = np.array([a.x + b.x, a.y + b.y]) / 2
            ends = [middle + normal * away, middle - normal * away]
            if any((e < 0).any() or e[0] > width - 1 or e[1] > height - 1 for e in ends):
                continue
            if sum(part.covers(Point(*e)) for e in ends) != 1:
                continue
            one, two = (lab[round(e[1]), round(e[0])] for e in ends)
            steps.append(float(np.linalg.norm(one - two)))
    return np.array(steps)


def is_faint(pixels: Array, shape: MultiPolygon) -> bool:
    """Whether cloth and floor have nearly the same colour along much of the outline."""
    steps = contrast(pixels, shape)
    return bool(len(steps) and float((steps < FAINT).mean()) > FAINT_SHARE)


def problems(
    pixels: Array, shape: MultiPolygon, faint: bool, may_be_floor: MultiPolygon
) -> tuple[Problem, ...]:
    """Warnings about cloth that leaves the picture or can hardly be told from the floor.

    faint: see `is_faint`. may_be_floor: areas of the cloth, in pixels.
    """
    found = []
    if on_frame(shape, pixels.shape[1], pixels.shape[0]) > CUT:
        found.append(
            Problem(
                Code.GARMENT_CUT,
                Level.WARNING,
                "The cloth runs out of the picture, and what lies outside is not counted. Step back and take it "
                "again with floor all round.",
            )
        )
    if faint:
        found.append(
            Problem(
                Code.LOW_CONTRAST,
                Level.WARNING,
                "Cloth and floor have nearly the same colour along much of the outline. Look at the marked edge, "
                "or lay the garment on a floor of another colour.",
            )
        )
    if not may_be_floor.is_empty:
        share = 100.0 * may_be_floor.area / max(shape.area, 1e-9)
        found.append(
            Problem(
                Code.LOW_CONTRAST,
                Level.WARNING,
                f"About {max(1, round(share))} % of what was found may be what the garment lies on, which looks nearly like it. "
                "It isn't counted until you say what it is; or lay the garment on a floor of another colour.",
            )
        )
    return tuple(found)

"""What a printed template measures: PDF pages rendered, and lines found in them. Knows nothing of how they are made."""

from __future__ import annotations

import math

import numpy as np
import pypdfium2
from numpy.typing import NDArray

PX_PER_MM = 12.0


def rendered(data: bytes, number: int, px_per_mm: float = PX_PER_MM) -> NDArray[np.float64]:
    """Darkness of a page, 0 white to 1 black, row 0 at the bottom."""
    page = pypdfium2.PdfDocument(data)[number]
    grey = page.render(scale=px_per_mm * 25.4 / 72, grayscale=True).to_numpy()
    grey = grey.reshape(grey.shape[:2])
    return 1.0 - grey[::-1].astype(float) / 255


def offset(
    picture: NDArray[np.float64], x: float, y: float, normal: tuple[float, float], *, reach: float = 0.7,
    px_per_mm: float = PX_PER_MM,
) -> float | None:  # fmt: skip
    """How far, mm along normal, the middle of a dark line lies from (x, y) mm of the page; None where there is none."""
    steps = np.linspace(-reach, reach, 141)
    columns = (x + steps * normal[0]) * px_per_mm - 0.5
    rows = (y + steps * normal[1]) * px_per_mm - 0.5
    inside = (columns >= 0) & (rows >= 0) & (columns < picture.shape[1] - 1) & (rows < picture.shape[0] - 1)
    if not inside.all():
        return None
    c, r = np.floor(columns).astype(int), np.floor(rows).astype(int)
    u, v = columns - c, rows - r
    dark = (
        picture[r, c] * (1 - u) * (1 - v)
        + picture[r, c + 1] * u * (1 - v)
        + picture[r + 1, c] * (1 - u) * v
        + picture[r + 1, c + 1] * u * v
    )
    return float((dark * steps).sum() / dark.sum()) if dark.max() > 0.4 else None


def stations(
    ring: list[tuple[float, float]], apart: float, *, off: float = 3.0
) -> list[tuple[float, float, tuple[float, float]]]:
    """Points along a ring with their unit normals, none nearer than off to a corner."""
    found = []
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True):
        long = math.dist((x0, y0), (x1, y1))
        if long < 2 * off:
            continue
        for at in np.arange(off, long - off + 1e-9, apart):
            t = at / long
            found.append((x0 + t * (x1 - x0), y0 + t * (y1 - y0), ((y1 - y0) / long, (x0 - x1) / long)))
    return found

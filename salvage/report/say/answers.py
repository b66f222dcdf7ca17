"""Answers about photographs as plain data, for `--json` and for the page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from shapely.geometry import mapping

if TYPE_CHECKING:
    from salvage.job import Look
    from salvage.telling import Point


def check_data(seen: Look) -> dict[str, Any]:
    """One photograph's answer in the form of the design ("salvage check 1")."""
    plane = seen.solution.plane if seen.solution else None
    scale = plane and {
        "mm_per_px": round(plane.mm_per_px, 6),
        "tilt": round(plane.tilt, 2),
        "plus_minus_percent": round(plane.plus_minus_percent, 3),
    }
    return {
        "format": "salvage check 1",
        "photo": seen.photo.name,
        "ok": seen.ok,
        "size_px": list(seen.photo.full_px),
        "problems": [{"code": p.code, "level": p.level, "message": p.message} for p in seen.problems],
        "squares": [
            {
                "kind": s.kind,
                # Without a scale nothing is known of the square's side.
                "side": round(s.width, 3) if plane else None,
                "corners_px": [[round(float(v), 3) for v in c] for c in s.corners_px],
            }
            for s in seen.squares
        ],
        "outline_px": mapping(seen.outline.shape_px)
        if seen.outline
        else {"type": "MultiPolygon", "coordinates": []},
        "outline_confidence": round(seen.outline.confidence, 4) if seen.outline else 0.0,
        "scale": scale,
        "known": [one.row for one in seen.known],
        "advice": list(seen.solution.advice) if seen.solution else [],
    }


def tape_data(distances: Iterable[tuple[Point, Point, float, float]]) -> dict[str, Any]:
    """Distances, each from and to in pixels, mm and plus-minus ("salvage tape 1")."""
    return {
        "format": "salvage tape 1",
        "distances": [
            {"from_px": a, "to_px": b, "length": round(mm, 2), "plus_minus": round(pm, 2)}
            for a, b, mm, pm in distances
        ],
    }

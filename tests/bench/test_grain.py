"""Does the grain of each piece run as it does in truth? pytest -m bench tests/bench/test_grain.py -s

Plane and outline are taken from the truth files. Each true piece is matched with the piece of ours that covers most
of it, if that is more than half; directions are compared modulo 180 degrees. A piece whose grain is in such doubt that
the person is asked counts as asked about, not as wrong.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from shapely import union_all
from shapely.geometry import MultiPolygon, Polygon
from told import Told
from true_plane import TruePlane

from salvage.cloth.garment import GRAIN_UNSURE, Piece
from salvage.cloth.inside import find_pieces
from salvage.cloth.outline.find import Outline
from salvage.photo.read import read_photo

WITHIN = 5.0  # degrees off
TOLD = {
    "near": Told("38 within 5 degrees", 38),
    "asked": Told("5 asked about", 5),
    "wrong": Told("none wrong without a word", 0),
}
SMALLEST = 6000.0  # mm^2, of a true piece that is looked at


def off(a: float, b: float) -> float:
    return abs((a - b + 90.0) % 180.0 - 90.0)


def rendered(
    shared: Path,
) -> Iterator[tuple[str, Path, TruePlane, MultiPolygon, list[tuple[str, float, Polygon]]]]:
    for folder in sorted((shared / "photos" / "rendered").glob("[0-9]*")):
        truth = json.loads((folder / "truth.json").read_text())
        if truth["must_warn"]:
            continue
        garment = truth["garment"]
        outline = MultiPolygon(
            [Polygon(p["exterior_px"], p["holes_px"]).buffer(0) for p in garment["outline"]]
        )
        pieces = [
            (
                each["name"],
                float(each["grain_deg"]),
                union_all([Polygon(p["exterior_mm"], p["holes_mm"]).buffer(0) for p in each["polygons"]]),
            )
            for each in garment["pieces"]
        ]
        yield (
            f"{folder.name} {truth['garment_kind']}",
            folder / "photo.jpg",
            TruePlane(truth),
            outline,
            pieces,
        )


def best(true: Polygon, ours: tuple[Piece, ...]) -> Piece | None:
    """The piece that covers most of a true one, if over half of it."""
    found = max(ours, key=lambda each: each.outline.intersection(true).area)
    return found if found.outline.intersection(true).area > 0.5 * true.area else None


@pytest.mark.bench
def test_grain_of_rendered_garments(shared: Path) -> None:
    near = asked = wrong = 0
    for name, photo, plane, outline, pieces in rendered(shared):
        ours = find_pieces(read_photo(photo), plane, Outline(outline, 1.0)).pieces
        print(f"\n{name}")
        for true_name, grain, where in pieces:
            if where.area < SMALLEST or (mine := best(where, ours)) is None:
                continue
            error, doubt = off(mine.grain, grain), mine.plus_minus.grain
            near += error <= WITHIN
            asked += error > WITHIN and doubt > GRAIN_UNSURE
            wrong += error > WITHIN and doubt <= GRAIN_UNSURE
            print(
                f"   {true_name:22s} {where.area / 100:6.0f} cm2  {mine.name:22s} off {error:5.1f} +- {doubt:.0f}"
            )
    total = near + asked + wrong
    print(
        f"within {WITHIN:.0f} degrees: {near} of {total}; asked about: {asked}; wrong without a word: {wrong}"
    )
    assert total == 43
    TOLD["near"].at_least(near)
    TOLD["asked"].at_most(asked)
    TOLD["wrong"].at_most(wrong)

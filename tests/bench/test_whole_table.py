"""Every photograph with a truth file, the whole way without hints: outline overlap and usable area.

pytest -m bench tests/bench/test_whole_table.py -s
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from shapely import union_all
from shapely.geometry import Polygon, shape
from shapely.geometry.base import BaseGeometry

from salvage.cloth.usable import usable
from salvage.errors import SalvageError
from salvage.job import look, measure
from salvage.photo.read import read_photo
from salvage.telling import Telling

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Known:
    """A photograph and what is true of it. usable: mm^2 of all fabrics; refused: it is meant to be."""

    name: str
    photo: Path
    side: float
    outline_px: BaseGeometry
    usable: float
    refused: bool


def demo() -> Iterator[Known]:
    for file in sorted((ROOT / "demo_images").glob("*.truth.json")):
        truth = json.loads(file.read_text())
        yield Known(
            name=file.name.removesuffix(".truth.json"),
            photo=file.with_name(file.name.removesuffix(".truth.json") + ".jpg"),
            side=truth["squares"][0]["side"],
            outline_px=shape(truth["outline"]["px"]).buffer(0),
            usable=sum(truth["usable_area_mm2"].values()),
            refused=file.name.startswith("refused"),
        )


def rendered() -> Iterator[Known]:
    for folder in sorted((ROOT.parent / "shared" / "photos" / "rendered").glob("[0-9]*")):
        truth = json.loads((folder / "truth.json").read_text())
        garment = truth["garment"]
        parts = [Polygon(p["exterior_px"], p["holes_px"]).buffer(0) for p in garment["outline"]]
        yield Known(
            name=f"rendered {folder.name}",
            photo=folder / "photo.jpg",
            side=truth["reference_squares"][0]["side_mm"],
            outline_px=union_all(parts),
            usable=garment["usable_area_mm2"],
            refused=bool(truth["must_warn"]),
        )


def overlap(a: BaseGeometry, b: BaseGeometry) -> float:
    return a.intersection(b).area / a.union(b).area


@pytest.mark.bench
def test_outline_and_usable_area_of_every_photograph() -> None:
    overlaps, areas, refused = [], [], 0
    print(f"\n{'photograph':28s}{'outline IoU':>12s}{'confidence':>12s}{'usable':>9s}{'pieces':>8s}{'s':>7s}")
    for known in [*demo(), *rendered()]:
        telling = Telling(side=known.side)
        begun = time.perf_counter()
        seen = look(read_photo(known.photo), telling)
        assert seen.outline is not None
        found = seen.outline.shape_px.buffer(0)
        share = overlap(found, known.outline_px)
        line = f"{known.name:28s}{share:12.3f}{seen.outline.confidence:12.2f}"
        try:
            garment = measure([seen], telling, name=known.name).garment
        except SalvageError as error:
            print(f"{line}  refused: {str(error)[:90]}")
            assert known.refused, f"{known.name} is refused for no reason"
            refused += 1
            continue
        assert not known.refused, f"{known.name} must be refused, and was measured"
        total = sum(usable(piece).area for piece in garment.pieces)
        seconds = time.perf_counter() - begun
        print(f"{line}{100 * (total / known.usable - 1):+8.1f} %{len(garment.pieces):7d}{seconds:7.1f}")
        overlaps.append(share)
        areas.append(total / known.usable - 1)
    print(f"outline IoU: mean {np.mean(overlaps):.3f}, worst {min(overlaps):.3f}")
    assert refused >= 2  # the two of demo_images/ at least
    assert np.mean(overlaps) >= 0.99
    assert min(overlaps) >= 0.975
    assert max(np.abs(areas)) <= 0.08

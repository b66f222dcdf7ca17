"""Whole questions on drawn garments that nothing was fitted on: pytest -m bench tests/bench/test_drawn_verdicts.py -s

Each garment is drawn (fixtures/train/garment.py) with seeds that no training and no fitting used, its outline is given; of
its main cloth, as measured, three projects of 2 to 7 oblongs ask for SHARES, whatever comes of it. A yes is laid on
the true cloth: a panel is off it where more than 5 % of it lies outside what is truly clear, grown by 5 mm. For every other
verdict the true cloth is asked, less 10 mm at every edge: where the project fits even there, a no is a false one. Drawings whose
seams nobody could see are among them, as in training. Five of the garments were looked at while building.
"""

from __future__ import annotations

from collections import Counter

import cv2
import fixture_scripts  # noqa: F401 (finds the scripts below)
import numpy as np
import pytest
from drawn_garments import inside_of
from numpy.typing import NDArray
from shapely.geometry import Polygon
from told import Told

from fixtures.train.garment import garment
from fixtures.train.garment_draw import draw
from fixtures.train.garment_light import Drawing
from fixtures.train.textures import Chance
from salvage.cloth.flat.picture import rasterise
from salvage.cloth.garment import Garment, Piece
from salvage.cloth.usable import usable
from salvage.fit.answer import Verdict
from salvage.fit.fit import fit_project
from salvage.project.project import Panel, Project
from salvage.shapes import polygons_of

FIRST, GARMENTS = 64_000_000, 24
SHARES = (0.15, 0.3, 0.42)  # of the main cloth as measured
GAP, SECONDS = 3.0, 8.0
GROWN, TAKEN_IN, OFF = 5, 10, 0.05  # mm, mm, share
IN_THE_WAY = ("seam", "closure", "pocket", "worn")
# A search that ends by the clock finds one layout more or less.
TOLD = {
    "yes": Told("49 yes", 49, 2),
    "unsettled": Told("3 unsettled", 3, 2),
    "false": Told("none of the noes is false", 0),
    "off": Told("6 of the layouts lie in part on what is in the way in truth", 6, 1),
}


def drawn(number: int) -> Drawing:
    chance = Chance(FIRST + number)
    return draw(chance, garment(chance, allow_rough=False), 1024, padded=False)


def clear(drawing: Drawing) -> NDArray[np.bool_]:
    """The true cloth without what is in the way, of both fabrics."""
    return drawing.cloth & ~np.any([drawing.maps[name] > 0 for name in IN_THE_WAY], axis=0)


def disc(radius: int) -> NDArray[np.uint8]:
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1)).astype(np.uint8)


def surely_there(drawing: Drawing, fabric: str) -> Garment:
    """The true main cloth, less TAKEN_IN at every edge, as pieces."""
    mask = (clear(drawing) & (drawing.maps["other"] == 0)).astype(np.uint8)
    count, numbers = cv2.connectedComponents(cv2.erode(mask, disc(TAKEN_IN)))
    pieces = []
    for number in range(1, count):
        part = numbers == number
        twice = drawing.grain[part].mean(axis=0)
        grain = float(np.degrees(np.arctan2(twice[1], twice[0])) / 2 % 180)
        rings, family = cv2.findContours(part.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
        shape = Polygon()
        for ring, (_, _, _, parent) in sorted(
            zip(rings, family[0], strict=True), key=lambda each: each[1][3] >= 0
        ):
            if len(ring) > 3:
                one = Polygon(ring[:, 0] * (1.0, -1.0)).buffer(0)
                shape = shape.union(one) if parent < 0 else shape.difference(one)
        kept = [each for each in polygons_of(shape.simplify(0.4)) if each.area > 400]
        pieces += [Piece(f"{number}.{k}", each, fabric=fabric, grain=grain) for k, each in enumerate(kept)]
    return Garment("true", tuple(pieces))


def asked(rng: np.random.Generator, fabric: str, area: float) -> Project:
    """Some oblongs, of so much area together."""
    count = int(rng.integers(2, 8))
    panels = []
    for number, each in enumerate(area * rng.dirichlet(np.full(count, 3.0))):
        slim = float(np.exp(rng.uniform(np.log(0.4), np.log(2.5))))
        wide, tall = (max(20.0, round(side)) for side in (np.sqrt(each / slim), np.sqrt(each * slim)))
        panels.append(Panel(f"panel {number + 1}", ((0, 0), (wide, 0), (wide, tall), (0, tall)), fabric))
    return Project("some oblongs", tuple(panels), cutting_gap=GAP)


@pytest.mark.bench
def test_verdicts_on_drawn_garments() -> None:
    counts: Counter[str] = Counter()
    for number in range(GARMENTS):
        drawing = drawn(number)
        found = Garment("drawn", tuple(inside_of(drawing).pieces))
        areas = {piece.fabric: 0.0 for piece in found.pieces}
        for piece in found.pieces:
            areas[piece.fabric] += usable(piece).area
        fabric = max(areas, key=lambda each: areas[each])
        good = cv2.dilate(clear(drawing).astype(np.uint8), disc(GROWN)) > 0
        rng = np.random.default_rng(FIRST + number)
        for share in SHARES:
            project = asked(rng, fabric, share * areas[fabric])
            answer = fit_project([found], project, seconds=SECONDS)
            off = []
            wrong = False
            if answer.verdict in (Verdict.YES, Verdict.YES_WITH_JOINS):
                for placed in answer.placements:
                    mask = rasterise(placed.shape, drawing.cloth.shape, 1.0, 0.0, 0.0)
                    if (mask & ~good).sum() > OFF * mask.sum():
                        off.append(placed.panel)
            else:
                sure = fit_project([surely_there(drawing, fabric)], project, seconds=SECONDS, brief=True)
                wrong = sure.verdict is Verdict.YES
            counts[answer.verdict.value] += 1
            counts["off the cloth"] += bool(off)
            counts["false no"] += wrong and answer.verdict is Verdict.NO
            counts["unsettled though it fits"] += wrong and answer.verdict is not Verdict.NO
            print(
                f"{number:3d} {share:.2f} {len(project.panels)} panels  {answer.verdict}"
                f"{'  OFF THE CLOTH: ' + ', '.join(off) if off else ''}{'  BUT IT FITS' if wrong else ''}"
            )
    print(dict(counts))
    TOLD["off"].at_most(counts["off the cloth"])
    TOLD["false"].at_most(counts["false no"])
    TOLD["unsettled"].at_most(counts["unsettled"])
    TOLD["yes"].at_least(counts["yes"])

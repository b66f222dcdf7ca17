"""Every kind of flaw on every kind of cloth, on drawn garments: pytest -m bench tests/bench/test_drawn_flaws.py -s

The rendered photographs have few flaws of few kinds, and no leather, knit or quilted cloth; so these are drawn
(fixtures/train/flaws.py), with seeds that no training and no fitting used, and no holes in the outline that is given: a hole
or a tear must be seen inside it. A flaw is found where over half of it is called worn; what is blocked otherwise (taken for a
pocket, a tab) isn't called usable either. In vain is worn cloth of ours more than 4 mm from any flaw, on the main cloth.
While building, the seeds of FIRST were looked at; those of FRESH were not.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import fixture_scripts  # noqa: F401 (finds the scripts below)
import numpy as np
import pytest
from drawn_garments import inside_of, outline_of
from numpy.typing import NDArray
from shapely import union_all
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from told import Told

from fixtures.train.flaws import CLOTHS, FIRST, FLAWS, Flawed, cloth_of, flawed
from fixtures.train.garment import garment
from fixtures.train.garment_draw import draw
from fixtures.train.garment_wear import PATCHES
from fixtures.train.textures import Chance
from salvage.cloth.flat.picture import rasterise
from salvage.cloth.garment import BlockedKind
from salvage.cloth.usable import usable
from salvage.trade.kinds import kind_named

FRESH = 700  # from FIRST; those up to 310 were looked at while building, of these the sums alone
EACH = 6  # drawings of a cloth
OFF = 4  # mm
# Of how many flaws of a kind how many are called worn, as README tells it; one less may be a machine's last digits.
TOLD = {
    "bleached": Told("bleached 26 of 29", 26, 1),
    "faded": Told("faded 26 of 29", 26, 1),
    "paint": Told("paint 24 of 29", 24, 1),
    "stain": Told("stain 23 of 29", 23, 1),
    "tear": Told("tear 27 of 29", 27, 1),
    "mend": Told("mend 22 of 28", 22, 1),
    "hole": Told("hole 22 of 29", 22, 1),
    "abrasion": Told("abrasion 12 of 18", 12, 1),
    "leather": Told("leather 2.9 %", 0.029, 0.0015),
    "coated": Told("coated cloth 2.2 % where it shines", 0.022, 0.0015),
    "others": Told("others 0.7 % at most", 0.007, 0.0006),
    "padded": Told("none of 32, none is asked about", 0),
    "asked": Told("none of 32, none is asked about", 0),
}
# Mean share of the area of a kind's flaws that is called usable, at most.
USABLE = {
    "stain": 0.25,
    "bleached": 0.12,
    "faded": 0.2,
    "abrasion": 0.42,
    "paint": 0.2,
    "hole": 0.22,
    "tear": 0.1,
    "mend": 0.23,
}


@dataclass(frozen=True)
class Row:
    cloth: str
    kind: str
    found: bool
    usable: float


def measured(drawn: Flawed) -> tuple[list[Row], float, float]:
    """Each flaw; and mm^2 of the main cloth called worn in vain, of how many."""
    pieces = inside_of(drawn.drawing).pieces
    worn = [b.shape for piece in pieces for b in piece.blocked if b.kind is BlockedKind.WORN]

    def mask(shape: BaseGeometry) -> NDArray[np.bool_]:
        return rasterise(shape, drawn.drawing.cloth.shape, 1.0, 0.0, 0.0)

    called, clear = mask(union_all([*worn, Polygon()])), mask(union_all([usable(piece) for piece in pieces]))
    rows = [
        Row(drawn.cloth, each.kind, bool(called[each.mask].mean() > 0.5), float(clear[each.mask].mean()))
        for each in drawn.flaws
    ]
    true = np.any([each.mask for each in drawn.flaws], axis=0) if drawn.flaws else np.zeros_like(called)
    near = cv2.dilate(true.astype(np.uint8), np.ones((2 * OFF + 1,) * 2, np.uint8)) > 0
    main = drawn.drawing.cloth & (drawn.drawing.maps["other"] == 0)
    return rows, float((called & main & ~near).sum()), float(main.sum())


@pytest.mark.bench
def test_every_kind_of_flaw_on_every_kind_of_cloth() -> None:
    rows: list[Row] = []
    vain: dict[str, tuple[float, float]] = {}
    for number, cloth in enumerate(CLOTHS):
        for each in range(EACH):
            kinds = PATCHES if each % 2 else FLAWS[len(PATCHES) :]
            drawn = flawed(FIRST + FRESH + 1000 * number + each, cloth, kinds)
            more, wrong, of = measured(drawn)
            rows += more
            vain[cloth] = (vain.get(cloth, (0.0, 0.0))[0] + wrong, vain.get(cloth, (0.0, 0.0))[1] + of)
    print()
    for kind in FLAWS:
        mine = [row for row in rows if row.kind == kind]
        clear = float(np.mean([row.usable for row in mine]))
        print(
            f"{kind:10s}{sum(row.found for row in mine):4d} of {len(mine):3d} found, {clear:.3f} of the area called usable"
        )
    for cloth in CLOTHS:
        mine = [row for row in rows if row.cloth == cloth]
        wrong, of = vain[cloth]
        print(
            f"{cloth:10s}{sum(row.found for row in mine):4d} of {len(mine):3d} found, {wrong / of:.4f} called worn in vain"
        )
    for kind in FLAWS:
        mine = [row for row in rows if row.kind == kind]
        TOLD[kind].at_least(sum(row.found for row in mine))
        assert np.mean([row.usable for row in mine]) <= USABLE[kind], kind
    for cloth, (wrong, of) in vain.items():
        TOLD[cloth if cloth in TOLD else "others"].at_most(wrong / of)


@pytest.mark.bench
def test_checked_cloth_is_not_padded() -> None:
    """Checks of 6 to 150 mm, on garments of all kinds: padding is what the look at the whole garment says."""
    called = asked = 0
    periods = (6.0, 12.0, 20.0, 35.0, 50.0, 75.0, 110.0, 150.0)
    print()
    for number, period in enumerate(np.repeat(periods, 4)):
        chance = Chance(FIRST + 90_000 + number)
        plan = garment(chance, allow_rough=False)
        drawing = draw(
            chance, plan, 1024, main=cloth_of("check", chance, float(period)), padded=False,
            spoiling=lambda canvas, fabric: None,
        )  # fmt: skip
        cloth = max(outline_of(drawing.cloth).geoms, key=lambda each: each.area)
        found = inside_of(drawing, MultiPolygon([cloth]))
        called, asked = called + (not kind_named(found.kind).suits), asked + (found.may_be_padded > 0)
        if found.kind or found.may_be_padded:
            print(
                f"check of {period:.0f} mm, {plan.name}: {found.kind or 'asked'}, {found.may_be_padded:.2f}"
            )
    print(
        f"of {4 * len(periods)} checked garments {called} are called padded or quilted, {asked} asked about"
    )
    TOLD["padded"].at_most(called)
    TOLD["asked"].at_most(asked)

"""Inside real garments, against labels drawn by hand: pytest -m bench tests/bench/test_inside_real.py -s

Is what is called clear cloth clear? Straight lines of 8 to 24 cm are thrown on the true cloth; inside_score.py,
which lies with the photographs, says what safe, kept and missed mean. Outline and nominal scale are taken from
the labels, so that only this room is measured. `strict` counts the lines as well that can't be seen in the
picture but must be there. A place is called worn in vain where it is more than NEAR mm from all that is labelled.
"""

from __future__ import annotations

import json
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import shapely
from labelled import CORNER, NominalPlane, scorer, shifted, usable_px
from shapely.geometry import LineString, MultiPolygon, Polygon
from told import Told

from salvage.cloth.garment import BlockedKind, Piece
from salvage.cloth.inside import Inside, find_pieces
from salvage.cloth.outline.find import Outline
from salvage.cloth.usable import polygons_of
from salvage.photo.read import read_photo
from salvage.trade.kinds import kind_named

NEAR = 6.0  # mm
TOLD = {
    "safe": Told("of lines of 8 to 24 cm called clear cloth, clear are | 0.980", 0.98, 0.002),
    "strict": Told("0.979 also with seams that only the make demands", 0.979, 0.002),
    "worst strict": Told("(0.833 on the worst of them)", 0.833, 0.006),
    "kept": Told("of the truly clear lines 0.85 are kept", 0.85, 0.006),
    "missed": Told("of those that a seam, zip or pocket crosses 0.033 are called clear", 0.033, 0.003),
    "suited safe": Told("Without the padded or quilted ones: 0.980", 0.98, 0.002),
    "suited kept": Told("Without the padded or quilted ones: 0.980, 0.89", 0.89, 0.006),
    "suited missed": Told("Without the padded or quilted ones: 0.980, 0.89, 0.050", 0.05, 0.003),
    "asked": Told("All padded or quilted ones are called so and no other, two others are asked about", 2),
    "in vain": Told("0.2 % (3.3 % before)", 0.002, 0.0006),
}


def looked_inside(folder: Path, number: str, measure: ModuleType) -> tuple[Inside, NominalPlane]:
    """What is found inside the true outline at the nominal scale."""
    outline, _, mm_per_px = measure.truth_of(folder, number)
    cloth = MultiPolygon(polygons_of(shifted(measure.cloth_px(outline), -CORNER)))
    plane = NominalPlane(mm_per_px)
    return find_pieces(read_photo(folder / f"{number}.jpg"), plane, Outline(cloth, 1.0)), plane


def worn_in_vain(pieces: tuple[Piece, ...], labels: dict, plane: NominalPlane) -> float:
    """Share of the cloth that is called worn where nothing is labelled."""
    known = [LineString(each["points"]) for each in labels["lines"] if len(each["points"]) > 1]
    known += [
        Polygon(each["polygon"]).buffer(0) for each in labels["spots"] if len(each.get("polygon", [])) > 2
    ]
    near = shapely.union_all(known).buffer(NEAR / plane.mm_per_px) if known else Polygon()
    worn = [
        shifted(shapely.transform(each.shape, plane.to_px), CORNER)
        for piece in pieces
        for each in piece.blocked
        if each.kind is BlockedKind.WORN
    ]
    cloth = sum(piece.outline.area for piece in pieces) / plane.mm_per_px**2
    return float(shapely.union_all(worn).difference(near).area / cloth) if worn else 0.0


@pytest.mark.bench
def test_clear_cloth_inside_real_garments(shared: Path) -> None:
    folder = shared / "photos" / "real"
    measure = scorer(folder)
    totals: dict[tuple[bool, bool], dict[str, int]] = {}  # strict, only what suits -> tally
    kinds_right, vain, asked, worst = [], [], 0, 1.0
    print(f"\n{'photo':22s}{'safe':>7s}{'kept':>7s}{'missed':>8s}{'strict':>9s}{'kept':>7s}{'missed':>8s}"
          f"{'pieces':>8s}{'in vain':>9s}  padded or quilted")  # fmt: skip
    for file in sorted(folder.glob("[0-9]*.inside.json")):
        number = file.name.partition(".")[0]
        labels = json.loads(file.read_text())
        inside, plane = looked_inside(folder, number, measure)
        called = usable_px(inside.pieces, plane)
        row = []
        for strict in (False, True):
            tally = measure.counts(folder, number, called, strict=strict)
            for suited in (False, True) if labels["suits"] else (False,):
                total = totals.setdefault((strict, suited), {})
                for key, value in tally.items():
                    total[key] = total.get(key, 0) + value
            row += list(measure.shares(tally).values())
        worst = min(worst, row[3])
        suits = kind_named(inside.kind).suits
        kinds_right.append(suits == labels["suits"])
        vain.append(worn_in_vain(inside.pieces, labels, plane))
        asked += bool(inside.may_be_padded)
        told = "right" if kinds_right[-1] else "wrongly called so" if labels["suits"] else "not called so"
        told += ", but asked" if inside.may_be_padded else ""
        print(f"{number} {labels['kind']:19s}{row[0]:7.3f}{row[1]:7.3f}{row[2]:8.3f}{row[3]:9.3f}{row[4]:7.3f}"
              f"{row[5]:8.3f}{len(inside.pieces):8d}{vain[-1]:9.4f}  {told}")  # fmt: skip
    for name, suited in (("in all", False), ("but padded, quilted", True)):
        seen, strict = (measure.shares(totals[each, suited]) for each in (False, True))
        print(f"{name:22s}{seen['safe']:7.3f}{seen['kept']:7.3f}{seen['missed']:8.3f}{strict['safe']:9.3f}"
              f"{strict['kept']:7.3f}{strict['missed']:8.3f}")  # fmt: skip
    print(
        f"called worn in vain {np.mean(vain):.4f} of the cloth; padded or quilted {sum(kinds_right)} of "
        f"{len(kinds_right)} right, {asked} asked about"
    )
    seen, strict, suited = (
        measure.shares(totals[which]) for which in ((False, False), (True, False), (False, True))
    )
    TOLD["safe"].at_least(seen["safe"])
    TOLD["kept"].at_least(seen["kept"])
    TOLD["missed"].at_most(seen["missed"])
    TOLD["strict"].at_least(strict["safe"])
    TOLD["worst strict"].at_least(worst)
    TOLD["suited safe"].at_least(suited["safe"])
    TOLD["suited kept"].at_least(suited["kept"])
    TOLD["suited missed"].at_most(suited["missed"])
    TOLD["in vain"].at_most(float(np.mean(vain)))
    TOLD["asked"].at_most(asked)
    assert len(kinds_right) == 24
    assert all(kinds_right)

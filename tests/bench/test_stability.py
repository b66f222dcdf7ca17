"""Does the answer hold when the photograph changes in ways that must not change it? See `changed_photo.CHANGES`.

    pytest -m bench tests/bench/test_stability.py -s                                 every third photograph
    pytest -m bench tests/bench/test_stability.py -s -k "real and mirrored"          one change
    SALVAGE_STABILITY_PHOTOS=all pytest ...                                          all of them

Real photographs: outline and nominal scale are given, as in test_inside_real.py. What is found is taken back to the
photograph as it was and scored there, by the same labels and lines. `moved` is the share of lines of 8 to 24 cm, of
those called clear cloth before, that are called otherwise after; `usable` how much more or less cloth there is.
Rendered ones: the whole way from the photograph alone to the questions of known answer; layouts are laid on the true
cloth of the photograph as it was. A printed square is none any more when mirrored: these are refused, rightly.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import shapely
from asked import layout_checker, score
from changed_photo import CHANGES, CORNER, inverse, moved
from labelled import NominalPlane, scorer, shifted, usable_px
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from salvage.cloth.inside import find_pieces
from salvage.cloth.outline.find import Outline
from salvage.cloth.usable import polygons_of, usable
from salvage.errors import SalvageError
from salvage.fit.answer import Verdict
from salvage.fit.fit import fit_project
from salvage.fit.write import answer_to_json
from salvage.job import look, measure
from salvage.photo.photo import Photo
from salvage.photo.read import read_photo
from salvage.project.read import read_project
from salvage.telling import Telling
from salvage.trade.kinds import kind_named

ALL = os.environ.get("SALVAGE_STABILITY_PHOTOS") == "all"
EVERY_REAL, EVERY_RENDERED = (1, 1) if ALL else (3, 2)
LENGTHS, THROWS, INSIDE, GRACE = (80.0, 160.0, 240.0), 3000, 15.0, 2.0  # mm, as in inside_score.py
SECONDS = 5.0
# Safe may get worse by so much in one of these ways, over the photographs looked at: what was measured, and a little.
SAFE_WORSE = 0.03


@dataclass(frozen=True)
class Said:
    """What is said of one photograph, in places of the photograph as it was. clear: of the lines thrown."""

    seen: dict[str, int]
    strict: dict[str, int]
    clear: NDArray[np.bool_]
    usable: float
    pieces: int
    padded: bool


@lru_cache(maxsize=32)
def thrown(folder: Path, number: str) -> NDArray[np.object_]:
    """Lines on the cloth, in mm of the labels' scale."""
    measure = scorer(folder)
    outline, _, mm_per_px = measure.truth_of(folder, number)
    inner = affinity.scale(measure.cloth_px(outline), mm_per_px, mm_per_px, origin=(0, 0)).buffer(-INSIDE)
    dice, (x0, y0, x1, y1) = np.random.default_rng(int(number)), inner.bounds
    start = np.stack([dice.uniform(x0, x1, THROWS), dice.uniform(y0, y1, THROWS)], 1)
    way, length = dice.uniform(0.0, np.pi, THROWS), dice.choice(LENGTHS, THROWS)
    end = start + np.stack([np.cos(way), np.sin(way)], 1) * length[:, None]
    lines = shapely.linestrings(np.stack([start, end], 1))
    return np.asarray(lines[shapely.contains(inner, lines)])


@lru_cache(maxsize=64)
def said(folder: Path, number: str, name: str) -> Said:
    measure = scorer(folder)
    outline, _, mm_per_px = measure.truth_of(folder, number)
    photo = read_photo(folder / f"{number}.jpg")
    changed = CHANGES[name](photo.pixels, measure.cloth_px(outline))
    plane = NominalPlane(mm_per_px / changed.larger)
    cloth = MultiPolygon(polygons_of(shifted(changed.outline, -CORNER)))
    inside = find_pieces(Photo(photo.path, changed.picture), plane, Outline(cloth, 1.0))
    called = [changed.back(each) for each in usable_px(inside.pieces, plane)]
    lines = thrown(folder, number)
    clear = np.zeros(len(lines), bool)
    for shape in called:
        for part in polygons_of(affinity.scale(shape, mm_per_px, mm_per_px, origin=(0, 0)).buffer(GRACE)):
            shapely.prepare(part)
            clear |= shapely.contains(part, lines)
    return Said(
        measure.counts(folder, number, called),
        measure.counts(folder, number, called, strict=True),
        clear,
        sum(each.area for each in called) * mm_per_px**2,
        len(inside.pieces),
        not kind_named(inside.kind).suits,
    )


def added(tallies: list[dict[str, int]]) -> dict[str, int]:
    return {key: sum(each[key] for each in tallies) for key in tallies[0]}


@pytest.mark.bench
@pytest.mark.parametrize("name", [each for each in CHANGES if each != "as it is"])
def test_real_garments_changed(shared: Path, name: str) -> None:
    folder = shared / "photos" / "real"
    measure = scorer(folder)
    numbers = [file.name.partition(".")[0] for file in sorted(folder.glob("[0-9]*.inside.json"))]
    pairs = []
    for number in numbers[::EVERY_REAL]:
        before, after = said(folder, number, "as it is"), said(folder, number, name)
        pairs.append((before, after))
        share = float((before.clear != after.clear).sum()) / max(1, int(before.clear.sum()))
        told = "   ".join(
            f"{key} {one:.3f} -> {two:.3f}"
            for (key, one), two in zip(
                measure.shares(before.seen).items(), measure.shares(after.seen).values(), strict=True
            )
        )
        print(f"\n{number}  {told}   moved {share:.2f}   usable {after.usable / before.usable - 1:+.3f}   pieces "
              f"{before.pieces} -> {after.pieces}   padded {before.padded} -> {after.padded}", end="")  # fmt: skip
    before_all, after_all = (measure.shares(added([pair[k].seen for pair in pairs])) for k in (0, 1))
    strict = measure.shares(added([after.strict for _, after in pairs]))
    moved_all = sum(int((one.clear != two.clear).sum()) for one, two in pairs)
    cloth = np.array([two.usable / one.usable - 1 for one, two in pairs])
    print(f"\n{name:16s} {len(pairs)} photographs: safe {before_all['safe']:.3f} -> {after_all['safe']:.3f}   kept "
          f"{before_all['kept']:.3f} -> {after_all['kept']:.3f}   missed {before_all['missed']:.3f} -> "
          f"{after_all['missed']:.3f}   strict safe {strict['safe']:.3f}   moved "
          f"{moved_all / sum(int(one.clear.sum()) for one, _ in pairs):.3f}   usable {cloth.mean():+.3f} (rms "
          f"{np.sqrt((cloth**2).mean()):.3f})   padding told otherwise of "
          f"{sum(one.padded != two.padded for one, two in pairs)}")  # fmt: skip
    assert after_all["safe"] >= before_all["safe"] - SAFE_WORSE


def _true_cloth(truth: dict) -> BaseGeometry:
    rings = [
        shapely.make_valid(Polygon(part["exterior_mm"], part.get("holes_mm") or []))
        for each in truth["garment"]["usable"]
        for part in each["polygons"]
    ]
    return shapely.union_all(rings)


def _answered(shared: Path, names: list[str], answers: dict, change: str, checker: ModuleType) -> list[str]:
    """How each question on one photograph is answered, as test_verdicts.py counts it, and "off" for a yes whose layout
    isn't on the cloth."""
    photo_file = shared / "photos" / answers[names[0]]["photo"]
    truth = json.loads((photo_file.parent / "truth.json").read_text())
    photo = read_photo(photo_file)
    outline = MultiPolygon([Polygon(each["exterior_px"]) for each in truth["garment"]["outline"]])
    changed = CHANGES[change](photo.pixels, outline)
    telling = Telling(side=answers[names[0]]["side_mm"])
    new = Photo(photo.path, changed.picture, photo.focal_35mm, photo.cropped)
    try:
        garment = measure([look(new, telling)], telling, name=photo_file.parent.name)
    except SalvageError as error:
        print(f"\n{photo_file.parent.name}  refused: {error}", end="")
        return ["refused"] * len(names)
    solution = garment.looks[0].solution
    assert solution is not None

    def px(points: NDArray[np.float64]) -> NDArray[np.float64]:
        seen = solution.plane.to_px(np.asarray(points, float)[:, :2])
        return moved(seen + CORNER, inverse(changed.to_new)) - CORNER

    ours = [
        shapely.transform(usable(piece), lambda points: checker.to_floor(truth, px(points)))
        for piece in garment.garment.pieces
    ]
    cloth, true = shapely.union_all(ours), _true_cloth(truth)
    found = []
    for name in names:
        answer = fit_project(
            [garment.garment], read_project(shared / "verdict" / f"{name}.toml"), seconds=SECONDS
        )
        result = score(answer.verdict, answers[name]["truth"])
        if answer.verdict in (Verdict.YES, Verdict.YES_WITH_JOINS):
            written = answer_to_json(answer, [garment.garment], lambda _, points: px(points))
            result = "off" if checker.off_the_cloth(truth, written) else result
        found.append(result)
    print(f"\n{photo_file.parent.name}  usable {cloth.area / true.area - 1:+.3f}, of it no true cloth "
          f"{cloth.difference(true.buffer(checker.GRACE)).area / true.area:.4f}   {', '.join(found)}", end="")  # fmt: skip
    return found


@pytest.mark.bench
@pytest.mark.parametrize("name", [each for each in CHANGES if each not in ("closer", "outline off 2 px")])
def test_verdicts_of_rendered_garments_changed(shared: Path, name: str) -> None:
    answers = json.loads((shared / "verdict" / "answers.json").read_text())
    checker = layout_checker(shared / "verdict")
    photos: dict[str, list[str]] = {}
    for question, each in sorted(answers.items()):
        photos.setdefault(each["photo"], []).append(question)
    found = [
        result
        for questions in list(photos.values())[::EVERY_RENDERED]
        for result in _answered(shared, questions, answers, name, checker)
    ]
    counts = {result: found.count(result) for result in sorted(set(found))}
    print(f"\n{name:16s} {counts}")
    assert counts.get("false yes", 0) == 0
    assert counts.get("off", 0) == 0

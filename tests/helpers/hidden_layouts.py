"""Fit questions made by hiding a layout first, so that a yes is right and a no is false.

Each cloth is made round what is hidden on it, let out by a little; then it is turned and moved, its grain
with it. Nothing of a question tells where the parts lie.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from salvage.cloth.garment import Garment, Piece, PlusMinus
from salvage.project.project import Grain, Join, Panel, Project, Strip


@dataclass(frozen=True, slots=True)
class Hidden:
    """A question that can be cut, made so.

    left: mm^2 of a clear rectangle along the grain that the hidden layout leaves, where one was hidden too; spare: mm
    that this layout keeps off every edge.
    """

    name: str
    garment: Garment
    project: Project
    left: float = 0.0
    spare: float = 0.0


def joins(count: int, seed: int = 1) -> Iterator[Hidden]:
    """Panels pieced from slabs, each slab on a cloth of its own or two of them on one, some with a stain."""
    rng = np.random.default_rng(seed)
    for n in range(count):
        panel = _panel("pan", rng, joins=int(rng.integers(1, 4)))
        second = _panel("other", rng, joins=int(rng.integers(0, 2))) if n % 4 == 3 else None
        panels = [panel] if second is None else [panel, second]
        slack = float(rng.choice([0.1, 0.5, 2.0, 8.0]))
        parts = [part for each in panels for part in _parts(each, rng)]
        rng.shuffle(parts)
        hosts, i = [], 0
        while i < len(parts):
            two = n % 3 == 2 and i + 1 < len(parts) and rng.random() < 0.5
            hosts.append(parts[i : i + 1 + two])
            i += 1 + two
        pieces = [
            _piece(f"s{k}", _round(host, slack, rng, stained=n % 5 == 4), rng) for k, host in enumerate(hosts)
        ]
        pieces += [
            _piece(f"x{k}", box(0, 0, *rng.uniform(20, 60, 2)), rng) for k in range(int(rng.integers(0, 3)))
        ]
        yield Hidden(f"joins-{n}", Garment("g", tuple(pieces)), Project("hidden", tuple(panels)))


def strips(count: int, seed: int = 2) -> Iterator[Hidden]:
    """Strips joined from lengths that lie side by side and end to end on a few cloths."""
    rng = np.random.default_rng(seed)
    for n in range(count):
        gap = float(rng.choice([0.0, 0.0, 3.0]))
        made, lengths = [], []
        for k in range(int(rng.integers(1, 4))):
            width = float(rng.choice([25.0, 40.0, 60.0, 33.3]))
            how = Join.BIAS if rng.random() < 0.6 else Join.STRAIGHT
            allowance = float(rng.choice([5.0, 10.0]))
            shortest = float(rng.choice([60.0, 100.0, 150.0]))
            cost = width if how is Join.BIAS else 2 * allowance
            for _ in range(cut := int(rng.integers(1, 3))):
                mine = [float(v) for v in rng.uniform(shortest, 500.0, int(rng.integers(1, 5)))]
                if _ == 0:
                    total = sum(mine) - (len(mine) - 1) * cost
                else:  # each copy is as long as the first, so the last length makes up for the rest
                    need = total + (len(mine) - 1) * cost
                    rest = need - sum(mine[:-1])
                    while rest < shortest or rest > 700:
                        parts = int(rng.integers(1, 6))
                        need = total + (parts - 1) * cost
                        mine = [need / parts] * parts
                        rest = need / parts if need / parts >= shortest else 0.0
                        if parts == 1:
                            break
                    else:
                        mine[-1] = rest
                lengths += [(width, each) for each in mine]
            made.append(
                Strip(
                    f"strip {k}", width, total, cut=cut, join=how, shortest=shortest, seam_allowance=allowance
                )
            )
        rng.shuffle(lengths)
        pieces: list[Piece] = []
        while lengths:
            host = [lengths.pop() for _ in range(min(len(lengths), int(rng.integers(1, 6))))]
            pieces.append(_piece(f"s{len(pieces)}", _side_by_side(host, gap, rng), rng))
        project = Project("hidden", (), tuple(made), cutting_gap=gap)
        yield Hidden(f"strips-{n}", Garment("g", tuple(pieces)), project)


def leaving(count: int, seed: int = 4) -> Iterator[Hidden]:
    """Panels beside one large rectangle that nothing lies on: a sheet parted again and again, straight across.

    The rectangle is a part of it, and so is each panel; of every third the smallest part is spoiled by a hole or a bite out of the edge.
    Some questions have a second piece, which a panel more lies on.
    """
    rng = np.random.default_rng(seed)
    gap, spare, edge = 3.0, 15.0, 2.0
    for n in range(count):
        sheet = box(0, 0, rng.uniform(420, 800), rng.uniform(420, 800))
        rest, parts = _parted(sheet, rng.uniform(0.15, 0.35), rng)
        for _ in range(int(rng.integers(3, 8))):
            parts.sort(key=lambda part: part.area)
            parts += _halves(parts.pop(), rng)
        parts = sorted((part for part in parts if min(_size(part)) > 45), key=lambda part: part.area)
        bad = n % 3 == 2
        spoiled, parts = parts[:bad], parts[bad:]
        cloth = sheet.buffer(spare, join_style="mitre")
        for part in spoiled:
            cloth = (
                cloth.difference(_spoiler(part, sheet, rng))
                .buffer(-1, join_style="mitre")
                .buffer(1, join_style="mitre")
            )
        pieces = [
            _measured("body", max(getattr(cloth, "geoms", [cloth]), key=lambda each: each.area), edge, rng)
        ]
        if n % 4 == 3:
            second = box(0, 0, rng.uniform(120, 220), rng.uniform(180, 320))
            parts.append(second)
            pieces.append(_measured("second", second.buffer(spare, join_style="mitre"), edge, rng))
        panels = [_hidden_panel(f"p{k}", part, gap, rng) for k, part in enumerate(parts)]
        # a hair narrower than the part: what lies beside it keeps half of the gap
        grown = rest.buffer(gap / 2, join_style="mitre").intersection(sheet)
        on_edge = [a == b for a, b in zip(rest.bounds, sheet.bounds, strict=True)]
        width = grown.bounds[2] - grown.bounds[0] + spare * (on_edge[0] + on_edge[2])
        length = grown.bounds[3] - grown.bounds[1] + spare * (on_edge[1] + on_edge[3])
        project = Project("hidden", tuple(panels), cutting_gap=gap)
        yield Hidden(f"leaving-{n}", Garment("g", tuple(pieces)), project, width * length, spare)


def _parted(sheet: Polygon, share: float, rng: np.random.Generator) -> tuple[Polygon, list[Polygon]]:
    """A rectangle of about that share of the sheet in a corner or along a side of it, and the parts beside it."""
    left, bottom, right, top = sheet.bounds
    across = float(rng.choice([1.0, rng.uniform(max(share, 0.5), 1.0)]))
    width, length = (right - left) * across, (top - bottom) * share / across
    if rng.random() < 0.5:  # as often along a side as across an end
        width, length = (right - left) * share / across, (top - bottom) * across
    x = left if rng.random() < 0.5 else right - width
    y = bottom if rng.random() < 0.5 else top - length
    beside = [box(left, bottom, x, top), box(x + width, bottom, right, top)]
    over = [box(x, bottom, x + width, y), box(x, y + length, x + width, top)]
    return box(x, y, x + width, y + length), [part for part in (*beside, *over) if part.area > 1.0]


def _halves(part: Polygon, rng: np.random.Generator) -> list[Polygon]:
    left, bottom, right, top = part.bounds
    at = rng.uniform(0.35, 0.65)
    if right - left > top - bottom:
        x = left + at * (right - left)
        return [box(left, bottom, x, top), box(x, bottom, right, top)]
    y = bottom + at * (top - bottom)
    return [box(left, bottom, right, y), box(left, y, right, top)]


def _size(part: Polygon) -> tuple[float, float]:
    left, bottom, right, top = part.bounds
    return right - left, top - bottom


def _spoiler(part: Polygon, sheet: Polygon, rng: np.random.Generator) -> Polygon:
    """What is not cloth of a part that nothing lies on, at least as far from the others as the spare."""
    inner = part.buffer(-15.0, join_style="mitre")
    if rng.random() < 0.5:
        return inner.centroid.buffer(0.5 * min(_size(inner)))
    out = affinity.translate(
        inner, *(30.0 * np.sign(np.array(inner.centroid.coords[0]) - sheet.centroid.coords[0]))
    )
    return shapely.union_all([inner, out]).convex_hull.intersection(part.buffer(-13.0).union(_outside(sheet)))


def _outside(sheet: Polygon) -> Polygon:
    return sheet.buffer(60.0).difference(sheet)


def _hidden_panel(name: str, part: Polygon, gap: float, rng: np.random.Generator) -> Panel:
    """A panel that lies in the part, half of the gap off its edges; every third may be turned, and some are slanted."""
    width, length = (each - gap - 0.1 for each in _size(part))
    grain = Grain.ALONG
    if rng.random() < 0.33:
        grain = Grain.EITHER
        width, length = (length, width) if rng.random() < 0.5 else (width, length)
    slant = width * rng.uniform(0.05, 0.2) if rng.random() < 0.3 else 0.0
    return Panel(name, ((0.0, 0.0), (width, 0.0), (width - slant, length), (slant, length)), grain=grain)


def _measured(name: str, cloth: Polygon, edge: float, rng: np.random.Generator) -> Piece:
    return replace(_piece(name, cloth, rng), plus_minus=PlusMinus(scale_percent=0.0, edge=edge))


def _panel(name: str, rng: np.random.Generator, *, joins: int) -> Panel:
    w, h = rng.uniform(90, 200), rng.uniform(150, 420)
    outline = (
        [(0, 0), (w, 0), (w, h), (0, h)],
        [(0, 0), (w, 0), (w / 2, h)],
        [(0, 0), (w, 0), (0.8 * w, h), (0.2 * w, h)],
        [(0, 0), (w, 0), (w, 0.7 * h), (0.6 * w, h), (0.4 * w, h), (0, 0.7 * h)],
    )[int(rng.integers(4))]
    allowance = float(rng.choice([0.0, 6.0, 10.0]))
    grain = Grain.EITHER if rng.random() < 0.2 else Grain.ALONG
    return Panel(name, tuple(outline), grain=grain, joins=joins, seam_allowance=allowance)


def _parts(panel: Panel, rng: np.random.Generator) -> list[Polygon]:
    """Slabs of the panel, each with its allowance beyond the joins, none narrower than the panel allows."""
    outline = Polygon(panel.outline)
    w, h = outline.bounds[2:]
    narrowest = min(panel.narrowest_part, w, h)
    for _ in range(200):
        across = rng.random() < 0.6
        size = h if across else w
        at = np.sort(rng.uniform(0, size, panel.joins))
        marks = [0.0, *at, size]
        parts, good = [], True
        for low, high in itertools.pairwise(marks):
            sewn = _slab(outline, across, low, high)
            good = (
                good and isinstance(sewn, Polygon) and min(high - low, _least_width(sewn)) >= narrowest + 0.1
            )
            a = panel.seam_allowance
            parts.append(_slab(outline, across, low - a * (low > 0), high + a * (high < size)))
        if good:
            return parts
    return [outline]


def _slab(outline: Polygon, across: bool, low: float, high: float) -> Polygon:
    window = box(-1e4, low, 1e4, high) if across else box(low, -1e4, high, 1e4)
    return outline.intersection(window)


def _least_width(shape: Polygon) -> float:
    """Least distance of two parallel lines with the shape between them, mm."""
    ring = shapely.get_coordinates(shape.convex_hull)[:-1]
    widths = []
    for (ax, ay), (bx, by) in zip(ring, np.roll(ring, -1, 0), strict=True):
        length = math.hypot(bx - ax, by - ay)
        if length > 1e-9:
            off = ((bx - ax) * (ring[:, 1] - ay) - (by - ay) * (ring[:, 0] - ax)) / length
            widths.append(float(off.max() - off.min()))
    return min(widths)


def _round(host: list[Polygon], slack: float, rng: np.random.Generator, *, stained: bool) -> Polygon:
    """Cloth round these parts, one beside the other."""
    x, put = 0.0, []
    for part in host:
        left, bottom, right, _ = part.bounds
        put.append(affinity.translate(part, x - left, -bottom))
        x += right - left + slack
    cloth = shapely.union_all(put).convex_hull.buffer(slack / 2, join_style="mitre")
    if stained:  # a stain that the parts leave free, cut out to the edge
        free = cloth.difference(shapely.union_all(put).buffer(slack / 2 + 0.05))
        spots = [p for p in getattr(free, "geoms", [free]) if isinstance(p, Polygon) and p.area > 200]
        if spots:
            cut = cloth.difference(spots[int(rng.integers(len(spots)))].buffer(0.01))
            cloth = max(getattr(cut, "geoms", [cut]), key=lambda p: p.area)
    return cloth


def _side_by_side(host: list[tuple[float, float]], gap: float, rng: np.random.Generator) -> Polygon:
    """Cloth round columns of lengths; some columns hold two, one above the other."""
    x, columns = 0.0, []
    while host:
        width, length = host.pop()
        if host and host[-1][0] == width and rng.random() < 0.3:
            length += gap + host.pop()[1]
        low = float(rng.uniform(0, 60)) if rng.random() < 0.4 else 0.0
        columns.append(box(x, low, x + width + gap, low + length))
        x += width + gap
    slack = float(rng.choice([0.05, 1.0, 5.0]))
    whole = shapely.union_all(columns)
    cloth = whole.convex_hull if rng.random() < 0.3 else whole
    cloth = cloth.buffer(slack, join_style="mitre")
    return cloth if isinstance(cloth, Polygon) else whole.convex_hull.buffer(slack, join_style="mitre")


def _piece(name: str, cloth: Polygon, rng: np.random.Generator) -> Piece:
    angle = float(rng.choice([0.0, 30.0, 90.0, float(rng.uniform(0, 360))]))
    turned = affinity.translate(affinity.rotate(cloth, angle, origin=(0, 0)), *rng.uniform(-200, 200, 2))
    return Piece(
        name=name, fabric="shell", grain=(90.0 + angle) % 360, outline=turned.buffer(5.0),
        usable=MultiPolygon([turned]),
    )  # fmt: skip


def easy(count: int, seed: int = 3) -> Iterator[Hidden]:
    """About a dozen shapes, some curved and one at any angle, on less than a third of a photographed coat."""
    rng = np.random.default_rng(seed)
    for n in range(count):
        pieces = [
            _photographed(f"piece {k}", float(w), float(h), rng)
            for k, (w, h) in enumerate([(620, 700), (300, 680), (300, 680), (250, 560)][: 1 + n % 4])
        ]
        cloth = sum(each.usable.area for each in pieces if each.usable is not None)
        panels: list[Panel] = []
        left = 0.3 * cloth
        for k in range(11):
            share = left / (11 - k) * rng.uniform(0.7, 1.1)
            outline = _curved(rng) if k % 3 == 1 else box(0, 0, 1, rng.uniform(0.6, 1.7))
            factor = math.sqrt(share / outline.area)
            outline = affinity.scale(outline, factor, factor, origin=(0, 0))
            ring = tuple((float(x), float(y)) for x, y in outline.exterior.coords[:-1])
            ring = ring if outline.exterior.is_ccw else ring[::-1]
            grain = Grain.ANY if k == 4 else Grain.ALONG
            panels.append(Panel(f"p{k}", ring, grain=grain, joins=int(n % 3 == 2 and k == 0), flip=k == 7))
            left -= outline.area
        yield Hidden(
            f"easy-{n}", Garment("coat", tuple(pieces)), Project("easy", tuple(panels), cutting_gap=3.0)
        )


def _curved(rng: np.random.Generator) -> Polygon:
    angles = np.linspace(0, 2 * math.pi, 36, endpoint=False)
    radius = 1 + 0.15 * np.cos(2 * angles + rng.uniform(0, 6)) + 0.08 * np.cos(3 * angles + rng.uniform(0, 6))
    return Polygon(np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]))


def _photographed(name: str, width: float, length: float, rng: np.random.Generator) -> Piece:
    """A piece with a corner every few mm of its wavy edge, and a few buttons and stains."""
    edge = shapely.segmentize(box(0, 0, width, length).exterior, 4.0)
    ring = shapely.get_coordinates(edge)[:-1]
    wave = 6 * np.sin(ring @ np.array([0.021, 0.017])) + rng.normal(0, 0.4, len(ring))
    middle = np.array([width / 2, length / 2])
    out = (ring - middle) / np.hypot(*(ring - middle).T)[:, None]
    cloth = Polygon(ring + out * wave[:, None]).buffer(0)
    spots = [
        shapely.Point(rng.uniform(30, width - 30), rng.uniform(30, length - 30)).buffer(rng.uniform(6, 16))
        for _ in range(5)
    ]
    usable = cloth.difference(shapely.union_all(spots))
    return Piece(
        name=name, outline=cloth.buffer(6.0), usable=MultiPolygon([usable]), grain=88.0,
        plus_minus=PlusMinus(scale_percent=0.3, edge=1.5),
    )  # fmt: skip

"""Small fit questions with a layout hidden first, by kind, so that a no to them is false.

Each kind goes for one way in which a proof, or the cloth it is about, was once wrong or may be. A question is
made from its kind and a number alone. The kinds in NONE have no layout, and a reason for it that is known.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

from salvage.cloth.garment import Blocked, BlockedKind, Garment, Piece, PlusMinus
from salvage.project.project import Grain, Join, Panel, Project, Strip

SLACKS = (0.0, 0.001, 0.02, 0.2, 1.0)  # mm that the cloth is larger by than the hidden layout, at every edge
Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Hidden:
    """truth: whether a layout exists."""

    garments: tuple[Garment, ...]
    project: Project
    truth: bool = True


def question(kind: str, number: int) -> Hidden:
    """The question of a kind with this number."""
    kinds = [*sorted(set(KINDS) - set(LATER)), *LATER]
    return KINDS[kind](np.random.default_rng([kinds.index(kind), number]))


def ring_of(polygon: Polygon) -> Ring:
    return tuple((float(x), float(y)) for x, y in list(orient(polygon, 1.0).exterior.coords)[:-1])


def rect(w: float, h: float) -> Ring:
    return ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h))


def outline(rng: np.random.Generator, low: float = 50.0, high: float = 200.0) -> Polygon:
    """A rectangle, a trapezium, a triangle, an L or some corners of a circle."""
    w, h = rng.uniform(low, high, 2)
    a, b = rng.uniform(0.15, 0.85, 2)
    match rng.integers(5):
        case 0:
            return box(0, 0, w, h)
        case 1:
            return Polygon([(0, 0), (w, 0), (w * max(a, b), h), (w * min(a, b) * 0.9, h)])
        case 2:
            return Polygon([(0, 0), (w, 0), (w * a, h)])
        case 3:
            return Polygon([(0, 0), (w, 0), (w, h * b), (w * a, h * b), (w * a, h), (0, h)])
    corners = np.sort(rng.uniform(0, 2 * math.pi, 9))
    round_ = Polygon(np.column_stack([w * np.cos(corners), h * np.sin(corners)])).convex_hull
    return round_ if isinstance(round_, Polygon) and round_.area > 0.2 * w * h else box(0, 0, w, h)


def lying(shape: Polygon, angle: float, flipped: bool = False) -> Polygon:
    shape = affinity.scale(shape, -1, 1, origin=(0, 0)) if flipped else shape
    return affinity.rotate(shape, angle, origin=(0, 0))


def side_by_side(shapes: list[Polygon], gap: float = 0.0) -> list[Polygon]:
    """The shapes in a row, their boxes a gap apart."""
    found, x = [], 0.0
    for shape in shapes:
        found.append(affinity.translate(shape, x - shape.bounds[0], -shape.bounds[1]))
        x = found[-1].bounds[2] + gap
    return found


def let_out(
    cloth: Polygon | MultiPolygon, rng: np.random.Generator, slack: float | None = None
) -> MultiPolygon:
    """The cloth with some slack and somewhere on the plane; a hair more than nothing, for rounding."""
    slack = float(rng.choice(SLACKS)) if slack is None else slack
    moved = affinity.translate(cloth, *rng.uniform(-300, 300, 2))
    grown = moved.buffer(slack + 1e-9, join_style="mitre", mitre_limit=30.0)
    return MultiPolygon([grown] if isinstance(grown, Polygon) else list(grown.geoms))


def piece(name: str, usable: MultiPolygon, grain: float = 90.0, **more: object) -> Piece:
    hull = usable.convex_hull
    assert isinstance(hull, Polygon)
    return Piece(name, hull.buffer(3), usable=usable, grain=grain, **more)  # type: ignore[arg-type]


def coat(*pieces: Piece) -> tuple[Garment, ...]:
    return (Garment("coat", pieces),)


def in_two(pieces: list[Piece], rng: np.random.Generator) -> tuple[Garment, ...]:
    """One garment, or two that share the pieces."""
    if len(pieces) < 2 or rng.random() < 0.5:
        return coat(*pieces)
    cut = int(rng.integers(1, len(pieces)))
    return Garment("coat", tuple(pieces[:cut])), Garment("skirt", tuple(pieces[cut:]))


# --- the kinds ---------------------------------------------------------------------------------------


def turned_over(rng: np.random.Generator) -> Hidden:
    """May be turned over, or must be by half, at angles that don't mirror into each other."""
    shape, turn = outline(rng), float(rng.choice([0, 17, 30, 45, 120]))
    shape = affinity.rotate(shape, float(rng.choice([0, -30, 11])), origin=(0, 0))
    flip, count = bool(rng.random() < 0.5), int(rng.choice([2, 4]))
    flips = (
        [bool(rng.random() < 0.7) for _ in range(count)] if flip else [k < count // 2 for k in range(count)]
    )
    pieces = []
    rows = [flips[k : k + 2] for k in range(0, count, int(rng.choice([1, 2])))]
    rows = [row[:1] for row in rows] if len(rows) == count else rows
    for n, row in enumerate(rows):
        grain = float(rng.choice([90, 90, 40, 0]))
        placed = side_by_side([lying(shape, turn + grain - 90, each) for each in row])
        hull = MultiPolygon(placed).convex_hull if len(placed) > 1 else placed[0]
        pieces.append(piece(f"p{n}", let_out(hull, rng), grain))
    panel = Panel("a", ring_of(shape), cut=count, rotations=(turn,), flip=flip, mirrored=not flip)
    return Hidden(in_two(pieces, rng), Project("p", (panel,)))


def wavy(rng: np.random.Generator) -> Hidden:
    """Edges with a fine wave, or many corners, outside the hidden layout."""
    panels, pieces = [], []
    for n in range(int(rng.integers(1, 4))):
        shape, grain = outline(rng), float(rng.choice([90, 83.0, 0]))
        placed = lying(shape, grain - 90)
        ring = np.asarray(placed.exterior.segmentize(float(rng.uniform(2, 8))).coords)[:-1]
        middle = np.asarray(placed.convex_hull.centroid.coords[0])
        spikes = [
            Polygon(
                [ring[k], ring[k + 1], (ring[k] + ring[k + 1]) / 2 + (ring[k] - middle) * 0.01 * rng.random()]
            )
            for k in range(0, len(ring) - 1, 2)
        ]
        whole = placed.buffer(1e-9, join_style="mitre")
        for spike in spikes:
            whole = whole.union(spike.buffer(1e-6))
        usable = let_out(Polygon(whole.exterior) if isinstance(whole, Polygon) else placed, rng)
        pieces.append(piece(f"p{n}", usable, grain))
        panels.append(Panel(f"a{n}", ring_of(shape)))
    return Hidden(in_two(pieces, rng), Project("p", tuple(panels)))


def joined(rng: np.random.Generator) -> Hidden:
    """Parts of a pieced panel, narrow or pointed ones too, a cloth each."""
    shape, joins = outline(rng, 60, 300), int(rng.integers(1, 3))
    allowance = float(rng.choice([0.0, 6.0, 10.0]))
    across = bool(rng.random() < 0.6)
    left, bottom, right, top = shape.bounds
    low, high = (bottom, top) if across else (left, right)
    narrowest = float(rng.choice([10.0, 40.0]))
    marks = sorted(rng.uniform(low, high, joins))
    edges = [low, *marks, high]
    if min(b - a for a, b in itertools.pairwise(edges)) < narrowest:
        edges = [low + (high - low) * k / (joins + 1) for k in range(joins + 2)]
    pieces = []
    for n, (a, b) in enumerate(itertools.pairwise(edges)):
        a, b = max(low, a - allowance * (n > 0)), min(high, b + allowance * (n < joins))
        window = box(left - 1, a, right + 1, b) if across else box(a, bottom - 1, b, top + 1)
        part = shape.intersection(window)
        if not isinstance(part, Polygon):
            return joined(rng)
        grain = float(rng.choice([90, 90, 0]))
        pieces.append(piece(f"p{n}", let_out(lying(part, grain - 90), rng), grain))
    whole = Panel("a", ring_of(shape), joins=joins, seam_allowance=allowance, narrowest_part=narrowest)
    return Hidden(in_two(pieces, rng), Project("p", (whole,)))


def plus_minus(rng: np.random.Generator) -> Hidden:
    """Spare below the plus-minus: too close, and so no no; round edges and stretches that nearly touch too."""
    shape = outline(rng)
    around = shape.convex_hull if rng.random() < 0.5 else shape.minimum_rotated_rectangle.buffer(0)
    circle = around.centroid.buffer(
        0.3 + max(around.centroid.distance(p) for p in map(_point, ring_of(shape)))
    )
    base = circle if rng.random() < 0.3 else shape
    usable = let_out(base, rng)
    if rng.random() < 0.4:
        beside = affinity.translate(
            usable, usable.bounds[2] - usable.bounds[0] + float(rng.uniform(0.5, 4)), 0
        )
        usable = MultiPolygon([*usable.geoms, *beside.geoms])
    edge = PlusMinus(float(rng.choice([0.0, 0.5])), float(rng.choice([1.0, 2.0, 4.0])))
    panels = (Panel("a", ring_of(shape), cut=1 if len(usable.geoms) == 1 else 2),)
    return Hidden(coat(piece("p", usable, plus_minus=edge)), Project("p", panels))


def _point(at: tuple[float, float]) -> Polygon:
    from shapely.geometry import Point

    return Point(at)


def typed(rng: np.random.Generator) -> Hidden:
    """Cloth typed in exactly as large as what is asked, a seam's margin taken off exactly."""
    w, h = (float(x) for x in np.round(rng.uniform(20, 400, 2), int(rng.integers(0, 4))))
    if rng.random() < 0.5:
        panel = Panel("a", rect(w, h), cut=int(rng.integers(1, 3)))
        whole = Piece("p", box(0, 0, w * panel.cut, h))
    else:
        seam, margin = float(np.round(rng.uniform(10, 100), 1)), float(rng.choice([3.0, 6.0]))
        line = LineString([(seam, 0), (seam, h)])
        whole = Piece(
            "p", box(0, 0, seam + margin + w, h), blocked=(Blocked(BlockedKind.SEAM, line, margin),)
        )
        panel = Panel("a", rect(w, h))
    return Hidden(coat(whole), Project("p", (panel,)))


def gaps(rng: np.random.Generator) -> Hidden:
    """A cutting gap within a stretch, and between two stretches of one piece."""
    gap, count = float(rng.choice([2.0, 3.0, 8.0])), int(rng.integers(2, 5))
    shape = outline(rng)
    placed = side_by_side([shape] * count, gap)
    if rng.random() < 0.5:
        usable = let_out(MultiPolygon(placed).convex_hull, rng)
    else:
        cut = int(rng.integers(1, count))
        sides = [MultiPolygon(placed[:cut]).convex_hull, MultiPolygon(placed[cut:]).convex_hull]
        slack = float(rng.uniform(0, 0.45 * gap))
        usable = (
            let_out(MultiPolygon(sides), rng, slack)
            if _apart(sides, slack)
            else let_out(sides[0].union(sides[1]).convex_hull, rng)
        )
    return Hidden(
        coat(piece("p", usable)), Project("p", (Panel("a", ring_of(shape), cut=count),), cutting_gap=gap)
    )


def _apart(sides: list[Polygon], slack: float) -> bool:
    grown = [each.buffer(slack + 0.01, join_style="mitre", mitre_limit=30.0) for each in sides]
    return not grown[0].intersects(grown[1])


def small(rng: np.random.Generator) -> Hidden:
    """Panels of a few millimetres."""
    panels, pieces = [], []
    for n in range(int(rng.integers(1, 4))):
        shape = outline(rng, 4, 22)
        panels.append(Panel(f"a{n}", ring_of(shape)))
        pieces.append(piece(f"p{n}", let_out(shape, rng)))
    return Hidden(in_two(pieces, rng), Project("p", tuple(panels)))


def one_angle(rng: np.random.Generator) -> Hidden:
    """Any angle, or a few degrees off the grain, of which one alone is hidden."""
    shape = outline(rng)
    if rng.random() < 0.5:
        angle, panel = float(rng.uniform(0, 360)), Panel("a", ring_of(shape), grain=Grain.ANY)
    else:
        angle, panel = float(rng.uniform(-5, 5)), Panel("a", ring_of(shape), off_grain=5.0)
    return Hidden(coat(piece("p", let_out(lying(shape, angle), rng))), Project("p", (panel,)))


def cut_up(rng: np.random.Generator) -> Hidden:
    """Sheets cut up by straight cuts, all of it asked for."""
    panels, pieces = [], []
    for n in range(int(rng.integers(1, 4))):
        size = tuple(float(x) for x in rng.uniform(100, 400, 2))
        parts = [size]
        for _ in range(int(rng.integers(1, 5))):
            w, h = parts.pop(int(rng.integers(len(parts))))
            share = float(rng.uniform(0.2, 0.8))
            parts += (
                [(w * share, h), (w - w * share, h)]
                if rng.random() < 0.5
                else [(w, h * share), (w, h - h * share)]
            )
        grain = float(rng.choice([0.0, 90.0, 97.0]))
        pieces.append(piece(f"p{n}", let_out(lying(box(0, 0, *size), grain - 90), rng), grain))
        panels += [Panel(f"a{n}.{m}", rect(*part)) for m, part in enumerate(parts)]
    return Hidden(in_two(pieces, rng), Project("p", tuple(panels)))


def one_each(rng: np.random.Generator) -> Hidden:
    """Large panels, just one on each piece; the pigeonholes just suffice."""
    panels, pieces = [], []
    for n in range(int(rng.integers(2, 5))):
        shape = outline(rng, 120, 220)
        panels.append(Panel(f"a{n}", ring_of(shape), flip=bool(rng.random() < 0.3)))
        base = shape if rng.random() < 0.6 else box(*shape.bounds)
        pieces.append(piece(f"p{n}", let_out(lying(base, 180.0 * int(rng.integers(2))), rng)))
    order = rng.permutation(len(panels))
    return Hidden(in_two(pieces, rng), Project("p", tuple(panels[k] for k in order)))


def strips(rng: np.random.Generator) -> Hidden:
    """A strip from lengths that the cloths hold just so."""
    width, shortest = float(rng.uniform(15, 50)), float(rng.uniform(60, 140))
    join, allowance = [(Join.BIAS, 0.0), (Join.STRAIGHT, 6.0)][int(rng.integers(2))]
    lengths = [float(x) for x in rng.uniform(shortest, 3 * shortest, int(rng.integers(1, 4)))]
    cost = width if join is Join.BIAS else 2 * allowance
    total = sum(lengths) - (len(lengths) - 1) * cost
    if total < shortest:
        return strips(rng)
    pieces = [piece(f"p{n}", let_out(box(0, 0, width, each), rng)) for n, each in enumerate(lengths)]
    strip = Strip("s", width, total, join=join, shortest=shortest, seam_allowance=allowance)
    return Hidden(in_two(pieces, rng), Project("p", (), (strip,)))


def squares(rng: np.random.Generator) -> Hidden:
    """Shapes of equal squares that cover a rectangle, on cloth a little larger, holes and more panels beside."""
    side, (columns, rows) = float(rng.choice([10.0, 12.7, 25.4, 30.1])), rng.integers(2, 6, 2)
    left = {(i, j) for i in range(columns) for j in range(rows)}
    panels: list[Panel] = []
    while left:
        part = _connected(left, int(rng.integers(1, 6)), rng)
        left -= part
        shape = unary_union([box(i * side, j * side, (i + 1) * side, (j + 1) * side) for i, j in part])
        if not isinstance(shape, Polygon) or shape.interiors:
            return squares(rng)
        flip = bool(rng.random() < 0.3)
        drawn = affinity.scale(shape, -1.0, 1.0, origin=(0, 0)) if flip else shape
        drawn = affinity.rotate(drawn, 180.0 * int(rng.integers(2)), origin=(0, 0))
        way = Grain.EITHER if rng.random() < 0.4 else Grain.ALONG
        panels.append(Panel(f"a{len(panels)}", ring_of(drawn), flip=flip, grain=way))
    grain = float(rng.choice([90.0, 37.0]))
    whole = box(0, 0, columns * side, rows * side)
    usable = let_out(whole, rng, float(rng.choice([0.0, 0.3, 0.9]) * side / 2))
    usable = affinity.rotate(usable, grain - 90.0, origin=(0, 0)) if grain != 90.0 else usable
    return Hidden(coat(piece("p", usable, grain)), Project("p", tuple(panels)))


def _connected(squares: set[tuple[int, int]], most: int, rng: np.random.Generator) -> set[tuple[int, int]]:
    """Some of the squares, no more than `most`, that hang together by their edges."""
    part = {sorted(squares)[int(rng.integers(len(squares)))]}
    while len(part) < most:
        beside = {(i + a, j + b) for i, j in part for a, b in ((0, 1), (1, 0), (0, -1), (-1, 0))}
        free = sorted((beside - part) & squares)
        if not free:
            break
        part.add(free[int(rng.integers(len(free)))])
    return part


def no_colouring(rng: np.random.Generator) -> Hidden:
    """An odd number of Ts and otherwise bars on a board: a T covers 3 squares of one colour and 1 of the other."""
    side, rows = float(rng.choice([10.0, 12.7, 25.4, 30.1])), int(rng.integers(1, 3))
    ts = [(0, 0), (1, 0), (2, 0), (1, 1)]
    t = unary_union([box(i * side, j * side, (i + 1) * side, (j + 1) * side) for i, j in ts])
    count = 2 * rows
    odd = int(rng.integers(0, (count + 1) // 2)) * 2 + 1
    panels = [Panel("t", ring_of(t), cut=odd, grain=Grain.EITHER)]
    panels += [Panel("bar", rect(side, 4 * side), cut=count - odd, grain=Grain.EITHER)] if count > odd else []
    usable = box(0, 0, (4 + 0.4) * side, (2 * rows + 0.4) * side)
    return Hidden(coat(piece("p", usable)), Project("p", tuple(panels)), truth=False)


def no_area(rng: np.random.Generator) -> Hidden:
    """A twentieth more asked than there is."""
    found = cut_up(rng)
    panels = tuple(_scaled(each, 1.03) for each in found.project.panels)
    return Hidden(found.garments, Project("p", panels), truth=False)


def _scaled(panel: Panel, by: float) -> Panel:
    return Panel(panel.name, ring_of(affinity.scale(Polygon(panel.outline), by, by, origin=(0, 0))))


def no_place(rng: np.random.Generator) -> Hidden:
    """A panel a millimetre or more too long for the one piece, in which there is no other direction."""
    w, h = rng.uniform(60, 200, 2)
    usable = let_out(box(0, 0, w, h).difference(box(0.3 * w, 0.4 * h, 0.6 * w, 0.6 * h)), rng, 0.0)
    panel = Panel("a", rect(w * 0.75, h * 0.6 + 1.5))
    return Hidden(coat(piece("p", usable)), Project("p", (panel,)), truth=False)


def no_pigeonhole(rng: np.random.Generator) -> Hidden:
    """More large rectangles than pieces that take one each."""
    count = int(rng.integers(2, 4))
    pieces = [piece(f"p{n}", let_out(box(0, 0, 300, 300), rng)) for n in range(count)]
    w, h = (float(x) for x in rng.uniform(160, 180, 2))
    return Hidden(in_two(pieces, rng), Project("p", (Panel("a", rect(w, h), cut=count + 1),)), truth=False)


KINDS: dict[str, Callable[[np.random.Generator], Hidden]] = {
    each.__name__: each
    for each in (
        turned_over, wavy, joined, plus_minus, typed, gaps, small, one_angle, cut_up, one_each, strips,
        no_area, no_place, no_pigeonhole, squares, no_colouring,
    )
}  # fmt: skip
NONE = ("no_area", "no_place", "no_pigeonhole", "no_colouring")
LATER = ("squares", "no_colouring")  # came later; the others' questions stay what they were

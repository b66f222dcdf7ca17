"""What a person may do to a garment's record with a text editor, and how to see whether it still stands.

Each edit is a function that changes the record's data and gives back a question about the data after
measuring again. Used on a small garment in tests/cloth, and on a measured one in tests/bench.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import shapely
from shapely.geometry import mapping, shape

Data = dict[str, Any]
Still = Callable[[Data], bool]
EDITS: list[tuple[str, str, Callable[[Data], Still]]] = []


def edit(kind: str) -> Callable[[Callable[[Data], Still]], Callable[[Data], Still]]:
    def known(change: Callable[[Data], Still]) -> Callable[[Data], Still]:
        EDITS.append((kind, change.__name__.replace("_", " "), change))
        return change

    return known


# --- looking at a record's data ---------------------------------------------------------------------


def named(data: Data, name: str) -> Data:
    return next((each for each in data["pieces"] if each["name"] == name), {})


def outline(piece: Data) -> Any:
    return shape(piece["outline"])


def cloth(data: Data) -> Any:
    return shapely.union_all([outline(each) for each in data["pieces"] if "photo" in each])


def doubled(data: Data, *names: str) -> float:
    """mm^2 of these pieces that is there a second time, in them or in another piece."""
    return sum(
        outline(a).intersection(outline(b)).area
        for a in data["pieces"]
        for b in data["pieces"]
        if a["name"] in names and b is not a and "photo" in a and "photo" in b
    )


def usable_within(data: Data) -> bool:
    """No usable cloth is outside its outline or blocked."""
    for each in data["pieces"]:
        taken = [shape(b["shape"]).buffer(b.get("margin", 3.0) * 0.99) for b in each.get("blocked", [])]
        beyond = shape(each["usable"]).difference(
            outline(each).buffer(0.01).difference(shapely.union_all(taken))
        )
        if beyond.area > 1.0:
            return False
    return True


def near(a: Any, b: Any, share: float = 0.95) -> bool:
    """Whether two areas or lines are the same but for a little."""
    a, b = (each.buffer(4.0) for each in (a, b))
    return bool(a.intersection(b).area >= share * a.union(b).area)


def rectangle(x: float, y: float, width: float, height: float) -> Data:
    ring = [[x, y], [x + width, y], [x + width, y + height], [x, y + height], [x, y]]
    return {"type": "Polygon", "coordinates": [ring]}


def middle(piece: Data, size: float = 40.0) -> Data:
    """A square well inside a piece."""
    point = outline(piece).buffer(-1.0).representative_point()
    return rectangle(point.x - size / 2, point.y - size / 2, size, size)


def lines(piece: Data) -> list[int]:
    return [n for n, each in enumerate(piece["blocked"]) if each["shape"]["type"] == "LineString"]


def areas(piece: Data) -> list[int]:
    return [n for n, each in enumerate(piece["blocked"]) if each["shape"]["type"] == "Polygon"]


# --- fields of a piece -------------------------------------------------------------------------------


def field(name: str, value: Any) -> None:
    def change(data: Data) -> Still:
        old = data["pieces"][0]["name"]
        data["pieces"][0][name] = value
        called = value if name == "name" else old
        return lambda after: named(after, called).get(name) == value

    EDITS.append(("field of a piece", f"{name} set", change))


for _name, _value in (
    ("name", "wearer's left front"), ("fabric", "canvas"), ("layers", 2), ("grain", 77.0), ("one_way", True),
    ("plus_minus", {"scale_percent": 3.5, "edge": 9.0}), ("confidence", 0.31),
):  # fmt: skip
    field(_name, _value)


@edit("field of a piece")
def confidence_of_a_piece_that_had_none(data: Data) -> Still:
    data["pieces"][-1]["confidence"] = 0.4
    name = data["pieces"][-1]["name"]
    return lambda after: named(after, name).get("confidence") == 0.4


@edit("field of a piece")
def only_the_edge_of_plus_minus(data: Data) -> Still:
    data["pieces"][0]["plus_minus"]["edge"] = 11.0
    name = data["pieces"][0]["name"]
    return lambda after: named(after, name)["plus_minus"]["edge"] == 11.0


# --- usable cloth ------------------------------------------------------------------------------------


@edit("usable")
def nothing_usable(data: Data) -> Still:
    piece = data["pieces"][0]
    piece["usable"] = {"type": "MultiPolygon", "coordinates": []}
    return lambda after: shape(named(after, piece["name"])["usable"]).area == 0


@edit("usable")
def a_small_part_usable(data: Data) -> Still:
    piece = data["pieces"][0]
    best = max(shape(piece["usable"]).geoms, key=lambda each: each.area)
    point = best.representative_point()
    drawn = rectangle(point.x - 15, point.y - 15, 30, 30)
    piece["usable"] = {"type": "MultiPolygon", "coordinates": [drawn["coordinates"]]}

    def still(after: Data) -> bool:
        now = shape(named(after, piece["name"])["usable"])
        return bool(now.area > 0 and now.difference(shape(drawn).buffer(0.1)).area < 1)

    return still


@edit("usable")
def everything_usable_though_blocked(data: Data) -> Still:
    piece = data["pieces"][0]
    piece["usable"] = {"type": "MultiPolygon", "coordinates": [piece["outline"]["coordinates"]]}
    return usable_within


@edit("usable")
def a_stain_over_all_with_the_notes_gone(data: Data) -> Still:
    for piece in data["pieces"]:
        piece["blocked"].append({"kind": "worn", "shape": deepcopy(piece["outline"])})
        piece.pop("written", None)
    data.pop("written", None)
    return lambda after: all(shape(each["usable"]).area < 1 for each in after["pieces"])


# --- outlines ----------------------------------------------------------------------------------------


def redrawn(name: str, draw: Callable[[Any], Any]) -> None:
    def change(data: Data) -> Still:
        piece = data["pieces"][0]
        before = cloth(data).difference(outline(piece))
        drawn = draw(outline(piece))
        piece["outline"] = mapping(drawn)

        def still(after: Data) -> bool:
            now = [each for each in after["pieces"] if "photo" in each and near(outline(each), drawn, 0.99)]
            others = cloth(after).difference(drawn.buffer(1.0))
            returned = others.difference(before.buffer(8.0)).area
            return (
                len(now) == 1 and doubled(after, now[0]["name"]) < 20 and returned < 0.02 * cloth(data).area
            )

        return still

    EDITS.append(("outline", name, change))


redrawn("drawn 5 mm in", lambda o: o.buffer(-5.0, join_style="mitre").simplify(0.5))
redrawn(
    "drawn as half",
    lambda o: (
        shapely.box(*o.bounds[:2], sum(o.bounds[0::2]) / 2, o.bounds[3]).intersection(o.buffer(0)).convex_hull
    ),
)
redrawn("drawn to under half", lambda o: o.representative_point().buffer(30.0, quad_segs=2))


@edit("outline")
def a_hole_cut_into_it(data: Data) -> Still:
    piece = data["pieces"][0]
    hole = middle(piece, 20.0)["coordinates"][0]
    piece["outline"]["coordinates"] = [*piece["outline"]["coordinates"], hole]
    return lambda after: len(named(after, piece["name"])["outline"]["coordinates"]) > 1


@edit("outline")
def split_into_two_by_hand(data: Data) -> Still:
    piece = data["pieces"][0]
    x0, y0, x1, y1 = outline(piece).bounds
    halves = []
    for n, box in enumerate((shapely.box(x0, y0, x1, (y0 + y1) / 2), shapely.box(x0, (y0 + y1) / 2, x1, y1))):
        half = max(
            getattr(outline(piece).intersection(box), "geoms", [outline(piece).intersection(box)]),
            key=lambda g: g.area,
        )
        halves.append({**deepcopy(piece), "name": f"half {n}", "outline": mapping(half)})
    data["pieces"][:1] = halves
    return lambda after: (
        bool(named(after, "half 0") and named(after, "half 1")) and doubled(after, "half 0", "half 1") < 20
    )


# --- pieces ------------------------------------------------------------------------------------------


def deleted(name: str, *numbers: int) -> None:
    def change(data: Data) -> Still:
        gone = [outline(data["pieces"][n]) for n in numbers]
        data["pieces"] = [
            p for n, p in enumerate(data["pieces"]) if n not in [m % len(data["pieces"]) for m in numbers]
        ]

        def still(after: Data) -> bool:
            back = any(cloth(after).intersection(each).area > 0.2 * each.area for each in gone)
            return not back and len(after["pieces"]) == len(data["pieces"])

        return still

    EDITS.append(("piece deleted", name, change))


deleted("the first", 0)
deleted("the last", -1)
deleted("two", 0, 1)


@edit("piece added")
def typed_in_without_a_photograph(data: Data) -> Still:
    data["pieces"].append({"name": "scrap", "outline": rectangle(0, 0, 90, 90)})
    return lambda after: bool(named(after, "scrap"))


@edit("piece added")
def drawn_beside_the_found_ones(data: Data) -> Still:
    x1 = cloth(data).bounds[2]
    data["pieces"].append(
        {
            "name": "strap",
            "outline": rectangle(x1 + 50, 0, 90, 90),
            "photo": deepcopy(data["pieces"][0]["photo"]),
        }
    )
    return lambda after: bool(named(after, "strap"))


# --- blocked areas -----------------------------------------------------------------------------------


def blocked_deleted(name: str, which: Callable[[Data], list[int]]) -> None:
    """One area at a time is taken out of the first piece: it stays out and every other one stays in."""

    def change_of(number: int) -> Callable[[Data], Still]:
        def change(data: Data) -> Still:
            piece = data["pieces"][0]
            chosen = which(piece)
            gone = piece["blocked"].pop(chosen[number % len(chosen)])
            before = [len(each["blocked"]) for each in data["pieces"]]
            rest = deepcopy(piece["blocked"])

            def still(after: Data) -> bool:
                now = named(after, piece["name"])["blocked"]
                back = [
                    each
                    for each in now
                    if each["kind"] == gone["kind"] and near(shape(each["shape"]), shape(gone["shape"]), 0.9)
                ]
                missing = [
                    r
                    for r in rest
                    if not any(
                        r["kind"] == e["kind"] and near(shape(r["shape"]), shape(e["shape"]), 0.4)
                        for e in now
                    )
                ]
                return (
                    not back and not missing and [len(each["blocked"]) for each in after["pieces"]] == before
                )

            return still

        return change

    for number in (0, 1, -1):
        EDITS.append(("blocked area deleted", f"{name} {number}", change_of(number)))


blocked_deleted("seam or hem", lines)
blocked_deleted("spot", areas)


@edit("blocked area deleted")
def all_of_a_piece(data: Data) -> Still:
    data["pieces"][0]["blocked"] = []
    name = data["pieces"][0]["name"]
    return lambda after: named(after, name)["blocked"] == []


@edit("blocked area added")
def a_stain(data: Data) -> Still:
    piece = data["pieces"][0]
    spot = middle(piece)
    piece["blocked"].append({"kind": "worn", "shape": spot, "what": "ink", "note": {"since": 1998}})

    def still(after: Data) -> bool:
        return any(
            each.get("what") == "ink"
            and each.get("note") == {"since": 1998}
            and near(shape(each["shape"]), shape(spot), 0.999)
            for each in named(after, piece["name"])["blocked"]
        )

    return still


@edit("blocked area added")
def a_seam(data: Data) -> Still:
    piece = data["pieces"][0]
    x0, y0, x1, y1 = outline(piece).bounds
    line = {"type": "LineString", "coordinates": [[x0, (y0 + y1) / 2], [x1, (y0 + y1) / 2]]}
    piece["blocked"].append({"kind": "seam", "shape": line})
    return lambda after: any(
        near(shape(each["shape"]), shape(line), 0.999) for each in named(after, piece["name"])["blocked"]
    )


def blocked_changed(name: str, **fields: Any) -> None:
    def change(data: Data) -> Still:
        piece = data["pieces"][0]
        where = shape(piece["blocked"][0]["shape"])
        piece["blocked"][0].update(deepcopy(fields))

        def still(after: Data) -> bool:
            here = [e for e in named(after, piece["name"])["blocked"] if near(shape(e["shape"]), where, 0.9)]
            return len(here) == 1 and all(here[0].get(key) == value for key, value in fields.items())

        return still

    EDITS.append(("blocked area changed", name, change))


blocked_changed("its kind", kind="other")
blocked_changed("its margin", margin=17.0)
blocked_changed("what it is", what="the seam that mother sewed")
blocked_changed("an unknown key", note="look again")
blocked_changed("its confidence", confidence=0.111)
blocked_changed("found by", found_by="person")


@edit("blocked area changed")
def moved(data: Data) -> Still:
    piece = data["pieces"][0]
    old = shape(piece["blocked"][0]["shape"])
    new = shapely.affinity.translate(old, 25.0, 25.0)
    kind = piece["blocked"][0]["kind"]
    piece["blocked"][0]["shape"] = mapping(new)

    def still(after: Data) -> bool:
        same = [shape(e["shape"]) for e in named(after, piece["name"])["blocked"] if e["kind"] == kind]
        return any(near(each, new) for each in same) and not any(near(each, old, 0.9) for each in same)

    return still


@edit("sound cloth told")
def a_patch_cleared(data: Data) -> Still:
    piece = data["pieces"][0]
    spot = shape(piece["blocked"][areas(piece)[0]]["shape"])
    piece["cleared"] = [*piece.get("cleared", []), mapping(spot.buffer(5.0, join_style="mitre"))]
    return lambda after: (
        not any(
            near(shape(e["shape"]), spot, 0.6)
            for e in named(after, piece["name"])["blocked"]
            if e["shape"]["type"] == "Polygon"
        )
    )


# --- sentences and the garment ------------------------------------------------------------------------


@edit("sentence")
def a_warning_added(data: Data) -> Still:
    data["warnings"] = [*data.get("warnings", []), "smells of smoke"]
    return lambda after: "smells of smoke" in after.get("warnings", [])


@edit("sentence")
def a_caution_added(data: Data) -> Still:
    data["cautions"] = [*data.get("cautions", []), "needle left in the hem"]
    return lambda after: "needle left in the hem" in after.get("cautions", [])


@edit("sentence")
def a_caution_taken_out(data: Data) -> Still:
    gone = data["cautions"].pop(0)  # every record has one in the tests
    return lambda after: gone not in after.get("cautions", [])


@edit("garment")
def its_name(data: Data) -> Still:
    data["name"] = "grandfather's coat"
    return lambda after: after["name"] == "grandfather's coat"


@edit("garment")
def its_kind(data: Data) -> Still:
    data["kind"] = "denim"
    return lambda after: after.get("kind") == "denim"


# --- unknown keys -------------------------------------------------------------------------------------


def unknown(name: str, place: Callable[[Data], Data]) -> None:
    def change(data: Data) -> Still:
        place(data)["my_note"] = [1, {"of": "mine"}]

        def still(after: Data) -> bool:
            try:
                return place(after).get("my_note") == [1, {"of": "mine"}]
            except (KeyError, IndexError, StopIteration):
                return False

        return still

    EDITS.append(("unknown key", name, change))


unknown("of the garment", lambda d: d)
unknown("of a piece", lambda d: d["pieces"][0])
unknown("of an outline", lambda d: d["pieces"][0]["outline"])
unknown("of a plus-minus", lambda d: d["pieces"][0]["plus_minus"])
unknown("of a photo", lambda d: d["pieces"][0]["photo"])
unknown("of a camera", lambda d: d["pieces"][0]["photo"]["camera"])
unknown("of a usable", lambda d: d["pieces"][0]["usable"])
unknown(
    "of a blocked shape",
    lambda d: next(
        (b for b in d["pieces"][0]["blocked"] if "my_note" in b["shape"]), d["pieces"][0]["blocked"][0]
    )["shape"],
)


# --- the program's notes gone --------------------------------------------------------------------------


def without_notes(name: str, change: Callable[[Data], Still], *, all_of_them: bool) -> None:
    def changed(data: Data) -> Still:
        still = change(data)
        for piece in data["pieces"] if all_of_them else data["pieces"][:1]:
            piece.pop("written", None)
        if all_of_them:
            data.pop("written", None)
        return still

    EDITS.append(("written gone", f"{name}, {'all' if all_of_them else 'one'}", changed))


for _kind, _name, _change in list(EDITS):
    if (_kind, _name) in {
        ("field of a piece", "name set"), ("field of a piece", "grain set"), ("usable", "nothing usable"),
        ("blocked area deleted", "seam or hem 0"), ("piece deleted", "the last"), ("outline", "drawn to under half"),
        ("blocked area added", "a stain"), ("blocked area changed", "moved"), ("sentence", "a warning added"),
    }:  # fmt: skip
        without_notes(_name, _change, all_of_them=True)
        if _kind != "piece deleted" and _kind != "sentence":
            without_notes(_name, _change, all_of_them=False)

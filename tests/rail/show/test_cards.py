"""Cards: chosen, sorted, in words, as a table, as CSV and on the page; and nothing in a name does any harm."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from typing import Any

import pytest
from rail_garments import cloth
from shapely.geometry import LineString, Polygon, box

from salvage.cloth.garment import Blocked, BlockedKind, Garment
from salvage.rail.answer.copies import Copies
from salvage.rail.folder import Bad
from salvage.rail.known.facts import facts_of
from salvage.rail.known.saved import saved, saved_words
from salvage.rail.show.cards import SORTS, Card, card_data, filtered, sorted_by, totals
from salvage.rail.show.page import rail_page
from salvage.rail.show.table import rail_csv, rail_lines
from salvage.units import Unit

EVIL = '=cmd()"><script>alert(1)</script>'


def card(name: str, width: float, length: float, *, kind: str = "", **more: object) -> Card:
    made = replace(cloth(name, box(0, 0, width, length)), kind=kind)
    facts = replace(facts_of(made), **more)  # type: ignore[arg-type]
    return Card(f"{name}.json", name.ljust(64, "0"), facts, (Copies("Pouch", int(width) // 100, 9),))


JEANS = card("jeans", 200, 900, kind="denim", photographed="2026-11-20")
COAT = card("Coat", 500, 500, kind="woven", photographed="2026-10-01")
DOWN = card("down jacket", 800, 800, kind="padded")
GONE = card("shirt", 600, 600, used="cut for Pouch on 2026-11-26")
CARDS = (JEANS, COAT, DOWN, GONE)


def names(cards: tuple[Card, ...]) -> list[str]:
    return [each.name for each in cards]


@pytest.mark.parametrize(
    ("how", "left"),
    [
        ({}, ["jeans", "Coat", "down jacket", "shirt"]),
        ({"text": "coa"}, ["Coat"]),
        ({"text": ".JSON"}, ["jeans", "Coat", "down jacket", "shirt"]),
        ({"fabric": "denim"}, ["jeans"]),  # its kind, as people say it
        ({"fabric": " Shell"}, ["jeans", "Coat", "down jacket", "shirt"]),
        ({"fabric": "lining"}, []),
        ({"kind": "woven"}, ["Coat"]),
        ({"least": (150, 880)}, ["jeans"]),
        ({"least": (200, 900)}, ["jeans"]),  # exactly its largest
        ({"least": (400, 400), "used": False}, ["Coat", "down jacket"]),
        ({"since": "2026-11-01"}, ["jeans"]),
        ({"until": "2026-11-01"}, ["Coat"]),
        ({"used": True}, ["shirt"]),
        ({"suits": True, "used": False}, ["jeans", "Coat"]),
    ],
)
def test_choosing(how: dict[str, Any], left: list[str]) -> None:
    assert names(filtered(CARDS, **how)) == left


@pytest.mark.parametrize(
    ("by", "order"),
    [
        ("name", ["Coat", "jeans"]), ("area", ["Coat", "jeans"]), ("largest", ["Coat", "jeans"]), ("number", ["Coat", "jeans"]),
        ("date", ["jeans", "Coat"]), ("kind", ["jeans", "Coat"]), ("strip", ["Coat", "jeans"]),
    ],
)  # fmt: skip
def test_sorting(by: str, order: list[str]) -> None:
    """What doesn't suit, and what is gone, comes last whatever it is sorted by."""
    assert names(sorted_by(CARDS, by)) == [*order, "down jacket", "shirt"]
    assert by in SORTS


def test_the_sum_counts_what_can_be_cut() -> None:
    assert totals(CARDS) == {"shell": pytest.approx(200 * 900 + 500 * 500)}


def test_the_table() -> None:
    lines = rail_lines(sorted_by(CARDS), [Bad("x.jpg", "blurred.")], Unit.MM)
    text = "\n".join(lines)
    assert lines[0].split()[:3] == ["garment", "cloth", "usable"]
    assert "In all, 2 garments (1 used up and 1 not suited not counted):" in text
    assert "cut for Pouch on 2026-11-26" in text
    assert "Not suited: this is padded" in text
    assert lines[-1] == "  x.jpg: blurred."
    assert "Pouch: 7 to 18 times" in text
    assert rail_lines([], [], Unit.MM) == ["No garment."]


def test_inches() -> None:
    data = card_data(JEANS, Unit.INCH)
    assert data["area_words"] == "279 sq in"
    assert data["largest_words"] == "7 7/8 × 35 7/16 in"
    header = next(csv.reader(io.StringIO(rail_csv([JEANS], [], Unit.INCH))))
    assert "area in2" in header


def test_csv_comes_back_and_holds_no_formula() -> None:
    evil = card(EVIL, 300, 300)
    rows = list(csv.DictReader(io.StringIO(rail_csv([JEANS, evil], [Bad("+x.jpg", "-bad")], Unit.MM))))
    assert rows[0]["garment"] == "jeans"
    assert float(rows[0]["area mm2"]) == pytest.approx(180_000)
    assert float(rows[0]["largest length mm"]) == pytest.approx(900, abs=0.1)
    assert rows[0]["Pouch at least"] == "2"
    assert not any(str(cell).startswith(("=", "+", "-", "@")) for row in rows for cell in row.values())
    assert rows[2]["not used because"] == "'-bad"


def page(cards: tuple[Card, ...], **more: Any) -> str:
    pictures = {JEANS.content: b"\xff\xd8jpeg"}
    return rail_page(
        cards,
        more.get("bad", []),
        pictures,
        unit=Unit.MM,
        title=str(more.get("title", "The rail")),
        day="2026-11-26",
    )


def test_the_page_needs_nothing_else() -> None:
    html = page(CARDS)
    assert html.count("<article") == 4
    assert html.count("data:image/jpeg;base64,") == 1
    assert not re.search(r"(src|href)=\"(?!data:)", html)
    assert "http" not in html.replace("http-equiv", "")
    assert "not suited" in html


def test_nothing_in_a_name_reaches_the_page_as_markup() -> None:
    evil = replace(card(EVIL, 300, 300), file=f"{EVIL}.json")
    html = page((evil,), title=EVIL, bad=[Bad(EVIL, EVIL)])
    assert "<script>alert" not in html
    assert html.count("<script>") == 1
    assert "&lt;script&gt;alert(1)" in html


def test_the_script_is_the_one_that_the_page_allows() -> None:
    import base64
    import hashlib

    html = page(CARDS)
    script = re.search(r"<script>(.*?)</script>", html, re.DOTALL)
    allowed = re.search(r"script-src 'sha256-([^']+)'", html)
    assert script is not None
    assert allowed is not None
    assert base64.b64encode(hashlib.sha256(script[1].encode()).digest()).decode() == allowed[1]


# --- what can be saved -------------------------------------------------------------------------------


def with_blocked(*blocked: Blocked) -> Garment:
    made = cloth("coat", box(0, 0, 500, 700))
    return replace(made, pieces=(replace(made.pieces[0], usable=None, blocked=blocked),))


def closure(shape: Polygon, what: str, **more: object) -> Blocked:
    return Blocked(BlockedKind.CLOSURE, shape, 3.0, what=what, **more)  # type: ignore[arg-type]


def test_zips_have_a_length_and_buttons_are_counted() -> None:
    coat = with_blocked(
        closure(LineString([(100, 0), (100, 410)]), "zip", id="z"),
        closure(LineString([(100, 410), (100, 500)]), "zip", id="z"),  # of the same zip, on the next piece
        *(closure(box(200, y, 212, y + 12), "button or snap") for y in (10, 110, 210)),
        Blocked(BlockedKind.POCKET, box(300, 100, 420, 240), 3.0, what="patch pocket"),
    )
    assert saved_words(saved(coat), Unit.MM) == ("zip 500 mm", "3 × button or snap", "patch pocket")
    assert saved_words(saved(coat), Unit.INCH)[0] == "zip 19 11/16 in"


def test_what_is_worn_or_doubtful_is_not_offered() -> None:
    coat = with_blocked(
        Blocked(BlockedKind.POCKET, box(300, 100, 420, 240), 3.0, what="patch pocket"),
        Blocked(BlockedKind.WORN, box(410, 200, 450, 300), 3.0, what="stain"),
        closure(box(200, 10, 212, 22), "button or snap", confidence=0.3),
        Blocked(BlockedKind.SEAM, LineString([(0, 300), (500, 300)]), 6.0),
    )
    assert saved(coat) == ()

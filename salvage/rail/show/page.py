"""The rail as one page that needs nothing else: a card for each garment, to sort, to choose from and to print."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from salvage.rail.folder import Bad
from salvage.rail.known.room import STEP
from salvage.rail.show.cards import STRIP, Card, card_data, made_words, totals
from salvage.units import MM_PER_UNIT, Unit, format_area, format_exact

_HERE = Path(__file__).parent / "templates"


def rail_page(
    cards: Sequence[Card],
    bad: Sequence[Bad],
    pictures: Mapping[str, bytes],
    *,
    unit: Unit,
    title: str,
    day: str | None = None,
) -> str:
    """The page, with everything in it.

    cards: in the order in which they are shown first. pictures: small JPEGs by the content of the card. day: of the
    page, today unless told.
    """
    script = (_HERE / "rail.js").read_text(encoding="utf-8")
    there = [card for card in cards if not card.used and card.suits]
    projects = [each.project for each in next((c.made for c in cards if c.made), ())]
    return _environment().get_template("rail.html").render(
        title=title,
        day=day or date.today().isoformat(),
        unit=str(unit),
        mm_per_unit=MM_PER_UNIT[unit],
        step=STEP,
        strip=format_exact(STRIP, unit),
        cards=[_card(card, pictures.get(card.content), unit) for card in cards],
        there=len(there),
        totals=[(fabric, format_area(area, unit)) for fabric, area in totals(cards).items()],
        fabrics=sorted({each.fabric for card in cards for each in card.fabrics}, key=str.casefold),
        kinds=sorted({card.kind for card in cards if card.kind}),
        projects=projects,
        sums=[(name, _sum(there, index)) for index, name in enumerate(projects)],
        bad=bad,
        cautions=list(dict.fromkeys(text for card in there for text in card.facts.cautions)),
        style=Markup((_HERE / "rail.css").read_text(encoding="utf-8")),
        script=Markup(script),
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
    )  # fmt: skip


def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _card(card: Card, picture: bytes | None, unit: Unit) -> dict[str, Any]:
    data = card_data(card, unit)
    shown = None if picture is None else base64.b64encode(picture).decode()
    rooms = [" ".join(map(str, each.least_room)) for each in card.fabrics]
    made = [(each.project, made_words(each, card.suits), each.why) for each in card.made]
    return data | {"picture": shown, "rooms": rooms, "counts": made, "number": card.number}


def _sum(cards: Sequence[Card], index: int) -> str:
    counts = [card.made[index] for card in cards if index < len(card.made)]
    least, most = sum(each.least for each in counts), sum(each.most for each in counts)
    return str(least) if least == most else f"{least} to {most}"

"""Care symbols, as far as they bear on washing and ironing cloth before it is cut again.

ISO 3758:2012, Textiles: Care labelling code using symbols (temperatures as told by sellers and schools of sewing who
cite it; the 2023 edition was not seen). What to do before cutting is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

SOURCE = "ISO 3758:2012"


class Iron(Enum):
    """The iron symbol. value: the hottest the iron's sole may be, degrees Celsius; None: not at all."""

    NONE = None
    ONE_DOT = 110
    TWO_DOTS = 150
    THREE_DOTS = 200

    @property
    def words(self) -> str:
        """`two dots, up to 150 °C`."""
        if self.value is None:
            return "no iron"
        dots = {110: "one dot", 150: "two dots", 200: "three dots"}[self.value]
        return f"{dots}, up to {self.value} °C"


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol of the care label. looks: how it is drawn; means; before: what that asks of cloth to be cut again."""

    looks: str
    means: str
    before: str


SYMBOLS: tuple[Symbol, ...] = (
    Symbol(
        "tub with a number",
        "machine wash, no hotter than that many degrees",
        "Wash once as hot as the finished thing will be washed, and let it shrink before you measure.",
    ),
    Symbol(
        "tub with one bar below, or two",
        "milder, or very mild, washing",
        "Spin gently; hard spinning sets creases that look like seams in a photograph.",
    ),
    Symbol("tub with a hand", "wash by hand only", "Soak and press out, don't wring; dry it flat."),
    Symbol(
        "crossed-out tub",
        "no washing",
        "Air and brush it, or have it cleaned; what is made of it can't be washed either.",
    ),
    Symbol(
        "crossed-out triangle",
        "no bleach",
        "Leave stains rather than bleach them: bleached cloth may be weak without a sign.",
    ),
    Symbol(
        "square with a circle and one dot, or two",
        "tumble drying, cooler with one dot",
        "Dry it once as the finished thing will be dried: most shrinking happens here.",
    ),
    Symbol("crossed-out square with a circle", "no tumble drying", "Dry it on the line, before you measure."),
    Symbol(
        "iron with one, two or three dots",
        "ironing, the sole up to 110, 150 or 200 °C",
        "Press it flat before you photograph it, no hotter than the dots say.",
    ),
    Symbol(
        "crossed-out iron",
        "no ironing, no steam",
        "Smooth it by hand; seams of it can't be pressed open, so topstitch them.",
    ),
    Symbol(
        "circle with P, F or W",
        "professional cleaning only",
        "What is made of it has to be cleaned in the same way.",
    ),
)

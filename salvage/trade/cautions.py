"""What a person should hear before cutting. Usual cautions of the workroom (common practice)."""

from __future__ import annotations

ALWAYS = (
    "Cutting can't be taken back: lay paper shapes or chalk the panels on the cloth and measure twice before the first cut.",
    "A photograph shows one face only. Feel for the layer below, the inside of pockets, thin places held against the "
    "light, and fusible backing that has come loose.",
    "Shears, rotary cutters and unpickers are sharp: cut away from your hand, close the blade between cuts, and keep "
    "them out of children's reach.",
    "Test the iron on a scrap first: coatings, synthetic cloth and old glue can melt or give off fumes.",
)

STAINS = (
    "An unknown old stain may be oil, solvent, mould or worse: wash the cloth first, wear gloves, and if in doubt leave "
    "that part out.",
)

CHILDREN = (
    "For things used by children, cords, loops and small parts have rules of their own; follow those of your country.",
)

PROTECTIVE = (
    "Cloth from protective or high-visibility clothing, harnesses and seat belts must not be taken for anything that "
    "has to protect or carry a person; that is work for licensed makers.",
)

# Words in a project's or garment's name that call for the two cautions above, in English.
CHILDREN_WORDS = ("child", "children", "kid", "kids", "baby", "toddler", "toy", "cot", "pram", "infant")
PROTECTIVE_WORDS = (
    "harness",
    "sling",
    "climbing",
    "helmet",
    "hi-vis",
    "high-visibility",
    "protective",
    "safety",
    "car seat",
)


def cautions_for(names: tuple[str, ...], *, has_worn_places: bool) -> tuple[str, ...]:
    """The cautions that go with these project, panel and garment names. Order: the gravest first."""
    words = " ".join(names).lower()
    found: list[str] = []
    if any(_has_word(words, word) for word in PROTECTIVE_WORDS):
        found += PROTECTIVE
    if any(_has_word(words, word) for word in CHILDREN_WORDS):
        found += CHILDREN
    if has_worn_places:
        found += STAINS
    return (*found, *ALWAYS)


def _has_word(text: str, word: str) -> bool:
    padded = f" {''.join(c if c.isalnum() or c == '-' else ' ' for c in text)} "
    return f" {word} " in padded or f" {word}s " in padded

"""What a person should hear before cutting. Usual cautions of the workroom (common practice)."""

from __future__ import annotations

from collections.abc import Sequence

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
    "For things used by children, cords, loops and small parts have rules of their own; follow those of your country. "
    "Buttons, beads and snaps come off and are swallowed: leave them out for small children.",
)

# EN 14682:2014, scope (children's clothing up to 14 years; bibs, aprons, bags are not in it), and the summary of
# its requirements by the Finnish Safety and Chemicals Agency (Tukes), "Cords and drawstrings on children's clothing".
CHILDREN_CORDS = (
    "On children's clothing (up to 14 years) EN 14682 allows no cord or drawstring at the hood, head or neck up to the age "
    "of seven, and later none with free ends there. On everything else for a child keep cords, ties and straps short, "
    "and never round the neck.",
)

PROTECTIVE = (
    "Cloth from protective or high-visibility clothing, harnesses and seat belts must not be taken for anything that "
    "has to protect or carry a person; that is work for licensed makers.",
)

PROTECTIVE_LOADS = (
    "A strap or bag from protective clothing or a harness: sweat, light, heat and chemicals weaken such cloth without a "
    "sign, and webbing is taken out of use for that. Load it lightly, never hang a person, an animal or a load over "
    "people from it, and take off labels and reflective tape, so that nobody trusts it as safety gear.",
)

# Words in the name of a project, a panel, a garment or a piece that call for a caution, in English.
CHILDREN_WORDS = (
    "child", "children", "kid", "kids", "baby", "babies", "toddler", "toy", "doll", "cot", "crib", "pram", "infant",
    "nursery", "romper", "nappy", "teddy", "rattle",
)  # fmt: skip
PROTECTIVE_WORDS = (
    "harness", "sling", "climbing", "helmet", "hi-vis", "hi vis", "hivis", "high-vis", "high vis", "high-visibility",
    "high visibility", "protective", "safety", "car seat", "seat belt", "seatbelt", "life jacket", "lifejacket",
    "fire jacket", "fire coat", "firefighter", "turnout", "welding", "welder", "chainsaw", "motorcycle", "motorbike",
    "bulletproof", "ballistic", "parachute", "airbag", "hammock", "swing", "baby carrier", "lanyard",
)  # fmt: skip
LOAD_WORDS = (
    "strap", "bag", "handle", "tote", "backpack", "rucksack", "carrier", "belt", "leash", "lead", "sling", "pannier",
    "satchel", "rope", "loop", "webbing",
)  # fmt: skip
CORD_WORDS = (
    "cord", "drawstring", "tie", "strap", "string", "lace", "ribbon", "loop", "hood", "casing", "sash", "belt",
)  # fmt: skip


def cautions_for(
    project: Sequence[str], garments: Sequence[str] = (), *, has_worn_places: bool
) -> tuple[str, ...]:
    """All cautions that go with these names, the gravest first. Arguments: as for grave_cautions."""
    stains = STAINS if has_worn_places else ()
    return (*grave_cautions(project, garments), *stains, *ALWAYS)


def grave_cautions(project: Sequence[str], garments: Sequence[str] = ()) -> tuple[str, ...]:
    """The cautions to be read before all else: of safety gear and of children.

    project: names of the project, its panels and strips; garments: names of the garments and their kinds.
    """
    made, cloth = _words(project), _words(garments)
    found: list[str] = []
    if _any(f"{made} {cloth}", PROTECTIVE_WORDS):
        found += PROTECTIVE
        if _any(cloth, PROTECTIVE_WORDS) and _any(made, LOAD_WORDS):
            found += PROTECTIVE_LOADS
    if _any(made, CHILDREN_WORDS):
        found += CHILDREN
        if _any(made, CORD_WORDS):
            found += CHILDREN_CORDS
    return tuple(found)


def _words(names: Sequence[str]) -> str:
    """The names as words with a space on either side; an apostrophe's s is left off."""
    text = " ".join(names).lower().replace("'s", "").replace("’s", "").replace("_", " ")
    return f" {''.join(c if c.isalnum() or c == '-' else ' ' for c in text)} "


def _any(text: str, words: Sequence[str]) -> bool:
    return any(f" {word} " in text or f" {word}s " in text for word in words)

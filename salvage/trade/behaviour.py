"""How each kind of cloth behaves when it is cut from a garment and sewn again. One row a kind; facts, not advice.

Needle sizes are hundredths of a millimetre of the blade's thickness (the metric system of needle makers; the second
number is the older American one). Needle makers' charts and schools of sewing agree on what stands here within a
size; there is no standard, so everything is common practice. Heat is said by the dots of the care label
(ISO 3758:2012, see salvage.trade.care) for the fibre that such cloth mostly is of; the garment's own label goes before.
"""

from __future__ import annotations

from dataclasses import dataclass

from salvage.trade.care import Iron
from salvage.trade.kinds import DEFAULT_KIND, KINDS

# Metric size and American number, as needle makers print both.
NEEDLE_SIZES = {60: 8, 65: 9, 70: 10, 75: 11, 80: 12, 90: 14, 100: 16, 110: 18, 120: 19}

# Thread that a seam takes, needle and bobbin together, in lengths of the seam: 2.5 for a lockstitch (ISO 4915 type
# 301) in middling cloth, and 15 % for ends and starts (figures told by thread makers).
THREAD_PER_SEAM, THREAD_LOST = 2.5, 0.15


@dataclass(frozen=True, slots=True)
class Behaviour:
    """One kind of cloth under the shears, the needle and the iron.

    needle: its point; sizes: finest and thickest, NM; stitch: shortest and longest, mm. iron: the hottest that such
    cloth mostly bears. frays, stretches, coat: in words; "" where there is nothing to say.
    """

    kind: str
    needle: str
    sizes: tuple[int, int]
    stitch: tuple[float, float]
    iron: Iron
    frays: str
    stretches: str
    coat: str = ""
    source: str = "common practice"

    @property
    def needle_words(self) -> str:
        """`universal 70/10 to 90/14`."""
        low, high = self.sizes
        sizes = f"{low}/{NEEDLE_SIZES[low]}"
        return f"{self.needle} {sizes}" + (f" to {high}/{NEEDLE_SIZES[high]}" if high != low else "")

    @property
    def stitch_words(self) -> str:
        low, high = self.stitch
        return f"{low:g} to {high:g} mm" if low != high else f"{low:g} mm"


_ROWS = (
    Behaviour(
        "woven", "universal", (70, 90), (2.0, 3.0), Iron.TWO_DOTS,
        "frays by a few threads: overcast the edges of what is washed often",
        "hardly along the warp, a little across, a good deal on the bias",
    ),
    Behaviour(
        "canvas", "universal or jeans", (90, 110), (2.5, 3.5), Iron.THREE_DOTS,
        "frays in thick threads; a cut edge can be sealed by two rows of stitching",
        "hardly at all; folds of four layers and more need to be hammered flat",
    ),
    Behaviour(
        "denim", "jeans", (90, 110), (2.5, 3.5), Iron.THREE_DOTS,
        "white weft threads come out along the warp's edge",
        "across where there is elastane in it (see the label): then two dots, and a stretch needle",
        "new indigo rubs off on pale cloth: wash it first, by itself",
    ),
    Behaviour(
        "knit", "ball-point (jersey or stretch)", (70, 90), (2.5, 3.0), Iron.TWO_DOTS,
        "doesn't fray, but curls or runs: a loose loop is caught with a stitch before cutting goes on",
        "across the ribs most; sew with a narrow zigzag, and don't pull",
    ),
    Behaviour(
        "leather", "leather (cutting point)", (90, 110), (3.0, 4.0), Iron.NONE,
        "doesn't fray; edges may stay raw",
        "towards belly and legs more than along the back; stretched parts stay so",
        "its finish rubs off where it was bent often",
    ),
    Behaviour(
        "coated", "microtex or sharp", (70, 90), (3.0, 3.5), Iron.ONE_DOT,
        "hardly frays; a coat that cracks lets go of its threads",
        "no more than its ground",
        "lies on one side: iron from the other, under a cloth; every hole of a needle lets water through",
    ),
    Behaviour(
        "pile", "universal", (80, 90), (2.5, 3.0), Iron.ONE_DOT,
        "sheds fluff along every cut edge: shake it out, and clean the machine",
        "layers creep on each other: tack them, and sew with the pile",
        "pile is flattened by an iron: steam it from the wrong side over a towel",
    ),
    Behaviour(
        "lining", "microtex or universal", (60, 80), (2.0, 2.5), Iron.ONE_DOT,
        "frays fast and far: cut it last, handle it little, overcast at once",
        "slips and is pulled out of true by its own weight",
        "acetate melts under a hot iron, and water leaves marks on it",
    ),
    Behaviour(
        "padded", "universal", (90, 100), (3.0, 4.0), Iron.NONE,
        "filling comes out of every cut: sew round the panel before cutting it",
        "shrinks in as it is sewn; measure after quilting",
    ),
)  # fmt: skip

BEHAVIOURS: dict[str, Behaviour] = {each.kind: each for each in _ROWS}
BEHAVIOURS["quilted"] = BEHAVIOURS["padded"]


def behaviour_of(fabric: str, kind: str) -> Behaviour:
    """How the cloth of a fabric behaves. fabric: as the record names it, which may be a kind's own name ("lining");
    kind: of the garment, "" where it isn't told."""
    named = fabric.strip().casefold()
    if named in BEHAVIOURS:
        return BEHAVIOURS[named]
    told = kind.strip().casefold()
    return BEHAVIOURS[told if told in KINDS else DEFAULT_KIND]


def thread_for(seams: float) -> float:
    """Thread for so many mm of seam, mm, needle and bobbin together; a guess."""
    return seams * THREAD_PER_SEAM * (1 + THREAD_LOST)

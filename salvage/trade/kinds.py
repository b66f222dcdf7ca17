"""Kinds of cloth, and what each changes. One table: margins, grain, heights, cautions ask here.

No standard was found that fixes these figures for cutting from worn garments; all are common practice,
stated so that a person can change them in the record.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from salvage.errors import UsageError


class GrainRule(StrEnum):
    """What a kind of cloth asks of the grain."""

    WARP = "warp"  # woven: panels follow the warp
    RIB = "rib"  # knit: panels follow the ribs (wales); the stretch runs across
    NONE = "none"  # no threads: any direction, though the stretch may differ


@dataclass(frozen=True, slots=True)
class ClothKind:
    """One kind of cloth.

    extra_margin: mm added to every margin. height, height_sd: mm of the cloth's face above the floor
    when the garment lies smoothed flat in two layers, and its standard deviation.
    one_way: has a nap or pile unless the person says otherwise.
    suits: False where this tool's answer would mislead; why_not then says so.
    """

    name: str
    said: str
    grain: GrainRule = GrainRule.WARP
    extra_margin: float = 0.0
    height: float = 4.5  # mean over marked points of rendered garments with known heights: 4.6
    height_sd: float = 2.0  # between those garments
    one_way: bool = False
    suits: bool = True
    why_not: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def not_suited(self) -> str:
        """The word of warning; "" for a kind that suits."""
        return "" if self.suits else f"Not suited: this is {self.said}; {self.why_not}."


DEFAULT_KIND = "woven"

KINDS: dict[str, ClothKind] = {
    kind.name: kind
    for kind in (
        ClothKind("woven", "plain woven cloth"),
        ClothKind("canvas", "canvas or another heavy woven cloth", height=5.0, height_sd=3.0),
        ClothKind(
            "denim",
            "denim",
            height=5.0,
            height_sd=3.0,
            cautions=(
                "Denim legs twist in the wash: check the warp at both ends of a long panel before cutting.",
            ),
        ),
        ClothKind(
            "knit",
            "a knit",
            grain=GrainRule.RIB,
            extra_margin=2.0,
            cautions=(
                "A knit stretches under its own weight: let it lie for a while without pulling, then measure again.",
                "Cut edges of a knit curl or run; a fusible backing helps when the project needs a firm panel.",
            ),
        ),
        ClothKind(
            "leather",
            "leather",
            grain=GrainRule.NONE,
            extra_margin=2.0,
            height=5.0,
            height_sd=3.0,
            cautions=(
                "Needle holes in leather never close: keep clear of every old seam and pin only inside the allowances.",
                "Don't press leather with a hot iron; old finishes may hold chromium or dust: wear gloves, keep it off "
                "things for small children, and follow local rules.",
            ),
        ),
        ClothKind(
            "coated",
            "coated or waterproofed cloth",
            extra_margin=1.0,
            cautions=(
                "Coated cloth keeps pin holes: use clips, or pin only inside the allowances.",
                "A hot iron can melt a coating and give off fumes: test a scrap under a press cloth at low heat, with "
                "the window open.",
                "A coating that flakes or sticks is at its end, even where the photograph looks sound.",
            ),
        ),
        ClothKind(
            "pile",
            "a pile cloth (corduroy, velvet, fleece)",
            one_way=True,
            extra_margin=1.0,
            height=8.0,
            height_sd=3.0,
            cautions=(
                "Pile has a direction: keep every panel's top the same way, or the colour changes from panel to panel.",
                "Worn pile shows only when the cloth is turned against the light: look at it from both ends.",
            ),
        ),
        ClothKind(
            "lining",
            "lining cloth",
            height=4.0,
            height_sd=3.0,
            cautions=("Lining frays: add to the allowance or overcast the edges soon.",),
        ),
        ClothKind(
            "padded",
            "padded or quilted cloth",
            height=20.0,
            height_sd=10.0,
            suits=False,
            why_not=(
                "padding doesn't lie flat, so its size in a photograph is not its size under the needle; and where it is "
                "cut the filling comes out and the quilting lines run open"
            ),
            cautions=(
                "Loose filling and down get into the lungs: open such a garment only with a dust mask and good air.",
            ),
        ),
    )
}
KINDS["quilted"] = KINDS["padded"]


def kind_named(name: str) -> ClothKind:
    """The kind of that name; the default kind for "". Raises UsageError for an unknown one."""
    try:
        return KINDS[name.strip().lower() or DEFAULT_KIND]
    except KeyError:
        raise UsageError(
            f"{name!r} is not a kind of cloth this knows. Choose one of: {', '.join(KINDS)}."
        ) from None

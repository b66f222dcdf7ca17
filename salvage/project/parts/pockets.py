"""Pockets and casings."""

from __future__ import annotations

import math
from dataclasses import replace

from salvage.project.outlines import rectangle
from salvage.project.parts.measures import Made, Measures
from salvage.project.project import Guide, Join, Notion

HEM_USUAL = 20.0  # mm, common practice for the upper edge of a patch pocket
ZIP_SIDE = 25.0  # mm of pocket beyond each end of the zip and above it, common practice
ZIP_OPENING = 12.0  # mm, height of the opening that a dress zip shows in, common practice
CORD_EASE = 3.0  # mm more than half of the cord's circumference, so that it runs, common practice
CORD_TAILS = 300.0  # mm of cord beyond the opening, to draw and to knot, common practice


def flat_pocket(m: Measures) -> Made:
    """A patch pocket: allowance on three sides, at the top a hem turned twice (its depth and the allowance again)."""
    width, height, hem = m.size("width"), m.size("height"), m.length("hem", HEM_USUAL)
    if hem >= height:
        raise m.wrong("hem must be less than height.")
    guides = (Guide("fold of the hem", ((0.0, height), (width, height))),) if hem else ()
    panel = m.panel("", rectangle(width, height), top=hem + m.allowance if hem else None, guides=guides)
    above = "hem + allowance at the top, " if hem else ""
    return Made((panel,), formulas=(f"pocket = width by height; {above}allowance on the other sides",))


def zip_pocket(m: Measures) -> Made:
    """A pocket hung behind an opening for a zip, of one piece folded up.

    From its upper edge the piece runs down past the opening to the fold, and as far up again; so it is twice
    as long as the pocket, which is `above` + `opening` + `depth` high.
    """
    zip_length, depth = m.size("zip"), m.size("depth")
    side, above = m.length("side", ZIP_SIDE), m.length("above", ZIP_SIDE)
    opening = m.length("opening", ZIP_OPENING)
    height = above + opening + depth
    width = zip_length + 2 * side
    middle, high = 2 * height - above - opening, 2 * height - above
    window = (
        (side, middle), (side + zip_length, middle), (side + zip_length, high), (side, high), (side, middle),
    )  # fmt: skip
    guides = (Guide("fold", ((0.0, height), (width, height))), Guide("zip opening", window))
    panel = m.panel("", rectangle(width, 2 * height), guides=guides)
    return Made(
        (panel,),
        formulas=("pocket = zip + 2 × side by 2 × (above + opening + depth), folded in half",),
        notions=(Notion("zip", zip_length, m.cut),),
    )


def casing(m: Measures) -> Made:
    """A casing for a drawstring, folded along its middle and sewn to the upper edge.

    The flat channel must hold half of the cord's circumference; folded, that is twice across the strip.
    Its ends are turned in with the allowance, and the cord comes out there.
    """
    around = m.size("around")
    if ("cord" in m.entry) == ("width" in m.entry):
        raise m.wrong("give either cord (its diameter) or width (of the finished casing).")
    if "cord" in m.entry:
        width = math.pi * m.size("cord") / 2 + CORD_EASE
        formula = "casing = 2 × (1.571 × cord + ease) wide"
    else:
        width = m.size("width")
        formula = "casing = 2 × width wide"
    strip = m.strip("", 2 * width + 2 * m.allowance, around + 2 * m.allowance, join=Join.STRAIGHT)
    return Made(
        strips=(replace(strip, finished_width=width),),
        formulas=(f"{formula}, folded along its middle; around long, its ends turned in",),
        notions=(Notion("cord", around + CORD_TAILS, m.cut),),
    )

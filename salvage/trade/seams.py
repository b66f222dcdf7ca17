"""Seam classes, named where a garment or a project has them, and how much cloth they take with them.

ISO 4916:1991, Textiles: Seam types: classification and terminology. The classes' numbers and what they hold are from
memory; uses are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

SOURCE = "ISO 4916:1991, numbers from memory"


@dataclass(frozen=True, slots=True)
class SeamClass:
    """number: of ISO 4916. holds: in our words; found: where on garments; layers: of cloth along the line, at least."""

    number: int
    name: str
    holds: str
    found: str
    layers: int


SEAM_CLASSES: dict[int, SeamClass] = {
    each.number: each
    for each in (
        SeamClass(
            1, "superimposed", "two edges laid on each other and sewn", "side, sleeve and crotch seams", 2
        ),
        SeamClass(
            2, "lapped", "one edge laid over the other; felled seams", "jeans' legs, yokes, work coats", 3
        ),
        SeamClass(3, "bound", "an edge wrapped in a strip", "necklines, seams of unlined coats, bags", 3),
        SeamClass(4, "flat", "two edges side by side, sewn across", "sportswear", 1),
        SeamClass(
            5, "decorative", "stitching on one piece: tucks, piping, applied pockets", "plackets, pockets", 1
        ),
        SeamClass(6, "edge finishing", "an edge turned or neatened by itself", "hems", 2),
        SeamClass(7, "attached edging", "a separate thing along an edge", "elastic, lace, bands", 2),
        SeamClass(8, "single strip", "one strip folded on itself", "belt loops, straps, ties", 2),
    )
}

# Which class a seam is of, by what it does in a project.
JOIN, STRAP, BINDING, HEM = (SEAM_CLASSES[number] for number in (1, 8, 3, 6))

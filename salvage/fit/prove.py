"""Proofs that no layout exists."""

from __future__ import annotations

from shapely.geometry import Polygon

from salvage.fit.answer import Proof, ProofKind
from salvage.fit.question import Question


def prove(question: Question, *, seconds: float | None = None) -> Proof | None:
    """The first proof found that not all shapes can be cut, or None."""
    for fabric in dict.fromkeys(shape.fabric for shape in question.shapes):
        shapes = [s for s in question.shapes if s.fabric == fabric]
        cloths = [c for c in question.cloths if c.fabric == fabric]
        asked = sum(s.count * Polygon(s.outline).area for s in shapes)
        there = sum(c.polygon.area for c in cloths)
        if asked > there * (1 + 1e-9) + 1e-3:
            return Proof(
                ProofKind.AREA,
                f"more {fabric} cloth is asked ({asked / 100:.0f} cm²) than there is ({there / 100:.0f} cm²)",
                {"fabric": fabric, "asked": asked, "there": there},
            )
    return None

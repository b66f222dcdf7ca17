"""What is written on a drawing, looked at as painted: each text by itself, then whether any two lie on each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from salvage.report.pen.leaf import Leaf, LeafPen
from salvage.report.pen.marks import Words
from salvage.report.pen.paint import Painting, paint, painting_of

_INKED = 0.25  # of full darkness
_FINE = 100 / 72  # pixels to a point that a leaf's letters are looked at

Ink = NDArray[np.bool_]


def texts_of(drawn: Leaf | Painting) -> list[str]:
    """All texts of a leaf, or of a painting that isn't painted yet."""
    painting = _painting(drawn)
    texts = [mark.text for pen in painting.pens for mark in pen.marks if isinstance(mark, Words)]
    return [text for text in texts if text.strip()]


def words_of(leaf: Leaf) -> list[Words]:
    """All texts of a leaf where its drawings put them, in their own page units."""
    pens = [layer for layer in leaf.layers if isinstance(layer, LeafPen)]
    return [mark for pen in pens for mark in pen.marks if isinstance(mark, Words)]


def inks_of(drawn: Leaf | Painting) -> Iterator[tuple[str, Ink]]:
    """Where each text leaves ink, its casing left out."""
    painting = _painting(drawn)
    width, height = painting.size_px
    for pen in painting.pens:
        for mark in pen.marks:
            if isinstance(mark, Words) and mark.text.strip():
                bare = np.full((height, width, 4), 255, np.uint8)
                paint(bare, pen, replace(mark, colour="black", halo=None))
                yield mark.text, bare[..., 0] < 255 * (1 - _INKED)


def _painting(drawn: Leaf | Painting) -> Painting:
    return painting_of(drawn, _FINE) if isinstance(drawn, Leaf) else drawn


def overlapping(drawn: Leaf | Painting) -> list[tuple[str, str]]:
    """Pairs of texts that share a pixel."""
    written: NDArray[np.int_] | None = None
    texts: list[str] = []
    found = []
    for text, ink in inks_of(drawn):
        if written is None:
            written = np.full(ink.shape, -1)
        found += [(texts[other], text) for other in np.unique(written[ink]) if other >= 0]
        written[ink] = len(texts)
        texts.append(text)
    return found

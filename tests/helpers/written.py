"""What is written on a drawing, looked at as printed: each text by itself, then whether any two lie on each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from salvage.report.pen.marks import Words
from salvage.report.pen.paint import Painting, paint

_INKED = 0.25  # of full darkness

Ink = NDArray[np.bool_]


def texts_of(drawn: Figure | Painting) -> list[str]:
    """All texts of a figure, or of a painting that isn't painted yet."""
    if isinstance(drawn, Figure):
        texts = [text.get_text() for axes in drawn.axes for text in axes.texts]
    else:
        texts = [mark.text for pen in drawn.pens for mark in pen.marks if isinstance(mark, Words)]
    return [text for text in texts if text.strip()]


def inks_of(drawn: Figure | Painting) -> Iterator[tuple[str, Ink]]:
    """Where each text leaves ink on the page, its casing left out."""
    return _plotted(drawn) if isinstance(drawn, Figure) else _painted(drawn)


def _plotted(figure: Figure) -> Iterator[tuple[str, Ink]]:
    wide, high = (float(side) for side in figure.get_size_inches())
    bare = Figure(figsize=(wide, high), dpi=figure.dpi, facecolor="white")
    renderer = FigureCanvasAgg(bare).get_renderer()
    for text in (text for axes in figure.axes for text in axes.texts if text.get_text().strip()):
        renderer.clear()
        effects, colour = text.get_path_effects(), text.get_color()
        text.set_path_effects([])
        text.set_color("black")
        try:
            text.draw(renderer)
        finally:
            text.set_path_effects(effects)
            text.set_color(colour)
        yield text.get_text(), np.asarray(renderer.buffer_rgba())[..., 3] > 255 * _INKED


def _painted(painting: Painting) -> Iterator[tuple[str, Ink]]:
    width, height = painting.size_px
    for pen in painting.pens:
        for mark in pen.marks:
            if isinstance(mark, Words) and mark.text.strip():
                bare = np.full((height, width, 4), 255, np.uint8)
                paint(bare, pen, replace(mark, colour="black", halo=None))
                yield mark.text, bare[..., 0] < 255 * (1 - _INKED)


def overlapping(drawn: Figure | Painting) -> list[tuple[str, str]]:
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

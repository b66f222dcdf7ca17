"""What is written on a drawing, looked at as printed: each text by itself, then whether any two lie on each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from numpy.typing import NDArray

_INKED = 0.25  # of full darkness


def texts_of(figure: Figure) -> list[Text]:
    return [text for axes in figure.axes for text in axes.texts if text.get_text().strip()]


def ink_of(figure: Figure, text: Text) -> NDArray[np.bool_]:
    """Where one text leaves ink on the page, its casing left out."""
    return next(_inks(figure, [text]))


def _inks(figure: Figure, texts: Sequence[Text]) -> Iterator[NDArray[np.bool_]]:
    wide, high = (float(side) for side in figure.get_size_inches())
    bare = Figure(figsize=(wide, high), dpi=figure.dpi, facecolor="white")
    renderer = FigureCanvasAgg(bare).get_renderer()
    for text in texts:
        renderer.clear()
        effects, colour = text.get_path_effects(), text.get_color()
        text.set_path_effects([])
        text.set_color("black")
        try:
            text.draw(renderer)
        finally:
            text.set_path_effects(effects)
            text.set_color(colour)
        yield np.asarray(renderer.buffer_rgba())[..., 3] > 255 * _INKED


def overlapping(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts that share a pixel."""
    texts = texts_of(figure)
    written: NDArray[np.int_] | None = None
    found = []
    for index, ink in enumerate(_inks(figure, texts)):
        if written is None:
            written = np.full(ink.shape, -1)
        found += [
            (texts[other].get_text(), texts[index].get_text())
            for other in np.unique(written[ink])
            if other >= 0
        ]
        written[ink] = index
    return found

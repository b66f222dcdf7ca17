"""Sizes of standard sheets and cards, in mm, short side first."""

from __future__ import annotations

from salvage.units import MM_PER_INCH

# ISO 216:2007, trimmed sizes of the A series.
# US Letter: ANSI/ASME Y14.1 size A, 8 1/2 x 11 in.
# ISO/IEC 7810:2019, ID-1: 85.60 x 53.98 mm, corners rounded with a radius of 2.88 to 3.48 mm.
PAPER: dict[str, tuple[float, float]] = {
    "A0": (841.0, 1189.0),
    "A1": (594.0, 841.0),
    "A2": (420.0, 594.0),
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "A5": (148.0, 210.0),
    "Letter": (8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH),
    "ID-1": (53.98, 85.60),
}

# Sheets and cards that people have at hand, which can lie there instead of a reference square.
AS_REFERENCE = ("A4", "A5", "Letter", "ID-1")

# Sheets that reference squares are printed on.
FOR_SQUARES = ("A4", "Letter")

# Sheets that home printers take, on which templates are tiled.
TILED = ("A4", "A3", "Letter")

# Common practice: printers leave up to 5 mm white along the paper's edges; a strip of 10 mm is enough to glue
# two sheets together; a plotter's roll is 24, 36 or 42 in wide.
PRINTER_MARGIN = 8.0
GLUED_STRIP = 10.0
ROLL_USUAL = 36 * MM_PER_INCH

# PDF 1.7 (ISO 32000-1:2008), annex C: a page is 14,400 points long at most, 200 in.
LONGEST_PDF_PAGE = 200 * MM_PER_INCH

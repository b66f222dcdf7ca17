"""What is set on pages one below the other: a table's title stays with its first rows."""

from __future__ import annotations

import pytest
from written import texts_of

from salvage.report.paper.flow import Pages
from salvage.report.pen.draw import PLAIN, Printing
from salvage.report.say.table import Table

TALL = Table(("No.", "With the tape"), (1.0, 3.0), (("1", "from the lower left corner " * 9),) * 4)


@pytest.mark.parametrize("printing", [PLAIN, Printing(large=True)])
@pytest.mark.parametrize("left", range(20, 90, 10))
def test_a_title_kept_with_its_table_is_never_alone_at_the_foot(printing: Printing, left: float) -> None:
    sheets = Pages((210.0, 297.0), "foot", printing)
    sheets.page()
    sheets.y -= sheets.left_on_page - left
    sheets.text("Where to cut it", 10.5, bold=True, keep=2.0 + sheets.table_start(TALL))
    sheets.table(TALL)
    sheets.finish()
    (titled,) = (said for said in map(texts_of, sheets.leaves) if "Where to cut it" in said)
    assert titled.count("1") >= 2

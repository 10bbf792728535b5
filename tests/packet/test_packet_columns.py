"""Columns of the tables: wide enough for their words in the font itself, never wider than the page."""

from __future__ import annotations

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from conftest import doc_of
from lapwright.packet.columns import EDGE, GAP, print_width, resolve, widths
from lapwright.packet.pages import HEADS, font_paths, style
from lapwright.packet.sheets import paper_sheets
from lapwright.packet.tables import table
from lapwright.packet.view import View

LETTERS = "".join(map(chr, range(32, 127))) + "×→—·½"


def advances(name: str) -> dict[str, float]:
    """Widths of letters in parts of the size, from the font's own table."""
    font = TTFont(next(Path(font_paths()[0]).glob(f"SourceSansPro-{name}.ttf")))
    names, metrics = font.getBestCmap(), font["hmtx"]
    return {c: metrics[names[ord(c)]][0] / font["head"].unitsPerEm for c in LETTERS}


REGULAR, BOLD = advances("Regular"), advances("Bold")


@given(st.text(LETTERS, max_size=30), st.booleans())
def test_a_width_is_that_of_the_font_or_a_little_more(text: str, bold: bool) -> None:
    true = sum((BOLD if bold else REGULAR)[c] for c in text) * 9
    assert true * 0.96 - 0.01 <= print_width(text, 9, bold) <= true * 1.27 + 0.01


@pytest.mark.parametrize("job", ["demo", "metric"])
def test_figures_fit_their_columns_and_the_columns_the_page(job: str) -> None:
    view = View(doc_of(job))
    page = style(view).width
    for sheet in paper_sheets(view):
        rows = table(view, sheet)
        heads = [h.format("bottom edge", "top edge") for h in HEADS[rows["kind"]]]
        columns = widths(rows["kind"], rows["rows"], heads, page)
        assert len(columns) == len(heads)
        wide = resolve(columns, page)
        assert sum(wide) <= page - EDGE + 0.5 and min(wide) > 10
        if rows["kind"] == "courses":
            for row in rows["rows"]:
                true = sum(REGULAR[c] for c in row["bottom"]) * 9
                assert true + GAP / 2 < wide[4]

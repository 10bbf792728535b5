"""Writes the tables of the book as order.xlsx."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook

from lapwright.packet.book import Cell, tables
from lapwright.packet.view import View

# The file's own clock: a fixed day, so that the same plan gives the same bytes.
CREATED = datetime(2000, 1, 1)
WIDEST = 60  # letters; longer cells are wrapped


def order_xlsx(view: View) -> bytes:
    """Return order.xlsx as bytes: the order, the cut list, the openings, the steps."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": str(view.doc["job"]["name"]), "created": CREATED})
    head = book.add_format({"bold": True, "bottom": 2, "text_wrap": True, "valign": "top"})
    body = book.add_format({"valign": "top", "text_wrap": True})
    for name, header, rows in tables(view):
        _sheet(book, name, header, rows, head, body)
    book.close()
    return out.getvalue()


def _sheet(
    book: Workbook, name: str, header: Sequence[str], rows: list[list[Cell]], head: Format, body: Format
) -> None:
    sheet: Any = book.add_worksheet(name)
    sheet.write_row(0, 0, header, head)
    for i, row in enumerate(rows, 1):
        for j, cell in enumerate(row):
            if isinstance(cell, str):
                sheet.write_string(i, j, cell, body)
            elif cell is not None:
                sheet.write_number(i, j, cell, body)
    for j, title in enumerate(header):
        longest = max((len(str(r[j])) for r in rows if r[j] is not None), default=0)
        sheet.set_column(j, j, min(WIDEST, max(10, longest + 1, len(title) // 2 + 2)))
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)

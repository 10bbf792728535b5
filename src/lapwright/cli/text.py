"""How text is set on the terminal: wrapped lines, tables that keep inside the window, findings."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any, TextIO

NARROWEST, WIDEST = 72, 100  # letters a line: longer ones are hard to follow
USUAL = 96  # where there is no window to ask
SHORTEST_CELL = 18  # a column of words is not made narrower than this
TIED = re.compile(r"(?<=\d') (?=\d)|(?<=[\d\"'+-]) (?=× )|(?<=×) (?=\d)")  # spaces in `2 × 4' 6"`
NO_BREAK = "\u00a0"
HEADS = {"stop": "STOP", "warn": "Warning", "note": "Note"}


def width() -> int:
    """Return how many letters a line holds: as the window has, between 72 and 100."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((USUAL, 24)).columns))


def count(number: float, one: str, many: str = "") -> str:
    """Return a number with its word.

    >>> count(1, "stop"), count(2, "stop"), count(0, "day", "days")
    ('1 stop', '2 stops', '0 days')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def wrap(text: str, indent: str = "", to: TextIO | None = None, more: str = "  ") -> None:
    """Print a paragraph; its later lines stand further in. Names with dashes are not broken."""
    print("\n".join(_lines(text, width(), indent, indent + more)), file=to or sys.stdout)


def _lines(text: str, wide: int, first: str = "", later: str = "") -> list[str]:
    """Break a text into lines, but no length and no name with dashes."""
    whole = TIED.sub(NO_BREAK, text)
    lines = textwrap.wrap(whole, wide, initial_indent=first, subsequent_indent=later, break_on_hyphens=False)
    return [line.replace(NO_BREAK, " ") for line in lines]


def table(head: Sequence[str], rows: Iterable[Sequence[str]], indent: str = "  ") -> None:
    """Print a table as wide as the window at most: columns of numbers to the right, long words in lines of their own."""
    cells = [list(r) for r in rows]
    numeric = (
        [any(map(_number, column)) or {*column} == {"-"} for column in zip(*cells, strict=True)]
        if cells
        else [False] * len(head)
    )
    natural = [max([0, *map(len, column)]) for column in zip(*cells, strict=True)] if cells else [0] * len(head)
    widths = [max(n, *map(len, h.split()), 1) if h else max(n, 1) for n, h in zip(natural, head, strict=True)]
    room = width() - len(indent) - 2 * (len(head) - 1)
    while sum(widths) > room:
        widest = max((i for i in range(len(head)) if not numeric[i]), key=lambda i: widths[i], default=-1)
        if widest < 0 or widths[widest] <= SHORTEST_CELL:
            break
        widths[widest] -= 1
    for i, words in enumerate(head):  # a head takes one line where that costs no room
        if sum(widths) - widths[i] + max(widths[i], len(words)) <= room:
            widths[i] = max(widths[i], len(words))

    def line(row: Sequence[str], bottom: bool = False) -> None:
        parts = [_lines(c, w) or [""] for c, w in zip(row, widths, strict=True)]
        high = max(map(len, parts))
        if bottom:
            parts = [[""] * (high - len(p)) + p for p in parts]
        for n in range(high):
            said = [p[n] if n < len(p) else "" for p in parts]
            set_ = [s.rjust(w) if r else s.ljust(w) for s, w, r in zip(said, widths, numeric, strict=True)]
            print((indent + "  ".join(set_)).rstrip())

    line(head, bottom=True)
    print(indent + "  ".join("-" * w for w in widths))
    for row in cells:
        line(row)


def _number(text: str) -> bool:
    return text.replace(".", "").replace("-", "").replace(",", "").isdigit()


def findings(rows: Sequence[Mapping[str, Any]], to: TextIO | None = None) -> None:
    """Print findings: the level and what, then the fix, then why and where. Neighbors with one mend stand together."""
    to = to or sys.stdout
    for _, same in groupby(rows, key=_mend):
        group = list(same)
        first = group[0]
        head = f"{HEADS[first['level']]}: "
        for n, row in enumerate(group):
            wrap(f"{head if n == 0 else ' ' * len(head)}{row['what']}", "", to, "  " if n == 0 else " " * len(head))
        if first["fix"]:
            wrap(f"Do: {first['fix']}", "  ", to)
        tail = " ".join(s for s in (first["why"], f"({first['source']})" if first["source"] else "") if s)
        if tail:
            wrap(f"Why: {tail}", "  ", to)
        for row in group:
            for fix in row.get("changes", ()):
                print(f"  Fix: {fix}", file=to)
        wrap(f"[{first['code']}{''.join(f'{sep}{spot}' for sep, spot in _spots(group))}]", "  ", to)


def _mend(row: Mapping[str, Any]) -> tuple[str, ...]:
    return row["level"], row["code"], row["fix"], row["why"], row["source"]


def _spots(group: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return where the findings are, each with what parts it from the one before; the file is named once."""
    out: list[tuple[str, str]] = []
    file = None
    for row in group:
        where = row["where"]
        named = where.get("file") if where.get("file") != file else None
        line = f"line {where['line']}" if where.get("line") and where.get("file") else None
        spot = " ".join(s for s in (named, line) if s)
        parts = [s for s in (spot, where.get("surface"), where.get("thing")) if s]
        file = where.get("file")
        if parts:
            out.append((", " if not out else "; ", ", ".join(map(str, parts))))
    return out


def tail(rows: Sequence[Mapping[str, Any]], *, all_of: bool = True) -> None:
    """Print the findings after an answer; without `all_of` the notes are only counted."""
    print()
    told = rows if all_of else [r for r in rows if r["level"] != "note"]
    findings(told)
    notes = len(rows) - len(told)
    if notes:
        print(f"{count(notes, 'note')} besides: `lapwright check` tells {'it' if notes == 1 else 'them'}.")
    elif not rows:
        print("No findings under the stated assumptions.")

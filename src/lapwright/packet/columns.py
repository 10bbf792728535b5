"""How wide the columns of the tables beside the drawings are, and how tall the rows, known before the page is set.

The page setter is quicker by half with widths given than when it looks for them, cell by cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import ceil
from typing import Any

SIZE = 9.0  # points, of the tables
NOTE_SIZE = 8.0  # of the words beside
HEAD_SIZE = 8.5
GAP = 8.5  # between columns
EDGE = 6.0  # both edges of a row together
LINE = 10.5  # from line to line in a cell
ROW = 11.4  # a row of one line, with the room above and below
TIGHTEST = 0.94  # words break where they can: a cell holds this part of what its width would

# Advance widths in thousandths of the size, from the font's own table of them (Source Sans Pro, regular and bold).
# What is not listed counts as a wide letter.
_WIDE = 620
_REGULAR = {
    200: " ", 249: "',.:;·", 246: "ij", 255: "l", 263: "I", 292: "f", 303: "()[]{}!|", 311: "-", 338: "tr", 350: "/\\",
    420: "\"*?s", 446: "x", 456: "cz", 467: "vy", 497: "#$+0123456789<=>×−~^_ekgaFLJY", 536: "STVEXZ", 555: "bdpqnhuoA",
    571: "C", 588: "BKPR", 618: "DG→&", 664: "HNOQU", 727: "Mw", 824: "m%W@—½",
}  # fmt: skip
_BOLD = {
    200: " ", 300: "',.:;·ijlI", 344: "()[]{}/\\-f!|", 398: "rt", 457: "*?sz", 467: "c", 536: "\"#$+0123456789<=>×−~^_aevxygFLJY",
    573: "bdpqhnouAkESTVXZC", 614: "BKPR", 640: "DG→", 684: "HNOQU&", 776: "Mw", 860: "m%W—½", 903: "@",
}  # fmt: skip
_OF = [{c: wide / 1000 for wide, letters in table.items() for c in letters} for table in (_REGULAR, _BOLD)]


@lru_cache(maxsize=20_000)
def print_width(text: str, size: float = SIZE, bold: bool = False) -> float:
    """Return how wide a text is in print, in points; exact to a few parts of a hundred, on the wide side.

    >>> round(print_width("4' 10-1/2\\"")), round(print_width("4' 10-1/2\\"", bold=True))
    (36, 40)
    """
    table = _OF[bold]
    return sum(table.get(c, _WIDE / 1000) for c in text) * size


def column(texts: Iterable[str], head: str, bold: bool = False, size: float = SIZE) -> float:
    """Return the width of a column that holds each of those texts on one line."""
    words = max((print_width(t, size, bold) for t in texts), default=0.0)
    return round(1.03 * max(words, print_width(head, HEAD_SIZE, True)) + GAP, 1)


def widths(kind: str, rows: Sequence[Mapping[str, Any]], heads: Sequence[str], page: float) -> list[float]:
    """Return the columns of a table in points; a negative number is a share of what the fixed ones leave.

    kind: as in `lapwright.packet.tables.table`. heads: the heads of the columns, in order. page: its width, points; where
    long words would leave the shares too little, the widest columns are made narrower, and their words go on below.
    """
    plain = [r for r in rows if not r.get("spots")]
    if kind == "courses":
        fixed: list[Iterable[str]] = [(r["mark"] for r in rows), (), (r["size"] for r in rows)]
        fixed += [(f"{r['roll']} {r['at']}" for r in rows), *((r[k] for r in rows) for k in ("bottom", "top", "left"))]
        bold, free = {0}, {1: -1.0}
    elif kind == "places":
        marks = [" ".join(r["marks"]) for r in plain if len(r["marks"]) < 4]
        fixed = [(r["head"] for r in rows if len(r["head"]) <= LONGEST_HEAD), marks, ()]
        fixed += [(f"{_times(r)}{r['size']}" for r in plain)]
        fixed += [*((r[k] for r in plain) for k in ("bottom", "top"))]
        fixed += [(r["left"] for r in plain if len(r["marks"]) < 4), (r["roll"] for r in plain)]
        bold, free = {0, 1}, {2: -1.0}
    else:
        fixed = [(r["letter"] for r in rows), (f"{_times(r)}{r['size']}" for r in rows), ()]
        said = column((f"{r['what']} {r['more']}" for r in rows), heads[2], size=NOTE_SIZE + 0.5)
        bold, free = {0, 1}, {2: min(said, WIDEST_WHAT), 3: -1.0, 4: -1.3, 5: -0.8}
        fixed += [(), (), ()]
    out = [free.get(i, column(texts, heads[i], i in bold)) for i, texts in enumerate(fixed)]
    spare = page - EDGE - sum(w for w in out if w > 0) - LEAST_SHARE * sum(w < 0 for w in out)
    while spare < 0 and max(out) > TIGHT:
        widest = out.index(max(out))
        cut = min(-spare, 4.0)
        out[widest] = round(out[widest] - cut, 1)
        spare += cut
    return out


LEAST_SHARE = 80.0  # points for each column that takes a share
TIGHT = 52.0  # no column is made narrower than this for it
WIDEST_WHAT = 120.0  # points that kind and product of a piece take beside the sizes; longer ones go on below
LONGEST_HEAD = 12  # letters of a place's name that its column is made for; longer ones go on below


def _times(row: Mapping[str, Any]) -> str:
    return f"{row['count']} × " if row["count"] > 1 else ""


def resolve(columns: Sequence[float], page: float) -> list[float]:
    """Return the widths in points on a page that wide."""
    left = page - EDGE - sum(w for w in columns if w > 0)
    shares = sum(-w for w in columns if w < 0) or 1.0
    return [w if w > 0 else max(20.0, left * -w / shares) for w in columns]


def height(kind: str, rows: Sequence[Mapping[str, Any]], columns: Sequence[float], page: float) -> float:
    """Return about how tall a table is with its head, in points, on a page that wide."""
    wide = resolve(columns, page)
    total = ROW + 1 if rows else 0.0
    for r in rows:
        if r.get("spots"):
            long = (
                sum(print_width("".join(s)) + 16 for s in r["spots"])
                + print_width(f"{r['what']} {r['more']} {r['size']}")
                + 120
            )
            lines = ceil(long / (page - EDGE - wide[0]))
        elif kind == "groups":
            said = [f"{_times(r)}{r['size']}", f"{r['what']} {r['more']}", r["at"], r["marks"], r["roll"]]
            lines = max(_lines(t, w) for t, w in zip(said, wide[1:], strict=True))
        else:
            among = [*wide[:4], wide[-1]] if kind == "courses" else [*wide[:4], *wide[-2:]]
            if kind == "courses":
                said = [r["mark"], f"{r['what']} {r['more']}", r["size"], f"{r['roll']} {r['at']}", r["left"]]
            else:
                said = [
                    r["head"],
                    " ".join(r["marks"]),
                    f"{r['what']} {r['more']}",
                    f"{_times(r)}{r['size']}",
                    r["left"],
                    r["roll"],
                ]
            lines = max(_lines(t, w) for t, w in zip(said, among, strict=True))
        total += ROW + LINE * (lines - 1)
    return total


def _lines(text: str, wide: float) -> int:
    long = print_width(text, NOTE_SIZE)
    return 1 if long <= wide - GAP else ceil(long / ((wide - GAP) * TIGHTEST))

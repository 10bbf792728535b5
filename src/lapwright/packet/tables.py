"""The tables beside the drawings: what a piece is, its size before folding, where it goes, where it is cut."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lapwright.order.words import say_run
from lapwright.packet.sheets import BOARDS, FINISH, SEAM_TAPE, Sheet
from lapwright.packet.view import Row, View

PLANES = {
    "sill": "+ sill",
    "jamb": "+ jamb",
    "head": "+ head",
    "under": "+ lip",
}
NONE = "—"
MANY = 5  # pieces of one size at one place from here on share a row
COURSES = ("barrier", "insulation", "sheathing", "vapor", "slab")  # sheets whose pieces stand one to a row
LETTERS = "abcdefghijkmnpqrstuvwxyz"  # no l or o: they look like figures


@dataclass(frozen=True)
class Item:
    """One mark on a surface: the pieces that bear it, and what the tables say about them."""

    mark: str
    pieces: tuple[Row, ...]
    what: str
    product: str
    notes: str
    size: str
    roll: str
    tag: str  # the product's letters in front of the roll's number
    at: str  # where on the roll
    bottom: str
    top: str
    left: str
    place: str

    @property
    def alike(self) -> tuple[str, ...]:
        """What items of one row have in common when the row is about a size."""
        return self.what, self.product, self.notes, self.size


def items(view: View, sheet: Sheet) -> list[Item]:
    """Return one item per mark: place by place in the order of the work, then by number."""
    return view.once(("items", sheet.name), lambda: _items(view, sheet))


def _items(view: View, sheet: Sheet) -> list[Item]:
    by_mark: dict[str, list[Row]] = {}
    for piece in sheet.pieces:
        by_mark.setdefault(view.marks[piece["id"]], []).append(piece)
    places = list(dict.fromkeys(pieces[0]["place"] for pieces in by_mark.values()))
    order = sorted(by_mark, key=lambda m: (places.index(by_mark[m][0]["place"]), _natural(m)))
    return [_item(view, sheet, mark, by_mark[mark]) for mark in order]


def _natural(mark: str) -> list[tuple[int, str]]:
    """Sort key that puts `B10.2` after `B9.1`."""
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", mark)]


def _item(view: View, sheet: Sheet, mark: str, pieces: list[Row]) -> Item:
    first = pieces[0]
    cut = view.cuts.get(first["cut"] or "")
    on_face = [view.shape(p["id"]).bounds for p in pieces if p["plane"] == "face"]
    roll = at = ""
    if cut:
        xs, ys = zip(*cut["flat"][0], strict=True)
        size = view.figures(view.size(max(xs) - min(xs), max(ys) - min(ys)))
        roll = view.rolls[cut["stock"]] if cut["stock"] else "not packed"
        at = f"at {view.figures(view.length(cut['along_m']))}" if cut["stock"] else ""
        at += ", turned" if cut["turned_deg"] else ""
    else:
        x0, y0, x1, y1 = on_face[0] if on_face else view.shape(first["id"]).bounds
        size = view.figures(view.size(x1 - x0, y1 - y0))
    folds = [PLANES[p["plane"]] for p in pieces if p["plane"] != "face"]
    elsewhere = [
        f"→ {p['surface']} {view.marks[p['id']]}"
        for p in view.pieces_of_cut.get(first["cut"] or "", [])
        if p["surface"] != sheet.surface
    ]
    low, high = (min(b[1] for b in on_face), max(b[3] for b in on_face)) if on_face else (None, None)
    left = min(b[0] for b in on_face) if on_face else None
    return Item(
        mark=mark,
        pieces=tuple(pieces),
        what=view.role(first),
        product="" if cut else view.product(first["product"]),
        notes=", ".join(dict.fromkeys(folds + elsewhere)),
        size=size,
        roll=roll,
        tag=view.tags[view.stock[cut["stock"]]["product"]] if cut and cut["stock"] else "",
        at=at,
        bottom=NONE if low is None else view.figures(view.length(low)),
        top=NONE if high is None else view.figures(view.length(high)),
        left=NONE if left is None else view.figures(view.length(left)),
        place="" if "course" in first["facts"] else first["place"].split("/", 1)[-1],
    )


def table(view: View, sheet: Sheet) -> dict[str, Any]:
    """Return the sheet's table as `kind` and `rows` (and `courses`, for the mat): plain words for the page setter."""
    if sheet.key == FINISH:
        return {
            "kind": "groups",
            "rows": [_group_row(g) for g in groups(view, sheet)],
            "courses": _courses(view, sheet),
        }
    if sheet.key in COURSES:
        found = items(view, sheet)
        tape = [i for i in found if i.pieces[0]["role"] == SEAM_TAPE]
        rows = [_course_row(i) for i in found if len(tape) < MANY or i not in tape]
        rows += [_tape_row(view, tape)] if len(tape) >= MANY else []
        return {"kind": "courses", "rows": rows, "courses": []}
    if sheet.key == "furring":
        return {"kind": "groups", "rows": [_group_row(g) for g in groups(view, sheet)], "courses": []}
    return {"kind": "places", "rows": _place_rows(items(view, sheet)), "courses": []}


def _course_row(item: Item) -> dict[str, str]:
    return {
        "mark": item.mark,
        "what": item.what,
        "more": _more(item.product, item.notes),
        "size": item.size,
        "roll": item.roll,
        "at": item.at,
        "bottom": item.bottom,
        "top": item.top,
        "left": item.left,
    }


def _tape_row(view: View, tape: Sequence[Item]) -> dict[str, str]:
    """Return the one row of the tape over the seams between boards: what counts is how much there is."""
    flats = [view.cuts[p["cut"]]["flat"][0] for i in tape for p in i.pieces[:1] if p["cut"]]
    total = sum(max(x for x, _ in f) - min(x for x, _ in f) for f in flats)
    said = f"{len(tape)} pieces over the seams, {say_run(total, view.units)} in all; each is cut to its seam"
    row = {"mark": tape[0].mark, "what": tape[0].what, "more": said, "size": "", "roll": _rolls(tape), "at": ""}
    return row | {"bottom": NONE, "top": NONE, "left": NONE}


def _place_rows(found: Sequence[Item]) -> list[dict[str, Any]]:
    """Return rows place by place; pieces of one size at one height (the two jambs) share a row.

    Many of one size (step flashings) share one whatever their height.
    """
    rows: dict[tuple[str, ...], list[Item]] = {}
    many = Counter((i.place, *i.alike) for i in found)
    for item in found:
        height = ("", "") if many[item.place, *item.alike] >= MANY else (item.bottom, item.top)
        rows.setdefault((item.place, *height, *item.alike), []).append(item)
    out: list[dict[str, Any]] = []
    place = None
    for same in rows.values():
        first = same[0]
        out.append(
            {
                "head": first.place if first.place != place else "",
                "marks": [i.mark for i in same],
                "what": first.what,
                "more": _more(first.product, first.notes),
                "size": first.size,
                "count": len(same),
                "bottom": first.bottom,
                "top": first.top,
                "left": ", ".join(i.left for i in same),
                "roll": _rolls(same),
                "spots": [[i.mark, i.bottom, i.left] for i in same] if len(same) >= MANY else [],
            }
        )
        place = first.place
    return out


def inside_runs(view: View, sheet: Sheet) -> set[str]:
    """Return the pieces that need no name on the drawing: all of many of one size (step flashings) but the first and last,
    and tape over the seams between boards.
    """
    if sheet.key in BOARDS:
        tape = [p["id"] for p in sheet.pieces if p["role"] == SEAM_TAPE]
        return set(tape) if len(tape) >= MANY else set()
    if sheet.key not in ("strip", "flashing"):
        return set()
    runs: dict[tuple[str, ...], list[Item]] = {}
    for item in items(view, sheet):
        runs.setdefault((item.place, *item.alike), []).append(item)
    return {p["id"] for own in runs.values() if len(own) >= MANY for i in own[1:-1] for p in i.pieces}


@dataclass(frozen=True)
class SizeGroup:
    """Pieces of one kind and size, which can stand in for each other: one letter on the drawing, one row."""

    letter: str
    items: tuple[Item, ...]


def groups(view: View, sheet: Sheet) -> list[SizeGroup]:
    """Return the pieces of a sheet by kind and size, mat courses left out, each group with its letter."""
    return view.once(("groups", sheet.name), lambda: _groups(view, sheet))


def _groups(view: View, sheet: Sheet) -> list[SizeGroup]:
    by_size: dict[tuple[str, ...], list[Item]] = {}
    for item in items(view, sheet):
        if not is_course(item.pieces[0]) and item.pieces[0]["layer"] != "fastener":  # screws have a page of their own
            by_size.setdefault(item.alike, []).append(item)
    kinds = list(dict.fromkeys(key[0] for key in by_size))
    found = sorted(by_size.values(), key=lambda own: (kinds.index(own[0].what), -_long(view, own[0]), own[0].size))
    return [SizeGroup(_letter(n), tuple(own)) for n, own in enumerate(found)]


def is_course(piece: Row) -> bool:
    """Whether a piece is a piece of a mat course."""
    return piece["layer"] == "mat" and "course" in piece["facts"]


def _long(view: View, item: Item) -> float:
    x0, y0, x1, y1 = view.shape(item.pieces[0]["id"]).bounds
    return float(round(max(x1 - x0, y1 - y0), 4))


def _letter(number: int) -> str:
    """Return a, b, ... z, aa, ab ...

    >>> _letter(0), _letter(24)
    ('a', 'aa')
    """
    high, low = divmod(number, len(LETTERS))
    return (LETTERS[high - 1] if high else "") + LETTERS[low]


def _group_row(group: SizeGroup) -> dict[str, Any]:
    first = group.items[0]
    return {
        "letter": group.letter,
        "count": len(group.items),
        "size": first.size,
        "what": first.what,
        "more": _more(first.product, first.notes),
        "at": ", ".join(dict.fromkeys(i.bottom for i in group.items)),
        "marks": " ".join(i.mark for i in group.items),
        "roll": _rolls(group.items),
    }


def _courses(view: View, sheet: Sheet) -> list[dict[str, Any]]:
    """Return the mat course by course: from where to where, and its pieces."""
    by_course: dict[str, list[Item]] = {}
    for item in items(view, sheet):
        if is_course(item.pieces[0]):
            by_course.setdefault(item.mark.rpartition(".")[0], []).append(item)
    out = []
    for name, own in by_course.items():
        facts = own[0].pieces[0]["facts"]
        low, high = facts.get("bottom_m"), facts.get("top_m")
        out.append(
            {
                "name": name,
                "from": view.length(low) if low is not None else own[0].bottom,
                "to": view.length(high) if high is not None else own[0].top,
                "pieces": [{"mark": i.mark, "size": i.size, "roll": i.roll, "more": i.notes} for i in own],
            }
        )
    return out


def _more(*words: str) -> str:
    return " · ".join(w for w in words if w)


def _rolls(found: Sequence[Item]) -> str:
    """Name the stock that items are cut from, each product once: `sas2, 4, ft4-1`."""
    out: list[str] = []
    before = ""
    for roll, short in dict.fromkeys((i.roll, i.tag) for i in found if i.roll):
        out.append(roll.removeprefix(short).lstrip("-") if short and short == before else roll)
        before = short
    return ", ".join(out)

"""Which sheets there are: one per surface and trade layer, in the order in which the crew works."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from lapwright.packet.view import Row, View

TITLES = {
    "strip": "Strips and flashings set before the barrier",
    "barrier": "Barrier",
    "flashing": "Flashings and tape",
    "sheathing": "Sheathing",
    "insulation": "Insulation",
    "mat": "Mat",
    "furring": "Furring",
    "cladding": "Cladding",
    "vapor": "Vapor retarder",
    "slab": "Slab",
}
KEYS = tuple(TITLES)
# These go on before or after the barrier; time tells which sheet shows them.
BY_TIME = ("strip", "film", "tape", "flashing", "primer", "sealant", "unit")
SET_WITH = {"fastener": "furring"}
PLANES = {
    "sill": "+ sill",
    "jamb": "+ jamb",
    "head": "+ head",
    "under": "+ lip",
}


@dataclass(frozen=True)
class Sheet:
    """One surface and one trade layer. `pieces` in order of installation, `lines` bottom to top."""

    surface: str
    key: str
    title: str
    pieces: tuple[Row, ...]
    lines: tuple[Row, ...]
    name: str  # file name without its ending: `<surface>-<layer>`


def _key(piece: Row, barrier_from: float | None) -> str | None:
    layer = piece["layer"]
    if layer in BY_TIME:
        return "strip" if barrier_from is None or piece["installed"] < barrier_from else "flashing"
    layer = SET_WITH.get(layer, layer)
    return layer if layer in TITLES else None


def sheets(view: View) -> list[Sheet]:
    """Return the sheets of the job, surface by surface, only where there is something to put on."""
    out: list[Sheet] = []
    for surface in view.surfaces:
        groups: dict[str, list[Row]] = {}
        pieces = view.pieces_on[surface]
        times = [p["installed"] for p in pieces if p["layer"] == "barrier"]
        for piece in pieces:
            key = _key(piece, min(times) if times else None)
            if key:
                groups.setdefault(key, []).append(piece)
        lines: dict[str, list[Row]] = {}
        for line in view.rows("lines"):
            if line["surface"] == surface:
                lines.setdefault(_line_key(line["layer"], groups), []).append(line)
        for key in KEYS:
            if key in groups:
                own = sorted(lines.get(key, []), key=lambda r: (r["y_m"], r["x_from_m"], r["for"]))
                title = view.layer_title(key) if key not in ("strip", "flashing") else TITLES[key]
                name = f"{view.files[surface]}-{key}"
                out.append(Sheet(surface, key, title, tuple(groups[key]), tuple(own), name))
    return out


def _line_key(layer: str, groups: dict[str, list[Row]]) -> str:
    layer = SET_WITH.get(layer, layer)
    if layer in BY_TIME:
        order = ("strip", "flashing") if layer == "strip" else ("flashing", "strip")
        return next((k for k in order if k in groups), layer)
    return layer


def one_per_mark(view: View, sheet: Sheet) -> dict[str, list[Row]]:
    """Return the sheet's pieces by mark; the pieces of one folded cut stand together."""
    out: dict[str, list[Row]] = {}
    for piece in sheet.pieces:
        out.setdefault(view.marks[piece["id"]], []).append(piece)
    return out


def lap_words(view: View, sheet: Sheet) -> list[str]:
    """Return what the laps on the sheet were asked to be and the narrowest one drawn, kind by kind."""
    mine = {p["id"] for p in sheet.pieces}
    out = []
    for kind in ("course", "end", "corner", "tie-in"):
        rows = [r for r in view.rows("laps") if r["kind"] == kind and r["over"] in mine and r["asked_m"] > 0]
        if rows:
            asked = sorted({r["asked_m"] for r in rows})
            words = " to ".join(view.length(a) for a in dict.fromkeys((asked[0], asked[-1])))
            out.append(f"{kind} {words} asked, {view.length(min(r['got_m'] for r in rows))} the narrowest drawn")
    return out


def _natural(mark: str) -> list[tuple[int, str]]:
    """Sort key that puts `B10.2` after `B9.1`."""
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", mark)]


def table(view: View, sheet: Sheet) -> list[dict[str, Any]]:
    """Return one row per mark, place by place: what it is, size before folding, where it is cut, where it goes.

    Heights and the distance from the left corner are those of the piece's edges on the face.
    """
    rows = []
    by_mark = one_per_mark(view, sheet)
    places = list(dict.fromkeys(pieces[0]["place"] for pieces in by_mark.values()))
    for mark, pieces in sorted(
        by_mark.items(), key=lambda item: (places.index(item[1][0]["place"]), _natural(item[0]))
    ):
        first = pieces[0]
        cut = view.cuts.get(first["cut"] or "")
        on_face = [view.shape(p["id"]).bounds for p in pieces if p["plane"] == "face"]
        if cut:
            xs, ys = zip(*cut["flat"][0], strict=True)
            size = view.size(max(xs) - min(xs), max(ys) - min(ys))
            stock, _, number = (cut["stock"] or "").rpartition("/")
            stock = f"{stock}/" if stock else ""
            where = f"{number} at {view.length(cut['along_m'])}" if cut["stock"] else "not packed"
            where += ", turned" if cut["turned_deg"] else ""
        else:
            x0, y0, x1, y1 = on_face[0] if on_face else view.shape(first["id"]).bounds
            size, stock, where = view.size(x1 - x0, y1 - y0), "", "—"
        folds = [PLANES[p["plane"]] for p in pieces if p["plane"] != "face"]
        elsewhere = [
            f"→ {p['surface']} {view.marks[p['id']]}"
            for p in view.pieces_of_cut.get(first["cut"] or "", [])
            if p["surface"] != sheet.surface
        ]
        rows.append(
            {
                "mark": mark,
                "what": view.role(first),
                "product": "" if cut else view.product(first["product"]),
                "size": size,
                "stock": stock,
                "cut": where,
                "bottom": view.length(min(b[1] for b in on_face)) if on_face else "—",
                "top": view.length(max(b[3] for b in on_face)) if on_face else "—",
                "left": view.length(min(b[0] for b in on_face)) if on_face else "—",
                "place": "" if "course" in first["facts"] else first["place"].split("/", 1)[-1],
                "notes": ", ".join(dict.fromkeys(folds + elsewhere)),
            }
        )
    return rows

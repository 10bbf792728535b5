"""Bent metal on paper and screen: each profile folded and flat, the order of its bends, the coil cut up."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from lapwright.packet.canvas import INK, SHEET, SOFT, Canvas, text_width
from lapwright.packet.elevation import PRINT_FONT, SCREEN_FONT
from lapwright.packet.view import Row, View

WIDTH = 250.0  # points
FOLDED = 96.0  # most height of the folded view
FLAT = 58.0  # height of the flat strip, for the words in it
PAD = 26.0
# what has to be done with the strip between two bends, by whether another edge swings and another word for its face:
# the word counts for one who walks towards the swinging edge, so that other edge and other word are the same face
TURNS = {
    (False, False): "",
    (False, True): " Turn the other face up first; the same edge swings.",
    (True, False): " Turn the other face up first; the other edge swings.",
    (True, True): " Turn it round first, the same face up; the other edge swings.",
}


def metal_page(view: View, drawings: dict[str, str]) -> dict[str, Any] | None:
    """Return what the page on bent metal says, its drawings put into `drawings`; None when nothing is bent."""
    doc = view.doc.get("metal") or {}
    rows = doc.get("profiles") or []
    if not rows:
        return None
    out = []
    for row in rows:
        name = f"metal-{row['product']}.svg"
        drawings[name] = profile_drawing(view, row, paper=True)
        out.append(
            {
                "title": row["title"],
                "drawing": name,
                "pieces": row["pieces"],
                "developed": view.length(row["developed_m"]),
                "sum": " + ".join(view.length(v) for v in row["legs_m"]),
                "order": order_words(view, row),
                "more": _more(view, row),
            }
        )
    return {"profiles": out, "coil": _coil(view, doc.get("coil"))}


def order_words(view: View, row: Row) -> list[str]:
    """Return the bends in their order, one line each, as said at the brake."""
    if row["order"] is None:
        return ["No order of bends works on a simple brake: have it bent by a shop, or make it of two pieces."]
    out = []
    last = None
    for n, bend in enumerate(row["order"], 1):
        at = row["bend_lines_m"][bend["line"] - 1]
        from_end = bend["swings"] == "start"
        hand = (bend["swings"], bend["up"])
        turn = "" if last is None else TURNS[last[0] != hand[0], last[1] != hand[1]]
        side = "the wall edge" if from_end else "the drip edge"
        far = view.length(at if from_end else row["developed_m"] - at)
        what = "hem, 135 degrees and then pressed flat" if bend["hem"] else f"{bend['turn_deg']:g} degrees"
        out.append(f"{n}. Line {bend['line']}, {far} from {side}: {what}.{turn}")
        last = hand
    return out


def _more(view: View, row: Row) -> str:
    said = []
    if row.get("end_dam_m"):
        said.append(f"end dams {view.length(row['end_dam_m'])} tall, turned up before the last bend")
    if row.get("lap_m"):
        said.append(f"lengths lap {view.length(row['lap_m'])} in sealant")
    return "; ".join(said)


def _coil(view: View, coil: Row | None) -> dict[str, Any] | None:
    if not coil:
        return None
    return {
        "title": view.product(coil["product"]),
        "drawn": view.length(coil["drawn_m"]),
        "least": view.length(coil["bound_m"]),
        "rows": [
            [
                str(b["count"]),
                view.length(b["length_m"]),
                ", ".join(f"{view.length(s['width_m'])} x {view.length(s['length_m'])}" for s in b["strips"]),
            ]
            for b in coil["blanks"]
        ],
        "not": [*coil["too_wide"], *coil["too_long"]],
    }


def profile_drawing(view: View, row: Row, paper: bool = False) -> str:
    """Return one profile as SVG: folded at the left with its legs, flat at the right with its bend lines."""
    canvas = Canvas(WIDTH * 2, PRINT_FONT if paper else SCREEN_FONT, paper=paper)
    points = row["folded"]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    k = min((WIDTH - 2 * PAD - 60) / max(wide, 1e-6), FOLDED / max(high, 1e-6))
    placed = [(PAD + 40 + (x - min(xs)) * k, PAD + (max(ys) - y) * k) for x, y in points]
    canvas.height = max(FOLDED, high * k) + PAD + 16
    canvas.path([placed], width=2.0, closed=False, title=row["title"])
    legs = list(pairwise(placed))
    said = list(row["legs_m"])
    for a, b in legs:
        if abs(a[0] - b[0]) + abs(a[1] - b[1]) < 3 and said:
            continue  # the step of a hem, one thickness
        if not said:
            break
        mid = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        upright = abs(b[1] - a[1]) > abs(b[0] - a[0])
        hem = len(said) == 1 and len(row["legs_m"]) > 3
        text = ("hem " if hem else "") + view.length(said.pop(0))
        if hem:
            mid = (mid[0] + 12, mid[1] + 13)
        canvas.text((mid[0] + (-16 if upright and len(said) > 1 else 18 if upright else 0), mid[1] + (3 if upright else -6)), text, 9)
    left, top = WIDTH + PAD, PAD
    across = WIDTH - 2 * PAD
    scale = across / row["developed_m"]
    low = top + FLAT
    canvas.path([[(left, top), (left + across, top), (left + across, low), (left, low)]], fill=SHEET, width=1.0)
    edges = [0.0, *row["bend_lines_m"], row["developed_m"]]
    for n, at in enumerate(row["bend_lines_m"], 1):
        x = left + at * scale
        canvas.line((x, top), (x, low), dash="5 2.5", width=0.9)
        canvas.text((x, top - 5), str(n), 9, bold=True)
    for a, b in pairwise(edges):
        mid = left + (a + b) / 2 * scale
        words = view.length(b - a)
        narrow = text_width(words, 8.5) > (b - a) * scale  # a short leg: its word stands upright
        canvas.text((mid, (top + low) / 2 + (0 if narrow else 3)), words, 8.5, up=narrow)
    canvas.line((left, low + 10), (left + across, low + 10), stroke=SOFT)
    canvas.text((left + across / 2, low + 22), f"flat {view.length(row['developed_m'])}, cut edge to cut edge", 9, color=INK)
    return canvas.svg(row["title"], f"Folded and flat; flat width {view.length(row['developed_m'])}.")

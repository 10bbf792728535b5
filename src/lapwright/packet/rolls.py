"""Draws each roll, sheet and length with the pieces cut from it, and says in which order to cut.

The knife sequence is read off the packing: cuts straight across the whole width first, then rips along
what was cut off, and so on, as a knife and a straightedge can do them. Distances are those of the part in
hand: first the whole roll, then what came off it. Pieces that no straight cut can part
(one inside the hole of another) are cut by their outline.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import MultiLineString, Polygon
from shapely.affinity import rotate, translate

from lapwright.geometry import box, from_rings
from lapwright.packet.canvas import INK, SHEET, SOFT, Canvas, text_width
from lapwright.packet.elevation import PRINT_FONT, SCREEN_FONT
from lapwright.packet.labels import Labels
from lapwright.packet.linework import Frame, hatch_lines, lines_of, rings_of
from lapwright.packet.view import Row, View

KERF_M = 0.0065  # a gap no wider than this between pieces is the saw's: 1/4 in, common practice
EDGE_M = 5e-4  # two edges closer than this are one knife cut: half a millimetre, the width of the blade


@dataclass(frozen=True)
class Placed:
    """One cut where it lies on the stock, metres from the left end and the near edge."""

    cut: Row
    shape: Polygon
    folds: MultiLineString
    slits: MultiLineString
    box: tuple[float, float, float, float]  # left, near, right, far


@dataclass(frozen=True)
class KnifeCut:
    """One line of the knife sequence: how deep it is nested, what to do, which cuts come free."""

    depth: int
    words: str
    cuts: tuple[str, ...] = ()


def placed(view: View, stock_id: str) -> list[Placed]:
    """Return the cuts of a stock unit where they lie, from the left end."""
    return view.once(("placed", stock_id), lambda: _placed(view, stock_id))


def _placed(view: View, stock_id: str) -> list[Placed]:
    out = []
    for cut in view.cuts_on[stock_id]:
        pieces = view.pieces_of_cut.get(cut["id"], [])
        slits = sorted({tuple(map(tuple, p["facts"]["knife"])) for p in pieces if p["facts"].get("knife")})
        flat = from_rings(cut["flat"])
        if cut["turned_deg"]:
            flat = rotate(flat, cut["turned_deg"], origin=(0, 0))
        x0, y0, *_ = flat.bounds
        dx, dy = cut["along_m"] - x0, cut["across_m"] - y0
        flat = translate(flat, dx, dy)
        folds, cuts = (
            translate(rotate(MultiLineString(lines), cut["turned_deg"], origin=(0, 0)), dx, dy)
            if lines
            else MultiLineString()
            for lines in ([f["segment"] for f in cut["folds"]], [list(s) for s in slits])
        )
        out.append(Placed(cut, flat, folds, cuts, flat.bounds))
    return out


def knife_sequence(view: View, stock_id: str) -> list[KnifeCut]:
    """Return the knife cuts of a stock unit in working order, from its left end."""
    stock = view.stock[stock_id]
    block = (0.0, 0.0, float(stock["length_m"]), float(stock["width_m"]))
    items = placed(view, stock_id)
    return _split(view, items, block, 0, across=True) if items else []


def groups(items: list[Placed], axis: int) -> list[list[Placed]]:
    """Part the items where a straight cut across `axis` touches none of them."""
    out: list[list[Placed]] = []
    reach = float("-inf")
    for item in sorted(items, key=lambda p: (p.box[axis], p.box[1 - axis], p.cut["id"])):
        if item.box[axis] < reach - EDGE_M:
            out[-1].append(item)
        else:
            out.append([item])
        reach = max(reach, item.box[axis + 2])
    return out


def _split(
    view: View, items: list[Placed], block: tuple[float, float, float, float], depth: int, *, across: bool
) -> list[KnifeCut]:
    for axis in (0, 1) if across else (1, 0):
        found = groups(items, axis)
        if len(found) > 1 or _slack(items, block, axis):
            return _cut_parted(view, found, block, depth, axis)
    if len(items) == 1:
        return [_free(view, items[0], depth)]
    names = ", ".join(view.cut_label(p.cut["id"]) for p in items)
    return [KnifeCut(depth, f"Cut by the outlines: {names}", tuple(p.cut["id"] for p in items))]


def _slack(items: list[Placed], block: tuple[float, float, float, float], axis: int) -> bool:
    """Whether the items leave waste at either end of the block."""
    low, high = min(p.box[axis] for p in items), max(p.box[axis + 2] for p in items)
    return block[axis + 2] - high > EDGE_M or low - block[axis] > EDGE_M


def _cut_parted(
    view: View,
    parted: list[list[Placed]],
    block: tuple[float, float, float, float],
    depth: int,
    axis: int,
) -> list[KnifeCut]:
    out: list[KnifeCut] = []
    done = block[axis]
    for group in parted:
        low, high = min(p.box[axis] for p in group), max(p.box[axis + 2] for p in group)
        inner = list(block)
        inner[axis], inner[axis + 2] = low, high
        verb = "Cut across" if axis == 0 else "Rip"
        head = f"{verb} at {view.length(high - block[axis])}" if block[axis + 2] - high > EDGE_M else "The rest"
        if low - done > KERF_M:
            again = "" if head == "The rest" else f", then at {view.length(high - block[axis])}"
            head = f"{verb} at {view.length(low - block[axis])} (waste before it){again}"
        done = high
        part = (inner[0], inner[1], inner[2], inner[3])
        parts = _split(view, group, part, depth + 1, across=axis == 1)
        if len(parts) == 1:
            out.append(KnifeCut(depth, f"{head}: {parts[0].words}", parts[0].cuts))
        else:
            out += [KnifeCut(depth, f"{head}, then from that:"), *parts]
    return out


def _free(view: View, item: Placed, depth: int) -> KnifeCut:
    x0, y0, x1, y1 = item.box
    words = f"{view.cut_label(item.cut['id'])}, {view.size(x1 - x0, y1 - y0)}"
    if item.shape.area < (x1 - x0) * (y1 - y0) - 1e-4:
        words += ", then to its outline"
    return KnifeCut(depth, words, (item.cut["id"],))


@dataclass(frozen=True)
class RollStyle:
    """How a roll is drawn: `text` is the size of its words, `least` the smallest, `band` the tallest row in points."""

    width: float
    font: str
    text: float
    least: float
    band: float
    flat: float  # a row is no flatter than this
    rows: int  # more rows than this are drawn only when the row would be flatter


SCREEN_ROLL = RollStyle(width=420, font=SCREEN_FONT, text=12, least=0, band=110, flat=90, rows=8)
PAPER_ROLL = RollStyle(width=540, font=PRINT_FONT, text=8, least=8, band=84, flat=48, rows=2)


def roll_drawing(view: View, stock_id: str, style: RollStyle = SCREEN_ROLL) -> str:
    """Return the drawing of a stock unit as SVG text. A long roll goes on in rows, left to right."""
    stock = view.stock[stock_id]
    length, width = float(stock["length_m"]), float(stock["width_m"])
    text = style.text
    canvas = Canvas(style.width, style.font, paper=style.font == PRINT_FONT)
    labels = Labels(canvas, text, style.least)
    items = placed(view, stock_id)
    used = max((p.box[2] for p in items), default=0.0)
    shown = min(length, used + 0.05 * length) if length - used > 0.15 * length else length
    scale, rows = _scale(items, style, shown, width)
    per_row = (canvas.width - 2) / scale
    high, gap = scale * width, text * 2.1
    for row in range(rows):
        start = row * per_row
        frame = Frame(scale, 1 - scale * start, gap * 0.95 + row * (high + gap) + high)
        end = min(shown, start + per_row)
        band = box(start, 0, end, width)
        if end > used:
            spare = frame.shape(box(max(start, used), 0, end, width))
            canvas.hatch(hatch_lines(spare, text * 0.8), width=0.35)
            if row == rows - 1 and length - used > 0.01:
                labels.inside(spare, f"{view.length(length - used)} left over", bold=True)
        for item in items:
            if item.box[2] <= start or item.box[0] >= end:
                continue
            part = item.shape if item.box[0] >= start and item.box[2] <= end else item.shape.intersection(band)
            area = frame.shape(part)
            name = view.cut_label(item.cut["id"])
            canvas.path(rings_of(area), fill=SHEET, width=0.9, title=name)
            for lines, width_pt, dash in ((item.folds, 0.5, "6 2 1 2"), (item.slits, 1.5, "3 1.5")):
                if not lines.is_empty:
                    drawn = lines_of(frame.shape(lines.intersection(band)))
                    stroke = SOFT if lines is item.folds else INK
                    canvas.path(drawn, width=width_pt, stroke=stroke, dash=dash, closed=False)
            _name(labels, area, name, view, item)
        canvas.path(rings_of(frame.shape(band)), width=1.3)
        _scale_marks(view, canvas, frame, items, start, end, width, max(style.least, text * 0.9))
    canvas.height = rows * (high + gap) + 4
    return canvas.svg(f"{view.product(stock['product'])}, {stock_id}", "From the left end; near edge below.")


def _name(labels: Labels, area: Polygon, name: str, view: View, item: Placed) -> None:
    """Name a piece: in full, else by its marks alone, else by its first mark at the smallest size."""
    if labels.inside(area, name, bold=True):
        return
    marks = dict.fromkeys(view.marks[p["id"]] for p in view.pieces_of_cut.get(item.cut["id"], []))
    if labels.inside(area, " + ".join(marks), bold=True):
        return
    small = Labels(labels.canvas, max(labels.least, labels.size * 0.8), labels.least)
    small.inside(area, next(iter(marks), ""), bold=True)


def _scale(items: list[Placed], style: RollStyle, length: float, width: float) -> tuple[float, int]:
    """Choose how many rows a roll takes so that its narrowest piece can hold a word, within bounds."""
    room = style.width - 2
    narrow = min((min(p.box[3] - p.box[1], p.box[2] - p.box[0]) for p in items), default=width)
    least = min(style.text * 1.3 / max(narrow, 0.02), room / 3.0, 150 / width)
    for rows in range(1, 9):
        scale = min(room * rows / length, room / 1.2, style.band / width)
        enough = scale >= min(least, style.band / width) or rows >= style.rows
        if (enough and scale * width >= min(style.flat, style.band)) or rows == 8:
            used = max(1, math.ceil(length * scale / room - 0.2))  # no row for a sliver
            return min(scale, room * used / length), used
    raise AssertionError("unreachable")


def _scale_marks(
    view: View,
    canvas: Canvas,
    frame: Frame,
    items: list[Placed],
    start: float,
    end: float,
    width: float,
    size: float,
) -> None:
    """Write the distance from the left end above the straight cuts."""
    last = float("-inf")
    for group in groups(items, 0):
        at = max(p.box[2] for p in group)
        if not start - 1e-9 < at <= end + 1e-9:
            continue
        x, y = frame.xy(at, width)
        words = view.length(at)
        wide = text_width(words, size)
        x_word = min(max(x, wide / 2 + 1), canvas.width - wide / 2 - 1)
        canvas.line((x, y), (x, y - 4), width=0.8)
        if x_word - wide / 2 > last + 3:
            canvas.text((x_word, y - size * 1.05), words, size, color=SOFT, halo=False)
            last = x_word + wide / 2

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

from lapwright.geometry import from_rings
from lapwright.packet.canvas import SHEET, SOFT, Canvas, text_width
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

    @property
    def box(self) -> tuple[float, float, float, float]:
        """(left, near, right, far) in metres."""
        left, near, right, far = self.shape.bounds
        return left, near, right, far


@dataclass(frozen=True)
class KnifeCut:
    """One line of the knife sequence: how deep it is nested, what to do, which cuts come free."""

    depth: int
    words: str
    cuts: tuple[str, ...] = ()


def placed(view: View, stock_id: str) -> list[Placed]:
    """Return the cuts of a stock unit where they lie, from the left end."""
    out = []
    for cut in view.cuts_on[stock_id]:
        flat = rotate(from_rings(cut["flat"]), cut["turned_deg"], origin=(0, 0))
        x0, y0, *_ = flat.bounds
        dx, dy = cut["along_m"] - x0, cut["across_m"] - y0
        pieces = view.pieces_of_cut.get(cut["id"], [])
        slits = {tuple(map(tuple, p["facts"]["knife"])) for p in pieces if p["facts"].get("knife")}
        folds, cuts = (
            translate(rotate(MultiLineString(lines), cut["turned_deg"], origin=(0, 0)), dx, dy)
            for lines in ([f["segment"] for f in cut["folds"]], [list(s) for s in sorted(slits)])
        )
        out.append(Placed(cut, translate(flat, dx, dy), folds, cuts))
    return out


def knife_sequence(view: View, stock_id: str) -> list[KnifeCut]:
    """Return the knife cuts of a stock unit in working order, from its left end."""
    stock = view.stock[stock_id]
    block = (0.0, 0.0, float(stock["length_m"]), float(stock["width_m"]))
    items = placed(view, stock_id)
    return _split(view, items, block, 0, across=True) if items else []


def _groups(items: list[Placed], axis: int) -> list[list[Placed]]:
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
        groups = _groups(items, axis)
        if len(groups) > 1 or _slack(items, block, axis):
            return _cut_groups(view, groups, block, depth, axis)
    if len(items) == 1:
        return [_free(view, items[0], depth)]
    names = ", ".join(view.cut_label(p.cut["id"]) for p in items)
    return [KnifeCut(depth, f"Cut by the outlines: {names}", tuple(p.cut["id"] for p in items))]


def _slack(items: list[Placed], block: tuple[float, float, float, float], axis: int) -> bool:
    """Whether the items leave waste at either end of the block."""
    low, high = min(p.box[axis] for p in items), max(p.box[axis + 2] for p in items)
    return block[axis + 2] - high > EDGE_M or low - block[axis] > EDGE_M


def _cut_groups(
    view: View,
    groups: list[list[Placed]],
    block: tuple[float, float, float, float],
    depth: int,
    axis: int,
) -> list[KnifeCut]:
    out: list[KnifeCut] = []
    done = block[axis]
    for group in groups:
        low, high = min(p.box[axis] for p in group), max(p.box[axis + 2] for p in group)
        inner = list(block)
        inner[axis], inner[axis + 2] = low, high
        verb = "Cut across" if axis == 0 else "Rip"
        head = f"{verb} at {_at(view, high - block[axis], axis)}" if block[axis + 2] - high > EDGE_M else "The rest"
        if low - done > KERF_M:
            again = "" if head == "The rest" else f", then at {_at(view, high - block[axis], axis)}"
            head = f"{verb} at {_at(view, low - block[axis], axis)} (waste before it){again}"
        done = high
        box = (inner[0], inner[1], inner[2], inner[3])
        parts = _split(view, group, box, depth + 1, across=axis == 1)
        if len(parts) == 1:
            out.append(KnifeCut(depth, f"{head}: {parts[0].words}", parts[0].cuts))
        else:
            out += [KnifeCut(depth, f"{head}, then from that:"), *parts]
    return out


def _at(view: View, value: float, axis: int) -> str:
    return f"{view.length(value)} from {'the left' if axis == 0 else 'the near edge'}"


def _free(view: View, item: Placed, depth: int) -> KnifeCut:
    x0, y0, x1, y1 = item.box
    words = f"{view.cut_label(item.cut['id'])}, {view.size(x1 - x0, y1 - y0)}"
    if item.shape.area < (x1 - x0) * (y1 - y0) - 1e-4:
        words += ", then to its outline"
    return KnifeCut(depth, words, (item.cut["id"],))


def roll_drawing(view: View, stock_id: str, *, screen: bool = False) -> str:
    """Return the drawing of a stock unit as SVG text. A long roll goes on in rows, left to right."""
    stock = view.stock[stock_id]
    length, width = float(stock["length_m"]), float(stock["width_m"])
    text = 12.0 if screen else 8.0
    canvas = Canvas(420.0 if screen else 540.0, SCREEN_FONT if screen else PRINT_FONT)
    labels = Labels(canvas, text)
    items = placed(view, stock_id)
    used = max((p.box[2] for p in items), default=0.0)
    shown = min(length, used + 0.05 * length) if length - used > 0.15 * length else length
    scale, rows = _scale(items, canvas.width - 2, shown, width, text)
    per_row = (canvas.width - 2) / scale
    high, gap = scale * width, text * 2.1
    for row in range(rows):
        start = row * per_row
        frame = Frame(scale, 1 - scale * start, gap * 0.95 + row * (high + gap) + high)
        end = min(shown, start + per_row)
        band = Polygon([(start, 0), (end, 0), (end, width), (start, width)])
        spare = frame.shape(band.intersection(Polygon([(used, 0), (shown, 0), (shown, width), (used, width)])))
        canvas.hatch(hatch_lines(spare, text * 0.8), width=0.35)
        if row == rows - 1 and length - used > 0.01:
            labels.inside(spare, f"{view.length(length - used)} left over", bold=True)
        for item in items:
            part = item.shape.intersection(band)
            if part.is_empty:
                continue
            area = frame.shape(part)
            name = view.cut_label(item.cut["id"])
            canvas.path(rings_of(area), fill=SHEET, width=0.9, title=name)
            folds, slits = (lines_of(frame.shape(g.intersection(band))) for g in (item.folds, item.slits))
            canvas.path(folds, width=0.5, stroke=SOFT, dash="6 2 1 2", closed=False)
            canvas.path(slits, width=1.5, dash="3 1.5", closed=False)
            _name(labels, area, name, view, item)
        canvas.path(rings_of(frame.shape(band)), width=1.3)
        _scale_marks(view, canvas, frame, items, start, end, width, text)
    canvas.height = rows * (high + gap) + 4
    return canvas.svg(f"{view.product(stock['product'])}, {stock_id}", "From the left end; near edge below.")


def _name(labels: Labels, area: Polygon, name: str, view: View, item: Placed) -> None:
    """Name a piece: in full, else by its marks alone, else by its first mark at a smaller size."""
    if labels.inside(area, name, bold=True):
        return
    marks = dict.fromkeys(view.marks[p["id"]] for p in view.pieces_of_cut.get(item.cut["id"], []))
    if labels.inside(area, " + ".join(marks), bold=True):
        return
    small = Labels(labels.canvas, labels.size * 0.8)
    small.inside(area, next(iter(marks), ""), bold=True)


def _scale(items: list[Placed], room: float, length: float, width: float, text: float) -> tuple[float, int]:
    """Choose how many rows a roll takes so that its narrowest piece can hold a word."""
    narrow = min((min(p.box[3] - p.box[1], p.box[2] - p.box[0]) for p in items), default=width)
    least = min(max(text * 1.3 / max(narrow, 0.02), 7.5 * text / max(width, 0.6)), room / 3.0, 150 / width)
    for rows in range(1, 9):
        scale = min(room * rows / length, room / 1.2, 110 / width)
        if scale >= least or rows == 8:
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
    text: float,
) -> None:
    """Write the distance from the left end above the straight cuts."""
    last = float("-inf")
    for group in _groups(items, 0):
        at = max(p.box[2] for p in group)
        if not start - 1e-9 < at <= end + 1e-9:
            continue
        x, y = frame.xy(at, width)
        words = view.length(at)
        wide = text_width(words, text * 0.9)
        x_word = min(max(x, wide / 2 + 1), canvas.width - wide / 2 - 1)
        canvas.line((x, y), (x, y - 4), width=0.8)
        if x_word - wide / 2 > last + 3:
            canvas.text((x_word, y - text * 0.95), words, text * 0.9, color=SOFT, halo=False)
            last = x_word + wide / 2

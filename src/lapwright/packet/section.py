"""Sections through the edge of an opening: where the unit sits in the depth of the wall, drawn from pieces and layers.

Three cuts, head and sill seen from the side and the jamb from above, all to one scale, the weather at the left. Every
area and line comes from the plan's `reveals`; nothing here knows one detail from another.
"""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any

import shapely
from shapely import LineString, Polygon

from lapwright.packet.canvas import FAINT, INK, SHEET, SOFT, Canvas, text_width
from lapwright.packet.labels import Labels
from lapwright.packet.view import Row, View

INCH_M = 0.0254
POINTS_PER_M = 72 / INCH_M
# scales a carpenter's rule bears, and what they are called in each unit: (one to, imperial, metric)
SCALES = ((3, "4 in = 1 ft", "1:3"), (4, "3 in = 1 ft", "1:4"), (6, "2 in = 1 ft", "1:6"), (8, "1-1/2 in = 1 ft", "1:8"), (12, "1 in = 1 ft", "1:12"), (16, "3/4 in = 1 ft", "1:16"), (24, "1/2 in = 1 ft", "1:24"))  # fmt: skip
OPEN_M = 5.0 * INCH_M  # of the opening that is shown
WALL_M = 9.5 * INCH_M  # of the wall beside it (plan.reveal_rows)
PAD = 12.0
MARGIN_M = 0.2 * INCH_M  # of the air before the wall that is shown
FILLS = {"insulation": "#eef2ee", "furring": "#e6d9bf", "cladding": "#f0e3cd", "mat": "#e5e9ee", "sheathing": "#ead9b8", "framing": "#f3ead6"}
UNIT = "#dfe5ec"
STEP = 1.5  # points between sheets that lie on each other
SIDES = ("head", "jamb", "sill")
TITLES = {"head": "Head, from the side", "jamb": "Jamb, from above", "sill": "Sill, from the side"}


def section_groups(view: View) -> list[tuple[Row, list[Row]]]:
    """Return the openings in a thick wall that are alike together: (the first, all of them)."""
    out: dict[str, tuple[Row, list[Row]]] = {}
    for row in view.rows("reveals"):
        key = json.dumps([_shapes(row), row["position"], row["layers"], row["left_m"], row["unit"], row["metal"], row["rough_m"]], sort_keys=True)
        out.setdefault(key, (row, []))[1].append(row)
    return list(out.values())


def _shapes(row: Row) -> list[Any]:
    return [[c["layer"], c["role"], c["points"]] for side in SIDES for c in row["sections"][side] if c["role"] not in ("furring",)]


class _Cut:
    """One cut on the canvas: `off` runs down at the head, up at the sill, and down at the jamb seen from above."""

    def __init__(self, view: View, row: Row, side: str, canvas: Canvas, at: tuple[float, float], per_m: float, text: float) -> None:
        self.view, self.row, self.side, self.canvas, self.text = view, row, side, canvas, text
        self.k, (self.left, self.top) = per_m, at
        self.out_m = row["reach_m"] + MARGIN_M
        self.high_m = WALL_M + OPEN_M
        self.labels = Labels(canvas, text, text * 0.9)
        self.clip = shapely.box(-self.out_m, -WALL_M, row["in_m"], OPEN_M)
        self.named: list[tuple[Any, str]] = []

    def xy(self, depth: float, off: float) -> tuple[float, float]:
        """Return the place of a point (depth in, distance into the opening) on the canvas."""
        down = OPEN_M - off if self.side == "sill" else off + WALL_M
        return self.left + (depth + self.out_m) * self.k, self.top + down * self.k

    def area(self, points: Any, fill: str, name: str = "", width: float = 0.7) -> None:
        """Draw an area, cut to what is shown."""
        shape = Polygon(points).intersection(self.clip)
        for part in getattr(shape, "geoms", [shape]):
            if isinstance(part, Polygon) and not part.is_empty:
                ring = [self.xy(x, y) for x, y in part.exterior.coords]
                self.canvas.path([ring[:-1]], fill=fill, width=width, title=name)
                if name:
                    self.named.append((Polygon(ring), name))

    def line(self, points: Any, name: str, shift: float, metal: bool) -> None:
        """Draw a sheet or bent metal as a line, a little off the one beneath it."""
        shape = LineString(points).intersection(self.clip)
        for part in getattr(shape, "geoms", [shape]):
            if isinstance(part, LineString) and part.length > 1e-4:
                path = [self.xy(x, y) for x, y in part.coords]
                upright = all(abs(a[0] - b[0]) < 0.1 for a, b in pairwise(path))
                into = 1.0 if self.side == "sill" else -1.0  # what turns off the face lies on the side of the opening
                dx, dy = (-shift, 0.0) if upright else (0.0, into * shift)
                moved = [(x + dx, y + dy) for x, y in path]
                self.canvas.path([moved], width=1.7 if metal else 0.9, stroke=INK, closed=False, title=name)
                self.named.append((LineString(moved).buffer(0.6), name))

    def draw(self) -> None:
        """Put the cut on the canvas: what stands, layers and pieces, the unit, then figures and names."""
        row = self.row
        for layer in row["inside"]:
            self.area(_band(layer["from_m"], layer["to_m"], -WALL_M, 0.0), FILLS.get(layer["layer"], SHEET), layer["title"])
        shift: dict[bool, float] = {}
        lines = [c for c in row["sections"][self.side] if c["kind"] == "line"]
        for c in (c for c in row["sections"][self.side] if c["kind"] == "area"):
            name = self.view.product(c["product"]) if c["role"] in ("board", "siding", "furring") else _plain(c["role"], self.side)
            self.area(c["points"], FILLS.get(c["layer"], SHEET), name, 1.2 if c["role"] in ("buck", "return") else 0.7)
        self._unit()
        for c in lines:
            metal = c["layer"] == "flashing"
            upright = all(abs(a[0] - b[0]) < 1e-4 for a, b in pairwise(c["points"]))
            by = 0.0 if metal else shift.get(upright, STEP)
            if not metal:
                shift[upright] = by + STEP
            self.line(c["points"], _plain(c["role"], self.side), by, metal)
        self._figures()
        self._names()

    def _unit(self) -> None:
        unit, plane = self.row["unit"], self.row["plane_m"]
        base = {"sill": unit["sill_m"], "head": unit["head_m"], "jamb": unit["head_m"]}[self.side]
        low = base + unit["shim_m"]
        depth = unit["depth_m"] or 3 * INCH_M
        self.area(_band(-plane, depth - plane, low, low + unit["frame_m"]), UNIT, "unit", 1.4)
        inner = depth / 3
        self.area(_band(inner - plane, inner + 0.9 * INCH_M - plane, low + unit["frame_m"], OPEN_M), "#fff", "", 0.6)
        if unit["flange_m"]:
            self.line([(-plane, base - unit["flange_m"]), (-plane, low)], "flange", STEP * 0.6, True)

    def _figures(self) -> None:
        """Draw the chain of depths, and how far out the unit's face, the new face and the metal's lip are."""
        row, size = self.row, self.text
        y0 = self.xy(0, -WALL_M if self.side != "sill" else OPEN_M)[1]
        y1 = y0 + self.high_m * self.k
        marks = sorted({0.0, *(v[k] for v in row["layers"] for k in ("from_m", "to_m"))})
        at = y1 + size * 1.1
        self._chain([-m for m in reversed(marks)], at, y1)
        self._chain([*(v["from_m"] for v in row["inside"]), row["in_m"]], at, y1)
        y = at + size * 3.0
        for words, out in (("unit", row["plane_m"]), ("lip", row["reach_m"])):
            if out < 1e-4:
                continue
            a, b = self.xy(-out, 0)[0], self.xy(0, 0)[0]
            self.canvas.line((a, y), (b, y), stroke=SOFT)
            for x in (a, b):
                self.canvas.line((x, y - 3), (x, y + 3), stroke=SOFT)
            self.canvas.text((b + 4, y), f"{words} {said(self.view, out)} out", size, anchor="start", halo=False)
            y += size * 1.5

    def _chain(self, stops: list[float], y: float, top: float) -> None:
        wide_enough = 0.0
        for a, b in pairwise(stops):
            xa, xb = self.xy(a, 0)[0], self.xy(b, 0)[0]
            if xb - xa < 0.5:
                continue
            self.canvas.line((xa, y), (xb, y), stroke=SOFT)
            word = said(self.view, b - a)
            room = xb - xa > text_width(word, self.text * 0.92)
            wide_enough = wide_enough + 1 if not room else 0.0
            self.canvas.text(((xa + xb) / 2, y + self.text * (0.8 if room or wide_enough % 2 else 1.8)), word, self.text * 0.92, halo=False)
            for x in (xa, xb):
                self.canvas.line((x, top + 1), (x, y + 2.5), stroke=FAINT, width=0.4)

    def _names(self) -> None:
        x0, y0 = self.left - PAD * 0.6, self.top
        x1, y1 = self.xy(self.row["in_m"], 0)[0] + PAD * 0.6, self.top + self.high_m * self.k
        self.labels.keep_clear([s for s, _ in self.named], [])
        seen: set[str] = set()
        for shape, name in sorted(self.named, key=lambda e: -e[0].area):
            if name in seen:
                continue
            seen.add(name)
            if not self.labels.inside(shape, _short(name)):
                self.labels.leader(shape, _short(name), within=(x0, y0, x1, y1))


def said(view: View, metres: float) -> str:
    """Return a depth in the job's units. It is a difference of two figures rounded to 0.1 mm: that close to a mark it is on it."""
    mark = INCH_M / 16 if view.imperial else 0.001
    on_mark = round(metres / mark) * mark
    return view.length(on_mark if abs(on_mark - metres) <= 1.1e-4 else metres)


def _band(a: float, b: float, low: float, high: float) -> list[tuple[float, float]]:
    return [(a, low), (b, low), (b, high), (a, high)]


def _plain(role: str, side: str) -> str:
    """Return what a piece is called on a section: its role in plain words."""
    words = {
        "course": "barrier", "buck": "buck", "return": "sill board" if side == "sill" else "return", "foam-strip": "foam strip",
        "corner": "film", "sill-pan": "pan of film", "casing": "casing",
    }  # fmt: skip
    return words.get(role, role.replace("-", " "))


def _short(name: str) -> str:
    return name.split(",")[0].lower() if len(name) > 14 else name.lower()


def section_drawing(view: View, row: Row, style_width: float, font: str, text: float, paper: bool) -> tuple[str, float, float]:
    """Return (SVG, width, height) of an opening's three sections, drawn to scale: one unit is a point on paper."""
    cell = (style_width - 2 * PAD) / 3
    deep = row["reach_m"] + MARGIN_M + row["in_m"]
    one_to, imperial, metric = next((s for s in SCALES if deep * POINTS_PER_M / s[0] <= cell - 4.0), SCALES[-1])
    k = POINTS_PER_M / one_to
    canvas = Canvas(style_width, font, paper=paper)
    for n, side in enumerate(SIDES):
        left = PAD + n * cell
        canvas.text((left + cell / 2 - PAD / 2, text * 0.8), TITLES[side], text * 1.1, bold=True, halo=False)
        _Cut(view, row, side, canvas, (left, text * 2.2), k, text).draw()
    high = text * 2.2 + (WALL_M + OPEN_M) * k + text * 7.6
    canvas.height = high
    scale = imperial if view.imperial else metric
    canvas.text((PAD, high - text * 0.8), f"Weather at the left. Scale {scale}.", text, anchor="start", color=SOFT, halo=False)
    words = f"{row['opening']} on {row['surface']}: sections at head, jamb and sill; the unit sits {row['position']}."
    return canvas.svg(f"{row['place']}: sections", words), style_width, high

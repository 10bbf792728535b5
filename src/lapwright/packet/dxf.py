"""Writes one sheet as DXF (release R2010), in inches or millimeters as the job is taped.

Layers have plain names: `outline`, `openings`, `penetrations`, `attachments`, `keep`, `laps`, `chalk`,
`dimensions`, `marks`, and one per trade layer (`barrier`, `strip`, `tape` ...) that holds the pieces as closed polylines.

ezdxf makes an empty file with its tables once: the layers are those of all trades of the job. What is drawn is plain (polylines, lines,
words) and there is much of it: it is written as text into the section of entities, which takes a fifth of the time.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from functools import lru_cache

from ezdxf import options  # type: ignore[attr-defined]  # public, but not listed in its __all__
from ezdxf import units as dxf_units
from ezdxf.filemanagement import new
from shapely import contains_xy

from lapwright.geometry import from_rings
from lapwright.packet.sheets import Sheet
from lapwright.packet.view import Row, View

MM_PER_M = 1000.0
IN_PER_M = 1 / 0.0254
TEXT_M = 0.09  # height of words in the drawing: 3-1/2 in, readable when a wall fills a page
LETTER = 0.85  # width of a letter in parts of its height, on the wide side
LEAST_MARK = 0.12  # the smallest mark in parts of TEXT_M: 11 mm
# layer: (AutoCAD color index, line weight in 1/100 mm). Colors print black; the weight carries the meaning.
FIXED_LAYERS = {
    "outline": (7, 70),
    "openings": (7, 35),
    "penetrations": (7, 35),
    "attachments": (7, 50),
    "keep": (8, 18),
    "laps": (8, 13),
    "chalk": (5, 18),
    "dimensions": (8, 13),
    "marks": (7, 18),
}


# Group codes of the release (AutoCAD 2010): 5 handle, 330 owner, 8 layer; 90 count of points, 70 whether closed.
ENTITY = "  0\n{kind}\n  5\n{handle:X}\n330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n"
POLYLINE = "100\nAcDbPolyline\n 90\n{count}\n 70\n{closed}\n"
POINT = " 10\n%.6f\n 20\n%.6f\n"
LINE = "100\nAcDbLine\n 10\n{:.6f}\n 20\n{:.6f}\n 30\n0.0\n 11\n{:.6f}\n 21\n{:.6f}\n 31\n0.0\n"
# 40 height, 1 the words, 50 the turn in degrees; 72 and 73: the second point (11, 21) is the middle of the word.
TEXT = (
    "100\nAcDbText\n 10\n{x:.6f}\n 20\n{y:.6f}\n 30\n0.0\n 40\n{high:.6f}\n  1\n{words}\n 50\n{turn}\n 72\n1\n"
    " 11\n{x:.6f}\n 21\n{y:.6f}\n 31\n0.0\n100\nAcDbText\n 73\n2\n"
)
LINE_ENDS = {ord(c): " " for c in "\n\r"}  # a value is one line


def dxf(view: View, sheet: Sheet) -> str:
    """Return the sheet as the text of a DXF file. Same document, same bytes.

    Only pieces on the face's own plane are drawn: a sill or jamb leg has no place in an elevation.
    """
    return _Writer(view, sheet).text()


def profile_dxf(view: View, row: Row) -> str:
    """Return a bent profile as the text of a DXF file: the blank of the longest piece, and the end view beside it.

    row: a row of plan.json `metal.profiles`. The blank is on layer `flat`, its wall edge at y = 0; the middle of each bend is a line on
    `bends` with its number; the finished outside faces are on `profile`, below the blank; all at full size.
    """
    return _Profile(view, row).text()


@lru_cache(maxsize=64)
def _empty(imperial: bool, trade: tuple[str, ...]) -> tuple[str, str, str, str, int]:
    """Return an empty drawing in four parts, its modelspace's handle in front of the last two, and the first free handle.

    The parts: up to the next free handle, up to the entities, the owner of entities, the rest.
    """
    # ezdxf stamps the clock and random ids, when it makes a file and when it writes it, unless told not to
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        doc = new("R2010", units=dxf_units.IN if imperial else dxf_units.MM)
        doc.header["$MEASUREMENT"] = 0 if imperial else 1
        for name, (color, weight) in {**FIXED_LAYERS, **{t: (7, 50) for t in trade}}.items():
            doc.layers.add(name, color=color, lineweight=weight)
        # the classes in use come out of a set: name them in a fixed order first
        for name in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(name)
        out = io.StringIO(newline="\n")
        doc.write(out)
    finally:
        options.write_fixed_meta_data_for_testing = before
    found = re.fullmatch(
        r"(.*?\$HANDSEED\n  5\n)([0-9A-F]+)(\n.*?\n  2\nENTITIES\n)(.*)", out.getvalue(), flags=re.DOTALL
    )
    assert found is not None  # the release says so
    return found[1], found[3], doc.modelspace().layout_key, found[4], int(found[2], 16)


class _Drawing:
    """A drawing under way; what it shows is in metres."""

    def __init__(self, view: View, trade: tuple[str, ...]) -> None:
        self.view = view
        self.k = IN_PER_M if view.imperial else MM_PER_M
        self.head, self.middle, self.owner, self.rest, self.handle = _empty(view.imperial, trade)
        self.written: list[str] = []

    def _whole(self) -> str:
        return "".join((self.head, f"{self.handle:X}", self.middle, *self.written, self.rest))

    def _add(self, kind: str, layer: str, body: str) -> None:
        self.written.append(ENTITY.format(kind=kind, handle=self.handle, owner=self.owner, layer=layer) + body)
        self.handle += 1

    def _line(self, points: Sequence[Sequence[float]], layer: str, closed: bool = False) -> None:
        """Write a polyline of points in metres; the last point of a closed one is not the first."""
        k = self.k
        flat = tuple(v * k for p in points for v in (p[0], p[1]))
        head = POLYLINE.format(count=len(points), closed=int(closed))
        self._add("LWPOLYLINE", layer, head + (POINT * len(points)) % flat)

    def _straight(self, x0: float, y0: float, x1: float, y1: float, layer: str) -> None:
        self._add("LINE", layer, LINE.format(*(v * self.k for v in (x0, y0, x1, y1))))

    def _rings(self, polygon: Sequence[Sequence[Sequence[float]]], layer: str) -> None:
        for ring in polygon:
            self._line(ring[:-1], layer, closed=True)

    def _word(self, words: str, x: float, y: float, layer: str, size: float = 1.0, turn: float = 0.0) -> None:
        k = self.k
        plain = words.translate(LINE_ENDS)
        self._add("TEXT", layer, TEXT.format(x=x * k, y=y * k, high=TEXT_M * k * size, words=plain, turn=turn))


class _Writer(_Drawing):
    def __init__(self, view: View, sheet: Sheet) -> None:
        super().__init__(view, view.once(("trades",), lambda: tuple(sorted({p["layer"] for p in view.doc["pieces"]}))))
        self.sheet = sheet
        self.surface = view.surfaces[sheet.surface]
        self.marked: set[str] = set()
        self.taken: list[tuple[float, float, float, float]] = []  # by words, metres

    def text(self) -> str:
        self._what_stands()
        self._pieces()
        self._chalk()
        return self._whole()

    def _what_stands(self) -> None:
        self._rings(self.surface["outline"], "outline")
        for opening in self.surface["openings"]:
            shape = from_rings(opening["polygon"])
            self._rings(opening["polygon"], "openings")
            self._word(opening["id"], shape.centroid.x, shape.centroid.y, "openings", 1.4)
            half = 0.7 * TEXT_M * len(opening["id"]) * LETTER
            x, y = shape.centroid.x, shape.centroid.y
            self.taken.append((x - half, y - TEXT_M, x + half, y + TEXT_M))
        for pen in self.surface["penetrations"]:
            shape = from_rings(pen["polygon"])
            self._rings(pen["polygon"], "penetrations")
            self._word(pen["id"], shape.centroid.x, shape.bounds[3] + TEXT_M, "penetrations")
            half = LETTER * TEXT_M * len(pen["id"]) / 2
            x, y = shape.centroid.x, shape.bounds[3] + TEXT_M
            self.taken.append((x - half, y - TEXT_M / 2, x + half, y + TEXT_M / 2))
        for thing in self.surface.get("attachments") or []:
            if thing.get("polygon"):
                self._rings(thing["polygon"], "attachments")
            self._line(thing["line"], "attachments")
            (ax, ay), (bx, by) = thing["line"][0], thing["line"][-1]
            self._word(thing["id"], (ax + bx) / 2, (ay + by) / 2 + TEXT_M, "attachments")
        for zone in self.surface["zones"]:
            if zone["decision"] == "keep":
                self._rings(zone["polygon"], "keep")
                at = from_rings(zone["polygon"]).representative_point()
                self._word("KEEP", at.x, at.y, "keep", 1.4)

    def _pieces(self) -> None:
        shown = set()
        for piece in self.sheet.pieces:
            if piece["plane"] != "face":
                continue
            shown.add(piece["id"])
            self._rings(piece["polygon"], piece["layer"])
            self._mark(piece)
        for lap in self.view.laps_on.get(self.sheet.surface, []):
            if lap["over"] in shown and lap["under"] in shown:
                self._rings(lap["polygon"], "laps")

    def _mark(self, piece: Row) -> None:
        """Write a mark once, inside its piece, where no other mark stands; small on a small piece."""
        mark, shape = self.view.marks[piece["id"]], self.view.shape(piece["id"])
        if mark in self.marked:
            return
        self.marked.add(mark)
        x0, y0, x1, y1 = shape.bounds
        middle = self.view.middle(piece["id"])
        size = min(1.0, (x1 - x0) / (LETTER * TEXT_M * len(mark)), (y1 - y0) / (1.3 * TEXT_M))
        sizes = [max(s, LEAST_MARK) for s in (size, size * 0.6, size * 0.4)]
        for scale in sizes:
            wide, high = LETTER * TEXT_M * len(mark) * scale, 1.2 * TEXT_M * scale
            across = [x0 + (x1 - x0) * f for f in (0.5, 0.15, 0.85, 0.3, 0.7)]
            up = [y0 + (y1 - y0) * f for f in (0.5, 0.08, 0.92, 0.25, 0.75)]
            for n, (x, y) in enumerate([(middle.x, middle.y), *((x, y) for y in up for x in across)]):
                word = (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
                if any(word[0] < b[2] and b[0] < word[2] and word[1] < b[3] and b[1] < word[3] for b in self.taken):
                    continue
                if n == 0 or contains_xy(shape, x, y):
                    self.taken.append(word)
                    self._word(mark, x, y, "marks", scale)
                    return
        self._word(mark, middle.x, middle.y, "marks", sizes[-1])

    def _chalk(self) -> None:
        """Chalk lines, each with its height above the reference line, and the width of the whole."""
        x0, low, x1, _ = from_rings(self.surface["outline"]).bounds
        for i, line in enumerate(self.sheet.lines):
            y = line["y_m"]
            self._straight(line["x_from_m"], y, line["x_to_m"], y, "chalk")
            if abs(y) > 1e-6:
                self._distance((x0, 0), (x0, y), x0 - 0.3 - 0.25 * i, self.view.length(y), upright=True)
        self._distance((x0, low), (x1, low), low - 0.4, self.view.length(x1 - x0), upright=False)

    def _distance(
        self, a: tuple[float, float], b: tuple[float, float], base: float, words: str, *, upright: bool
    ) -> None:
        """Write a measure between two points along a base line beside them, with a stroke at each end."""
        tick = TEXT_M * 0.4
        ends = [(base, p[1]) if upright else (p[0], base) for p in (a, b)]
        for (x, y), (ex, ey) in zip((a, b), ends, strict=True):
            self._straight(x, y, ex, ey, "dimensions")
            self._straight(ex - tick, ey - tick, ex + tick, ey + tick, "dimensions")
        self._straight(*ends[0], *ends[1], "dimensions")
        x, y = (ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2
        aside = TEXT_M * 0.8
        if upright:
            self._word(words, x - aside, y, "dimensions", turn=90.0)
        else:
            self._word(words, x, y + aside, "dimensions")


class _Profile(_Drawing):
    """The blank and the end view of one profile. Words are as tall as fits a strip of metal."""

    APART_M = 0.05

    def __init__(self, view: View, row: Row) -> None:
        super().__init__(view, ("flat", "bends", "profile"))
        self.row = row

    def text(self) -> str:
        row = self.row
        wide = float(row["developed_m"])
        long = float(row["longest_m"] or wide)
        self._line([(0, 0), (long, 0), (long, wide), (0, wide)], "flat", closed=True)
        high = max(0.08 * wide, 0.012 * long)
        size = high / TEXT_M
        words = f"{row['title']}: flat {self.view.length(wide)}, {row['pieces']} of them, the longest {self.view.length(long)}"
        self._word(words, long / 2, wide + 2 * high, "dimensions", size)
        for n, at in enumerate(row["bend_lines_m"], 1):
            self._straight(0, at, long, at, "bends")
            self._word(f"{n}: {self.view.length(at)}", -11 * high * (n % 2) - 6 * high, at, "dimensions", size)
        points = row["folded"]
        left, top = min(p[0] for p in points), max(p[1] for p in points)
        down = -self.APART_M - top
        self._line([(x - left, y + down) for x, y in points], "profile")
        legs = " + ".join(self.view.length(v) for v in row["legs_m"])
        low = min(p[1] for p in points) + down
        self._word(f"outside legs {legs}", long / 2, low - 2 * high, "dimensions", size)
        return self._whole()


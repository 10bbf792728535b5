"""Writes one sheet as DXF (release R2010), in inches or millimeters as the job is taped.

Layers have plain names: `outline`, `openings`, `penetrations`, `attachments`, `keep`, `laps`, `chalk`,
`dimensions`, `marks`, and one per trade layer (`barrier`, `strip`, `tape` ...) that holds the pieces as closed polylines.

ezdxf makes the file, its tables and the dimensions. Polylines and words are plain and many: they are written as text
into its section of entities, which takes a third of the time.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from ezdxf import options  # type: ignore[attr-defined]  # public, but not listed in its __all__
from ezdxf import units as dxf_units
from ezdxf.document import Drawing
from ezdxf.filemanagement import new

from lapwright.geometry import from_rings
from lapwright.packet.sheets import Sheet
from lapwright.packet.view import View

MM_PER_M = 1000.0
IN_PER_M = 1 / 0.0254
TEXT_M = 0.09  # height of words in the drawing: 3-1/2 in, readable when a wall fills a page
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
POLYLINE = "  0\nLWPOLYLINE\n  5\n{handle}\n330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n100\nAcDbPolyline\n 90\n{count}\n 70\n{closed}\n"
POINT = " 10\n%.6f\n 20\n%.6f\n"
# 40 height, 1 the words; 72 and 73: the second point (11, 21) is the middle of the word.
TEXT = (
    "  0\nTEXT\n  5\n{handle}\n330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n100\nAcDbText\n 10\n{x:.6f}\n 20\n{y:.6f}\n"
    " 30\n0.0\n 40\n{high:.6f}\n  1\n{words}\n 72\n1\n 11\n{x:.6f}\n 21\n{y:.6f}\n 31\n0.0\n100\nAcDbText\n 73\n2\n"
)
LINE_ENDS = {ord(c): " " for c in "\n\r"}  # a value is one line
ENTITIES = "  2\nENTITIES\n"


def dxf(view: View, sheet: Sheet) -> str:
    """Return the sheet as the text of a DXF file. Same document, same bytes.

    Only pieces on the face's own plane are drawn: a sill or jamb leg has no place in an elevation.
    """
    # ezdxf stamps the clock and random ids, when it makes a file and when it writes it, unless told not to
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        return _Writer(view, sheet).text()
    finally:
        options.write_fixed_meta_data_for_testing = before


class _Writer:
    def __init__(self, view: View, sheet: Sheet) -> None:
        self.view, self.sheet = view, sheet
        self.surface = view.surfaces[sheet.surface]
        self.k = IN_PER_M if view.imperial else MM_PER_M
        self.doc: Drawing = new("R2010", units=dxf_units.IN if view.imperial else dxf_units.MM)
        self.doc.header["$MEASUREMENT"] = 0 if view.imperial else 1
        self.space = self.doc.modelspace()
        self.written: list[str] = []
        self._styles()

    def text(self) -> str:
        self._what_stands()
        self._pieces()
        self._chalk()
        # the classes in use come out of a set: name them in a fixed order first
        for name in sorted(self.doc.entitydb.dxf_types_in_use()):
            self.doc.classes.add_class(name)
        out = io.StringIO(newline="\n")
        self.doc.write(out)
        before, head, after = out.getvalue().partition(ENTITIES)
        return "".join((before, head, *self.written, after))

    def _styles(self) -> None:
        trade = dict.fromkeys(p["layer"] for p in self.sheet.pieces)
        for name, (color, weight) in {**FIXED_LAYERS, **{t: (7, 50) for t in trade}}.items():
            self.doc.layers.add(name, color=color, lineweight=weight)
        style: Any = self.doc.dimstyles.new("chalk")
        style.dxf.dimtxt = TEXT_M * self.k
        style.dxf.dimasz = TEXT_M * self.k * 0.6
        style.dxf.dimexe = TEXT_M * self.k * 0.4
        style.dxf.dimexo = TEXT_M * self.k * 0.4
        style.dxf.dimgap = TEXT_M * self.k * 0.3
        style.dxf.dimtad = 0

    def _line(self, points: Sequence[Sequence[float]], layer: str, closed: bool = False) -> None:
        """Write a polyline of points in metres; the last point of a closed one is not the first."""
        k = self.k
        head = POLYLINE.format(**self._entity(layer), count=len(points), closed=int(closed))
        self.written.append(head + (POINT * len(points)) % tuple(v * k for p in points for v in (p[0], p[1])))

    def _rings(self, polygon: Sequence[Sequence[Sequence[float]]], layer: str) -> None:
        for ring in polygon:
            self._line(ring[:-1], layer, closed=True)

    def _word(self, words: str, x: float, y: float, layer: str, size: float = 1.0) -> None:
        k = self.k
        plain = words.translate(LINE_ENDS)
        text = TEXT.format(**self._entity(layer), x=x * k, y=y * k, high=TEXT_M * k * size, words=plain)
        self.written.append(text)

    def _entity(self, layer: str) -> dict[str, str]:
        return {"handle": self.doc.entitydb.next_handle(), "owner": self.space.layout_key, "layer": layer}

    def _what_stands(self) -> None:
        self._rings(self.surface["outline"], "outline")
        for opening in self.surface["openings"]:
            shape = from_rings(opening["polygon"])
            self._rings(opening["polygon"], "openings")
            self._word(opening["id"], shape.centroid.x, shape.centroid.y, "openings", 1.4)
        for pen in self.surface["penetrations"]:
            shape = from_rings(pen["polygon"])
            self._rings(pen["polygon"], "penetrations")
            self._word(pen["id"], shape.centroid.x, shape.bounds[3] + TEXT_M, "penetrations")
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
            at = self.view.middle(piece["id"])
            self._word(self.view.marks[piece["id"]], at.x, at.y, "marks")
        for lap in self.view.laps_on.get(self.sheet.surface, []):
            if lap["over"] in shown and lap["under"] in shown:
                self._rings(lap["polygon"], "laps")

    def _chalk(self) -> None:
        x0, _, x1, _ = from_rings(self.surface["outline"]).bounds
        k = self.k
        for i, line in enumerate(self.sheet.lines):
            y = line["y_m"]
            self.space.add_line(
                (line["x_from_m"] * k, y * k), (line["x_to_m"] * k, y * k), dxfattribs={"layer": "chalk"}
            )
            if abs(y) < 1e-6:
                continue
            dim = self.space.add_linear_dim(
                base=((x0 - 0.3 - 0.25 * i) * k, 0),
                p1=(x0 * k, 0),
                p2=(x0 * k, y * k),
                angle=90,
                text=self.view.length(y),
                dimstyle="chalk",
                dxfattribs={"layer": "dimensions"},
            )
            dim.render()
        low = from_rings(self.surface["outline"]).bounds[1]
        self.space.add_linear_dim(
            base=(0, (low - 0.4) * k),
            p1=(x0 * k, low * k),
            p2=(x1 * k, low * k),
            text=self.view.length(x1 - x0),
            dimstyle="chalk",
            dxfattribs={"layer": "dimensions"},
        ).render()

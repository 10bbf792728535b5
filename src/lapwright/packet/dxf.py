"""Writes one sheet as DXF (release R2010), in inches or millimeters as the job is taped.

Layers have plain names: `outline`, `openings`, `penetrations`, `attachments`, `keep`, `laps`, `chalk`,
`dimensions`, `marks`, and one per trade layer (`barrier`, `strip`, `tape` ...) that holds the pieces as closed polylines.
"""

from __future__ import annotations

import io
from typing import Any

from ezdxf import options  # type: ignore[attr-defined]  # public, but not listed in its __all__
from ezdxf import units as dxf_units
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from shapely import Polygon

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
        return out.getvalue()

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

    def _rings(self, poly: Polygon, layer: str) -> None:
        for ring in (poly.exterior, *poly.interiors):
            points = [(x * self.k, y * self.k) for x, y, *_ in list(ring.coords)[:-1]]
            self.space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})

    def _word(self, words: str, x: float, y: float, layer: str, size: float = 1.0) -> None:
        text = self.space.add_text(words, height=TEXT_M * self.k * size, dxfattribs={"layer": layer})
        text.set_placement((x * self.k, y * self.k), align=TextEntityAlignment.MIDDLE_CENTER)

    def _what_stands(self) -> None:
        self._rings(from_rings(self.surface["outline"]), "outline")
        for opening in self.surface["openings"]:
            shape = from_rings(opening["polygon"])
            self._rings(shape, "openings")
            self._word(opening["id"], shape.centroid.x, shape.centroid.y, "openings", 1.4)
        for pen in self.surface["penetrations"]:
            shape = from_rings(pen["polygon"])
            self._rings(shape, "penetrations")
            self._word(pen["id"], shape.centroid.x, shape.bounds[3] + TEXT_M, "penetrations")
        for thing in self.surface.get("attachments") or []:
            if thing.get("polygon"):
                self._rings(from_rings(thing["polygon"]), "attachments")
            points = [(x * self.k, y * self.k) for x, y in thing["line"]]
            self.space.add_lwpolyline(points, dxfattribs={"layer": "attachments"})
            (ax, ay), (bx, by) = thing["line"][0], thing["line"][-1]
            self._word(thing["id"], (ax + bx) / 2, (ay + by) / 2 + TEXT_M, "attachments")
        for zone in self.surface["zones"]:
            if zone["decision"] == "keep":
                shape = from_rings(zone["polygon"])
                self._rings(shape, "keep")
                at = shape.representative_point()
                self._word("KEEP", at.x, at.y, "keep", 1.4)

    def _pieces(self) -> None:
        shown = set()
        for piece in self.sheet.pieces:
            if piece["plane"] != "face":
                continue
            shown.add(piece["id"])
            shape = self.view.shape(piece["id"])
            self._rings(shape, piece["layer"])
            at = shape.centroid if shape.contains(shape.centroid) else shape.representative_point()
            self._word(self.view.marks[piece["id"]], at.x, at.y, "marks")
        for lap in self.view.rows("laps"):
            if lap["surface"] == self.sheet.surface and lap["over"] in shown and lap["under"] in shown:
                self._rings(from_rings(lap["polygon"]), "laps")

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

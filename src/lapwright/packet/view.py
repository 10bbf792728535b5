"""A reader over the plan document: look-ups, short marks, lengths in the job's units, plain titles."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, TypeVar

from shapely import Point, Polygon

from lapwright.geometry import from_rings
from lapwright.lengths import show_length
from lapwright.packet.marks import LONGEST_TAG, marks

Row = Mapping[str, Any]
T = TypeVar("T")
NOT_GIVEN = "not given"
SIXTEENTH_M = 0.0254 / 16
ROUNDED_M = 0.51e-4  # half of the contract's 0.1 mm, and a hair

STATES = {
    "before": "set before the barrier",
    "after": "set after the barrier",
    "kept": "kept",
    "insert": "new in the old frame",
}
STATE_WORDS = {"before": "set before", "after": "set after", "kept": "kept", "insert": "insert"}
DECISIONS = {"keep": "KEEP", "remove": "tear off", "cover": "cover"}


class View:
    """Reads one plan document. `doc` is a plain dict in the shape of plan.json and is never changed."""

    def __init__(self, doc: Mapping[str, Any]) -> None:
        self.doc = doc
        self.units: str = doc["job"].get("units") or "metric"
        self.surfaces: dict[str, Row] = {s["id"]: s for s in doc["surfaces"]}
        self.pieces: dict[str, Row] = {p["id"]: p for p in doc["pieces"]}
        self.cuts: dict[str, Row] = {c["id"]: c for c in doc["cuts"]}
        self.stock: dict[str, Row] = {s["id"]: s for s in doc["stock"]}
        self.marks = marks(doc["pieces"])
        self._shapes: dict[str, Polygon] = {}
        self._lengths: dict[float, str] = {}
        self._once: dict[tuple[object, ...], Any] = {}

    def once(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what was made under that key before, or make it now and keep it."""
        if key not in self._once:
            self._once[key] = make()
        return self._once[key]  # type: ignore[no-any-return]

    @property
    def imperial(self) -> bool:
        """Whether the job is taped in feet and inches."""
        return self.units == "imperial"

    def rows(self, key: str) -> list[Row]:
        """Return a list of the document, empty when it is missing."""
        return list(self.doc.get(key) or [])

    @property
    def stops(self) -> list[Row]:
        """The findings that say: do not build this."""
        return [f for f in self.doc["findings"] if f["level"] == "stop"]

    def length(self, metres: float) -> str:
        """Return a length in the job's units, as a carpenter reads it.

        The document is rounded to 0.1 mm: a value that close to a mark on the tape is on the mark.
        """
        if metres not in self._lengths:
            self._lengths[metres] = self._said(metres)
        return self._lengths[metres]

    def _said(self, metres: float) -> str:
        if self.units != "imperial":
            return show_length(metres, "metric")
        on_mark = round(metres / SIXTEENTH_M) * SIXTEENTH_M
        return show_length(on_mark if abs(on_mark - metres) <= ROUNDED_M else metres, "imperial")

    def size(self, width_m: float, height_m: float) -> str:
        """Return `width × height` in the job's units."""
        return f"{self.length(width_m)} × {self.length(height_m)}"

    def figures(self, lengths: str) -> str:
        """Return lengths for a table whose head names the unit: millimeters without their word; feet and inches as they are."""
        return lengths if self.imperial else lengths.replace(" mm", "")

    def product(self, product_id: str | None) -> str:
        """Return a product's title, or its id when the document has no title for it."""
        if product_id is None:
            return ""
        entry = (self.doc.get("products") or {}).get(product_id)
        return str(entry["title"]) if entry and entry.get("title") else product_id

    def layer_title(self, layer: str) -> str:
        """Return the title of a layer, or its plain word."""
        titles: Mapping[str, str] = self.doc.get("layers") or {}
        return titles.get(layer) or layer.capitalize()

    def shape(self, piece_id: str) -> Polygon:
        """Return a piece's polygon in its plane's coordinates, metres."""
        if piece_id not in self._shapes:
            self._shapes[piece_id] = from_rings(self.pieces[piece_id]["polygon"])
        return self._shapes[piece_id]

    def middle(self, piece_id: str) -> Point:
        """Return a point inside a piece, its middle where that lies inside, metres."""
        shape = self.shape(piece_id)
        middle = shape.centroid
        return middle if shape.contains(middle) else shape.representative_point()

    @cached_property
    def laps_on(self) -> dict[str, list[Row]]:
        """Laps by surface, in the order of the document."""
        out: dict[str, list[Row]] = {}
        for lap in self.doc["laps"]:
            out.setdefault(lap["surface"], []).append(lap)
        return out

    @cached_property
    def checks_of(self) -> dict[str, list[Row]]:
        """Checks by step, in the order of the document."""
        out: dict[str, list[Row]] = {}
        for check in self.rows("checks"):
            out.setdefault(check["step"], []).append(check)
        return out

    @cached_property
    def names(self) -> dict[str, frozenset[str]]:
        """What things are called, by surface: openings, penetrations, attachments, and the places of steps."""
        kinds = ("openings", "penetrations", "attachments")
        out = {s["id"]: {str(t["id"]) for k in kinds for t in s.get(k) or []} for s in self.surfaces.values()}
        for step in self.rows("steps"):
            surface, _, thing = step["place"].partition("/")
            if thing and surface in out:
                out[surface].add(thing.split("/", 1)[0])
        return {surface: frozenset(names) for surface, names in out.items()}

    @cached_property
    def pieces_of_cut(self) -> dict[str, list[Row]]:
        """Pieces by the cut they are folded from, in order of installation."""
        out: dict[str, list[Row]] = {}
        for piece in self.doc["pieces"]:
            if piece["cut"]:
                out.setdefault(piece["cut"], []).append(piece)
        return out

    @cached_property
    def pieces_on(self) -> dict[str, list[Row]]:
        """Pieces by surface, in order of installation."""
        out: dict[str, list[Row]] = {s: [] for s in self.surfaces}
        for piece in sorted(self.doc["pieces"], key=lambda p: (p["installed"], p["id"])):
            out.setdefault(piece["surface"], []).append(piece)
        return out

    @cached_property
    def cuts_on(self) -> dict[str, list[Row]]:
        """Cuts by stock unit, from the left end, then from the near edge."""
        out: dict[str, list[Row]] = {s: [] for s in self.stock}
        for cut in self.doc["cuts"]:
            if cut["stock"]:
                out.setdefault(cut["stock"], []).append(cut)
        for cuts in out.values():
            cuts.sort(key=lambda c: (c["along_m"], c["across_m"], c["id"]))
        return out

    @cached_property
    def laps_under(self) -> dict[str, list[Row]]:
        """Laps by the piece that lies under."""
        out: dict[str, list[Row]] = {}
        for lap in self.doc["laps"]:
            out.setdefault(lap["under"], []).append(lap)
        return out

    @cached_property
    def laps_over(self) -> dict[str, list[Row]]:
        """Laps by the piece that lies over."""
        out: dict[str, list[Row]] = {}
        for lap in self.doc["laps"]:
            out.setdefault(lap["over"], []).append(lap)
        return out

    @cached_property
    def files(self) -> dict[str, str]:
        """File names of surfaces and stock units, without folder and ending: `/` becomes `-`."""
        out: dict[str, str] = {}
        for ids in (self.surfaces, self.stock):
            taken: set[str] = set()
            for name in ids:
                plain = re.sub(r"[/\\\x00-\x1f]", "-", name).lstrip(".") or "x"
                while plain.casefold() in taken:
                    plain += "-2"
                taken.add(plain.casefold())
                out[name] = plain
        return out

    @cached_property
    def tags(self) -> dict[str, str]:
        """Short names of the products that are cut, `sas` for a self-adhered sheet, `t1x4`; no two alike."""
        out: dict[str, str] = {}
        for product in dict.fromkeys(s["product"] for s in self.stock.values()):
            words = [w for w in re.split(r"[^0-9A-Za-z]+", product) if w] or ["x"]
            short = words[0][:LONGEST_TAG] if len(words) == 1 else "".join(w if w[0].isdigit() else w[0] for w in words)
            name, extra = short.lower(), 1
            while name in out.values():
                extra += 1
                name = f"{short.lower()}{'-' if short[-1].isdigit() else ''}{extra}x"
            out[product] = name
        return out

    @cached_property
    def rolls(self) -> dict[str, str]:
        """Short names of the stock units: the product's short name and the unit's number, `sas2` for the second roll."""
        out: dict[str, str] = {}
        taken: set[str] = set()
        for stock_id, stock in self.stock.items():
            short = self.tags[stock["product"]]
            number = stock_id.rpartition("/")[2].removeprefix("r").lstrip("0") or "0"
            name = f"{short}{'-' if short[-1:].isdigit() else ''}{number}"
            while name in taken:
                name += "x"
            taken.add(name)
            out[stock_id] = name
        return out

    def cut_label(self, cut_id: str) -> str:
        """Return where a cut goes: `front B3.2`, or `front B3.2 + right B3.1` round a corner."""
        seen = dict.fromkeys(f"{p['surface']} {self.marks[p['id']]}" for p in self.pieces_of_cut.get(cut_id, []))
        return " + ".join(seen) or cut_id

    def role(self, piece: Row) -> str:
        """Return what a piece is, in words."""
        return str(piece["role"] or piece["layer"]).replace("-", " ").replace("_", " ")

    def place(self, place_id: str) -> str:
        """Return a place in words: the surface, then the thing.

        A place id is `surface/thing`; a place without a surface stands for itself.
        """
        surface, _, thing = place_id.partition("/")
        return f"{surface}: {thing.replace('/', ' ')}" if thing else surface

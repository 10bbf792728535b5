"""Writes a believable plan document: gabled faces, openings in four states, courses, laps, rolls.

It stands in for `lapwright.plan` so that the packet can be tested alone, and it knows nothing of the
packet. Shapes are made with shapely from a few tape measures in inches; nothing here is a trade rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from shapely import Polygon
from shapely.affinity import rotate, translate
from shapely.geometry import mapping

IN = 0.0254
ROLL_W, ROLL_L = 60 * IN, 75 * 12 * IN
Doc = dict[str, Any]


@dataclass(frozen=True)
class Written:
    """A plan document and the folder that its packet was written to."""

    doc: Doc
    out: Path
    files: list[Path]


def rect(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    return Polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def rings(poly: Polygon) -> list[list[list[float]]]:
    shape = mapping(poly)
    return [[[round(x, 4), round(y, 4)] for x, y in ring] for ring in shape["coordinates"]]


def finding(code: str, level: str, what: str, why: str, fix: str, **where: Any) -> Doc:
    return {
        "code": code,
        "level": level,
        "where": where,
        "what": what,
        "why": why,
        "fix": fix,
        "source": "common practice",
        "changes": [],
    }


class House:
    """Collects one plan document."""

    def __init__(self, units: str = "imperial", faces: int = 4, stop: bool = False) -> None:
        self.units = units
        self.when = 0
        self.cursor: dict[str, tuple[int, float, float, float]] = {}
        names = ["front", "right", "back", "left", *[f"wing-{i}" for i in range(1, 20)]][:faces]
        self.doc: Doc = {
            "version": "0.1.0",
            "job": {
                "name": "Alder Row",
                "units": units,
                "place": "Boston MA",
                "reference_line": "top of the block at the front left corner",
                "cautions": [
                    "House built 1924: lead paint is likely. Certified firm above 20 sq ft outside "
                    "(40 CFR 745.85). Check your local code.",
                    "Power drop at the left face: stay 10 ft off unless it is insulated (29 CFR 1926.451(f)(6)).",
                ],
                "currency": "USD",
            },
            "products": self.products(),
            "surfaces": [],
            "pieces": [],
            "cuts": [],
            "stock": [],
            "laps": [],
            "steps": [],
            "checks": [],
            "order": [],
            "bounds": [],
            "lines": [],
            "findings": [],
            "edges": [],
            "ties": [],
        }
        for i, name in enumerate(names):
            self.face(name, i, names)
        self.finish(stop)

    def products(self) -> Doc:
        def value(v: Any, unit: str = "m", source: str = "common practice") -> Doc:
            return {"value": v, "unit": unit, "source": source}

        return {
            "membrane-sa": {
                "title": "Self-adhered vapor-open membrane",
                "form": "roll",
                "layer": "barrier",
                "values": {"width_m": value(ROLL_W), "length_m": value(ROLL_L), "t_min_C": value(4.4, "C")},
            },
            "strip-sa": {
                "title": "Self-adhered flashing strip, 9 in",
                "form": "roll",
                "layer": "strip",
                "values": {"width_m": value(9 * IN), "length_m": value(75 * 12 * IN)},
            },
            "tape-4": {
                "title": "Acrylic tape, 4 in",
                "form": "roll",
                "layer": "tape",
                "values": {"width_m": value(4 * IN), "length_m": value(100 * 12 * IN)},
            },
            "head-metal": {
                "title": "Head flashing, bent metal",
                "form": "length",
                "layer": "flashing",
                "values": {"length_m": value(10 * 12 * IN), "width_m": value(7 * IN)},
            },
            "mat-10": {
                "title": "Drainage mat, 3/8 in",
                "form": "roll",
                "layer": "mat",
                "values": {"width_m": value(39 * IN), "length_m": value(50 * 12 * IN)},
            },
            "furring-1x3": {
                "title": "Furring 1x3",
                "form": "length",
                "layer": "furring",
                "values": {"length_m": value(12 * 12 * IN), "width_m": value(2.5 * IN)},
            },
            "liquid-flash": {
                "title": "Liquid flashing",
                "form": "pail",
                "layer": "film",
                "values": {"film_m": value(0.0005), "solids_ratio": value(0.6, "")},
            },
        }

    def cut(self, cut_id: str, product: str, flat: Polygon, folds: list[Doc] | None = None) -> str:
        """Lay the flat on the product's stock, first come first served, in columns (turned when too wide)."""
        x0, y0, *_ = flat.bounds
        flat = translate(flat, -x0, -y0)
        values = self.doc["products"][product]["values"]
        width, length = values["width_m"]["value"], values["length_m"]["value"]
        turned, shape = 0, flat
        if flat.bounds[3] > width + 1e-9:
            turned, shape = 90, rotate(flat, 90, origin=(0, 0))
        across, along = shape.bounds[3] - shape.bounds[1], shape.bounds[2] - shape.bounds[0]
        assert across <= width + 1e-6 and along <= length + 1e-6, (cut_id, across, along)
        number, column, column_l, up = self.cursor.get(product, (1, 0.0, 0.0, 0.0))
        if up + across > width + 1e-9 or (up > 0 and along > column_l + 1e-9):
            column, column_l, up = column + column_l, 0.0, 0.0
        if column + along > length + 1e-9:
            number, column, column_l, up = number + 1, 0.0, 0.0, 0.0
        stock = f"{product}/{number:02d}"
        if not any(s["id"] == stock for s in self.doc["stock"]):
            self.doc["stock"].append({"id": stock, "product": product, "length_m": length, "width_m": width})
        self.doc["cuts"].append(
            {
                "id": cut_id,
                "product": product,
                "flat": rings(flat),
                "folds": folds or [],
                "stock": stock,
                "along_m": round(column, 4),
                "across_m": round(up, 4),
                "turned_deg": turned,
            }
        )
        self.cursor[product] = (number, column, max(column_l, along), up + across)
        return cut_id

    def piece(self, piece_id: str, poly: Polygon, layer: str, product: str | None, role: str, **more: Any) -> Doc:
        self.when += 1
        cut = more.pop("cut", "own")
        if cut == "own":
            cut = self.cut(piece_id, product, poly) if product else None
        row = {
            "id": piece_id,
            "surface": piece_id.split("/")[0],
            "plane": "face",
            "polygon": rings(poly),
            "product": product,
            "role": role,
            "layer": layer,
            "cut": cut,
            "installed": self.when,
            "step": f"{'/'.join(piece_id.split('/')[:2])}/set",
            "place": "/".join(piece_id.split("/")[:2]),
            "held": "adhered",
            "facts": {},
            **more,
        }
        self.doc["pieces"].append(row)
        return row

    def lap(self, over: Doc, under: Doc, kind: str, asked: float) -> None:
        a = Polygon(over["polygon"][0], over["polygon"][1:])
        b = Polygon(under["polygon"][0], under["polygon"][1:])
        both = a.intersection(b)
        for i, part in enumerate(getattr(both, "geoms", [both])):
            if part.geom_type != "Polygon" or part.area < 1e-5:
                continue
            x0, y0, x1, y1 = part.bounds
            self.doc["laps"].append(
                {
                    "id": f"{over['id']}+{under['id']}/{i}",
                    "over": over["id"],
                    "under": under["id"],
                    "surface": over["surface"],
                    "polygon": rings(part),
                    "kind": kind,
                    "asked_m": asked,
                    "got_m": round(min(x1 - x0, y1 - y0), 4),
                    "held": "adhered",
                }
            )

    # ------------------------------------------------------------ one face

    def face(self, name: str, i: int, names: list[str]) -> None:
        width = [28 * 12, 34 * 12 + 5.5, 28 * 12, 34 * 12 + 5.5, 12 * 12, 18 * 12][i % 6] * IN
        eave, peak = 18 * 12 * IN, (18 * 12 + (10 * 12 if i % 2 == 0 and i < 4 else 0)) * IN
        outline = Polygon(
            [
                (0, -8 * IN),
                (width, -8 * IN),
                (width, eave),
                *([(width / 2, peak)] if peak > eave else []),
                (0, eave),
            ]
        )
        openings = self.openings(i, width)
        decision = "keep" if name == "wing-3" else "remove"
        zones = [{"id": f"{name}/all", "polygon": rings(outline), "decision": decision, "assembly": "wall"}]
        if name == "right":
            kept = rect(width - 70 * IN, -8 * IN, width, 90 * IN)
            zones = [
                {"id": "right/porch", "polygon": rings(kept), "decision": "keep", "assembly": "wall"},
                {
                    "id": "right/all",
                    "polygon": rings(outline - kept),
                    "decision": "remove",
                    "assembly": "wall",
                },
            ]
            outline_new = outline - kept
        else:
            outline_new = outline
        pens = []
        if i in (0, 1, 3):
            at = (
                rect(width - 52 * IN, 20 * IN, width - 48 * IN, 24 * IN)
                if i != 1
                else rect(300 * IN, 46 * IN, 304 * IN, 50 * IN)
            )
            pens = [
                {
                    "id": "dryer-vent" if i else "hose-bib",
                    "polygon": rings(at),
                    "kind": "duct" if i else "pipe",
                }
            ]
        self.doc["surfaces"].append(
            {
                "id": name,
                "kind": "wall",
                "loop": "house",
                "outline": rings(outline),
                "origin": [0.0, 0.0, 0.0],
                "azimuth_deg": [180.0, 90.0, 0.0, 270.0][i % 4],
                "left": names[i - 1],
                "right": names[(i + 1) % len(names)],
                "openings": openings,
                "penetrations": pens,
                "zones": zones,
            }
        )
        if decision == "keep":
            return
        strips = self.before(name, openings)
        courses = self.courses(name, outline_new, openings, width, peak)
        for strip in strips:
            for course in courses:
                self.lap(strip, course, "tie-in", 2 * IN)
        self.after(name, openings, pens, courses)
        self.gap(name, i, outline_new, openings, width)
        self.work(name, openings)

    def openings(self, i: int, width: float) -> list[Doc]:
        states = ["before", "after", "before", "insert", "after", "kept"]
        rows = []
        spots = [
            (40, 34, 36, 60),
            (132, 34, 36, 60),
            (230, 34, 36, 60),
            (40, 140, 32, 54),
            (150, 140, 28, 40),
        ]
        if i % 2 == 0:
            spots[1] = (132, 0, 38, 82)
        for k, (left, sill, w, h) in enumerate(spots):
            if (left + w + 20) * IN > width:
                continue
            door = h > 80
            poly = rect(left * IN, sill * IN, (left + w) * IN, (sill + h) * IN)
            rows.append(
                {
                    "id": f"d{i + 1}" if door else f"w{i * 5 + k + 1}",
                    "polygon": rings(poly),
                    "shape": "rectangle",
                    "state": states[(i + k) % 6],
                    "kind": "door" if door else "window",
                    "detail": "door-set" if door else "window-on-strips",
                    "size": f"{w} x {h} in",
                    "location": "bedroom" if k == 3 else "living room",
                    "left_m": round(left * IN, 4),
                    "sill_m": round(sill * IN, 4),
                    "width_m": round(w * IN, 4),
                    "height_m": round(h * IN, 4),
                    "unit": None if k == 2 else "unit-double-hung",
                    "bedroom": k == 3,
                }
            )
        return rows

    def before(self, name: str, openings: list[Doc]) -> list[Doc]:
        made = []
        for o in openings:
            if o["state"] != "before":
                continue
            x0, y0 = o["left_m"], o["sill_m"]
            x1, y1 = x0 + o["width_m"], y0 + o["height_m"]
            key = f"{name}/{o['id']}"
            # one sheet makes the sill: a leg down the face, the sill itself and two ends up the jambs
            sill = self.cut(
                f"{key}/sill",
                "strip-sa",
                rect(0, 0, o["width_m"] + 12 * IN, 9 * IN),
                [{"segment": [[0.0, 0.0762], [round(o["width_m"] + 12 * IN, 4), 0.0762]], "angle_deg": 90.0}],
            )
            face = rect(x0 - 6 * IN, y0 - 3 * IN, x1 + 6 * IN, y0)
            made.append(self.piece(f"{key}/sill/face", face, "strip", "strip-sa", "sill strip", cut=sill))
            self.piece(
                f"{key}/sill/sill",
                rect(x0, 0, x1, 6 * IN),
                "strip",
                "strip-sa",
                "sill strip",
                cut=sill,
                plane="sill",
            )
            for side, a, b in (("left", x0 - 9 * IN, x0), ("right", x1, x1 + 9 * IN)):
                jamb = self.piece(
                    f"{key}/jamb-{side}",
                    rect(a, y0 - 4 * IN, b, y1 + 4 * IN),
                    "strip",
                    "strip-sa",
                    "jamb strip",
                )
                self.lap(jamb, made[-1] if side == "left" else made[-2], "tie-in", 2 * IN)
                made.append(jamb)
            head = rect(x0 - 10 * IN, y1, x1 + 10 * IN, y1 + 9 * IN)
            made.append(self.piece(f"{key}/head", head, "strip", "strip-sa", "head strip"))
            self.lap(made[-1], made[-2], "tie-in", 2 * IN)
            self.lap(made[-1], made[-3], "tie-in", 2 * IN)
            if o["unit"]:
                self.piece(f"{key}/unit", rect(x0, y0, x1, y1), "unit", None, "unit", held="fastened")
        return made

    def courses(self, name: str, area: Polygon, openings: list[Doc], width: float, peak: float) -> list[Doc]:
        for o in openings:
            area = area - Polygon(o["polygon"][0])
        rows: list[list[Doc]] = []
        y, k = -8 * IN, 0
        while y < peak - 6 * IN:
            k += 1
            joints = [0.0, (11 + 4 * (k % 3)) * 12 * IN, (24 + 3 * (k % 2)) * 12 * IN, width]
            joints = [j for j in joints if j < width - 40 * IN] + [width]
            row = []
            for a, b in pairwise(joints):
                band = area.intersection(rect(a, y, min(width, b + (6 * IN if b < width else 0)), y + ROLL_W))
                for part in getattr(band, "geoms", [band]):
                    if part.is_empty or part.geom_type != "Polygon" or part.area < 0.02:
                        continue
                    piece_id = f"{name}/barrier/c{k:02d}/x{round(part.bounds[0] * 1000):05d}"
                    row.append(
                        self.piece(
                            piece_id,
                            part,
                            "barrier",
                            "membrane-sa",
                            "course",
                            place=f"{name}/barrier",
                            step=f"{name}/barrier/c{k:02d}",
                            facts={"course": k, "top_y_m": round(y + ROLL_W, 4), "label": str(k)},
                        )
                    )
                    for other in row[:-1]:
                        self.lap(row[-1], other, "end", 6 * IN)
                    for other in rows[-1] if rows else []:
                        self.lap(row[-1], other, "course", 4 * IN)
            rows.append(row)
            if y + ROLL_W < peak:
                self.doc["lines"].append(
                    {
                        "surface": name,
                        "layer": "barrier",
                        "y_m": round(y + ROLL_W, 4),
                        "x_from_m": 0.0,
                        "x_to_m": round(width, 4),
                        "for": f"top of course {k}",
                    }
                )
            y += ROLL_W - 4 * IN
        return [p for row in rows for p in row]

    def after(self, name: str, openings: list[Doc], pens: list[Doc], courses: list[Doc]) -> None:
        for o in openings:
            if o["state"] == "before":
                continue
            x0, y0 = o["left_m"], o["sill_m"]
            x1, y1 = x0 + o["width_m"], y0 + o["height_m"]
            key = f"{name}/{o['id']}"
            for side, a, b in (("left", x0 - 4 * IN, x0), ("right", x1, x1 + 4 * IN)):
                tape = self.piece(f"{key}/tape-{side}", rect(a, y0, b, y1), "tape", "tape-4", "jamb tape")
                for course in courses:
                    self.lap(tape, course, "tie-in", 2 * IN)
            metal = rect(x0 - 5 * IN, y1, x1 + 5 * IN, y1 + 4 * IN)
            self.piece(f"{key}/head-flashing", metal, "flashing", "head-metal", "head flashing", held="sealed")
        for p in pens:
            x0, y0, x1, y1 = Polygon(p["polygon"][0]).bounds
            collar = rect(x0 - 4 * IN, y0 - 4 * IN, x1 + 4 * IN, y1 + 4 * IN) - Polygon(p["polygon"][0])
            self.piece(f"{name}/{p['id']}/film", collar, "film", "liquid-flash", "film collar", cut=None)

    def gap(self, name: str, i: int, area: Polygon, openings: list[Doc], width: float) -> None:
        for o in openings:
            area = area - Polygon(o["polygon"][0]).buffer(2 * IN, join_style="mitre")
        if i % 2:
            k = 0
            while (8 + 16 * k) * IN < width:
                x = (8 + 16 * k) * IN
                k += 1
                for part in _parts(area.intersection(rect(x - 1.25 * IN, 0, x + 1.25 * IN, 12 * 12 * IN))):
                    self.piece(
                        f"{name}/furring/s{k:02d}/y{round(part.bounds[1] * 1000):05d}",
                        part,
                        "furring",
                        "furring-1x3",
                        "furring",
                        held="fastened",
                        facts={"course": k, "label": str(k)},
                    )
            return
        y, k = -8 * IN, 0
        top = area.bounds[3]
        while y < top - 1e-6:
            k += 1
            for part in _parts(area.intersection(rect(0, y, width, min(top, y + 39 * IN)))):
                self.piece(
                    f"{name}/mat/c{k:02d}/x{round(part.bounds[0] * 1000):05d}",
                    part,
                    "mat",
                    "mat-10",
                    "mat course",
                    held="fastened",
                    facts={"course": k, "top_y_m": round(y + 39 * IN, 4), "label": str(k)},
                )
            y += 39 * IN

    def work(self, name: str, openings: list[Doc]) -> None:
        here = [p for p in self.doc["pieces"] if p["surface"] == name]
        last: list[str] = []
        places: dict[str, list[Doc]] = {}
        for p in here:
            places.setdefault(p["step"], []).append(p)
        for step, pieces in places.items():
            place = pieces[0]["place"]
            thing = place.split("/")[1]
            action = {
                "barrier": f"Snap the top line and roll on course {pieces[0]['facts'].get('label', '')}, "
                "peel the upper half of the backing first",
                "mat": "Staple the mat, fabric out, butted, clear of the base flange",
                "furring": "Screw the furring to the studs, 1/2 in short of the head flashing",
            }.get(thing, f"Set the pieces of {thing}: sill, jambs, head")
            self.doc["steps"].append(
                {
                    "id": step,
                    "detail": "courses" if thing == "barrier" else "opening",
                    "place": place,
                    "action": action,
                    "needs": last[-1:],
                    "pieces": [p["id"] for p in pieces],
                    "people": 2,
                    "hours": 0.75,
                    "hours_source": "common practice",
                    "limits": {
                        "t_min_C": 4.44,
                        "t_max_C": None,
                        "dry_before_h": 24.0 if thing == "barrier" else None,
                        "dry_after_h": None,
                        "wind_max_m_s": 9.0 if thing == "barrier" else None,
                        "moisture_max_pct": 19.0,
                    },
                    "wait_after_h": 2.0 if thing == "dryer-vent" else 0.0,
                    "exposes": [],
                    "covers": [place],
                    "cautions": ["Ladder 1:4, 3 ft past the landing (29 CFR 1926.1053). Check your local code."]
                    if thing == "barrier"
                    else [],
                }
            )
            last.append(step)
            if thing.startswith("w") or thing == "barrier":
                self.doc["checks"].append(
                    {
                        "id": f"{step}/lap",
                        "step": step,
                        "place": place,
                        "measure": "narrowest course lap" if thing == "barrier" else "sill slope to the outside",
                        "measured_in": "in" if thing == "barrier" else "deg",
                        "lower": 4.0 if thing == "barrier" else 3.0,
                        "upper": None,
                        "count": 3,
                        "hold": thing != "barrier",
                        "if_fails": "Peel back, or patch with a strip that goes under the course above.",
                        "source": "IRC R703.2 (2021); check your local code"
                        if thing == "barrier"
                        else "common practice",
                    }
                )

    # ------------------------------------------------------------ the rest

    def finish(self, stop: bool) -> None:
        doc = self.doc
        doc["findings"] += [
            finding(
                "opening.egress",
                "warn",
                "w4 is in a bedroom and its clear opening is not given.",
                "A bedroom needs a way out: 5.7 sq ft, 20 in wide, 24 high, sill 44 in or less (IRC R310).",
                "Measure the clear opening of w4 and write it as `clear:` on its line.",
                file="house.yaml",
                line=48,
                surface="front",
                thing="w4",
            ),
            finding(
                "unit.not_given",
                "note",
                "The unit of w3 is not given.",
                "Its weight decides whether one or two people set it.",
                "Name the unit, or leave it and set it with two people.",
                file="house.yaml",
                line=41,
                surface="front",
                thing="w3",
            ),
            finding(
                "kept.not_seen",
                "warn",
                "What is behind the porch siding is not seen.",
                "The course above drains onto it.",
                "Probe behind the lowest two boards at both ends before covering above.",
                surface="right",
                thing="right/porch",
                x_m=9.0,
                y_m=1.0,
            ),
        ]
        if stop:
            doc["findings"].insert(
                0,
                finding(
                    "tape.open",
                    "stop",
                    "The tape doesn't close: 1' 0\" is missing in the direction of the front.",
                    "A foot in 124 ft is a blunder, not tape error. Likely front or back.",
                    "Tape the diagonal from the front left corner to the back right corner.",
                    file="house.yaml",
                    line=12,
                    surface="front",
                ),
            )
        for product in ("membrane-sa", "strip-sa", "tape-4", "mat-10", "furring-1x3", "head-metal"):
            units = [s for s in doc["stock"] if s["product"] == product]
            if not units:
                continue
            doc["order"].append(
                {
                    "product": product,
                    "need": round(sum(s["length_m"] for s in units), 4),
                    "measured_in": "m",
                    "spare": 0.0 if product != "membrane-sa" else ROLL_L,
                    "spare_reason": "one roll against torn ends and rot found behind the siding"
                    if product == "membrane-sa"
                    else "",
                    "packs": len(units) + (1 if product == "membrane-sa" else 0),
                    "pack_size": units[0]["length_m"],
                    "price": None if product == "mat-10" else 210.0,
                    "kgCO2e": None,
                }
            )
            doc["bounds"].append(
                {
                    "product": product,
                    "drawn_m": 100.0,
                    "stock_used": len(units),
                    "packing_bound_m": 96.0,
                    "packing_bound_stock": len(units),
                    "layout_bound_m": None,
                    "proven": True,
                    "leaves_out": "knife waste",
                }
            )
        doc["order"].append(
            {
                "product": "liquid-flash",
                "need": 0.0021,
                "measured_in": "m3",
                "spare": 0.0004,
                "spare_reason": "rough boards drink more",
                "packs": 1,
                "pack_size": 0.0037854,
                "price": 95.5,
                "kgCO2e": 7.5,
            }
        )
        doc["bid"] = {
            "material": [4100.0, 4600.0],
            "labor": [9000.0, 12500.0],
            "allowance": [650.0, 2600.0],
            "total": None,
            "so_far": [13750.0, 19700.0],
            "hours": [150.0, 210.0],
            "wage_per_h": 58.0,
            "missing": ["price of the drainage mat", "unit of w3"],
            "currency": "USD",
        }
        doc["figures"] = {"wall_m2": 166.3, "pieces": len(doc["pieces"])}
        doc["layers"] = {
            "barrier": "Water-resistive barrier",
            "strip": "Strips",
            "mat": "Drainage mat",
            "furring": "Furring",
        }
        doc["assemblies"] = {
            "wall": [
                {"layer": "cladding", "title": "Wood lap siding", "thickness_m": 0.0127, "existing": False},
                {"layer": "mat", "title": "Drainage mat, 3/8 in", "thickness_m": 0.0095, "existing": False},
                {
                    "layer": "barrier",
                    "title": "Self-adhered membrane",
                    "thickness_m": None,
                    "existing": False,
                },
                {
                    "layer": "existing",
                    "title": "Board sheathing, 7/8 in",
                    "thickness_m": 0.0222,
                    "existing": True,
                },
            ]
        }
        doc["scope_text"] = [
            "Tear off the siding on the front, back and left; keep the porch wall on the right.",
            "New self-adhered barrier, drainage mat, wood siding.",
        ]


def _parts(geom: Any) -> list[Polygon]:
    return [g for g in getattr(geom, "geoms", [geom]) if g.geom_type == "Polygon" and g.area > 0.02]


def make(units: str = "imperial", faces: int = 4, stop: bool = False) -> Doc:
    """Return one plan document."""
    return House(units, faces, stop).doc

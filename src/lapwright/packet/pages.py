"""Gathers what the printed packet says, page by page, and hands it to the page setter."""

from __future__ import annotations

import importlib.util
import json
import tempfile
from dataclasses import replace
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from lapwright.packet.book import opening_table
from lapwright.packet.elevation import PAPER, Style, closeup_drawings, elevation
from lapwright.packet.rolls import knife_sequence, roll_drawing
from lapwright.packet.sheets import Sheet, lap_words, sheets, table
from lapwright.packet.steps import steps_by_surface
from lapwright.packet.view import NOT_GIVEN, Row, View
from lapwright.packet.words import (
    bound_words,
    figure,
    findings,
    missing,
    money,
    money_range,
    plain,
    quantity,
)

# 1 January 2000, 00:00 UTC: the PDF's own clock, the same for every packet.
CREATED = 946684800
FONT_PACKAGE = "font_source_sans_pro"
EDGES = (("near edge", "far edge"), ("bottom edge", "top edge"))  # of a floor; of a wall
PAGE_ROOM = 560.0  # points of a page's height that a drawing and its table share, title and figures off
SHORTEST = 250.0
CLOSE_UP_WIDTHS = (172.0, 262.0)  # three beside each other, or two
CLOSE_UP_GAP = 10.0
NARROW_M = 0.2  # stock narrower than this that comes in lengths is listed, not drawn


def packet_pdf(view: View) -> bytes:
    """Return packet.pdf. Same document and same libraries, same bytes; system fonts are not used."""
    with tempfile.TemporaryDirectory(prefix="lapwright-") as name:
        root = Path(name)
        data = contents(view, root)
        (root / "packet.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        source = resources.files("lapwright.packet").joinpath("packet.typ").read_text(encoding="utf-8")
        (root / "packet.typ").write_text(source, encoding="utf-8")
        pdf = typst.compile(
            str(root / "packet.typ"),
            root=name,
            font_paths=font_paths(),
            ignore_system_fonts=True,
            timestamp=CREATED,
            pdf_tags=False,
        )
    assert isinstance(pdf, bytes)
    return pdf


def font_paths() -> list[str]:
    """Return the folder of the sans-serif that the packet is set in; none when it is not installed.

    Without it the fonts that the page setter carries take its place.
    """
    found = importlib.util.find_spec(FONT_PACKAGE)
    if found is None or found.origin is None:
        return []
    return [str(Path(found.origin).parent / "files")]


def contents(view: View, root: Path) -> dict[str, Any]:
    """Return everything the packet says as plain data; drawings are written as SVG files into `root`."""
    job = view.doc["job"]
    openings = _opening_rows(view)
    return {
        "job": {k: job.get(k) or "" for k in ("name", "place", "reference_line")},
        "paper": "us-letter" if view.imperial else "a4",
        "version": view.doc["version"],
        "stops": len(view.stops),
        "findings": findings(view.rows("findings")),
        "scope": view.rows("scope_text"),
        "cautions": list(job.get("cautions") or []),
        "figures": [figure(view, k, v) for k, v in (view.doc.get("figures") or {}).items()],
        "assemblies": _assemblies(view),
        "openings": openings,
        "faces": _faces(view, root),
        "stock": _stock(view, root),
        "order": _order(view),
        "bid": _bid(view),
    }


def _assemblies(view: View) -> list[dict[str, Any]]:
    return [
        {
            "id": name,
            "layers": [
                {
                    "title": layer["title"],
                    "thickness": view.length(layer["thickness_m"]) if layer.get("thickness_m") else "",
                    "existing": bool(layer.get("existing")),
                }
                for layer in layers
            ],
        }
        for name, layers in (view.doc.get("assemblies") or {}).items()
    ]


def _opening_rows(view: View) -> list[dict[str, str]]:
    rows = opening_table(view)[2]
    names = [
        "opening",
        "face",
        "kind",
        "state",
        "size",
        "",
        "",
        "left",
        "sill",
        "unit",
        "bedroom",
        "location",
    ]
    to_m = 0.0254 if view.imperial else 0.001
    out = []
    for row in rows:
        said = {n: str(v) for n, v in zip(names, row, strict=False) if n}
        said["left"] = view.length(float(row[7] or 0) * to_m)
        said["sill"] = view.length(float(row[8] or 0) * to_m)
        out.append(said)
    return out


def _faces(view: View, root: Path) -> list[dict[str, Any]]:
    by_surface: dict[str, list[dict[str, Any]]] = {s: [] for s in view.surfaces}
    for sheet in sheets(view):
        rows, laps = table(view, sheet), lap_words(view, sheet)
        name = f"{sheet.name}.svg"
        (root / name).write_text(elevation(view, sheet, _style(sheet, rows, laps)), encoding="utf-8")
        close: list[list[dict[str, Any]]] = []
        room = 0.0
        for number, (width, drawing) in enumerate(closeup_drawings(view, sheet, CLOSE_UP_WIDTHS)):
            file = f"{sheet.name}-{number}.svg"
            (root / file).write_text(drawing, encoding="utf-8")
            if width > room:
                close.append([])
                room = PAPER.width
            close[-1].append({"file": file, "width": width})
            room -= width + CLOSE_UP_GAP
        by_surface[sheet.surface].append(
            {
                "title": sheet.title,
                "edges": EDGES[view.surfaces[sheet.surface]["kind"] == "wall"],
                "key": sheet.key,
                "drawing": name,
                "closeups": close,
                "laps": laps,
                "lines": [{"y": view.length(r["y_m"]), "for": r["for"]} for r in sheet.lines],
                "rows": rows,
            }
        )
    steps = steps_by_surface(view)
    faces = [
        {"id": s, "sheets": drawn, "steps": steps.pop(s, []), "kept": _all_kept(view.surfaces[s])}
        for s, drawn in by_surface.items()
    ]
    rest = [step for group in steps.values() for step in group]
    if rest:
        faces.append({"id": "whole house", "sheets": [], "steps": rest, "kept": False})
    return [f for f in faces if f["sheets"] or f["steps"] or f["kept"]]


def _style(sheet: Sheet, rows: list[dict[str, Any]], laps: list[str]) -> Style:
    """Set the drawing as tall as leaves room for its table on the same page, within bounds."""
    heads = len({r["place"] for r in rows if r["place"]})
    two_lines = sum(len(r["what"] + r["product"] + r["notes"]) > 26 for r in rows)
    below = 13.5 * (len(rows) + heads) + 9 * two_lines + 16 * bool(laps) + 5.5 * len(sheet.lines) + 30
    room = PAGE_ROOM - below
    return replace(PAPER, tallest=PAPER.tallest if room < SHORTEST else min(PAPER.tallest, room))


def _all_kept(surface: Row) -> bool:
    return bool(surface["zones"]) and all(z["decision"] == "keep" for z in surface["zones"])


def _stock(view: View, root: Path) -> list[dict[str, Any]]:
    """Return the stock by product: drawn with its knife sequence; narrow lengths are only listed."""
    out: dict[str, dict[str, Any]] = {}
    products = view.doc.get("products") or {}
    for stock_id, stock in view.stock.items():
        if not view.cuts_on[stock_id]:
            continue
        product = stock["product"]
        listed = (products.get(product) or {}).get("form") == "length" and stock["width_m"] < NARROW_M
        entry = out.setdefault(
            product,
            {"title": view.product(product), "listed": listed, "bound": bound_words(view, product), "units": []},
        )
        drawing = ""
        if not listed:
            drawing = f"roll-{view.files[stock_id]}.svg"
            (root / drawing).write_text(roll_drawing(view, stock_id), encoding="utf-8")
        entry["units"].append(
            {
                "id": stock_id,
                "size": view.size(stock["length_m"], stock["width_m"]),
                "drawing": drawing,
                "knife": [{"depth": k.depth, "words": k.words} for k in knife_sequence(view, stock_id)],
            }
        )
    return list(out.values())


def _order(view: View) -> dict[str, Any]:
    currency = view.doc["job"].get("currency") or ""
    rows = []
    for r in view.rows("order"):
        unit = r["measured_in"]
        packs = NOT_GIVEN if r["packs"] is None else plain(r["packs"])
        rows.append(
            {
                "title": view.product(r["product"]),
                "product": r["product"],
                "need": quantity(view, r["need"], unit),
                "on_hand": quantity(view, r["on_hand"], unit) if r.get("on_hand") else "",
                "source": r.get("source") or "",
                "spare": quantity(view, r["spare"], unit) if r["spare"] else "none",
                "reason": r["spare_reason"],
                "packs": f"{packs} of {quantity(view, r['pack_size'], unit)}" if r["pack_size"] else packs,
                "price": money(r["price"], currency),
                "kgCO2e": NOT_GIVEN if r["kgCO2e"] is None else f"{plain(r['kgCO2e'])} kg",
                "sources": _sources(view, r["product"]),
            }
        )
    return {"rows": rows}


def _sources(view: View, product: str) -> list[dict[str, str]]:
    """Return the product's figures by source: `common practice: course lap 4", end lap 6"`."""
    values = ((view.doc.get("products") or {}).get(product) or {}).get("values") or {}
    by_source: dict[str, list[str]] = {}
    for name, value in values.items():
        raw, unit = value["value"], value.get("unit") or ""
        title = name.removesuffix(f"_{unit}").replace("_", " ") if unit else name.replace("_", " ")
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            said = quantity(view, float(raw), unit)
        else:
            said = NOT_GIVEN if raw is None else str(raw)
        by_source.setdefault(value.get("source") or NOT_GIVEN, []).append(f"{title} {said}")
    return [{"source": s, "values": ", ".join(v)} for s, v in sorted(by_source.items())]


def _bid(view: View) -> dict[str, Any] | None:
    bid = view.doc.get("bid")
    if not bid:
        return None
    currency = bid.get("currency") or view.doc["job"].get("currency") or ""
    wage = bid.get("wage_per_h")
    return {
        "rows": [
            [name, money_range(bid.get(key), currency)]
            for name, key in (
                ("Material", "material"),
                ("Labor", "labor"),
                ("Allowance for what comes to light", "allowance"),
                ("Total", "total"),
                ("So far, without what is not given", "so_far"),
            )
            if key != "so_far" or (bid.get("so_far") and not bid.get("total"))
        ],
        "hours": _hours(bid.get("hours")),
        "wage": NOT_GIVEN if wage is None else f"{money(wage, currency)} an hour",
        "missing": [missing(view, name) for name in bid.get("missing") or []],
    }


def _hours(hours: Any) -> str:
    """Return the hours of work, a number or a range, in words."""
    low, high = hours if isinstance(hours, list) else (hours, hours)
    if low is None or high is None:
        return NOT_GIVEN
    return f"{plain(low)} h of work" if low == high else f"{plain(low)} to {plain(high)} h of work"

"""Puts the order, the cut list, the opening schedule and the steps into tables, and writes order.csv."""

from __future__ import annotations

import csv
import io

from lapwright.geometry import from_rings
from lapwright.packet.steps import ordered
from lapwright.packet.view import NOT_GIVEN, STATES, View

Cell = str | float | int | None
Table = tuple[str, list[str], list[list[Cell]]]


def tables(view: View) -> list[Table]:
    """Return the sheets of the book as (name, header, rows); lengths are numbers in the job's unit."""
    return [order_table(view), cut_table(view), opening_table(view), step_table(view)]


def order_table(view: View) -> Table:
    """Return the order. A value that nobody gave says so; it is never zero."""
    currency = view.doc["job"].get("currency") or ""
    header = [
        "product",
        "title",
        "need",
        "measured in",
        "spare",
        "spare reason",
        "packs",
        "pack size",
        f"price per pack ({currency})" if currency else "price per pack",
        "kg CO2e per pack",
    ]
    keys = ("need", "measured_in", "spare", "spare_reason", "packs", "pack_size", "price", "kgCO2e")
    rows: list[list[Cell]] = [
        [r["product"], view.product(r["product"]), *[NOT_GIVEN if r[k] is None else r[k] for k in keys]]
        for r in view.rows("order")
    ]
    return "Order", header, rows


def cut_table(view: View) -> Table:
    """Return the cut list, stock by stock from the left end."""
    unit, k = _unit(view)
    header = [
        "stock",
        "product",
        "goes to",
        f"from the left ({unit})",
        f"from the near edge ({unit})",
        f"length ({unit})",
        f"width ({unit})",
        "size on the tape",
        "turned (deg)",
        "place",
        "cut id",
    ]
    rows: list[list[Cell]] = []
    for stock_id in view.stock:
        for cut in view.cuts_on[stock_id]:
            x0, y0, x1, y1 = from_rings(cut["flat"]).bounds
            long, wide = (x1 - x0, y1 - y0) if cut["turned_deg"] % 180 == 0 else (y1 - y0, x1 - x0)
            first = view.pieces_of_cut.get(cut["id"], [])
            rows.append(
                [
                    stock_id,
                    view.product(cut["product"]),
                    view.cut_label(cut["id"]),
                    round(cut["along_m"] * k, 3),
                    round(cut["across_m"] * k, 3),
                    round(long * k, 3),
                    round(wide * k, 3),
                    view.size(long, wide),
                    cut["turned_deg"],
                    first[0]["place"] if first else "",
                    cut["id"],
                ]
            )
    return "Cut list", header, rows


def opening_table(view: View) -> Table:
    """Return the opening schedule, face by face."""
    unit, k = _unit(view)
    header = [
        "opening",
        "face",
        "kind",
        "state",
        "rough opening",
        f"width ({unit})",
        f"height ({unit})",
        f"left edge from the corner ({unit})",
        f"sill above the reference line ({unit})",
        "unit",
        "bedroom",
        "location",
        "detail",
    ]
    rows: list[list[Cell]] = []
    for surface in view.surfaces.values():
        for o in surface["openings"]:
            x0, y0, x1, y1 = from_rings(o["polygon"]).bounds
            rows.append(
                [
                    o["id"],
                    surface["id"],
                    o.get("kind") or "",
                    STATES.get(o["state"], o["state"]),
                    view.size(x1 - x0, y1 - y0),
                    round((x1 - x0) * k, 3),
                    round((y1 - y0) * k, 3),
                    round((x0 - from_rings(surface["outline"]).bounds[0]) * k, 3),
                    round(y0 * k, 3),
                    view.product(o.get("unit")) or NOT_GIVEN,
                    "yes" if o.get("bedroom") else "no",
                    o.get("location") or "",
                    o.get("detail") or "",
                ]
            )
    return "Openings", header, rows


def step_table(view: View) -> Table:
    """Return the steps in working order."""
    header = [
        "step",
        "place",
        "action",
        "people",
        "hours",
        "pieces",
        "after",
        "coldest (C)",
        "hottest (C)",
        "dry before (h)",
        "dry after (h)",
        "wind up to (m/s)",
        "wood moisture up to (%)",
        "wait after (h)",
        "cautions",
    ]
    limits = ("t_min_C", "t_max_C", "dry_before_h", "dry_after_h", "wind_max_m_s", "moisture_max_pct")
    rows: list[list[Cell]] = [
        [
            s["id"],
            s["place"],
            s["action"],
            s["people"],
            s["hours"],
            ", ".join(dict.fromkeys(view.marks[p] for p in s["pieces"] if p in view.marks)),
            ", ".join(s["needs"]),
            *[(s.get("limits") or {}).get(k) for k in limits],
            s["wait_after_h"],
            " ".join(s["cautions"]),
        ]
        for s in ordered(view)
    ]
    return "Steps", header, rows


def order_csv(view: View) -> str:
    """Return order.csv: UTF-8, a header, one row per product."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    _, header, rows = order_table(view)
    writer.writerow([h.replace(" ", "_") for h in header])
    writer.writerows(rows)
    return out.getvalue()


def _unit(view: View) -> tuple[str, float]:
    return ("in", 1 / 0.0254) if view.imperial else ("mm", 1000.0)

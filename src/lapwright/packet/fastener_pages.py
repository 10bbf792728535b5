"""Furring through foam on paper: the screw, how hard each way of failing is used, every step of the sum, the code's answer."""

from __future__ import annotations

from typing import Any

from lapwright.order.words import plain
from lapwright.packet.view import NOT_GIVEN, Row, View
from lapwright.packet.words import quantity

INCH_M = 0.0254
POUND_N = 4.4482216152605  # exact
PSF_PA = POUND_N / (12 * INCH_M) ** 2
PSI_PA = POUND_N / INCH_M**2
STRENGTH_PA = 1e5  # above it a pressure is a strength of material and said in psi or MPa


def fastener_pages(view: View) -> list[dict[str, Any]]:
    """Return what the page of each design of furring screws says; an empty list when nothing goes through foam."""
    return [_page(view, row) for row in view.rows("fasteners")]


def _page(view: View, row: Row) -> dict[str, Any]:
    table = row["table"]
    thick = table["thickest_m"]
    by_code = NOT_GIVEN if thick is None else "design required" if thick == 0 else f"{sum_value(view, thick, 'm')} of foam at most"
    return {
        "title": row["title"] or "Design required",
        "places": row["places"],
        "holds": row["holds"],
        "rule": _rule(view, row),
        "foam": view.length(row["foam_m"]),
        "cases": [
            [c["words"], _share(view, c["load"], c), _share(view, c["allowable"], c), f"{c['used']:.0%}", c["words"] == row["governing"]]
            for c in [*row["cases"], *([row["siding"]] if row.get("siding") else [])]
        ],
        "ours": f"{row['governing']}: {row['used']:.0%} used" if row["governing"] else "nothing in the catalog fits",
        "code": f"{by_code} ({table['words']})",
        "differ": row["holds"] != table["covers"],
        "steps": [[s["words"], sum_value(view, s["value"], s["unit"]), s["source"]] for s in row["steps"]],
        "guessed": row["guessed"],
        "tried": row["tried"] if not row["holds"] else [],
    }


def _rule(view: View, row: Row) -> str:
    if row["product"] is None:
        return ""
    return (
        f"{row['count']} pieces, every {view.length(row['spacing_m'])} along the strip, {view.length(row['end_m'])} from its ends; "
        f"{view.length(row['reach_m'])} of it in the stud"
    )


def _share(view: View, value: float, case: Row) -> str:
    return f"{value:.0%}" if case["allowable"] == 1 else sum_value(view, value, "N")


def sum_value(view: View, value: float, unit: str) -> str:
    """Write one figure of the sum in the job's units: lb, psf, psi, decimal inches; or N, Pa, MPa, mm."""
    if not view.imperial:
        if unit == "m":
            return f"{plain(value * 1000, 3)} mm"
        return f"{plain(value / 1e6, 3)} MPa" if unit == "Pa" and value >= STRENGTH_PA else f"{plain(value)} {unit}".strip()
    if unit == "N":
        return f"{plain(value / POUND_N, 3)} lb"
    if unit == "N/m":
        return f"{plain(value / POUND_N * INCH_M, 3)} lb/in"
    if unit == "Pa":
        return f"{plain(value / PSI_PA)} psi" if value >= STRENGTH_PA else f"{plain(value / PSF_PA, 3)} psf"
    if unit == "m":
        return view.length(value) if value > 1.0 else f"{plain(value / INCH_M, 3)} in"
    return quantity(view, value, unit)

"""A floor on the ground on paper: the headroom budget, the dig, boards side by side."""

from __future__ import annotations

from typing import Any

from lapwright.order.words import CU_YD, SQ_FT_M2, plain
from lapwright.packet.view import NOT_GIVEN, View
from lapwright.packet.words import money

R_SI = 0.1761101837  # m2 K/W of one h ft2 F/Btu

TERMS = (
    ("now", "headroom now", ""),
    ("dig", "dig", "+"),
    ("gravel", "gravel", "-"),
    ("foam", "foam", "-"),
    ("slab", "slab", "-"),
    ("finish", "finish", "-"),
    ("after", "headroom when done", "="),
)


def floor_pages(view: View) -> list[dict[str, Any]]:
    """Return what the page of each floor says; an empty list when there is none."""
    currency = view.doc["job"].get("currency") or ""
    out = []
    for row in view.doc.get("slabs") or []:
        budget, dig = row["headroom"], row["dig"]
        out.append(
            {
                "id": row["id"],
                "budget": [
                    [sign, word, view.length(budget[key]), "worked out" if budget["solved"] == key else ""]
                    for key, word, sign in TERMS
                ]
                if budget
                else [],
                "dig": _dig(view, dig),
                "foams": [
                    {
                        "title": f["title"] + (f", {f['boards']} on one another" if f["boards"] > 1 else ""),
                        "chosen": f["product"] in row["chosen"],
                        "r": _resistance(view, f["r_m2K_W"]),
                        "dead": NOT_GIVEN if f["dead_used"] is None else f"{f['dead_used']:.0%}",
                        "live": NOT_GIVEN if f["live_used"] is None else f"{f['live_used']:.0%}",
                        "price": money(_per_area(view, f["price_m2"]), currency),
                        "kg": NOT_GIVEN if (kg := _per_area(view, f["kgCO2e_m2"])) is None else f"{plain(kg)} kg",
                        "out": "; ".join(f["out"]) or ("judged without " + ", ".join(f["open"]) if f["open"] else ""),
                        "ruled": bool(f["out"]),
                    }
                    for f in row["foams"]
                ],
                "area": "sq ft" if view.imperial else "m2",
                "concrete": f"{row['concrete_m3'] / CU_YD:.2f} cu yd" if view.imperial else f"{row['concrete_m3']:.2f} m3",
                "tube": f"{view.length(row['tube_m'])} in {row['tube_loops']} loops" if row["tube_m"] else "",
                "dry": plain(row["drying_days"]),
            }
        )
    return out


def _per_area(view: View, value: float | None) -> float | None:
    return value * SQ_FT_M2 if value is not None and view.imperial else value


def _resistance(view: View, value: float | None) -> str:
    if value is None:
        return NOT_GIVEN
    return f"R-{value / R_SI:.1f}" if view.imperial else f"{value:.2f}"


def _dig(view: View, dig: dict[str, Any] | None) -> list[str]:
    if dig is None:
        return ["Nothing tells how deep the dig goes."]
    out = [f"Dig {view.length(dig['depth_m'])} below the top of the old floor."]
    if dig["foot_m"] is not None:
        out.append(
            f"The foot of the wall lies {view.length(dig['foot_m'])} below it; its wedge of soil falls away {dig['run']:g} to 1."
        )
    if dig["bench_m"]:
        out.append(f"Full depth only {view.length(dig['bench_m'])} and more from the wall.")
    return out + [f"STOP: {r}." for r in dig["reasons"]]

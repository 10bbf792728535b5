"""Screws through foam as plan.json holds them: what was chosen, every case, every step of the sum, the code's table."""

from __future__ import annotations

from typing import Any

from lapwright.details.base import Place
from lapwright.details.screws import design_of
from lapwright.fasteners.cases import Case
from lapwright.fasteners.choose import END_M, Design
from lapwright.plan.graph import Plan
from lapwright.plan.rounding import figure, length


def fasteners(plan: Plan) -> list[dict[str, Any]]:
    """Return one row per design of furring through foam, with the places it serves. Metres, newtons, Pa; null = none found."""
    found: dict[tuple[object, ...], tuple[Design, list[Place]]] = {}
    for place, detail in plan.places:
        if place.kind != "furring" or detail.name != "furring":
            continue
        made = design_of(place, plan.context)
        if isinstance(made, Design):
            key = (made.product.id if made.product else None, repr(made.wall), repr(made.loads))
            found.setdefault(key, (made, []))[1].append(place)
    counts: dict[str, float] = {}
    for piece in plan.layout.pieces:
        if piece.role == "screws" and "quantity" in piece.facts:
            counts[piece.place] = counts.get(piece.place, 0.0) + float(piece.facts["quantity"][0])
    return [_row(made, [p.id for p in places], counts) for made, places in found.values()]


def _row(made: Design, places: list[str], counts: dict[str, float]) -> dict[str, Any]:
    wall, worst = made.wall, made.held.governing if made.held else None
    return {
        "places": places,
        "product": made.product.id if made.product else None,
        "title": made.product.title if made.product else None,
        "spacing_m": length(made.spacing_m) if made.product else None,
        "end_m": length(END_M),
        "length_m": length(made.length_m) if made.product else None,
        "reach_m": length(made.reach_m) if made.product else None,
        "count": round(sum(counts.get(p, 0.0) for p in places)),
        "furring_m": length(wall.furring_m),
        "foam_m": length(wall.foam_m),
        "sheathing_m": length(wall.sheathing_m),
        "holds": made.holds,
        "governing": worst.words if worst else None,
        "used": figure(worst.used) if worst else None,
        "cases": [_case(c) for c in made.held.cases] if made.held else [],
        "siding": _case(made.siding) if made.siding else None,
        "table": {
            "covers": made.tabled,
            "thickest_m": length(made.table.thickest_m),
            "words": made.table.words,
        },
        "steps": [{"words": r.words, "value": figure(r.value), "unit": r.unit, "source": r.source} for r in made.rows],
        "guessed": [*wall.guessed, *made.loads.guessed],
        "tried": list(made.tried),
    }


def _case(case: Case) -> dict[str, Any]:
    return {
        "words": case.words,
        "load": figure(case.load),
        "allowable": figure(case.allowable),
        "used": figure(case.used),
    }

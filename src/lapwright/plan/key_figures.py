"""The key figures of a job and its scope in plain sentences."""

from __future__ import annotations

from typing import Any

from lapwright.plan.graph import Plan
from lapwright.plan.rounding import figure


def scope_text(plan: Plan) -> list[str]:
    """Return the scope in plain sentences: what is kept, torn off, covered, with areas."""
    words = {"keep": "Kept as it is", "remove": "Torn off, new skin", "cover": "Covered with a new skin"}
    out = []
    for decision, text in words.items():
        names = [
            f"{f.id}{'' if len(f.zones) == 1 else '/' + z.id}"
            for f in plan.job.survey.faces
            for z in f.zones
            if z.decision == decision
        ]
        area = sum(z.polygon.area for f in plan.job.survey.faces for z in f.zones if z.decision == decision)
        if names:
            shown = f"{area / 0.09290304:.0f} sq ft" if plan.job.survey.units == "imperial" else f"{area:.1f} m2"
            out.append(f"{text}: {', '.join(names)} ({shown} gross).")
    states: dict[str, int] = {}
    for f in plan.job.survey.faces:
        for o in f.openings:
            states[o.state] = states.get(o.state, 0) + 1
    said = {
        "before": "set before the barrier",
        "after": "set after it",
        "kept": "kept",
        "insert": "new inside the old frame",
    }
    if states:
        out.append("Openings: " + ", ".join(f"{states[k]} {v}" for k, v in said.items() if k in states) + ".")
    return out


def figures(plan: Plan) -> dict[str, Any]:
    """Return the key figures of the job."""
    survey = plan.job.survey
    gross = sum(f.outline.area for f in survey.faces)
    new = [z for f in survey.faces for z in f.zones if z.decision != "keep" and z.assembly]
    drawn = {b.product: b for b in plan.packing.bounds}
    out: dict[str, Any] = {
        "faces": len(survey.faces),
        "openings": sum(len(f.openings) for f in survey.faces),
        "penetrations": sum(len(f.penetrations) for f in survey.faces),
        "gross_wall_m2": figure(gross),
        "new_skin_m2": figure(sum(z.polygon.area for z in new)),
        "pieces": len(plan.layout.pieces),
        "cuts": len(plan.packing.cuts),
        "laps": len(plan.layout.laps),
        "steps": len(plan.steps),
        "checks": len(plan.checks),
        "hours": figure(sum(s.hours * s.people for s in plan.steps)),
        "rolls": sum(b.stock_used for b in drawn.values() if plan.catalog[b.product].layer == "barrier"),
        "drawn_m": figure(sum(b.drawn_m for b in drawn.values() if plan.catalog[b.product].layer == "barrier")),
    }
    return out

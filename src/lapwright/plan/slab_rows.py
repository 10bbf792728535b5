"""Floors on the ground as plan.json holds them: budget, dig, foam side by side, quantities."""

from __future__ import annotations

import math
from typing import Any

from lapwright.details.slab_case import SlabCase
from lapwright.plan.graph import Plan
from lapwright.plan.rounding import figure, length
from lapwright.slab.foam import Choice
from lapwright.slab.headroom import Headroom


def slabs(plan: Plan) -> list[dict[str, Any]]:
    """Return one row per floor that gets a new slab. Metres, m2, m3, Pa, m2 K/W; null = not given."""
    cases = [SlabCase.of(p, plan.context) for p, _ in plan.places if p.kind == "slab"]
    return [_row(case) for case in cases]


def _row(case: SlabCase) -> dict[str, Any]:
    budget, wedge, tube = case.budget, case.wedge, case.tube
    return {
        "id": case.slab.id,
        "area_m2": figure(case.floor.area),
        "headroom": (
            {"solved": budget.solved, **{k: length(v) for k, v in budget.terms.items()}}
            if isinstance(budget, Headroom)
            else None
        ),
        "dig": (
            None
            if wedge is None
            else {
                "depth_m": length(case.dig_m),
                "foot_m": length(case.slab.foot.foot_m),
                "run": figure(wedge.run),
                "bench_m": length(wedge.bench_m) if math.isfinite(wedge.bench_m) else None,
                "reasons": list(wedge.reasons),
            }
        ),
        "foams": [_foam(c) for c in case.foams],
        "chosen": sorted({p.id for _, p, _ in case.layers("insulation")}),
        "concrete_m3": figure(case.concrete_m3),
        "tube_m": figure(tube[0]) if tube else None,
        "tube_loops": tube[1] if tube else None,
        "drying_days": figure(case.drying_days),
    }


def _foam(choice: Choice) -> dict[str, Any]:
    return {
        "product": choice.board.product,
        "title": choice.board.title,
        "boards": choice.layers,
        "r_m2K_W": figure(choice.r_m2K_W),
        "dead_Pa": figure(choice.dead_pa),
        "live_Pa": figure(choice.live_pa),
        "dead_used": figure(choice.dead_used),
        "live_used": figure(choice.live_used),
        "price_m2": figure(choice.price_m2),
        "kgCO2e_m2": figure(choice.kgCO2e_m2),
        "out": list(choice.out),
        "open": list(choice.open),
    }

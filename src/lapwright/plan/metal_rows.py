"""Bent metal as plan.json holds it: profiles, flat patterns, bend order, and a plan for bending it from coil."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from lapwright.catalog.model import Product
from lapwright.details.metalwork import COIL, bent, brake_length, made
from lapwright.metal.brake import Bend, bend_order
from lapwright.metal.profile import Profile
from lapwright.plan.graph import Plan
from lapwright.plan.rounding import figure, length

DAM_M = 1 * 0.0254  # end dams 1 in tall where the product does not say, about the wind head: common practice

if TYPE_CHECKING:
    from lapwright.metal.coil import CoilPlan


def metal(plan: Plan) -> dict[str, Any]:
    """Return {profiles: one row per bent product used, coil: how all of them come from coil stock}. Metres, degrees."""
    from lapwright.metal.coil import Strip, coil_plan  # its linear programs come from scipy, which loads slowly

    used = sorted({c.product for c in plan.packing.cuts})
    long_of = {c.id: c.flat.bounds[2] - c.flat.bounds[0] for c in plan.packing.cuts}
    kinds = [
        (product.id, product.title, profile, [c.id for c in plan.packing.cuts if c.product == product.id], product, product.number("end_dam_m"))
        for product, profile in bent(plan.catalog[p] for p in used)
    ]
    kinds += [
        (m.id, m.title, m.profile, [c for c in sorted(m.cuts) if c in long_of], plan.catalog[COIL], DAM_M if m.dams else None)
        for m in made(plan.layout.pieces, plan.catalog)
    ]
    strips = [Strip(c, profile.developed(), long_of[c]) for _, _, profile, cuts, _, _ in kinds for c in cuts]
    coil = plan.catalog.products.get(COIL)
    return {
        "profiles": [_profile(*kind, max((long_of[c] for c in kind[3]), default=None)) for kind in kinds],
        "coil": _coil(coil, coil_plan(strips, coil.needed("width_m"), brake_length(coil))) if coil and strips else None,
    }


def _profile(
    name: str, title: str, profile: Profile, cuts: list[str], product: Product, dam_m: float | None, longest_m: float | None
) -> dict[str, Any]:
    order = bend_order(profile)
    return {
        "product": name,
        "title": title,
        "legs_m": [length(v) for v in profile.legs],
        "turns_deg": [figure(v) for v in profile.turns],
        "thickness_m": figure(profile.thickness_m),
        "deductions_m": [figure(v) for v in profile.deductions()],
        "developed_m": length(profile.developed()),
        "bend_lines_m": [length(v) for v in profile.bend_lines()],
        "folded": [[length(x), length(y)] for x, y in profile.folded()],
        "order": None if order is None else [_bend(b) for b in order],
        "end_dam_m": length(dam_m),
        "lap_m": length(product.number("lap_m")),
        "pieces": len(cuts),
        "cuts": cuts,
        "longest_m": length(longest_m),
    }


def _bend(bend: Bend) -> dict[str, Any]:
    return {
        "line": bend.line + 1,
        "turn_deg": figure(abs(bend.turn_deg)),
        "swings": bend.front,
        "up": bend.face,
        "hem": bend.hem,
    }


def _coil(coil: Product, plan: CoilPlan) -> dict[str, Any]:
    blanks = Counter(
        (length(b.length_m), tuple(sorted(((length(s.width_m), length(s.length_m)) for s in b.strips), reverse=True)))
        for b in plan.blanks
    )
    return {
        "product": coil.id,
        "drawn_m": figure(plan.drawn_m),
        "bound_m": figure(plan.bound_m),
        "too_wide": list(plan.too_wide),
        "too_long": list(plan.too_long),
        "blanks": [
            {"length_m": long, "count": n, "strips": [{"width_m": w, "length_m": s} for w, s in strips]}
            for (long, strips), n in sorted(blanks.items(), reverse=True)
        ],
    }

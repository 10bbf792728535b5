"""The plan document: what plan.json holds, key by key, as plain data.

Each key has one function from a `Plan`; a command asks for the keys it prints and nothing else is
computed. Lengths are rounded to 0.1 mm, other numbers to four significant figures (contract).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from shapely import Polygon

from lapwright import __version__
from lapwright.catalog.model import Product
from lapwright.continuity.model import Edge
from lapwright.details.base import Cut, Lap, Piece
from lapwright.findings import in_order
from lapwright.geometry import point_list, rings
from lapwright.plan.fastener_rows import fasteners
from lapwright.plan.graph import Plan
from lapwright.plan.key_figures import figures, scope_text
from lapwright.plan.metal_rows import metal
from lapwright.plan.pencil_rows import pencil
from lapwright.plan.reveal_rows import reveals
from lapwright.plan.rounding import figure, length
from lapwright.plan.slab_rows import slabs
from lapwright.plan.surfaces import surface_row
from lapwright.plan.tape import survey_facts
from lapwright.survey.slabs import with_floors

LAYER_TITLES = {
    "existing": "What stands",
    "strip": "Strips",
    "barrier": "Barrier",
    "tape": "Tape",
    "film": "Liquid film",
    "flashing": "Flashings",
    "sealant": "Sealant",
    "unit": "Windows and doors",
    "mat": "Drainage mat",
    "furring": "Furring",
    "insulation": "Insulation",
    "sheathing": "Sheathing",
    "cladding": "Cladding",
    "vapor": "Vapor layer",
    "slab": "Slab",
    "primer": "Primer",
    "fastener": "Fasteners",
}


def identity(plan: Plan) -> dict[str, Any]:
    """Return name, units and place of the job."""
    survey, where = plan.job.survey, plan.job.survey.place
    return {
        "name": survey.name,
        "units": survey.units,
        "place": where.name,
        "latitude_deg": where.latitude_deg,
        "longitude_deg": where.longitude_deg,
        "elevation_m": length(where.elevation_m),
        "climate_zone": where.climate_zone,
        "reference_line": survey.reference_line,
        "year_built": survey.year_built,
        "currency": plan.job.scope.currency,
    }


def job(plan: Plan) -> dict[str, Any]:
    """Return the job's identity and the cautions that hold for the whole of it."""
    cautions = dict.fromkeys(c for s in plan.steps for c in s.cautions) if plan.job.survey.faces else ()
    return {**identity(plan), "cautions": list(cautions)}


def surfaces(plan: Plan) -> list[dict[str, Any]]:
    """Return the surfaces in walking order with their openings, penetrations, attachments and zones."""
    return [surface_row(f) for f in with_floors(plan.job.survey).faces]


def pieces(plan: Plan) -> list[dict[str, Any]]:
    """Return all pieces in the order they are put on."""
    return [_piece(p) for p in plan.layout.pieces]


def _piece(p: Piece) -> dict[str, Any]:
    return {
        "id": p.id,
        "surface": p.surface,
        "plane": p.plane,
        "polygon": rings(p.polygon),
        "product": p.product,
        "role": p.role,
        "layer": p.layer,
        "cut": p.cut,
        "installed": p.installed,
        "step": p.step,
        "place": p.place,
        "held": p.held,
        "facts": {**_plain(p.facts), "claim": p.claim},
    }


def _plain(value: Any) -> Any:
    """Return facts as JSON data: tuples as lists, floats rounded."""
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, Polygon):
        return rings(value)
    return figure(float(value), 6)


def cuts(plan: Plan) -> list[dict[str, Any]]:
    """Return all cuts as packed."""
    return [_cut(c) for c in plan.packing.cuts]


def _cut(c: Cut) -> dict[str, Any]:
    return {
        "id": c.id,
        "product": c.product,
        "flat": rings(c.flat),
        "folds": [{"segment": point_list(segment), "angle_deg": figure(angle)} for segment, angle in c.folds],
        "stock": c.stock,
        "along_m": length(c.along_m),
        "across_m": length(c.across_m),
        "turned_deg": c.turned_deg,
    }


def stock(plan: Plan) -> list[dict[str, Any]]:
    """Return the stock units that the cuts come from."""
    return [s.to_json() for s in plan.packing.stock]


def laps(plan: Plan) -> list[dict[str, Any]]:
    """Return all laps."""
    return [_lap(x) for x in plan.layout.laps]


def _lap(x: Lap) -> dict[str, Any]:
    return {
        "id": x.id,
        "over": x.over,
        "under": x.under,
        "surface": x.surface,
        "polygon": rings(x.polygon),
        "kind": x.kind,
        "asked_m": length(x.asked_m),
        "got_m": length(x.got_m),
        "held": x.held,
    }


def ties(plan: Plan) -> list[dict[str, Any]]:
    """Return all ties."""
    return [
        {
            "id": t.id,
            "sides": list(t.sides),
            "surface": t.surface,
            "line": point_list(t.line),
            "length_m": length(t.length_m),
            "water": t.water,
            "air": t.air,
            "vapor": t.vapor,
            "heat": t.heat,
            "by": list(t.by),
        }
        for t in plan.layout.ties
    ]


def steps(plan: Plan) -> list[dict[str, Any]]:
    """Return all steps in place order."""
    return [
        {
            "id": s.id,
            "detail": s.detail,
            "place": s.place,
            "action": s.action,
            "needs": list(s.needs),
            "pieces": list(s.pieces),
            "people": s.people,
            "hours": figure(s.hours),
            "hours_source": s.hours_source,
            "limits": {k: figure(v) for k, v in s.limits.__dict__.items()},
            "wait_after_h": figure(s.wait_after_h),
            "exposes": list(s.exposes),
            "covers": list(s.covers),
            "cautions": list(s.cautions),
            "reason": s.reason,
        }
        for s in plan.steps
    ]


def checks(plan: Plan) -> list[dict[str, Any]]:
    """Return all checks."""
    return [
        {
            "id": c.id,
            "step": c.step,
            "place": c.place,
            "measure": c.measure,
            "measured_in": c.measured_in,
            "lower": figure(c.lower),
            "upper": figure(c.upper),
            "count": c.count,
            "hold": c.hold,
            "if_fails": c.if_fails,
            "source": c.source,
        }
        for c in plan.checks
    ]


def order(plan: Plan) -> list[dict[str, Any]]:
    """Return the purchase, row by row."""
    return [row.to_json() for row in plan.order.rows]


def bid(plan: Plan) -> dict[str, Any]:
    """Return the bid as ranges; null where a price or a wage is not given."""
    return plan.order.bid.to_json()


def bounds(plan: Plan) -> list[dict[str, Any]]:
    """Return the packing and layout bounds per product."""
    return [b.to_json() for b in plan.packing.bounds]


def lines(plan: Plan) -> list[dict[str, Any]]:
    """Return the chalk lines."""
    return [
        {
            "surface": c.surface,
            "layer": c.layer,
            "y_m": length(c.y_m),
            "x_from_m": length(c.x_from_m),
            "x_to_m": length(c.x_to_m),
            "for": c.why,
        }
        for c in plan.layout.lines
    ]


def findings(plan: Plan) -> list[dict[str, Any]]:
    """Return the findings of survey, details, layout, cuts and order, stops first."""
    return [f.to_json() for f in plan.findings]


def proofs(plan: Plan) -> list[dict[str, Any]]:
    """Return all findings, those of the drop test among them."""
    return [f.to_json() for f in plan.proofs]


def edges(plan: Plan) -> list[dict[str, Any]]:
    """Return every stretch of every sheet's edge with its role and state."""
    return [edge_row(e) for e in plan.drops.edges]


def edge_row(e: Edge) -> dict[str, Any]:
    """Return one row of plan.json `edges[]`."""
    return {
        "piece": e.piece,
        "surface": e.surface,
        "segment": point_list(e.segment),
        "role": e.role,
        "state": e.state,
        "length_m": length(e.length_m),
        "drains_m2": figure(e.drains_m2),
        "by": e.by,
        "out": e.out,
        "trapped": e.trapped,
        "spot": list(point_list([e.spot])[0]) if e.spot is not None else None,
    }


def products(plan: Plan) -> dict[str, Any]:
    """Return the products that pieces are made of or that the order names."""
    used = {p.product for p in plan.layout.pieces if p.product} | {r.product for r in plan.order.rows}
    return {name: _product(plan.catalog[name]) for name in sorted(used) if name in plan.catalog}


def _product(p: Product) -> dict[str, Any]:
    return {
        "id": p.id,
        "title": p.title,
        "form": p.form,
        "layer": p.layer,
        "values": {
            k: {
                "value": figure(v.value) if isinstance(v.value, float | int) else v.value,
                "unit": v.unit,
                "source": v.source,
            }
            for k, v in p.values.items()
        },
    }


def assemblies(plan: Plan) -> dict[str, Any]:
    """Return the assemblies, outside to inside."""
    out: dict[str, Any] = {}
    for a in plan.job.scope.assemblies.values():
        out[a.id] = [
            {
                "layer": y.layer,
                "title": _layer_title(plan, y.product, y.material, y.layer),
                "thickness_m": length(y.thickness_m),
                "existing": y.existing,
            }
            for y in a.layers
        ]
    return out


def _layer_title(plan: Plan, product: str | None, material: str | None, layer: str) -> str:
    if product and product in plan.catalog:
        return plan.catalog[product].title
    return (material or layer).replace("-", " ")


KEYS: dict[str, Callable[[Plan], Any]] = {
    "job": job,
    "figures": figures,
    "scope_text": scope_text,
    "surfaces": surfaces,
    "survey": lambda plan: survey_facts(plan.job.survey),
    "assemblies": assemblies,
    "pieces": pieces,
    "cuts": cuts,
    "stock": stock,
    "laps": laps,
    "edges": edges,
    "ties": ties,
    "pencil": pencil,
    "steps": steps,
    "checks": checks,
    "order": order,
    "bid": bid,
    "bounds": bounds,
    "lines": lines,
    "products": products,
    "layers": lambda _: dict(LAYER_TITLES),
    "slabs": slabs,
    "metal": lambda plan: plan.rows("metal", lambda: metal(plan)),
    "fasteners": fasteners,
    "reveals": reveals,
    "findings": findings,
}


def document(
    plan: Plan, keys: Iterable[str] | None = None, ready: Mapping[str, Callable[[], Any]] | None = None
) -> dict[str, Any]:
    """Return the plan document with the asked keys (all when None), in a fixed order, and the version.

    With `edges` among the keys the findings are all of them, those of the drop test too. ready: what gives the
    value of a key that is being made elsewhere; it is asked last.
    """
    wanted, ready = list(KEYS) if keys is None else list(keys), ready or {}
    made = {k: KEYS[k](plan) for k in KEYS if k in wanted and k not in ready}
    made |= {k: made_elsewhere() for k, made_elsewhere in ready.items()}
    out = {"version": __version__, **{k: made[k] for k in KEYS if k in wanted}}
    return {**out, "findings": proofs(plan)} if "edges" in wanted and "findings" in wanted else out


def survey_document(plan: Plan) -> dict[str, Any]:
    """Return what the survey alone says: job, surfaces, areas, closure and the reader's findings; lays nothing out."""
    return {
        "version": __version__,
        "job": identity(plan),
        "surfaces": surfaces(plan),
        "survey": survey_facts(plan.job.survey),
        "findings": [f.to_json() for f in in_order(plan.job.findings)],
    }


def edges_document(path: Path) -> dict[str, Any]:
    """Return edges and findings of an arrangement of sheets in a file. Raises BadJob when it cannot be read."""
    from lapwright.continuity.build import drop_test
    from lapwright.continuity.rows import read_rows, said

    walls = read_rows(path)
    found = drop_test(walls)
    odd = said(walls, path.name)
    return {
        "version": __version__,
        "edges": [edge_row(e) for e in found.edges],
        "findings": [f.to_json() for f in in_order([*found.findings, *odd])],
    }

"""`heat JOB`: what each assembly holds back, standing and planned, what it loses in a year, how cold it gets inside."""

from __future__ import annotations

from typing import Any

import numpy as np

from lapwright.assemblies.report import climate_of
from lapwright.assemblies.warmth import FRAMING_SHARE, T_IN_C, Warmth, refusals, warmth
from lapwright.assemblies.weather import indoor
from lapwright.catalog.model import Catalog
from lapwright.findings import Finding, in_order
from lapwright.heat.psi import surface_needed_c
from lapwright.moisture.vapor import saturation_Pa
from lapwright.scope.model import Assembly, Job
from lapwright.units import FOOT_M, R_SI
from lapwright.weather import Normals, degree_days

BASE_C = 18.3  # 65 F: sun and people warm the rest; common practice for houses
RSI_CORNER = 0.25  # m2K/W: behind furniture and in corners, ISO 13788 against mold


def report(job: Job, catalog: Catalog | None, share: float = FRAMING_SHARE) -> tuple[dict[str, Any], list[Finding]]:
    """Return the document (`job`, `climate`, `assemblies`) and the findings of a job's assemblies.

    share: of a wall that is framing. Without a known climate yearly losses and cold surfaces are left out, and said.
    """
    found: list[Finding] = []
    normals = climate_of(job.survey.place, found, "heat")
    rows = [_row(a, catalog, normals, share, found) for a in job.scope.assemblies.values()]
    if not rows:
        found.append(Finding("heat.no_assemblies", "note", "The job has no assemblies.", fix="List them under `assemblies:`, outside to inside."))
    site = job.survey.place
    return {
        "job": {"name": job.survey.name, "units": job.survey.units, "place": site.name},
        "climate": None if normals is None else {"place": normals.key, "heating_degree_days_K_d": round(degree_days(normals, BASE_C, True)), "base_C": BASE_C, "source": normals.source},
        "framing_share": share,
        "assemblies": rows,
    }, in_order(found)  # fmt: skip


def _row(assembly: Assembly, catalog: Catalog | None, normals: Normals | None, share: float, found: list[Finding]) -> dict[str, Any]:
    mine = refusals(assembly)
    planned = warmth(assembly, catalog, share=share)
    stays = warmth(assembly, catalog, only_existing=True, share=share)
    row: dict[str, Any] = {"id": assembly.id, "verdict": "", "planned": None, "stays": None}
    if planned is None and not mine:
        mine.append(
            Finding("heat.no_layers", "warn", f"{assembly.id} has no layer that holds heat.", fix="List its layers, outside to inside.", where=assembly.where)
        )  # fmt: skip
    if planned is not None:
        row["planned"] = _figures(planned, normals, share)
        row["layers"] = [_layer(r) for r in planned.rows]
        row["assumed"] = list(planned.assumed)
        if stays is not None:
            row["stays"] = _figures(stays, normals, share)
        if not planned.floor and normals is not None:
            row["surface"], cold = _surface(assembly, planned, normals)
            mine += cold
        elif planned.floor:
            row["leaves_out"] = "the ground: what a floor loses hangs on its area, its edge and the soil (ISO 13370)"
    row["verdict"] = next((lv for lv in ("stop", "warn") if any(f.level == lv for f in mine)), "ok" if planned is not None else "warn")
    row["findings"] = [f.to_json() for f in mine]
    found += mine
    return row


def _figures(w: Warmth, normals: Normals | None, share: float) -> dict[str, Any]:
    u = w.u
    out: dict[str, Any] = {
        "u_W_m2K": _r(u), "r_m2K_W": _r(1 / u), "r_ip": _r(1 / u / float(R_SI)), "r_between_framing_m2K_W": _r(max(w.framed.paths)),
        "r_parallel_paths_m2K_W": _r(w.framed.upper), "r_isothermal_planes_m2K_W": _r(w.framed.lower),
        "method_spread": _r(w.framed.spread), "fasteners_du_W_m2K": _r(w.fasteners_du),
        "u_ip": _r(u * float(R_SI)), "u_winter_W_m2K": None, "loss_kWh_m2_year": None, "loss_kWh_ft2_year": None,
    }  # fmt: skip
    if normals is not None and not w.floor:
        cold = w.winter(float(normals.t_mean_C.min()), share)
        out["u_winter_W_m2K"] = _r(cold)
        lost = cold * degree_days(normals, BASE_C, True) * 24 / 1000
        out |= {"loss_kWh_m2_year": _r(lost), "loss_kWh_ft2_year": _r(lost * float(FOOT_M) ** 2)}
    return out


def _surface(assembly: Assembly, w: Warmth, normals: Normals) -> tuple[dict[str, Any], list[Finding]]:
    """How cold the inside gets in the coldest month, over the framing and beside furniture, against mold (ISO 13788)."""
    t_out = float(normals.t_mean_C.min())
    humidity = float(indoor(np.full(48, t_out))[1][0])
    vapor = float(saturation_Pa(T_IN_C)) * humidity
    needed = surface_needed_c(vapor)
    weakest = min(w.framed.paths) - w.films[1] + RSI_CORNER
    coldest = T_IN_C - (T_IN_C - t_out) * RSI_CORNER / weakest
    row = {
        "outside_C": _r(t_out), "inside_C": T_IN_C, "inside_rh": _r(humidity), "coldest_C": _r(coldest), "needed_C": _r(needed),
        "f_rsi": _r((coldest - t_out) / (T_IN_C - t_out)), "leaves_out": "edges, corners of the house and air that leaks in",
    }  # fmt: skip
    if coldest >= needed:
        return row, []
    what = f"{assembly.id}: behind furniture the inside gets down to {coldest:.1f} C in the coldest month; mold wants {needed:.1f} C or less."
    why = f"{t_out:.1f} C outside on average, rooms at {T_IN_C:.0f} C and {100 * humidity:.0f} % (EN 15026, normal use); 80 % at the surface is the limit of ISO 13788."
    fix = "Put more insulation outside the framing, keep furniture off that wall, or keep the rooms drier."
    return row, [Finding("heat.cold_surface", "warn", what, why, fix, assembly.where, source="ISO 13788")]


def _layer(r: Any) -> dict[str, Any]:
    return {
        "layer": r.kind, "material": r.name, "thickness_m": r.thickness_m, "conductivity_W_mK": r.k, "r_m2K_W": _r(r.r) if r.counts else 0.0,
        "r_framing_m2K_W": _r(r.r_framing) if r.counts else 0.0, "existing": r.existing, "outside_open_gap": not r.counts, "source": r.source,
    }  # fmt: skip


def _r(x: float) -> float:
    return float(f"{x:.4g}")

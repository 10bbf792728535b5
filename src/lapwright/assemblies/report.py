"""`moisture JOB`: every wall of the job through drawn years, its verdict, the monthly check and the code's rule beside it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from lapwright.assemblies.build import Built, build, is_floor, refusals
from lapwright.assemblies.code import ratio
from lapwright.assemblies.judge import KEPT, Verdict, matters, places, sentence, verdict
from lapwright.assemblies.weather import FACTORS, bearing, members, monthly_air
from lapwright.catalog.model import Catalog
from lapwright.findings import Finding, Where
from lapwright.moisture.glaser import AIR_DELTA, monthly
from lapwright.moisture.march import Pace
from lapwright.moisture.run import Run, simulate
from lapwright.moisture.wall import Climate, Layer, Membrane, Wall
from lapwright.scope.model import Assembly, Job
from lapwright.survey.model import Place as Site
from lapwright.weather import Hourly, Normals, climate_zone, draw, find, nearest
from lapwright.weather import places as places_known

DAYS = 730  # the first dries what was built in, the second is judged and compared with it
QUICK = Pace(1.2, 3.0, 0.06, 0.6, 6.0, 0.03)  # measured: 0.25 kg/m3 and 0.45 K from a run 50 times as strict, at most
FAR_KM = 150.0  # a nearer climate is told without a word
MEMBERS = 8
LEAK_CASE = "with a leak at a sill corner"
COMMON_CASE = "with the rain faults that walls have"


def report(
    job: Job, catalog: Catalog | None, count: int = MEMBERS, seed: int = 1,
    progress: Callable[[int, int], None] | None = None, days: int = DAYS,
) -> tuple[dict[str, Any], list[Finding]]:
    """Return the document (`place`, `climate`, `assemblies`) and all findings of a job's walls.

    count: members of the ensemble per wall and case (4 to 400); the same seed gives the same figures; days: how long,
    from 1 October on: the first half dries what was built in, the second is judged. progress: (hours done, all hours).
    """
    found: list[Finding] = []
    site = job.survey.place
    normals = climate_of(site, found)
    walls: list[Built] = []
    rows: list[dict[str, Any]] = []
    for assembly in job.scope.assemblies.values():
        if is_floor(assembly):
            found.append(_note(assembly, "moisture.floor", f"{assembly.id} is a floor on the ground: it is not judged here."))
            continue
        found += refusals(assembly, catalog)
        made = build(assembly, catalog)
        if made is not None:
            walls.append(made)
    doc: dict[str, Any] = {
        "job": {"name": job.survey.name, "units": job.survey.units, "place": site.name},
        "climate": _climate_row(normals, site), "members": count, "days": days, "seed": seed,
    }  # fmt: skip
    if normals is not None and walls:
        found_in = {a.id: a for a in job.scope.assemblies.values()}
        rows = _judged(walls, normals, site, count, seed, found_in, found, progress, days)
    doc["assemblies"] = rows
    if not job.scope.assemblies:
        found.append(Finding("moisture.no_assemblies", "note", "The job has no assemblies.", fix="List them under `assemblies:`, outside to inside."))
    return doc, found


def climate_of(site: Site, found: list[Finding], topic: str = "moisture") -> Normals | None:
    """Return the normals of where a house stands, or None; what was taken or is missing is said as `topic` findings."""
    if site.climate:
        named = find(site.climate)
        if named is not None:
            return named
        found.append(
            Finding(
                f"{topic}.unknown_climate", "warn", f"There is no built-in climate of {site.climate}.",
                fix="Take a place of docs/moisture.md, like `Duluth, MN`, or give latitude and longitude.",
            )
        )  # fmt: skip
    if site.latitude_deg is not None and site.longitude_deg is not None:
        near, km = nearest(site.latitude_deg, site.longitude_deg)
        if km > FAR_KM:
            found.append(
                Finding(
                    f"{topic}.far_climate", "warn", f"The nearest built-in climate is {near.key}, {km:.0f} km away.",
                    "Its weather is taken.", "Name a climate that is like yours: `place: {climate: ...}`.",
                )
            )  # fmt: skip
        return near
    named = find(site.name) if site.name else None
    if named is None:
        found.append(
            Finding(
                f"{topic}.no_climate", "warn", _unplaced(site.name),
                "Whether a wall stays dry, and what it loses, hangs on the weather.", "Give `place:` a `climate:` or `latitude:` and `longitude:`.",
            )
        )  # fmt: skip
    return named


def _unplaced(name: str) -> str:
    """Say why no climate was found: nothing said, a name that several places bear, or one that none bears."""
    if not name:
        return "It is not known where the house stands: its weather is not known."
    alike = [p for p in places_known() if p.split(",")[0].casefold() == name.split(",")[0].strip().casefold()]
    if alike:
        return f"There are several built-in climates of {name}: {', '.join(alike)}. None is taken."
    return f"There is no built-in climate of {name}, and its latitude and longitude are not given."


def _climate_row(n: Normals | None, site: Site) -> dict[str, Any] | None:
    if n is None:
        return None
    by_normals = climate_zone(n)
    zone = site.climate_zone or by_normals
    return {"place": n.key, "period": n.period, "zone": zone, "zone_by_normals": by_normals, "zone_given": bool(site.climate_zone), "source": n.source}


def _judged(
    walls: list[Built], normals: Normals, site: Site, count: int, seed: int,
    listed: dict[str, Assembly], found: list[Finding], progress: Callable[[int, int], None] | None, days: int,
) -> list[dict[str, Any]]:  # fmt: skip
    years = [draw(normals, max(-(-days // 365), 1), seed * 1000 + k) for k in range(count)]
    common, unit = members(count, seed, False)
    leaky, _ = members(count, seed, True)
    batch: list[tuple[Wall, Climate]] = []
    for built in walls:
        for case in (common, leaky):
            batch += [(built.wall, bearing(built, years[m.years], m)) for m in case]
    run = _run(batch, walls, progress, days)
    zone = site.climate_zone or climate_zone(normals)
    rows = []
    for k, built in enumerate(walls):
        first = 2 * count * k
        rows.append(_row(built, run, first, count, unit, zone, years, listed[built.id], found))
    return rows


def _run(
    batch: list[tuple[Wall, Climate]], walls: list[Built], progress: Callable[[int, int], None] | None, days: int
) -> Run:
    most = max(len(b.spots) for b in walls)
    probes = [(k, at) for k in range(most) for at in ("outer", "inner")]
    return simulate(
        [w for w, _ in batch], [c for _, c in batch], hours=24 * days, probes=probes, record_every=int(KEPT), pace=QUICK,
        progress=progress,
    )  # fmt: skip


def _row(
    built: Built, run: Run, first: int, count: int, unit: Any, zone: str, years: list[Hourly], assembly: Assembly,
    found: list[Finding],
) -> dict[str, Any]:  # fmt: skip
    per_year = run.water.shape[1] // 2
    groups = [np.arange(first, first + count), np.arange(first + count, first + 2 * count)]
    mine: list[Finding] = []
    lost = run.failed_h[first : first + 2 * count]
    row: dict[str, Any] = {"id": built.id, "verdict": "warn", "verdict_leak": None}
    if np.isfinite(lost).any():
        hour = float(np.nanmin(lost))
        mine.append(_finding(assembly, "moisture.no_answer", "warn", f"{built.id}: the reckoning stopped in hour {hour:.0f}; there is no verdict.", "Try other figures for its layers."))
        return {**row, "why": mine[0].what, "findings": _told(mine, found)}
    sides = [places(built, run, g, per_year) for g in groups]
    verdicts = [verdict(s) for s in sides]
    said = [sentence(v, case) for v, case in zip(verdicts, (COMMON_CASE.capitalize(), LEAK_CASE.capitalize()), strict=True)]
    for v, text, leak in zip(verdicts, said, (False, True), strict=True):
        if v.level is not None and v.governs is not None:
            mine.append(_wet(assembly, v, text, leak))
    check = _monthly(built, years)
    rule = ratio(built, zone)
    if rule.passes is False:
        mine.append(_finding(assembly, "moisture.code_ratio", "warn", f"{built.id}: {rule.says}", "More foam outside, another retarder inside, or an approved design.", rule.to_json()["source"]))
    peaks = [p for p in sides[0] if p.peak_pct is not None]
    spread: Any = np.zeros(count)
    if peaks and verdicts[0].governs is not None:
        spot = verdicts[0].governs.spot
        spread = run.water[spot.index][-per_year:, groups[0]].max(axis=0)
    row |= {
        "verdict": verdicts[0].word, "verdict_leak": verdicts[1].word, "why": said[0], "why_leak": said[1],
        "chance": _chance(verdicts[0]), "chance_leak": _chance(verdicts[1]),
        "places": [p.to_json() for p in sides[0]], "places_leak": [p.to_json() for p in sides[1]],
        "matters": matters(spread, unit, FACTORS), "monthly": check, "code": rule.to_json(),
        "agree": _agree(verdicts[0], check, rule.passes), "assumed": built.assumed,
        "water_balance": float(f"{float(run.balance[first : first + 2 * count].max()):.2g}"),
    }  # fmt: skip
    return {**row, "findings": _told(mine, found)}


def _chance(v: Verdict) -> dict[str, float]:
    return {"value": round(v.chance, 3), "low_95": round(v.low, 3), "high_95": round(v.high, 3)}


def _wet(assembly: Assembly, v: Verdict, text: str, leak: bool) -> Finding:
    fix = "Let it dry: a gap open at bottom and top behind the cladding, a retarder inside that opens, or foam outside that keeps it warm."
    if leak:
        fix = "Sill pan with end dams and a drain outside of the barrier; check it before it is covered."
    level = v.level or "note"
    if leak and level == "stop":
        level = "warn"  # a wall that cannot bear a leak is no reason not to build it: the sill is
    code = "moisture.leak" if leak else "moisture.wet"
    why = f"Chance {100 * v.chance:.0f} % (95 % of samplings: {100 * v.low:.0f} to {100 * v.high:.0f} %)."
    return Finding(code, level, f"{assembly.id}: {text}", why, fix, _where(assembly), "EN 15026; mold index of ASHRAE 160")


def _monthly(built: Built, years: list[Hourly]) -> dict[str, Any]:
    t, phi, t_in, phi_in = (np.mean([monthly_air(h)[k] for h in years], axis=0) for k in range(4))
    r: list[float] = []
    sd: list[float] = []
    pending = 0.0
    for part in built.wall.parts:
        if isinstance(part, Membrane):
            thick = AIR_DELTA / float(part.at(np.array(0.6)))
            if sd and len(sd) - 1 != built.gap:  # a sheet behind the gap counts with what lies behind it
                sd[-1] += thick
            else:
                pending += thick
        elif isinstance(part, Layer):
            r.append(part.thickness_m / part.material.conductivity)
            sd.append(part.thickness_m * AIR_DELTA / float(part.material.permeability(np.array(0.6))) + pending)
            pending = 0.0
    if built.gap is not None:  # what lies outside a gap with moving air does not hold vapor back
        r, sd = r[built.gap + 1 :] or r[-1:], sd[built.gap + 1 :] or sd[-1:]
    out = monthly(r, sd, 0.13, 0.04 if built.gap is None else 0.13, t.tolist(), phi.tolist(), t_in.tolist(), phi_in.tolist())
    return {"most_g_m2": round(1000 * float(out.held.max(initial=0.0)), 1), "dries": out.dries, "source": "ISO 13788:2012"}


def _agree(v: Verdict, check: dict[str, Any], passes: bool | None) -> str:
    """Say where the three ways disagree, and why they may."""
    wet = v.level in ("stop", "warn")
    steady = check["most_g_m2"] > 1 and not check["dries"]
    parts = []
    if wet and check["most_g_m2"] < 1:
        parts.append("The monthly check sees no condensation: it knows no rain, sun, leaks or stored water.")
    if not wet and steady:
        parts.append("The monthly check lets water pile up: it knows no storage, no sun on the wall and no moving air in it.")
    if passes is False and not wet:
        parts.append("The code's rule asks for more: it holds for any house air and any cladding in the zone.")
    if passes and wet:
        parts.append("The code's rule is met: it looks at vapor from the rooms only, not at rain.")
    return " ".join(parts) or "The transient years, the monthly check and the code's rule do not contradict each other."


def _told(mine: list[Finding], found: list[Finding]) -> list[dict[str, Any]]:
    found += mine
    return [f.to_json() for f in mine]


def _where(assembly: Assembly) -> Where:
    return Where(file=assembly.where.file, line=assembly.where.line, thing=assembly.id)


def _finding(assembly: Assembly, code: str, level: Any, what: str, fix: str, source: Any = "") -> Finding:
    return Finding(code, level, what, "", fix, _where(assembly), str(source))


def _note(assembly: Assembly, code: str, what: str) -> Finding:
    return Finding(code, "note", what, where=_where(assembly))

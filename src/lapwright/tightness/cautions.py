"""What follows from a tighter house: fans for fresh air, and fires that need their draft. Never an all-clear."""

from __future__ import annotations

from typing import Any

from lapwright import air
from lapwright.air.draft import (
    EXHAUST_M3_H_M2,
    FANS_BELOW_1_H,
    LEAST_NATURAL_1_H,
    DraftLimit,
)
from lapwright.findings import Finding, Where
from lapwright.survey.model import Survey
from lapwright.tightness.change import Summary
from lapwright.tightness.readings import Readings
from lapwright.tightness.words import Say, figure

ADOPTED = "check your local code"
SEALED = ("sealed", "direct vent", "direct-vent")
NO_FLUE = ("range", "stove top", "cooktop", "oven")  # they burn in the room; a hood is for them, not a draft limit


def ventilation(summary: Summary, readings: Readings, say: Say) -> tuple[dict[str, Any], list[Finding]]:
    """Return the whole-house rate of ASHRAE 62.2 after the test, the credit for leaks, and what to say."""
    house = summary.house
    floor, beds, height = house.floor_m2.value, house.bedrooms.value, house.height_m.value
    wsf = readings.number("wsf")
    where = Where(file=summary.file, thing=summary.name)
    lacks = [name for name, value in (("floor_area_m2", floor), ("bedrooms", beds)) if value is None]
    row: dict[str, Any] = {
        "total_m3_h": None, "infiltration_m3_h": None, "fan_m3_h": None, "fan_balanced_m3_h": None,
        "floor_area_from": house.floor_m2.source, "bedrooms_from": house.bedrooms.source,
        "lacks": [*lacks, *([] if wsf else ["wsf"]), *([] if height else ["height_m"])],
        "source": "ASHRAE 62.2",
    }  # fmt: skip
    findings: list[Finding] = []
    ach50 = summary.ach50
    if ach50 is not None and ach50 <= FANS_BELOW_1_H:
        findings.append(
            Finding(
                "air.fans", "warn", f"At {ach50:.1f} air changes an hour at 50 Pa the house needs fans for fresh air.",
                "Leaks no longer bring enough of it, and damp stays indoors.",
                "Plan a whole-house fan before the last hole is closed.", where, f"IRC R303.4, from memory; {ADOPTED}",
            )
        )  # fmt: skip
    if floor is None or beds is None:
        return row, findings
    total = air.whole_house_rate_m3_h(floor, int(beds))
    row["total_m3_h"] = figure(total)
    text = f"Fresh air for {say.floor(floor)} and {int(beds)} bedrooms: {say.flow(total)} in all"
    fix = "Size the whole-house fan for that; give wsf (the place's weather factor) for the credit of the leaks."
    if wsf and height:
        leak = air.infiltration_m3_h(summary.flow(50.0).value, wsf, height)
        alone, balanced = air.fan_rate_m3_h(total, leak), air.fan_rate_m3_h(total, leak, balanced=True)
        row.update(infiltration_m3_h=figure(leak), fan_m3_h=figure(alone), fan_balanced_m3_h=figure(balanced))
        text += f", {say.flow(alone)} by a fan one way or {say.flow(balanced)} by a balanced one"
        fix = "Size the whole-house fan for that, and measure it when it runs."
    what = f"{text}."
    source = f"ASHRAE 62.2, detached house; {ADOPTED}"
    findings.append(Finding("air.ventilation", "note", what, "", fix, where, source))
    return row, findings


def combustion(summary: Summary, survey: Survey | None, say: Say) -> tuple[dict[str, Any], list[Finding]]:
    """Return how far the exhaust fans pull the house down, the limits, and the cautions at the thresholds."""
    fires = survey.fuel_burning if survey else ()
    open_fires = tuple(f for f in fires if not any(w in f.lower() for w in SEALED))
    drafts = tuple(f for f in open_fires if not any(w in f.lower() for w in NO_FLUE))
    limit = _limit(drafts)
    exhausts, house = summary.house.exhausts, summary.house
    exhaust = sum(flow for _, flow in exhausts)
    pulled = air.depressurization_Pa(exhaust, summary.C, summary.n) if exhausts and summary.n > 0.0 else None
    two = sum(sorted((flow for _, flow in exhausts), reverse=True)[:2])
    ach50 = summary.ach50
    natural = None if ach50 is None else air.natural_air_change_1_h(ach50)
    row: dict[str, Any] = {
        "fuel_burning": list(fires),
        "exhaust_m3_h": figure(exhaust) if exhausts else None,
        "exhaust_from": house.exhaust_source,
        "pulled_Pa": None if pulled is None else figure(pulled),
        "limit_Pa": limit.limit_Pa if limit else None,
        "limit_for": limit.what if limit else None,
        "natural_ach": None if natural is None else figure(natural),
        "all_clear": False,
    }
    where = Where(file=summary.file, thing=summary.name)
    findings: list[Finding] = []
    if fires:
        findings.append(
            Finding(
                "air.draft_test", "warn", f"Fuel burns in the house: {', '.join(fires)}.",
                "Closing leaks can pull flue gas indoors; no figure on this page is an all-clear.",
                "Have a licensed technician test draft, spillage and carbon monoxide after the work; set CO alarms.",
                where, f"common practice; {ADOPTED}",
            )
        )  # fmt: skip
    if limit and pulled is not None and pulled > limit.limit_Pa:
        findings.append(
            Finding(
                "air.draft", "warn",
                f"With all fans on ({say.flow(exhaust)}) the house lies about {pulled:.0f} Pa below outside; "
                f"{limit.limit_Pa:g} Pa is the most for a {limit.what}.",
                "Beyond that the chimney can turn round and fill the house with flue gas.",
                "Ask a licensed technician before the house is closed further: make-up air, or sealed combustion.",
                where, f"limits of weatherization programs, seen on a public form; {house.exhaust_source}",
            )
        )  # fmt: skip
    if drafts and natural is not None and natural < LEAST_NATURAL_1_H:
        findings.append(
            Finding(
                "air.combustion_air", "warn", f"About {natural:.2f} air changes an hour by weather is little air for a fire.",
                f"Below {LEAST_NATURAL_1_H:.2f} the room's volume no longer counts as combustion air by the standard way.",
                "Have the combustion air worked out anew by a licensed technician.",
                where, f"IFGC 304.5, IRC G2407.5, from memory; air change by weather is that at 50 Pa over 20; {ADOPTED}",
            )
        )  # fmt: skip
    if drafts and house.floor_m2.value and two > EXHAUST_M3_H_M2 * house.floor_m2.value:
        most = EXHAUST_M3_H_M2 * house.floor_m2.value
        findings.append(
            Finding(
                "air.exhaust", "warn",
                f"The two largest fans take out {say.flow(two)}; {say.flow(most)} is the most with open-draft fires in this house.",
                "Large fans compete with the chimney.", "Smaller fans, make-up air, or sealed combustion.",
                where, f"ASHRAE 62.2 section 6.4, from memory; {house.exhaust_source}",
            )
        )  # fmt: skip
    return row, findings


def _limit(drafts: tuple[str, ...]) -> DraftLimit | None:
    """Return the limit of the weakest fire; unknown kinds count as the weakest of all."""
    by_code = {item.code: item for item in air.DRAFT_LIMITS}
    words = [f.lower() for f in drafts]
    if not words:
        return None
    if any("power" in w or "induced" in w for w in words) and len(words) == 1:
        return by_code["fan_assisted"]
    heater = any("boiler" in w or "furnace" in w for w in words)
    water = any("water heater" in w for w in words)
    if heater and water:
        return by_code["shared"]
    return by_code["heater"] if heater and len(words) == 1 else by_code["water_heater"]

"""Holds the prediction against the fan test: inside its range or not, and which open ties could be the gap."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.air.components import COMPONENTS, SOURCE
from lapwright.findings import Finding, Level, Where
from lapwright.tightness.change import Summary
from lapwright.tightness.words import Say, figure, pair

SCATTER = f"{SOURCE}; most rows from memory, houses differ by a factor of two"


def reconcile(prediction: Mapping[str, Any], summary: Summary, say: Say) -> tuple[dict[str, Any], list[Finding]]:
    """Return how a measured leakage area lies to a predicted one, and the finding on it.

    verdict: `inside`, `above` or `below` the predicted range (above and below only when the whole interval of the
    measurement lies outside). gap_cm2: measured less best guess. explains: open ties, largest first, with what they
    leak beyond sealed ones and the part of a positive gap that they could be. equal_m: metres of open foot of the
    wall that would leak as much as a positive gap.
    """
    predicted = prediction["ela4_cm2"]
    measured, (low, high) = summary.ela4_cm2(), summary.ela4_interval_cm2()
    verdict = "above" if low > predicted["high"] else "below" if high < predicted["low"] else "inside"
    gap = measured - predicted["best"]
    foot = COMPONENTS["sole_plate_open"].best - COMPONENTS["sole_plate_sealed"].best
    explains = [
        {**row, "part": figure(min(1.0, row["extra_cm2"] / gap)) if gap > 0.0 else None}
        for row in prediction["open_ties"]
    ]
    out = {
        "test": summary.name,
        "measured_ela4_cm2": figure(measured),
        "measured_95": pair((low, high)),
        "predicted_ela4_cm2": dict(predicted),
        "verdict": verdict,
        "gap_cm2": figure(gap),
        "explains": explains,
        "equal_m": figure(gap / foot) if gap > 0.0 else None,
    }
    return out, [_finding(out, gap, foot, summary, say)]


def _finding(out: Mapping[str, Any], gap: float, foot: float, summary: Summary, say: Say) -> Finding:
    where = Where(file=summary.file, line=summary.results[0].test.line, thing=summary.name)
    predicted = out["predicted_ela4_cm2"]
    what = (
        f"Holes measured {say.hole(out['measured_ela4_cm2'])} at 4 Pa; the ties and components add up to "
        f"{say.hole(predicted['best'])} ({say.hole(predicted['low'])} to {say.hole(predicted['high'])})."
    )
    level: Level = "warn" if out["verdict"] == "above" else "note"
    if gap <= 0.0:
        why = "Tighter than the best guess: nothing is missing by this measure."
        fix = "Nothing to close; keep the reading with the job." if out["verdict"] == "inside" else (
            "Check volume, fan rings and taped vents before you believe it."
        )  # fmt: skip
        return Finding("air.prediction", level, what, why, fix, where, SCATTER)
    ties = [f"{say.length(r['length_m'])} {r['words']} ({say.hole(r['extra_cm2'])})" for r in out["explains"]]
    equal = f"The gap of {say.hole(gap)} is what {say.length(gap / foot)} of open foot of the wall leaks."
    if ties:
        why = f"{equal} Open ties: {'; '.join(ties)}."
        fix = f"Close first: {out['explains'][0]['words']}, {', '.join(out['explains'][0]['ties'][:6])}."
    else:
        why = f"{equal} No tie of the plan is open, so look where the plan does not reach."
        fix = "Look with the fan running at hatch, chases, basement rim, kept walls and windows."
    return Finding("air.prediction", level, what, why, fix, where, SCATTER)

"""Before against after: what the work has changed, and whether the difference is more than scatter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lapwright import air
from lapwright.findings import Finding, Where
from lapwright.tightness.house import House
from lapwright.tightness.results import Result
from lapwright.tightness.words import Say, figure, pair


@dataclass(frozen=True)
class Summary:
    """One test, its modes averaged: flow at 50 and 4 Pa with uncertainty, the law's figures for other pressures."""

    name: str
    file: str
    results: tuple[Result, ...]
    house: House

    def flow(self, dp_Pa: float, modes: Sequence[str] | None = None) -> air.Estimate:
        """Return the flow at a pressure, the plain mean of the modes (all, or those named)."""
        return air.mean([air.flow_estimate(r.law, dp_Pa) for r in self.results if not modes or r.test.mode in modes])

    @property
    def modes(self) -> tuple[str, ...]:
        """The modes that were tested, in order."""
        return tuple(dict.fromkeys(r.test.mode for r in self.results))

    @property
    def n(self) -> float:
        """Mean exponent of the modes."""
        return sum(r.law.n for r in self.results) / len(self.results)

    @property
    def C(self) -> float:
        """Coefficient that gives the mean flow at 10 Pa with the mean exponent (house pressures lie near it)."""
        return float(self.flow(10.0).value / 10.0**self.n)

    @property
    def ach50(self) -> float | None:
        """Air changes an hour at 50 Pa, or None without a volume."""
        volume = self.house.volume_m3.value
        return air.air_change_1_h(self.flow(50.0).value, volume) if volume else None

    def ela4_cm2(self, flow4_m3_h: float | None = None) -> float:
        """Return the effective leakage area at 4 Pa, of the mean flow or of one given."""
        flow = self.flow(4.0).value if flow4_m3_h is None else flow4_m3_h
        return air.leakage_area_m2(max(0.0, flow), 4.0) * 1e4

    def ela4_interval_cm2(self) -> tuple[float, float]:
        """Return the confidence interval of the leakage area at 4 Pa; an end below 0 is 0."""
        low, high = self.flow(4.0).interval()
        return self.ela4_cm2(low), self.ela4_cm2(high)

    def to_json(self) -> dict[str, Any]:
        """Return the averaged figures."""
        flow50, area = self.flow(50.0), self.house.envelope_m2.value
        ach50 = self.ach50
        return {
            "test": self.name,
            "modes": list(self.modes),
            "n": figure(self.n),
            "flow50_m3_h": figure(flow50.value),
            "flow50_95": pair(flow50.interval()),
            "ach50": None if ach50 is None else figure(ach50),
            "q50_m3_h_m2": figure(air.permeability_m3_h_m2(flow50.value, area)) if area else None,
            "flow4_m3_h": figure(self.flow(4.0).value),
            "ela4_cm2": figure(self.ela4_cm2()),
            "ela4_95": pair(self.ela4_interval_cm2()),
        }


def summaries(file: str, results: Sequence[Result], house: House) -> list[Summary]:
    """Return one summary per test name, in order."""
    names = dict.fromkeys(r.test.name for r in results)
    return [Summary(name, file, tuple(r for r in results if r.test.name == name), house) for name in names]


def change(before: Summary, after: Summary, u_calibration: float, say: Say) -> tuple[dict[str, Any], list[Finding]]:
    """Return after less before at 50 Pa, like with like, and what is to be said about it.

    Only modes that both tests have are compared, if there are any. u_calibration: standard uncertainty, as a part,
    of the fan's and gauge's scale, shared by both tests.
    """
    common = [m for m in before.modes if m in after.modes]
    first, second = before.flow(50.0, common), after.flow(50.0, common)
    got = air.difference(first, second, u_calibration)
    percent, ends = (100.0 * (got.ratio - 1.0), tuple(100.0 * (r - 1.0) for r in (got.ratio_low, got.ratio_high)))
    row: dict[str, Any] = {
        "before": before.name,
        "after": after.name,
        "modes": common,
        "flow50_m3_h": figure(got.difference.value),
        "flow50_95": pair((got.low, got.high)),
        "percent": figure(percent),
        "percent_95": pair((ends[0], ends[1])),
        "ela4_cm2": figure(after.ela4_cm2() - before.ela4_cm2()),
        "clear": got.clear,
        "covers": "scatter of the readings"
        + (f" and {u_calibration * 100:g} % of shared scale" if u_calibration else "; not the scale of fan and gauge"),
    }
    where = Where(file=after.file, line=after.results[0].test.line, thing=after.name)
    findings = [_verdict(before, after, got, percent, (ends[0], ends[1]), say, where)]
    if not common:
        findings.append(
            Finding(
                "air.other_mode", "warn", "Before and after were not tested in the same mode.",
                "Flaps and leaks under siding pass more one way than the other.",
                "Test both ways, before and after.", where, "common practice",
            )
        )  # fmt: skip
    return row, findings


def _verdict(
    before: Summary,
    after: Summary,
    got: air.Difference,
    percent: float,
    ends: tuple[float, float],
    say: Say,
    where: Where,
) -> Finding:
    flows = f"{say.flow(before.flow(50.0).value)} before, {say.flow(after.flow(50.0).value)} after, at 50 Pa"
    source = "difference of two regressions, 95 %"
    if not got.clear:
        what = f"No clear change: {flows}."
        why = "The difference is no larger than the scatter of the readings."
        return Finding(
            "air.no_change", "warn", what, why, "Take more readings, or look for what was not closed.", where, source
        )
    word, size = ("Tighter", -percent) if percent < 0.0 else ("Leakier", percent)
    low, high = sorted(abs(end) for end in ends)
    what = f"{word} by {size:.0f} % ({low:.0f} to {high:.0f}): {flows}."
    if percent < 0.0:
        why = "What comes out of the ground gathers in a tighter house."
        return Finding("air.change", "note", what, why, "Keep both readings; test for radon again.", where, source)
    fix = "Look with the fan running at what was opened since: hatches, ducts, sealed fans left open."
    return Finding("air.leakier", "warn", what, "The work should have closed leaks.", fix, where, source)

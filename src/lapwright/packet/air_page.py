"""The fan tests on paper: the chart, before against after, what the joints should leak, and the cautions beside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from lapwright.order.words import plain
from lapwright.packet.fan_chart import CFM_PER_M3_H, fan_chart
from lapwright.packet.view import View

SQ_IN_PER_CM2 = 1 / 2.54**2  # exact
HEAD = ["test", "n", "at 50 Pa", "low to high", "air changes at 50 Pa", "holes at 4 Pa"]
CHART = "fan-tests.svg"
VERDICTS = {
    "inside": "within the range",
    "above": "more than the range: something leaks that the list does not hold",
    "below": "less than the range",
}


def air_page(view: View, air: Mapping[str, Any] | None, drawings: dict[str, str]) -> dict[str, Any] | None:
    """Return what the page of the fan tests says, and put the chart into `drawings`; None without a test.

    air: the document of `lapwright air --json`.
    """
    if not air or not air["tests"]:
        return None
    drawings[CHART] = fan_chart(air["tests"], "imperial" if view.imperial else "metric")
    return {
        "chart": CHART,
        "head": HEAD,
        "tests": test_rows(air["tests"], view.imperial),
        "warnings": [f"{t['test']}, {t['mode']}: {w}" for t in air["tests"] for w in t["warnings"]],
        "changes": [_change(view, c) for c in air.get("changes") or []],
        "joints": [
            [
                r["test"],
                _area(view.imperial, r["measured_ela4_cm2"]),
                f"{_area(view.imperial, r['predicted_ela4_cm2']['best'])} ({_area(view.imperial, r['predicted_ela4_cm2']['low'])} "
                f"to {_area(view.imperial, r['predicted_ela4_cm2']['high'])})",
                VERDICTS.get(r["verdict"], r["verdict"]),
            ]
            for r in air.get("reconciled") or []
        ],
        "cautions": [
            {"strong": f["level"] != "note", "what": f["what"], "fix": f["fix"], "why": f["why"]}
            for f in air.get("findings") or []
        ],
    }


def test_rows(tests: Iterable[Mapping[str, Any]], imperial: bool) -> list[list[str]]:
    """Return the fan tests in words, cell by cell under `HEAD`."""
    return [
        [
            f"{t['test']}, {t['mode']}",
            _plain(t["n"], 3),
            _flow(imperial, t["flow50_m3_h"]),
            _range(imperial, t["flow50_95"]),
            _plain(t["ach50"], 3),
            _area(imperial, t["ela4_cm2"]),
        ]
        for t in tests
    ]


def _change(view: View, row: Mapping[str, Any]) -> str:
    if not row["clear"]:
        return f"{row['before']} to {row['after']}: no clear change; the readings scatter more than they differ."
    way = "tighter" if row["percent"] < 0 else "leakier"
    low, high = sorted(abs(p) for p in row["percent_95"])
    return (
        f"{row['before']} to {row['after']}: {way} by {abs(row['percent']):.0f} % ({low:.0f} to {high:.0f} %, 19 times "
        f"of 20), {_flow(view.imperial, abs(row['flow50_m3_h']))} at 50 Pa. This covers {row['covers']}."
    )


def _plain(value: float | None, digits: int) -> str:
    return "-" if value is None else plain(value, digits)


def _flow(imperial: bool, m3_h: float | None) -> str:
    if m3_h is None:
        return "-"
    return f"{plain(m3_h * CFM_PER_M3_H, 3)} cfm" if imperial else f"{plain(m3_h, 3)} m3/h"


def _range(imperial: bool, pair: list[float | None] | None) -> str:
    return f"{_flow(imperial, pair[0])} to {_flow(imperial, pair[1])}" if pair else "-"


def _area(imperial: bool, cm2: float | None) -> str:
    if cm2 is None:
        return "-"
    return f"{plain(cm2 * SQ_IN_PER_CM2, 3)} sq in" if imperial else f"{plain(cm2, 3)} cm2"

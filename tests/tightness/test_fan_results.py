"""Results of fan tests: the contract's keys, the textbook's figures, corrections by hand, before against after."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from fan_jobs import DEMO, HOUSE, TEXTBOOK, house, law, many
from hypothesis import given
from hypothesis import strategies as st

from lapwright import tightness
from lapwright.tightness import parse_readings, report

CONTRACT = {
    "test", "mode", "n", "n_95", "C_m3_h", "r2", "flow50_m3_h", "flow50_95", "ach50", "q50_m3_h_m2", "flow4_m3_h",
    "ela4_cm2", "extrapolated", "warnings",
}  # fmt: skip


def only(text: str, name: str = "fan.csv") -> dict[str, object]:
    """Return the one test of a text."""
    (row,) = tightness.tests_of(parse_readings(text, name))
    return row


def written(tmp_path: Path, name: str, text: str) -> Path:
    """Write a readings file and return its path."""
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_the_textbook_through_the_file() -> None:
    row = only("# volume_m3: 300\n# area_m2: 250\n" + TEXTBOOK)
    assert row.keys() >= CONTRACT
    # Figures as in tests/outside/data/fan/textbook_figures.csv, to the contract's four digits.
    assert (row["n"], row["C_m3_h"], row["r2"], row["n_95"]) == (0.6434, 53.4, 0.9815, [0.5207, 0.7662])
    assert (row["flow50_m3_h"], row["flow4_m3_h"], row["ela4_cm2"]) == (661.8, 130.3, 140.2)
    assert row["ach50"] == pytest.approx(661.77 / 300, rel=1e-3) and row["extrapolated"] is False
    assert row["q50_m3_h_m2"] == pytest.approx(661.77 / 250, rel=1e-3)
    assert row["warnings"] == []
    json.dumps(row, allow_nan=False)


@pytest.mark.parametrize("column, factor", [("flow_m3_h", 1.0), ("flow_l_s", 1 / 3.6), ("flow_cfm", 1 / 1.69901082)])
def test_units_of_flow(column: str, factor: float) -> None:
    rows = "".join(f"{p},{100 * p**0.6 * factor:.6f}\n" for p in (10, 20, 30, 40, 50))
    row = only(f"dp_Pa,{column}\n{rows}")
    assert (row["n"], row["C_m3_h"]) == (0.6, 100.0)


@many(30)
@given(st.floats(20, 1000), st.floats(0.5, 1.0), st.integers(-40, 40))
def test_an_exact_law_behind_a_zero_flow_pressure_is_found(C: float, n: float, tenths: int) -> None:
    zero = tenths / 10
    pressures = (22, 28, 35, 42, 50, 58)
    rows = "".join(f"{p + zero:.9f},{C * p**n:.9f},{zero:.9f}\n" for p in pressures)
    row = only(f"dp_Pa,flow_m3_h,zero_dp_Pa\n{rows}")
    assert row["n"] == pytest.approx(n, rel=1e-3) and row["flow50_m3_h"] == pytest.approx(C * 50**n, rel=1e-3)
    assert any(f"{zero:.3g} Pa is taken off" in text for text in row["corrections"])  # type: ignore[union-attr]


def test_density_corrections_by_hand() -> None:
    # ISO 9972: depressurizing, q = q_m T_out / T_in; C to 20 C: (T0 / T_out)^(1 - n). Dry air at sea level.
    head = "# t_in_C: 22\n# t_out_C: -8\n# altitude_m: 0\n"
    t_in, t_out, t_0, n = 295.15, 265.15, 293.15, 0.65
    depressurize = only(law(100.0, n, head))
    assert depressurize["C_m3_h"] == pytest.approx(100 * t_out / t_in * (t_0 / t_out) ** (1 - n), rel=1e-3)
    rows = law(100.0, n, head).replace("dp_Pa,flow_m3_h\n", "dp_Pa,flow_m3_h,mode\n")
    rows = "\n".join(r + ",pressurize" if r[0].isdigit() else r for r in rows.splitlines())
    pressurize = only(rows)
    assert pressurize["C_m3_h"] == pytest.approx(100 * t_in / t_out * (t_0 / t_in) ** (1 - n), rel=1e-3)
    for row in (depressurize, pressurize):
        assert row["n"] == 0.65 and row["r2"] == 1.0
        text = " ".join(row["corrections"])  # type: ignore[arg-type]
        assert "air density" in text and "mass is kept" in text and "to 20 C" in text
        # The points lie on the line that is given.
        for p, q in row["points"]:  # type: ignore[union-attr, misc]
            assert q == pytest.approx(row["C_m3_h"] * p**0.65, rel=2e-3)  # type: ignore[operator]


def test_altitude_thins_the_air_and_a_scale_can_be_put_right() -> None:
    head = "# t_in_C: 20\n# t_out_C: 20\n# altitude_m: {}\n"
    thin = 89875 / 101325  # standard atmosphere at 1000 m, see tests/outside/data/fan/moist_air.csv
    assert only(law(100.0, 0.65, head.format(0)))["C_m3_h"] == 100.0
    assert only(law(100.0, 0.65, head.format(1000)))["C_m3_h"] == pytest.approx(100 * thin**0.35, rel=1e-3)
    scaled = only(law(100.0, 0.65, head.format(1000) + "# flow_reads: indicated\n"))
    assert scaled["C_m3_h"] == pytest.approx(100 * thin**0.35 / math.sqrt(thin), rel=1e-3)
    # Without both temperatures nothing is corrected, and it says so.
    row = only(law(100.0, 0.65, "# t_in_C: 20\n# altitude_m: 1000\n"))
    assert row["C_m3_h"] == 100.0 and any("not corrected" in t for t in row["corrections"])  # type: ignore[union-attr]


def test_the_job_gives_what_the_file_does_not() -> None:
    (row,) = tightness.tests_of(parse_readings(law()), house())
    flow50 = 100 * 50**0.65
    assert row["ach50"] == pytest.approx(flow50 / (60 * 4.8), rel=1e-3)
    assert row["q50_m3_h_m2"] == pytest.approx(flow50 / (32 * 5.2 + 120), rel=1e-3)
    (row,) = tightness.tests_of(parse_readings(law(head="# volume_m3: 500\n# t_in_C: 20\n# t_out_C: 20\n")), house())
    assert row["ach50"] == pytest.approx(flow50 * (89875 / 101325) ** 0.35 / 500, rel=1e-3)
    (row,) = tightness.tests_of(parse_readings(law()), house(HOUSE.split("storeys:")[0]))
    assert row["ach50"] is None and row["q50_m3_h_m2"] is None


def test_extrapolation_and_the_standards_warnings_are_marked(tmp_path: Path) -> None:
    row = only(law(pressures=(12, 18, 25, 33)))
    assert row["extrapolated"] is True
    text = " ".join(row["warnings"])  # type: ignore[arg-type]
    assert "extrapolated" in text and "ISO 9972" in text and "from memory" in text and "Readings 4" in text
    assert only(law(pressures=(52, 55, 60, 65, 70)))["extrapolated"] is True
    path = written(
        tmp_path, "fan.csv", law(n=0.45, head="# t_in_C: 21\n# t_out_C: -30\n# height_m: 9\n# wind_m_s: 8\n")
    )
    found = report(path)[1]
    warned = {f.code: f for f in found if f.level == "warn"}
    assert {"air.exponent", "air.stack", "air.wind"} == warned.keys()
    assert all(f.fix and f.why and f.source and f.where.line == 6 for f in warned.values())


def test_a_weighted_fit_on_request() -> None:
    noisy = "dp_Pa,flow_m3_h\n8,330\n12,480\n20,700\n31,930\n44,1190\n58,1400\n"
    plain, weighted = only(noisy), only("# fit: weighted\n# u_dp_Pa: 1\n# u_flow_pct: 3\n" + noisy)
    assert plain["n"] != weighted["n"] and "ordinary" in plain["fit"] and "weighted" in weighted["fit"]  # type: ignore[operator]
    same = only("# fit: weighted\n# u_dp_Pa: 0\n# u_flow_pct: 3\n" + noisy)
    assert same["n"] == plain["n"]


def modes(before: tuple[float, ...], after: tuple[float, ...]) -> str:
    """Return exact laws of tests 'before' and 'after', one coefficient per mode (depressurize, pressurize)."""
    out = "test,mode,dp_Pa,flow_m3_h\n"
    for name, coefficients in (("before", before), ("after", after)):
        for mode, C in zip(("depressurize", "pressurize"), coefficients, strict=False):
            out += "".join(
                f"{name},{mode},{p},{C * p**0.65 * (1.01 if p == 30 else 1):.6f}\n" for p in (10, 20, 30, 40, 50)
            )
    return out


def test_both_modes_are_averaged_and_before_is_held_against_after(tmp_path: Path) -> None:
    doc, found = report(written(tmp_path, "fan.csv", "# volume_m3: 400\n" + modes((390, 410), (150, 170))))
    assert [(t["test"], t["mode"]) for t in doc["tests"]] == [
        ("before", "depressurize"), ("before", "pressurize"), ("after", "depressurize"), ("after", "pressurize"),
    ]  # fmt: skip
    first, second = doc["averages"]
    assert first["flow50_m3_h"] == pytest.approx(400 * 50**0.65, rel=5e-3)  # one reading is 1 % off the law
    assert second["ach50"] == pytest.approx(second["flow50_m3_h"] / 400, rel=1e-3)
    (change,) = doc["changes"]
    assert change["percent"] == pytest.approx(-60.0, abs=0.01) and change["clear"]
    assert change["percent_95"][0] < change["percent"] < change["percent_95"][1]
    assert change["flow50_m3_h"] == pytest.approx(second["flow50_m3_h"] - first["flow50_m3_h"], rel=1e-3)
    assert [f.code for f in found if f.code.startswith("air.change")] == ["air.change"]
    assert "Tighter by 60 %" in next(f.what for f in found if f.code == "air.change")


def test_two_files_like_one(tmp_path: Path) -> None:
    text = modes((390, 410), (150, 170))
    rows = text.splitlines()
    before = written(tmp_path, "a.csv", "\n".join(r for r in rows if not r.startswith("after")))
    after = written(tmp_path, "b.csv", "\n".join(r for r in rows if not r.startswith("before")))
    both = report(after, before=before)[0]
    one = report(written(tmp_path, "one.csv", text))[0]
    assert both["changes"] == one["changes"] and both["tests"] == one["tests"]


def test_only_like_is_compared_with_like(tmp_path: Path) -> None:
    # Before only depressurized, 400 to 150: the pressurized test of after does not count.
    (change,) = report(written(tmp_path, "fan.csv", modes((400,), (150, 300))))[0]["changes"]
    assert change["modes"] == ["depressurize"] and change["percent"] == pytest.approx(-62.5, abs=0.01)
    text = modes((400,), (150, 300))
    rows = [r for r in text.splitlines() if not r.startswith("after,depressurize")]
    _, found = report(written(tmp_path, "odd.csv", "\n".join(rows)))
    assert "air.other_mode" in {f.code for f in found}


def test_scatter_is_no_change_and_more_leaks_are_said(tmp_path: Path) -> None:
    _, same = report(written(tmp_path, "same.csv", modes((400,), (401,))))
    assert {f.code for f in same if f.level == "warn"} == {"air.no_change"}
    _, worse = report(written(tmp_path, "worse.csv", modes((400,), (500,))))
    assert "Leakier by 25 %" in next(f.what for f in worse if f.code == "air.leakier")


def test_a_shared_scale_widens_the_difference_alone(tmp_path: Path) -> None:
    text = modes((400,), (150,))
    plain = report(written(tmp_path, "a.csv", text))[0]["changes"][0]
    scaled = report(written(tmp_path, "b.csv", "# u_calibration_pct: 5\n" + text))[0]["changes"][0]

    def width(ends: list[float]) -> float:
        return ends[1] - ends[0]

    assert width(scaled["flow50_95"]) > width(plain["flow50_95"]) and scaled["percent_95"] == plain["percent_95"]


def test_a_house_that_nobody_described_is_said_to_be_lacking(tmp_path: Path) -> None:
    doc, found = report(written(tmp_path, "fan.csv", TEXTBOOK))
    assert doc["house"]["volume_m3"] == {"value": None, "source": "not given"}
    assert {"air.no_volume", "air.no_area"} <= {f.code for f in found}
    assert doc["ventilation"]["total_m3_h"] is None and "floor_area_m2" in doc["ventilation"]["lacks"]


def test_the_demos_readings_are_sound_and_give_the_same_bytes_twice() -> None:
    # Invented readings of a 1924 house: about 12 air changes an hour before the work, about 5 after.
    def run() -> str:
        doc, found = report(DEMO / "fan-after.csv", house(), DEMO / "fan-before.csv")
        assert [t["warnings"] for t in doc["tests"]] == [[], [], [], []]
        assert doc["changes"][0]["clear"] and not any(t["extrapolated"] for t in doc["tests"])
        return json.dumps([doc, [f.to_json() for f in found]], allow_nan=False)

    assert run() == run()

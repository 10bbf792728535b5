"""Loads against published tables: withdrawal, yield modes, furring through foam, wind."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.loads import lateral, wind, withdrawal
from lapwright.loads.rows import IN, LBF, PSI

DATA = Path(__file__).parents[1] / "outside" / "data" / "fasteners"
PER_INCH = LBF / IN


def rows(name: str) -> list[dict[str, str]]:
    lines = [s for s in (DATA / name).read_text(encoding="utf-8").splitlines() if not s.startswith("#")]
    return list(csv.DictReader(lines))


def test_lag_withdrawal_is_the_published_table() -> None:
    seen = 0
    for row in rows("nds_lag_withdrawal.csv"):
        for diameter, value in row.items():
            if diameter != "G":
                got = withdrawal.lag_withdrawal(float(row["G"]), float(diameter) * IN) / PER_INCH
                assert abs(got - float(value)) <= 0.75, (row["G"], diameter)
                seen += 1
    assert seen == 121


def test_wood_screw_withdrawal_follows_the_table() -> None:
    for row in rows("nds_wood_screw_withdrawal.csv"):
        for size, value in row.items():
            if size != "G":
                shank = 0.060 + 0.013 * int(size.removeprefix("No"))
                got = withdrawal.screw_withdrawal(float(row["G"]), shank * IN) / PER_INCH
                assert got == pytest.approx(float(value), abs=0.06)


def test_yield_modes_are_those_of_the_published_nail_example() -> None:
    strength = lateral.bearing_pa(0.5)
    main = 3.0 - 0.75 - 0.148  # length less side member less the tapered tip of two diameters, half counted
    modes = lateral.yield_modes(
        lateral.Dowel(0.148 * IN, lateral.bending_yield_pa(0.148 * IN)), strength, 0.75 * IN, strength, main * IN
    )
    for row in rows("nail_example.csv"):
        got = modes[row["mode"]] / LBF / lateral.reduction(0.148 * IN)
        assert got == pytest.approx(float(row["published_lb"]), rel=0.01), row["mode"]


SCREWS = {
    "nail0.131": (0.131, 100e3, 1.25),
    "nail0.162": (0.162, 90e3, 1.25),
    "No10 wood screw": (0.152, 90e3, 1.0),  # root of the thread
    "1/4 lag": (0.173, 70e3, 1.5),
}


def test_furring_through_foam_gives_every_row_of_the_code_table() -> None:
    strength = lateral.bearing_pa(0.42)
    table = rows("furring_through_foam.csv")
    assert len(table) == 48
    for row in table:
        diameter, bending, penetration = SCREWS[row["fastener"]]
        load = float(row["load_per_fastener_lb"]) * LBF
        gap = lateral.thickest_gap(
            load, lateral.Dowel(diameter * IN, bending * PSI), strength, 0.75 * IN, strength, penetration * IN
        )
        printed = int(gap / IN / 0.05 + 1e-6) * 0.05  # the print steps by 0.05 in, downward
        if row["published_max_foam_in"] == "DR":
            assert printed < 0.5, row
        else:
            assert printed == pytest.approx(float(row["published_max_foam_in"]), abs=1e-9), row


def test_wind_pressures_are_those_of_the_residential_code() -> None:
    for row in rows("asce7_cc_roof_irc.csv"):
        named = {k.partition("(")[0]: v for k, v in row.items()}
        q = wind.velocity_pressure(float(row["V_mph"]) * wind.MPH, 30 * wind.FT, "B")
        assert 0.6 * q / wind.PSF == pytest.approx(float(row["q_ASD_psf"]), rel=1e-3)
        for zone, coefficient in (("z1_10ft2_neg_seen", -1.0), ("z3_10ft2_neg_seen", -2.8)):
            assert abs(wind.design_pressure(q, coefficient) / wind.PSF - float(named[zone])) <= 1.0
        for column, zone, area in (
            ("wall4_10_neg_calc", 4, 10), ("wall5_10_neg_calc", 5, 10), ("wall4_100_neg_calc", 4, 100), ("wall5_100_neg_calc", 5, 100),
        ):  # fmt: skip
            got = wind.design_pressure(q, wind.wall_coefficient(zone, area * wind.FT**2, True)) / wind.PSF
            assert got == pytest.approx(float(named[column]), rel=1.5e-3)


def test_height_factor_in_all_terrains() -> None:
    got = [round(wind.height_factor(30 * wind.FT, e), 4) for e in "BCD"]
    assert got == [0.7006, 0.9823, 1.1622]
    assert wind.height_factor(0.0, "C") == wind.height_factor(15 * wind.FT, "C")


@given(
    st.floats(0.1, 0.3), st.floats(0.35, 0.7), st.floats(0.5, 1.5), st.floats(1.0, 3.0), st.floats(0.0, 6.0), st.floats(0.0, 2.0)
)
def test_each_mode_balances_forces_and_moments(
    d: float, g: float, side: float, main: float, gap: float, more: float
) -> None:
    """From the free body of a dowel, written anew: mode IV has hinges at x = P/q in each member; the moments of the pair
    of bearing blocks about one hinge must equal both yield moments."""
    q, my = lateral.bearing_pa(g) / PSI * d, 80e3 * d**3 / 6
    dowel = lateral.Dowel(d * IN, 80e3 * PSI)
    pa = lateral.bearing_pa(g)
    modes = lateral.yield_modes(dowel, pa, side * IN, pa, main * IN, gap * IN)
    p = modes["IV"] / LBF
    x = p / q
    assert p * (gap + 2 * x) - 2 * q * x * x / 2 == pytest.approx(2 * my, rel=1e-9)
    wider = lateral.yield_modes(dowel, pa, side * IN, pa, main * IN, (gap + more) * IN)
    assert all(wider[k] <= modes[k] + 1e-9 for k in modes)


def test_what_lies_outside_is_refused() -> None:
    for call in (
        lambda: withdrawal.lag_withdrawal(2.0, 0.006),
        lambda: wind.height_factor(30.0, "B"),
        lambda: wind.height_factor(5.0, "A"),
        lambda: wind.velocity_pressure(0.0, 5.0, "B"),
        lambda: lateral.bending_yield_pa(0.001),
    ):
        with pytest.raises(ValueError, match=r"outside|none of|no bending"):
            call()


def test_pull_through_levels_off_for_thick_side_members() -> None:
    thin, edge, thick = (withdrawal.head_pull_through(0.42, 0.01, t) for t in (0.01, 0.025, 0.05))
    assert thin < edge == thick

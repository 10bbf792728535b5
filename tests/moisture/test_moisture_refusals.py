"""Bad walls and climates are told in plain words, with the thing and its value."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from lapwright.moisture import Climate, Layer, Material, Membrane, Wall, simulate

GOOD: dict[str, Any] = {
    "density": 450.0, "heat_capacity": 1600.0, "conductivity": 0.12, "sorption": [(0.8, 60.0), (1.0, 500.0)], "mu_dry": 90.0,
}  # fmt: skip


@pytest.mark.parametrize(
    "change, said",
    [
        ({"density": 0.0}, "density must be above 0"),
        ({"conductivity": -1.0}, "conductivity must be above 0"),
        ({"mu_dry": 0.0}, "mu_dry must be above 0"),
        ({"sorption": [(0.8, 60.0), (0.7, 70.0)]}, "must rise"),
        ({"sorption": [(0.8, 60.0), (1.0, 50.0)]}, "must not fall"),
        ({"absorption": -0.1}, "absorption must not be negative"),
    ],
)
def test_a_property_that_cannot_be_is_named(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=f"board: .*{said}"):
        Material.of("board", **{**GOOD, **change})


def test_a_layer_without_thickness_and_a_wall_without_layers_are_refused() -> None:
    board = Material.of("board", **GOOD)
    with pytest.raises(ValueError, match="board: thickness must be above 0, got 0"):
        Wall((Layer(board, 0.0),))
    with pytest.raises(ValueError, match="at least one layer"):
        Wall((Membrane(1e-10),))
    with pytest.raises(ValueError, match="permeance must be above 0"):
        Wall((Layer(board, 0.01), Membrane(0.0)))


def test_weather_with_a_gap_or_wrong_units_names_the_hour() -> None:
    t = np.full(25, 10.0)
    p = np.full(25, 800.0)
    p[7] = np.nan
    with pytest.raises(ValueError, match="p_out_Pa at hour 7 is nan"):
        Climate(t, p)
    with pytest.raises(ValueError, match=r"t_out_C at hour 0 is 283\.15"):
        Climate(t + 273.15, np.full(25, 800.0))


def test_a_member_that_does_not_converge_is_named_and_gets_no_figures() -> None:
    board = Material.of("board", **GOOD)
    climate = Climate(np.full(25, 10.0), np.full(25, 800.0))
    walls = [Wall((Layer(board, 0.02),)), Wall((Layer(board, 0.02, start_phi=0.5),))]
    from lapwright.moisture import march, run

    real = march.solve

    def broken(low: Any, main: Any, up: Any, right: Any) -> Any:
        x0, x1 = real(low, main, up, right)
        return (x0 * np.nan, x1) if right.shape[-1] == 1 else (x0, x1)

    march.solve = broken  # a fault in the linear solver itself, to see that the march reports it
    try:
        out = run.simulate(walls[0], climate)
    finally:
        march.solve = real
    assert not out.converged
    assert out.failed_h[0] == 0.0
    assert np.isnan(out.phi).all()
    assert simulate(walls, climate).converged

"""Headroom, dig, foam and quantities against hand sums and the published example."""

from __future__ import annotations

import itertools
import math
import random

import pytest

from lapwright.slab.dig import dig
from lapwright.slab.foam import IN_M, PSI_PA, Board, judge, plate_pressure_pa, springs_n_m3
from lapwright.slab.headroom import ADDED, TERMS, NoBudget, headroom
from lapwright.slab.quantities import concrete_m3, drying_days, tube

LBF_N = 4.4482216152605
PCI = PSI_PA / IN_M  # lbf/in3 in N/m3


def test_every_missing_term_is_found_again() -> None:
    rng = random.Random(1)
    for _ in range(50):
        whole: dict[str, float | None] = {name: rng.uniform(0.02, 0.2) for name in ADDED}
        whole["now"], whole["dig"] = rng.uniform(1.8, 2.4), rng.uniform(0.5, 0.9)
        whole["after"] = whole["now"] + whole["dig"] - sum(whole[n] or 0 for n in ADDED)  # type: ignore[operator]
        for name in TERMS:
            found = headroom({**whole, name: None})
            assert found.solved == name and found[name] == pytest.approx(whole[name], abs=1e-6)


def test_a_budget_that_does_not_add_up_says_why() -> None:
    whole = {"now": 2.0, "dig": 0.2, "gravel": 0.1, "foam": 0.05, "slab": 0.1, "finish": 0.0, "after": 1.95}
    assert headroom(whole).solved == ""
    with pytest.raises(NoBudget, match="off"):
        headroom({**whole, "after": 2.0})
    with pytest.raises(NoBudget, match="dig would have to be -"):
        headroom({**whole, "dig": None, "after": 1.5})
    with pytest.raises(NoBudget, match="not more"):
        headroom({**whole, "dig": None, "now": None})


def test_the_wedge_by_hand() -> None:
    # 12 in below a foot that lies 4 in down: 8 in below it; 1:1 in clay, 2:1 in sand
    for soil, run in (("clay", 1.0), ("sand", 2.0)):
        found = dig(12 * IN_M, 4 * IN_M, footing=True, wall="concrete", soil=soil, bowed=False, wet=False)
        assert found.bench_m == pytest.approx(8 * IN_M * run)
        assert found.reasons == ("the dig goes below the foot of the wall",)
    assert dig(4 * IN_M, 4 * IN_M, footing=True, wall="concrete", soil="clay", bowed=False, wet=False).reasons == ()
    assert dig(0.1, None, footing=None).bench_m == math.inf
    assert dig(0.0, None, footing=None).bench_m == 0.0


@pytest.mark.parametrize(("wall", "bowed", "wet"), list(itertools.product(["stone", "block", "brick", "concrete"], [True, False], [True, False])))  # fmt: skip
def test_weak_walls_want_an_engineer(wall: str, bowed: bool, wet: bool) -> None:
    found = dig(0.1, 0.5, footing=True, wall=wall, soil="clay", bowed=bowed, wet=wet)
    assert bool(found.reasons) == (wall != "concrete" or bowed or wet)
    assert found.run == (2.0 if wet else 1.0)


def test_the_published_plate_example() -> None:
    """6 in slab, f'c 2500 psi, nu 0.15, K 180 pci, P 8000 lb -> 1.85 psi (published data sheet of extruded polystyrene)."""
    got = plate_pressure_pa(8000 * LBF_N, 180 * PCI, 6 * IN_M, 2500 * PSI_PA)
    assert got / PSI_PA == pytest.approx(1.85, abs=0.005)


def test_layers_are_springs_in_series() -> None:
    assert springs_n_m3([500.0, 500.0]) == pytest.approx(250.0)
    assert 1 / springs_n_m3([300.0, 700.0, 900.0]) == pytest.approx(1 / 300 + 1 / 700 + 1 / 900)


XPS = Board("xps", "XPS 25 psi", 2 * IN_M, 25 * PSI_PA, None, None, 675 * PCI, 0.0288, 0.3, True)


def test_boards_are_held_against_a_third_and_a_fifth() -> None:
    slab = 4 * IN_M
    dead = 4 * IN_M * 2400 * 9.80665
    easy = judge(XPS, slab_m=slab, live_pa=40 * 47.88)
    assert easy.out == () and easy.dead_used == pytest.approx(dead / (25 * PSI_PA / 3))
    assert easy.live_used == pytest.approx(40 * 47.88 / (25 * PSI_PA / 5))
    heavy = judge(XPS, slab_m=slab, live_pa=6 * PSI_PA)  # more than 5 psi
    assert len(heavy.out) == 1 and "live" in heavy.out[0]
    wet = judge(XPS, slab_m=slab, water_limit_pct=0.1)
    assert "water" in wet.out[0]
    assert judge(Board(**{**XPS.__dict__, "ground": False}), slab_m=slab).out == (
        "its standard does not cover contact with the ground",
    )
    unknown = Board("x", "x", 2 * IN_M, None, None, None, None, None, None, None)
    assert set(judge(unknown, slab_m=slab, point_n=100, wanted_r=1, water_limit_pct=1).open) == {
        "strength", "stiffness", "conductivity", "water uptake",
    }  # fmt: skip


def test_thickness_for_a_wanted_r() -> None:
    for wanted in (0.5, 1.76, 1.77, 3.5, 3.6):
        found = judge(XPS, slab_m=0.1, wanted_r=wanted)
        assert found.r_m2K_W is not None and found.r_m2K_W >= wanted - 1e-9
        assert found.layers == 1 or (found.layers - 1) * 2 * IN_M / 0.0288 < wanted


def test_quantities_by_hand() -> None:
    assert concrete_m3(8.0 * 5.0, 0.1) == pytest.approx(4.0)
    # 20 x 16 ft at 9 in: (320 - 72 x 0.5) / 0.75 = 378.67 ft in two loops
    length, loops = tube(320 * 0.09290304, 72 * 0.3048, 9 * IN_M)
    assert length / 0.3048 == pytest.approx((320 - 36) / 0.75, rel=1e-6) and loops == 2
    assert drying_days(4 * IN_M) == pytest.approx(112)

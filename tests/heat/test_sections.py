"""Sections in two dimensions against the cases of ISO 10211, an exact corner, and finite elements."""

from __future__ import annotations

import csv
import itertools
import math
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementQuad0, ElementQuad1, FacetBasis, LinearForm, MeshQuad, asm
from skfem import solve as solve_linear
from skfem.helpers import dot, grad

from lapwright.heat import Air, Block, Section, on_grid, overlaps, sized, solve
from lapwright.heat.psi import bridge

DATA = Path(__file__).parents[1] / "outside" / "data" / "heat"
HELD = (0.0, 0.0, 0.0)  # a surface at the air's own temperature
MM = 1e-3


def rows(name: str) -> list[list[str]]:
    lines = [x for x in (DATA / name).read_text().splitlines() if not x.startswith("#")]
    return list(csv.reader(lines))[1:]


def test_case_1_of_iso_10211() -> None:
    """Half a square column, 28 points, within 0.1 K as the standard asks; the exact series within 0.02 K."""
    section = Section(
        (Block(0, 0, 0.5, 1, 1.0),),
        (Air(0, 1, 0.5, 1.1, "warm", 20, HELD), Air(-0.1, 0, 0, 1, "cold", 0, HELD), Air(0, -0.1, 0.5, 0, "cold", 0, HELD)),
    )
    field = solve(section, 20_000).field
    for x, y, exact, printed in rows("iso10211_case1.csv"):
        got = field.at(float(x), float(y))
        assert abs(got - float(printed)) < 0.1 and abs(got - float(exact)) < 0.02


def case_2() -> Section:
    def block(x0: float, y0: float, x1: float, y1: float, k: float) -> Block:
        return Block(x0 * MM, y0 * MM, x1 * MM, y1 * MM, k)

    blocks = (
        block(0, 0, 500, 41.5, 0.029), block(0, 41.5, 500, 47.5, 1.15), block(0, 36.5, 15, 41.5, 0.12),
        block(0, 35, 15, 36.5, 230), block(0, 1.5, 1.5, 36.5, 230), block(0, 0, 500, 1.5, 230),
    )  # fmt: skip
    airs = (Air(0, 0.0475, 0.5, 0.06, "out", 0, (0.06,) * 3), Air(0, -0.01, 0.5, 0, "in", 20, (0.11,) * 3))
    return Section(blocks, airs)


def test_case_2_of_iso_10211() -> None:
    """Metal in foam: nine temperatures within 0.1 K, the flow within 0.1 W/m of the 9.5 printed."""
    done = solve(case_2(), 50_000, error=0.0005)
    assert abs(done.flows["in"] - 9.5) <= 0.1 and abs(done.flows["in"] + done.flows["out"]) < 1e-6
    assert done.error < 0.01
    for _, x, y, printed in rows("iso10211_case2.csv"):
        assert abs(done.field.at(float(x) * MM, float(y) * MM) - float(printed)) <= 0.1


@pytest.mark.parametrize("k", [0.04, 2.0])
def test_exact_corner(k: float) -> None:
    """Two walls of one thickness, surfaces held: psi is 0.558729 k by inside lengths, -1.441271 k by outside ones.

    The figures follow from a conformal map; they fix the sign.
    """
    d, leg = 0.2, 1.4  # at seven thicknesses from the corner heat runs straight
    blocks = (Block(0, 0, leg, d, k), Block(0, 0, d, leg, k))
    airs = (
        Air(d, d, leg, leg, "in", 20, HELD), Air(-0.1, -0.1, leg, 0, "out", 0, HELD), Air(-0.1, 0, 0, leg, "out", 0, HELD),
    )  # fmt: skip
    section = Section(blocks, airs)
    inside = bridge(section, "in", "out", [(k / d, leg - d)] * 2, 60_000, 0.0)
    assert inside.psi == pytest.approx(0.558729 * k, abs=0.004 * k)
    outside = bridge(section, "in", "out", [(k / d, leg)] * 2, 60_000, 0.0)
    assert outside.psi == pytest.approx(-1.441271 * k, abs=0.004 * k)
    assert inside.solved.error < 0.01


def test_layers_in_a_row_are_exact_on_any_grid() -> None:
    section = Section(
        (Block(0, 0, 0.02, 1, 0.16), Block(0.02, 0, 0.16, 1, 0.04), Block(0.16, 0, 0.17, 1, 0.25)),
        (Air(-1, 0, 0, 1, "out", -7, (0.04,) * 3), Air(0.17, 0, 0.3, 1, "in", 20, (0.13,) * 3)),
    )
    r = 0.04 + 0.02 / 0.16 + 0.14 / 0.04 + 0.01 / 0.25 + 0.13
    field = on_grid(section, np.array([-1, 0, 0.013, 0.02, 0.16, 0.17, 0.3]), np.array([0, 0.3, 1.0]))
    assert field.flows["in"] == pytest.approx(27 / r, rel=1e-12)
    assert field.lowest["in"].t_c == pytest.approx(20 - 27 / r * 0.13, rel=1e-12)
    assert field.at(0.16, 0.5) == pytest.approx(20 - 27 / r * (0.13 + 0.04), rel=1e-12)
    assert math.isnan(field.at(-0.5, 0.5))


def thrown(seed: int) -> Section:
    """A wall of random blocks, conductivities over two orders of ten."""
    random = np.random.default_rng(seed)
    blocks = [Block(0, 0, 0.3, 0.4, 0.5)]
    while len(blocks) < 7:
        x, y = np.sort(random.integers(0, 31, 2)) / 100, np.sort(random.integers(0, 41, 2)) / 100
        if x[0] < x[1] and y[0] < y[1]:
            k = float(np.exp(random.uniform(np.log(0.03), np.log(2))))
            blocks.append(Block(float(x[0]), float(y[0]), float(x[1]), float(y[1]), k))
    airs = (Air(-0.1, 0, 0, 0.4, "out", 0, (0.04,) * 3), Air(0.3, 0, 0.4, 0.4, "in", 20, (0.13,) * 3))
    return Section(tuple(blocks), airs)


def by_elements(section: Section, xs: np.ndarray, ys: np.ndarray) -> float:
    """Return the flow into the wall of `thrown` by bilinear finite elements, from scikit-fem."""
    mesh = MeshQuad.init_tensor(xs, ys)
    center = mesh.p[:, mesh.t].mean(axis=1)
    k = np.zeros(mesh.t.shape[1])
    for b in section.blocks:
        k[(center[0] > b.x0) & (center[0] < b.x1) & (center[1] > b.y0) & (center[1] < b.y1)] = b.k
    base = Basis(mesh, ElementQuad1())
    spread = base.with_element(ElementQuad0()).interpolate(k)
    matrix = asm(BilinearForm(lambda u, v, w: w["k"] * dot(grad(u), grad(v))), base, k=spread)
    load, warm = np.zeros(base.N), None
    for air, x in zip(section.airs, (0.0, 0.3), strict=True):
        side = FacetBasis(mesh, ElementQuad1(), facets=mesh.facets_satisfying(_on(x)))
        h = 1 / air.films[0]
        film = asm(BilinearForm(lambda u, v, w, h=h: h * u * v), side)
        gain = asm(LinearForm(lambda v, w, h=h: h * v), side)
        matrix, load, warm = matrix + film, load + gain * air.t_c, (film, gain, air.t_c)
    temps = solve_linear(matrix, load)
    assert warm is not None
    film, gain, t = warm
    return float(gain.sum() * t - (film @ temps).sum())


def _on(x: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda p: np.isclose(p[0], x)


@pytest.mark.parametrize("seed", range(3 * int(os.environ.get("LAPWRIGHT_SOAK", "1"))))
def test_finite_elements_bound_the_flow_from_above(seed: int) -> None:
    """With held or filmed surfaces, elements err upwards and balances of cells downwards: the truth lies between.

    The extrapolated flow must lie there too, nearer than the estimate says.
    """
    section = thrown(seed)
    done = solve(section, 40_000, error=0.0)
    xs, ys = sized(section, 40_000)
    above = by_elements(section, xs[(xs > -1e-9) & (xs < 0.3 + 1e-9)], ys)
    below, best = done.field.flows["in"], done.flows["in"]
    assert below <= best <= above
    assert above - below <= 2 * done.error * above + 1e-3 * above
    assert done.error < 0.01


def test_banded_and_sparse_solutions_agree() -> None:
    import lapwright.heat.conduct as conduct

    section = thrown(11)
    xs, ys = sized(section, 8_000)
    one = on_grid(section, xs, ys)
    kept, conduct.BAND = conduct.BAND, 0
    try:
        other = on_grid(section, xs, ys)
    finally:
        conduct.BAND = kept
    assert np.allclose(one.t_c, other.t_c, equal_nan=True, atol=1e-9)
    turned = Section(
        tuple(Block(b.y0, b.x0, b.y1, b.x1, b.k) for b in section.blocks),
        tuple(Air(a.y0, a.x0, a.y1, a.x1, a.name, a.t_c, a.films) for a in section.airs),
    )
    assert on_grid(turned, ys, xs).flows["in"] == pytest.approx(one.flows["in"], rel=1e-9)


def test_what_nobody_heats_has_no_temperature() -> None:
    """A block that touches nothing is left out; heat goes round it."""
    section = Section(
        (Block(0, 0, 0.1, 1, 1.0), Block(0.5, 0, 0.6, 1, 1.0)),
        (Air(-0.1, 0, 0, 1, "out", 0, (0.04,) * 3), Air(0.1, 0, 0.2, 1, "in", 20, (0.13,) * 3)),
    )
    done = solve(section, 2_000)
    assert math.isnan(done.field.at(0.55, 0.5)) and done.flows["in"] == pytest.approx(20 / (0.17 + 0.1))


def test_contradictions_are_refused() -> None:
    wall = Block(0, 0, 0.1, 1, 1.0)
    air = Air(-0.1, 0, 0, 1, "out", 0, (0.04,) * 3)
    for blocks, airs, what in (
        ((), (air,), "cuts through nothing"),
        ((Block(0, 0, 0, 1, 1.0),), (air,), "no extent"),
        ((Block(0, 0, 1, 1, 0.0),), (air,), "conductivity"),
        ((wall,), (air, Air(1, 0, 2, 1, "out", 5, (0.04,) * 3)), "two temperatures"),
        ((wall,), (Air(-0.1, 0, 0, 1, "out", 0, (-1.0, 0, 0)),), "films"),
    ):
        with pytest.raises(ValueError, match=what):
            Section(blocks, airs)
    with pytest.raises(ValueError, match="touches any air"):
        solve(Section((wall,), ()))
    assert overlaps([wall, Block(0.05, 0.5, 0.2, 0.7, 2.0), Block(0.1, 0, 0.2, 0.5, 3.0)]) == [(0, 1)]
    assert list(itertools.chain(overlaps([wall, wall]))) == []

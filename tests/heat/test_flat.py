"""U-values, grounds and surface temperatures against published tables."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from lapwright.heat import ground, uvalue
from lapwright.heat.psi import surface_needed_c

DATA = Path(__file__).parents[1] / "outside" / "data" / "heat"


def rows(name: str) -> list[list[str]]:
    lines = [x for x in (DATA / name).read_text().splitlines() if not x.startswith("#")]
    return list(csv.reader(lines))


@pytest.mark.parametrize("row", rows("wood_wall_U_parallel_path.csv")[1:], ids=lambda r: " ".join(r[:3]))
def test_wood_walls_of_ashrae_90_1(row: list[str]) -> None:
    """Parallel path with 75/21/4 % of cavity, stud and header; ci is continuous."""
    stud, cavity, ci = {"2x4": 3.5, "2x6": 5.5}[row[0]], float(row[1]), float(row[2])
    wood = stud * 1.25  # R per inch as the table says
    flat = [[r] * 3 for r in (0.08, 0.56, 0.56, ci)]
    wall = uvalue.framed([*flat, [cavity, wood, wood]], [0.75, 0.21, 0.04], films=0.17 + 0.68)
    assert 1 / wall.upper == pytest.approx(float(row[3].rstrip("*")), abs=0.001)


def test_wood_wall_of_the_ashrae_handbook() -> None:
    """R-13 cavity, R-4 sheathing: 19.11, 10.49 and 10.46 along the paths, U 0.063 (from memory, fairly sure)."""
    assert pytest.approx(1 / 0.063, rel=0.01) == 1 / (0.75 / 19.11 + 0.21 / 10.49 + 0.04 / 10.46)
    wall = uvalue.framed([[19.11, 10.49, 10.46]], [0.75, 0.21, 0.04])
    assert 1 / wall.upper == pytest.approx(0.063, abs=0.0005)


def test_slab_on_clay() -> None:
    """ISO 13370, clay, wall 0.3 m: 70 values; the first column equals a published guide table."""
    head, *table = rows("iso13370_slab_clay.csv")
    floors = [float(h.lstrip("R")) for h in head[1:]]
    for line in table:
        b = ground.characteristic_m(1.0, float(line[0]))
        for r, u in zip(floors, line[1:], strict=True):
            assert ground.slab_u(b, ground.equivalent_m(0.3, 1.5, r), 1.5) == pytest.approx(float(u), abs=6e-5)


def test_a_slab_without_depth_is_the_slab_and_depth_saves() -> None:
    dt = ground.equivalent_m(0.3, 1.5, 1.0)
    assert ground.slab_u(6, dt, 1.5, 0) == ground.slab_u(6, dt, 1.5) > ground.slab_u(6, dt, 1.5, 2.0)
    # the logarithm and the fraction meet where the floor is as thick as it is wide, within what the standard accepts
    assert ground.slab_u(2.0, 1.999, 1.5) == pytest.approx(ground.slab_u(2.0, 2.001, 1.5), rel=0.05)
    assert ground.edge_psi(dt, 1.5, 2.0, 0.06, 0.6, True) < ground.edge_psi(dt, 1.5, 2.0, 0.06, 0.6, False) < 0
    assert ground.edge_psi(dt, 1.5, 0.0, 0.0, 0.6, True) == pytest.approx(0.0)
    shallow, deep = (ground.basement_wall_u(z, 0.5, dt, 1.5) for z in (0.5, 2.0))
    assert deep < shallow < 1.5 / 0.5  # the soil always adds something


def test_surface_against_mold_by_iso_13788() -> None:
    """891 Pa indoors at 80 %: 15.521 C is needed at 0.8 of... the published factor of 0.7760 at 0 C outside."""
    vapor = 891 + 0.85 * 610.5
    assert surface_needed_c(vapor) == pytest.approx(15.521, abs=0.002)
    assert surface_needed_c(vapor) / 20 == pytest.approx(0.7760, abs=1e-4)
    assert surface_needed_c(259.33, 1.0) == pytest.approx(-10, abs=0.01)


def test_foam_loses_in_the_cold() -> None:
    """Straight between the points, held beyond."""
    points = [(-10.0, 1.25), (24.0, 1.0)]
    k = uvalue.conductivity_at(0.024, [-30, -10, 7, 24, 40], points, aged=1.1)
    assert k == pytest.approx([0.033, 0.033, 0.0297, 0.0264, 0.0264])


def test_bad_figures_are_refused() -> None:
    for call in (
        lambda: uvalue.framed([[1.0, 2.0]], [0.5, 0.6]),
        lambda: uvalue.framed([1.0], [1.0]),
        lambda: uvalue.framed([[-1.0]], [1.0]),
        lambda: uvalue.framed([[0.0]], [1.0]),
        lambda: uvalue.fastener_du(5, 1e-5, 50, 0.1, 0.0, 3, 3),
        lambda: uvalue.gap_du(3, 1, 1),
        lambda: uvalue.conductivity_at(0.03, 10, [(20, 1.0), (10, 1.0)]),
        lambda: ground.slab_u(0, 1, 1),
        lambda: ground.equivalent_m(-1, 1.5, 1),
        lambda: ground.edge_psi(1, 1.5, -1, 0, 1, True),
        lambda: surface_needed_c(0),
    ):
        with pytest.raises(ValueError):
            call()

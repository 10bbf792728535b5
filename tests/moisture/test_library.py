"""Generic materials: enough of them, each with source and mark, and figures that outside sources agree with."""

from __future__ import annotations

import numpy as np
import pytest

from lapwright.moisture.library import materials, membranes
from lapwright.moisture.mold import CLASSES
from lapwright.moisture.vapor import PERM_SI, air_permeability


def test_forty_materials_with_source_mark_and_class() -> None:
    table = materials()
    assert len(table) >= 40
    for g in table.values():
        assert g.source and g.honesty in ("seen", "memory", "practice") and g.mold in CLASSES
        assert 0 < g.spread_pct <= 100


@pytest.mark.parametrize(
    "name, thickness_in, dry, wet",  # perms of sheets and boards as the building codes and ASHRAE tables give them
    [
        ("gypsum-board", 0.5, (30, 55), (35, 70)),
        ("plywood-panel", 0.5, (0.3, 1.2), (3, 12)),
        ("osb-panel", 0.4375, (0.3, 1.5), (1, 4)),
        ("xps", 1.0, (0.6, 1.5), (0.6, 1.5)),
        ("eps", 1.0, (2.0, 5.8), (2.0, 5.8)),
    ],
)
def test_boards_let_as_much_vapor_by_as_is_published(
    name: str, thickness_in: float, dry: tuple[float, float], wet: tuple[float, float]
) -> None:
    m = materials()[name].material
    for phi, (low, high) in ((0.25, dry), (0.75, wet)):
        perms = float(m.permeability(np.array(phi))) / (thickness_in * 0.0254) / PERM_SI
        assert low <= perms <= high, perms
    assert float(m.permeability(np.array(0.9))) <= float(air_permeability(20.0)) * 2.1


def test_wood_holds_at_fiber_saturation_what_wood_does() -> None:
    for name, low, high in (("softwood", 14, 18), ("osb-panel", 12, 16), ("plywood-panel", 12, 16)):
        m = materials()[name].material
        assert low < 100 * m.water_at(0.8) / m.density < high  # Wood Handbook: 16 % at 80 % for solid wood


def test_membranes_fall_into_the_classes_of_the_code() -> None:
    perms = {k: float(m.membrane.at(np.array(0.25))) / PERM_SI for k, m in membranes().items()}
    wet = {k: float(m.membrane.at(np.array(0.9))) / PERM_SI for k, m in membranes().items()}
    assert perms["poly-retarder-6"] <= 0.1  # Class I, IRC R702.7
    assert 0.1 < perms["kraft-facing"] <= 1.0 < wet["kraft-facing"]  # Class II that opens
    assert 1.0 < perms["latex-paint"] <= 10.0  # Class III
    assert perms["self-adhered-sheet"] > 10 and wet["smart-retarder"] > 10 > 1 > perms["smart-retarder"]

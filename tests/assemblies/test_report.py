"""The door to the moisture reckoning: layers to walls, verdicts, the code's rule, findings in place of tracebacks."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from lapwright import catalog as catalog_package
from lapwright.assemblies import report
from lapwright.assemblies.build import Built, build
from lapwright.assemblies.code import LEAST_R, ratio
from lapwright.assemblies.judge import Place, matters, verdict
from lapwright.assemblies.weather import indoor, members
from lapwright.findings import BadJob
from lapwright.scope.read import read_job

WALL = """
    - {layer: cladding, product: board-siding}
    - {layer: furring, product: furring-1x3}
    - {layer: insulation, product: xps-iv, thickness: 2"}
    - {layer: barrier, product: self-adhered-sheet}
    - {layer: sheathing, material: plywood-panel, thickness: 1/2"}
    - {layer: cavity, material: fiberglass-batt, thickness: 5-1/2"}
    - {layer: lining, material: gypsum-board, thickness: 1/2"}
    - {layer: vapor, material: latex-paint}
"""


def _job(tmp_path: Path, assemblies: str, place: str = '{climate: "Duluth, MN"}') -> Any:
    (tmp_path / "house.yaml").write_text(f"job: Walls\nplace: {place}\nassemblies:\n{assemblies}", encoding="utf-8")
    catalog, _ = catalog_package.load(tmp_path)
    return read_job(tmp_path, catalog), catalog


def _built(tmp_path: Path, layers: str) -> Built:
    job, catalog = _job(tmp_path, f"  w:{layers}")
    made = build(job.scope.assemblies["w"], catalog)
    assert made is not None
    return made


def test_layers_become_a_wall_with_its_gap_and_its_barrier(tmp_path: Path) -> None:
    w = _built(tmp_path, WALL)
    assert [s.kind for s in w.spots] == ["cladding", "air", "insulation", "sheathing", "cavity", "lining"]
    assert [x.thickness_m for x in w.wall.layers][2:] == pytest.approx([0.0508, 0.0127, 0.1397, 0.0127])
    assert w.gap == 1 and w.gap_changes_h == 50 and w.wetted == 2 and w.behind == 3
    assert [s.name for s in w.spots if s.judged] == ["plywood-panel", "gypsum-board"]
    assert w.assumed == []


def test_figures_stand_for_a_material(tmp_path: Path) -> None:
    layers = WALL.replace("product: xps-iv, thickness: 2", "r: R-10, permeance: 0.5 perm, thickness: 2")
    w = _built(tmp_path, layers)
    foam = w.wall.layers[2]
    assert foam.thickness_m / foam.material.conductivity == pytest.approx(10 / 5.678263, rel=1e-6)
    assert float(foam.material.permeability(np.array(0.5))) / 0.0508 == pytest.approx(0.5 * 57.2135e-12, rel=0.01)


def test_an_old_inside_is_assumed_and_said(tmp_path: Path) -> None:
    w = _built(tmp_path, "".join(WALL.splitlines(keepends=True)[:6]))
    assert [s.kind for s in w.spots][-2:] == ["cavity", "lining"]
    assert any("lime plaster" in a for a in w.assumed)


@pytest.mark.parametrize(
    "foam, zone, needed, passes",  # IRC R702.7(3): Class III inside, 2x6
    [("2", "6A", 11.25, False), ("2-1/2", "6A", 11.25, True), ("1-1/2", "5A", 7.5, True), ("1", "7", 15.0, False)],
)
def test_the_codes_rule_by_zone(tmp_path: Path, foam: str, zone: str, needed: float, passes: bool) -> None:
    said = ratio(_built(tmp_path, WALL.replace('2"', f'{foam}"', 1) if foam != "2" else WALL), zone)
    assert (said.inner_class, said.r_needed, said.passes) == ("III", needed, passes)


def test_the_codes_table_is_that_of_the_published_rows() -> None:
    import csv

    data = Path(__file__).parents[1] / "outside" / "data" / "moisture" / "irc_vapor_control.csv"
    lines = [x for x in data.read_text(encoding="utf-8").splitlines() if not x.startswith("#")]
    seen = 0
    for row in csv.DictReader(lines):
        kind = "III" if "Class III" in row["table"] else "II"
        for zone in row["climate_zone"].split("(")[0].split(","):
            for framing in ("2x4", "2x6") if row["wall"] == "any" else (row["wall"],):
                assert LEAST_R[kind, int(zone), framing] == float(row["min_ci_R"])
                seen += 1
    assert seen == len(LEAST_R)


def test_a_job_of_assemblies_alone_gets_verdicts_with_their_figures(tmp_path: Path) -> None:
    floor = "  slab:\n    - {layer: slab, product: concrete, thickness: 4\"}\n    - {layer: gravel, product: gravel, thickness: 4\"}\n"
    job, catalog = _job(tmp_path, f"  foam:{WALL}{floor}")
    told: list[int] = []
    doc, found = report(job, catalog, 4, progress=lambda done, total: told.append(done), days=10)
    (row,) = doc["assemblies"]
    assert row["id"] == "foam" and row["verdict"] in ("stop", "warn", "note", "ok") and row["verdict_leak"] is not None
    assert {p["layer"] for p in row["places"]} == {"plywood-panel", "gypsum-board"}
    peak = row["places"][0]["moisture_peak_pct"]
    assert 8 < peak["median"] <= peak["p90"] < 25  # starts near 13 % and has ten days
    assert row["chance"]["low_95"] <= row["chance"]["value"] <= row["chance"]["high_95"]
    assert row["water_balance"] < 5e-4 and told
    assert row["code"]["zone"].startswith(("6", "7")) and row["monthly"]["source"] == "ISO 13788:2012"
    assert any(f.code == "moisture.floor" for f in found)
    again, _ = report(job, catalog, 4, days=10)
    assert again == doc


def test_without_a_climate_nothing_is_judged_and_it_is_said(tmp_path: Path) -> None:
    job, catalog = _job(tmp_path, f"  foam:{WALL}", "Nowhere at all")
    doc, found = report(job, catalog, 4, days=2)
    assert doc["assemblies"] == [] and doc["climate"] is None
    assert [f.code for f in found] == ["moisture.no_climate"]
    job, catalog = _job(tmp_path, f"  foam:{WALL}", "{climate: Atlantis}")
    assert "moisture.unknown_climate" in [f.code for f in report(job, catalog, 4, days=2)[1]]


def test_a_material_without_figures_keeps_its_wall_without_a_verdict(tmp_path: Path) -> None:
    layers = WALL.replace("{layer: lining, material: gypsum-board", "{layer: lining, existing: yes, material: mystery-board")
    job, catalog = _job(tmp_path, f"  odd:{layers}")
    doc, found = report(job, catalog, 4, days=2)
    assert doc["assemblies"] == []
    (f,) = [f for f in found if f.code == "moisture.unknown_material"]
    assert "mystery-board" in f.what and f.where.line is not None
    with pytest.raises(BadJob):
        _job(tmp_path, "  odd:" + layers.replace("existing: yes, ", ""))


def _place(fails: list[bool], index: float, peak: float | None, rise: float = 0.0) -> Place:
    spot: Any = SimpleNamespace(index=0, kind="sheathing", name="osb-panel", generic=None)
    shown = None if peak is None else (peak, peak)
    return Place(spot, "outer", shown, (index, index), 0.0, rise, np.array(fails), 2)


@pytest.mark.parametrize(
    "place, word",
    [
        (_place([False] * 10, 0.1, 14.0), "ok"),
        (_place([False] * 10, 1.5, 14.0), "note"),
        (_place([False] * 10, 0.1, 21.0), "note"),
        (_place([False] * 10, 0.1, 21.0, rise=2.0), "warn"),
        (_place([True] + [False] * 9, 2.0, 20.0), "warn"),
        (_place([True] * 5 + [False] * 5, 3.5, 30.0), "stop"),
    ],
)
def test_verdicts_follow_the_chance_the_trend_and_the_margin(place: Place, word: str) -> None:
    assert verdict([place]).word == word


def test_the_chance_has_the_interval_of_clopper_and_pearson() -> None:
    from statsmodels.stats.proportion import proportion_confint

    v = verdict([_place([True] * 3 + [False] * 17, 3.5, 30.0)])
    assert (v.low, v.high) == pytest.approx(proportion_confint(3, 20, method="beta"))


def test_members_fill_every_layer_of_the_hypercube_and_the_seed_holds() -> None:
    first, unit = members(20, 4, False)
    assert all(sorted((20 * unit[:, k]).astype(int)) == list(range(20)) for k in range(unit.shape[1]))
    assert members(20, 4, False)[0] == first and members(20, 5, False)[0] != first


def test_what_matters_is_what_moves_the_answer() -> None:
    unit = np.random.default_rng(2).random((60, 3))
    names = ("direction", "this", "that")
    assert matters(unit[:, 1] * 10 + 0.1 * unit[:, 2], unit, names)[0]["unknown"] == "this"
    turned = matters(np.cos(2 * np.pi * (unit[:, 0] - 0.3)), unit, names)
    assert turned[0]["unknown"] == "direction" and turned[0]["share"] > 0.9


def test_rooms_follow_annex_c_of_en_15026() -> None:
    for out, t, phi in ((-15, 20, 0.30), (-10, 20, 0.30), (5, 20, 0.45), (10, 20, 0.50), (15, 22.5, 0.55), (25, 25, 0.60)):
        got_t, got_phi = indoor(np.full(48, float(out)))
        assert (got_t[24], got_phi[24]) == pytest.approx((t, phi))  # EN 15026 Annex C, from memory

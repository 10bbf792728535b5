"""What assemblies hold back, against a national annex's wall, hand sums, and degree days."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from lapwright.assemblies.heat_report import report
from lapwright.assemblies.warmth import air_r, refusals, warmth
from lapwright.catalog.load import load
from lapwright.moisture.library import materials
from lapwright.scope.model import Assembly, Layer
from lapwright.scope.read import read_job

R_IP = 0.1761101838  # m2K/W of one h ft2 F/Btu, NIST SP 811


def wall(*layers: Layer) -> Assembly:
    return Assembly("wall", layers)


def test_the_timber_wall_of_a_national_annex() -> None:
    """ISO 6946 example: brick 0.132, air 0.090, plywood 0.146, wool 3.333 at 90.5 % beside stud 1.077, board 0.100; U 0.288.

    The stud there is 140 mm of 0.13 W/(m K); ours is softwood of 0.12, so the cavity is given the depth that makes 1.077.
    """
    made = warmth(
        wall(
            Layer("cladding", material="brick", r_m2K_W=0.132), Layer("air", r_m2K_W=0.090),
            Layer("sheathing", material="ply", r_m2K_W=0.146),
            Layer("cavity", thickness_m=1.077 * 0.12, r_m2K_W=3.333), Layer("lining", material="board", r_m2K_W=0.100),
        ),
        None, share=0.095,
    )  # fmt: skip
    assert made is not None
    assert made.framed.upper == pytest.approx(3.530, abs=0.001) and made.framed.lower == pytest.approx(3.418, abs=0.001)
    assert made.u == pytest.approx(0.288, abs=0.0005) and not made.assumed


def test_foam_outside_by_hand() -> None:
    """2 in of xps, 3/4 in of board, R-13 beside 3-1/2 in of softwood, half an inch of gypsum; gap open.

    Siding and gap count for nothing and both films are those of still air (ISO 6946, well ventilated).
    """
    made = warmth(
        wall(
            Layer("cladding", product="board-siding"), Layer("furring", product="furring-2x3"),
            Layer("insulation", product="xps-iv", thickness_m=0.0508), Layer("barrier", product="self-adhered-sheet"),
            Layer("sheathing", material="sheathing-board", thickness_m=0.01905, existing=True),
            Layer("cavity", thickness_m=0.0889, r_m2K_W=13 * R_IP), Layer("lining", r_m2K_W=0.08),
        ),
        load()[0],
    )  # fmt: skip
    assert made is not None
    k = {n: materials()[n].material.conductivity for n in ("xps", "sheathing-board", "softwood")}
    flat = 0.26 + 0.0508 / k["xps"] + 0.01905 / k["sheathing-board"] + 0.08
    cavity, stud = 13 * R_IP, 0.0889 / k["softwood"]
    upper = 1 / (0.75 / (flat + cavity) + 0.25 / (flat + stud))
    lower = flat + 1 / (0.75 / cavity + 0.25 / stud)
    both = (upper + lower) / 2
    assert made.framed.combined == pytest.approx(both, rel=1e-9)
    screws = 0.8 * 50 * 1.96e-5 / (0.4064 * 0.6096) / 0.0508 * (0.0508 / k["xps"] / both) ** 2  # ISO 6946 annex
    assert made.u == pytest.approx(1 / both + screws, rel=1e-9) and len(made.assumed) == 1


def test_polyiso_loses_and_other_foams_gain_in_the_cold() -> None:
    def u(material: str) -> tuple[float, float]:
        made = warmth(wall(Layer("insulation", material=material, thickness_m=0.1), Layer("lining", r_m2K_W=0.1)), None)
        assert made is not None
        return made.u, made.winter(-15.0, 0.25)

    mild, cold = u("polyiso")
    assert 1.02 * mild < cold < 1.25 * mild
    mild, cold = u("xps")
    assert cold < mild


def test_what_stays_before_the_work() -> None:
    layers = (
        Layer("cladding", product="board-siding", existing=True),
        Layer("sheathing", material="sheathing-board", thickness_m=0.019, existing=True),
        Layer("cavity", material="cellulose", thickness_m=0.089), Layer("lining", material="lime-plaster", existing=True),
    )  # fmt: skip
    filled, empty = warmth(wall(*layers), None), warmth(wall(*layers), None, only_existing=True)
    assert filled is not None and empty is not None
    assert [r.r for r in filled.rows if r.kind == "cavity"] == [pytest.approx(0.089 / 0.040)]
    assert [r.r for r in empty.rows if r.kind == "cavity"] == [air_r(0.089)]
    assert empty.u > filled.u


def test_a_layer_without_conductivity_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(
        "place: {climate: 'Duluth, MN'}\nassemblies:\n  good: [{layer: insulation, material: xps, thickness: 2 in}]\n"
        "  bad:\n    - {layer: insulation, permeance: 1 perm, material: secret-board, existing: yes}\n"
    )
    doc, found = report(read_job(tmp_path, load()[0]), load()[0])
    (told,) = [f for f in found if f.code == "heat.no_conductivity"]
    assert told.where.line == 5 and "secret-board" in told.what and told.level == "warn"
    good, bad = doc["assemblies"]
    assert (good["verdict"], bad["verdict"], bad["planned"]) == ("ok", "warn", None)
    assert refusals(wall(Layer("insulation"))) and not refusals(wall(Layer("insulation", r_m2K_W=1.0)))


def test_losses_follow_degree_days_and_cold_surfaces_are_told(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(
        "place: {climate: 'Duluth, MN'}\nassemblies:\n  bare: [{layer: lining, r: R-0.5, existing: yes}]\n"
        "  warm: [{layer: insulation, r: R-20, existing: yes}, {layer: lining, r: R-0.5, existing: yes}]\n"
    )
    doc, found = report(read_job(tmp_path, load()[0]), load()[0])
    bare, warm = doc["assemblies"]
    days = doc["climate"]["heating_degree_days_K_d"]
    assert warm["planned"]["loss_kWh_m2_year"] == pytest.approx(warm["planned"]["u_winter_W_m2K"] * days * 0.024, rel=1e-3)
    assert warm["planned"]["r_ip"] == pytest.approx(20.5 + 0.17 / R_IP, abs=0.01)
    assert [f.code for f in found] == ["heat.cold_surface"] and bare["verdict"] == "warn"
    assert bare["surface"]["coldest_C"] < bare["surface"]["needed_C"] < warm["surface"]["coldest_C"]


def test_the_command_answers_in_json_and_in_words(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(
        "units: metric\nassemblies:\n  wall: [{layer: insulation, material: eps, thickness: 100 mm}, {layer: lining, r: 0.1, existing: yes}]\n"
    )

    def run(*args: str) -> str:
        call = [sys.executable, "-c", "from lapwright.cli import main; main()", "heat", str(tmp_path), *args]
        return subprocess.run(call, capture_output=True, text=True, check=True, timeout=120).stdout

    doc = json.loads(run("--json"))
    assert doc["climate"] is None and doc["assemblies"][0]["planned"]["loss_kWh_m2_year"] is None
    assert any("not known where the house stands" in f["what"] for f in doc["findings"])  # said, not left out silently
    said = run()
    assert "climate not given" in said and "2.86 m2K/W" in said  # 0.1 / 0.035

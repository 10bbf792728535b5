"""A slab from the job file to pieces, steps, order and findings."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from shapely import Polygon, union_all

from lapwright.catalog.load import builtin
from lapwright.findings import BadJob
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.scope.read import job_of
from lapwright.yamlfile import parse_yaml

CATALOG = builtin()
TEXT = """
job: Cellar
termites: slight
slabs:
  - id: basement
    points: [[0", 0"], [22', 0"], [22', 16'], [10', 16'], [10', 12'], [0", 12']]
    assembly: floor
    old_slab: 2-1/2"
    headroom: {now: 6' 7", wanted: 6' 8"}
    finish: 1/2"
    wall: {kind: concrete, foot: 14", footing: yes, bowed: no, wet: no, soil: clay}
    live_load: 40 psf
    point_load: 2000 lb
    wanted_r: R-10
    water_limit: 0.5
    tubes: 9"
    things:
      - {id: post-1, kind: post, at: [11', 6'], size: 4"}
      - {id: drain, kind: drain, at: [18', 10'], size: 4"}
assemblies:
  floor:
    - {layer: slab, product: concrete, thickness: 4"}
    - {layer: vapor, product: poly-retarder-10}
    - {layer: insulation, product: xps-iv}
    - {layer: gravel, product: gravel, thickness: 4"}
"""


def plan_of(text: str) -> Plan:
    return Plan(job_of(parse_yaml(text), Path("house.yaml"), CATALOG), CATALOG)


def codes(text: str) -> dict[str, str]:
    return {f.code: f.level for f in plan_of(text).findings}


@pytest.fixture(scope="module")
def doc() -> dict[str, Any]:
    return document(plan_of(TEXT))


def test_the_dig_is_worked_out(doc: dict[str, Any]) -> None:
    (row,) = doc["slabs"]
    # 6' 8" = 6' 7" + dig - 4" - 2" - 4" - 1/2"
    assert row["headroom"]["solved"] == "dig" and row["headroom"]["dig"] == pytest.approx(11.5 * 0.0254, abs=1e-4)
    assert row["concrete_m3"] == pytest.approx((22 * 16 - 40 - 2 / 9) * 0.09290304 * 4 * 0.0254, rel=1e-3)


def test_foam_covers_the_floor_once_and_tight(doc: dict[str, Any]) -> None:
    floor = Polygon(doc["surfaces"][0]["outline"][0])
    boards = [Polygon(p["polygon"][0], p["polygon"][1:]) for p in doc["pieces"] if p["layer"] == "insulation"]
    holes = 2 * (4 * 0.0254) ** 2
    want = floor.buffer(-0.5 * 0.0254, join_style="mitre").area - holes
    assert sum(b.area for b in boards) == pytest.approx(want, rel=1e-3)
    assert union_all(boards).area == pytest.approx(want, rel=1e-3)
    told = [h["thing"] for p in doc["pieces"] for h in p["facts"].get("holes", ())]
    assert set(told) == {"post-1", "drain"}


def test_the_retarder_laps_six_inches_and_reaches_everywhere(doc: dict[str, Any]) -> None:
    sheets = [p for p in doc["pieces"] if p["layer"] == "vapor"]
    laps = [x for x in doc["laps"] if x["surface"] == "basement"]
    assert len(sheets) == len(laps) + 1 and all(x["got_m"] >= 6 * 0.0254 - 1e-4 for x in laps)
    covered = union_all([Polygon(p["polygon"][0], p["polygon"][1:]) for p in sheets])
    floor = Polygon(doc["surfaces"][0]["outline"][0])
    assert floor.difference(covered).area == pytest.approx(2 * (4 * 0.0254) ** 2, rel=1e-2)


def test_steps_run_from_the_dig_to_the_reading(doc: dict[str, Any]) -> None:
    names = [s["id"].rsplit("/", 1)[1] for s in doc["steps"]]
    assert names == ["shore", "bays-1", "bays-2", "gravel", "edge", "foam-1", "seams", "course-1", "tube", "pour", "dry"]
    assert any("engineer" in c for s in doc["steps"] for c in s["cautions"])
    bought = {r["product"] for r in doc["order"]}
    assert bought >= {"concrete", "gravel", "poly-retarder-10", "xps-iv", "edge-strip-foam"}


def test_boards_are_side_by_side_with_what_rules_them_out(doc: dict[str, Any]) -> None:
    rows = {f["product"]: f for f in doc["slabs"][0]["foams"]}
    assert rows["xps-iv"]["out"] == [] and rows["xps-iv"]["boards"] == 1
    assert any("ground" in r for r in rows["polyiso"]["out"])
    assert any("water" in r for r in rows["eps-ii"]["out"]) and rows["eps-ii"]["open"] == ["stiffness"]


@pytest.mark.parametrize(
    ("old", "new", "code", "level"),
    [
        ("wanted: 6' 8\"", "wanted: 5'", "slab.headroom", "stop"),
        ("wanted: 6' 8\"", "wanted: 6' 6\"", "slab.lower", "warn"),
        ("now: 6' 7\", wanted: 6' 8\"", "now: 8', wanted: 7' 11\"", "slab.lower", "note"),
        ("finish: 1/2\"", "finish: 1/2\"\n    finish_weight: 1200 psf", "slab.foam", "stop"),
        ("headroom: {now: 6' 7\", wanted: 6' 8\"}", "headroom: {wanted: 6' 8\"}", "slab.headroom_open", "note"),
        ('foot: 14"', 'foot: 6"', "slab.dig", "stop"),
        ("kind: concrete", "kind: stone", "slab.dig", "stop"),
        ("bowed: no", "bowed: yes", "slab.dig", "stop"),
        ("wet: no", "wet: yes", "slab.dig", "stop"),
        ('foot: 14", ', "", "slab.dig", "stop"),
        ("wanted_r: R-10", "wanted_r: R-20", "slab.foam_thin", "warn"),
        ("product: xps-iv", "product: eps-ii", "slab.foam", "stop"),
        ("product: xps-iv", "product: polyiso", "slab.foam", "stop"),
        ("tubes: 9\"", "water_seen: yes", "slab.water_first", "warn"),
        ("    - {layer: vapor, product: poly-retarder-10}\n", "", "slab.no_retarder", "stop"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(old: str, new: str, code: str, level: str) -> None:
    assert old in TEXT
    assert codes(TEXT.replace(old, new)).get(code) == level
    assert code not in codes(TEXT)


def test_the_flooring_weighs_on_the_foam_for_good() -> None:
    (bare,) = document(plan_of(TEXT.replace('    finish: 1/2"\n', "")))["slabs"]
    (stone,) = document(plan_of(TEXT))["slabs"]
    (told,) = document(plan_of(TEXT.replace('finish: 1/2"', 'finish: 1/2"\n    finish_weight: 3 psf')))["slabs"]
    dead = [next(f["dead_Pa"] for f in row["foams"] if f["product"] == "xps-iv") for row in (bare, stone, told)]
    assert dead[0] == pytest.approx(4 * 0.0254 * 2400 * 9.80665, rel=1e-3)
    assert dead[1] - dead[0] == pytest.approx(0.0127 * 2600 * 9.80665, rel=0.02)  # nobody said: as stone
    assert dead[2] - dead[0] == pytest.approx(3 * 47.88, rel=0.02)


def test_a_dig_that_ends_at_the_old_slab_says_so() -> None:
    shallow = TEXT.replace("headroom: {now: 6' 7\", wanted: 6' 8\"}", "headroom: {now: 7' 7\"}\n    dig: 0\"")
    text = next(s["action"] for s in document(plan_of(shallow))["steps"] if s["id"].endswith("bays-1"))
    assert "break out" in text and "no digging below it" in text
    small = TEXT.replace("[[0\", 0\"], [22', 0\"], [22', 16'], [10', 16'], [10', 12'], [0\", 12']]", "[[0, 0], [5', 0], [5', 5'], [0, 5']]")
    small = small[: small.index("    things:")] + small[small.index("assemblies:") :]
    (one,) = [s["action"] for s in document(plan_of(small))["steps"] if "bays" in s["id"]]
    assert "in one bay" in one and "even ones" not in one


def test_the_retarder_belongs_right_under_the_concrete() -> None:
    vapor, foam = "    - {layer: vapor, product: poly-retarder-10}\n", "    - {layer: insulation, product: xps-iv}\n"
    assert codes(TEXT.replace(vapor + foam, foam + vapor)).get("slab.order") == "stop"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[22', 16'], [10', 16'], [10', 12']", "[0\", 12'], [22', 12'], [11', 20']"),  # crosses itself
        ("at: [18', 10']", "at: [40', 10']"),
        ("id: drain", "id: post-1"),
        ("water_limit: 0.5", "water_limit: -1"),
        ("live_load: 40 psf", "live_load: heavy"),
        ("assembly: floor", "assembly: flor"),
        ("    points: [[0\", 0\"], [22', 0\"], [22', 16'], [10', 16'], [10', 12'], [0\", 12']]\n", ""),
    ],
)
def test_malformed_floors_are_refused_with_a_line(old: str, new: str) -> None:
    assert old in TEXT
    with pytest.raises(BadJob) as bad:
        plan_of(TEXT.replace(old, new))
    assert all(f.level == "stop" and f.where.line for f in bad.value.findings)


def test_two_pours_and_two_layers_of_gravel_are_all_bought() -> None:
    twice = TEXT.replace("    - {layer: vapor", '    - {layer: slab, product: concrete, thickness: 1"}\n    - {layer: vapor')
    twice += '    - {layer: gravel, product: gravel, thickness: 2"}\n'
    one, two = document(plan_of(TEXT)), document(plan_of(twice))
    for product, ratio in (("concrete", 5 / 4), ("gravel", 6 / 4)):
        need = [next(o["need"] for o in d["order"] if o["product"] == product) for d in (one, two)]
        assert need[1] == pytest.approx(need[0] * ratio, rel=1e-3)
    ids = [s["id"] for s in two["steps"]]
    assert len(ids) == len(set(ids))
    laid = {p["id"] for p in two["pieces"] if p["product"] in ("concrete", "gravel")}
    assert len(laid) == 4
    assert laid == {p for s in two["steps"] for p in s["pieces"]} & laid


def test_the_price_of_a_board_is_the_jobs_own() -> None:
    plan = plan_of(TEXT + "prices: {xps-iv: 32}\n")
    board = next(f for f in document(plan, ["slabs"])["slabs"][0]["foams"] if f["product"] == "xps-iv")
    assert board["price_m2"] == pytest.approx(32 / (1.2192 * 2.4384) * board["boards"], rel=1e-3)

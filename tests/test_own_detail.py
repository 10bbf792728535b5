"""A job's own detail reaches every view from its one file, and runs only when it is allowed to."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import ezdxf
import pypdf
import pytest
from shapely.geometry import shape

from lapwright.findings import BadJob
from lapwright.packet import write
from lapwright.packet.marks import marks
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.plan.load import open_plan

ROOT = Path(__file__).parent.parent
JOB = ROOT / "examples" / "own-detail"
FILE = JOB / "details" / "rain-shelf.py"
IN = 0.0254


@pytest.fixture(scope="module")
def made() -> Plan:
    return open_plan(JOB, own_details=True)


@pytest.fixture(scope="module")
def doc(made: Plan) -> dict[str, Any]:
    return document(made)


def mine(rows: list[dict[str, Any]], key: str = "id") -> list[dict[str, Any]]:
    return [r for r in rows if "kitchen/vent/shelf" in r[key]]


def test_the_program_knows_nothing_of_it() -> None:
    words = re.compile(r"rain.?shelf|shelf.?strip", re.IGNORECASE)
    for path in sorted((ROOT / "src").rglob("*")):
        if path.is_file() and path.suffix not in (".pyc",):
            assert not words.search(path.read_text(encoding="utf-8", errors="ignore")), path


def test_it_does_not_run_unless_allowed() -> None:
    with pytest.raises(BadJob) as bad:
        open_plan(JOB)
    (finding,) = bad.value.findings
    assert finding.code == "details.not_allowed" and "--own-details" in finding.fix
    assert finding.where.file == "details/rain-shelf.py"


def test_pieces_and_cuts(doc: dict[str, Any]) -> None:
    pieces = {p["id"]: p for p in mine(doc["pieces"])}
    assert sorted((p["role"], p["plane"], p["layer"]) for p in pieces.values()) == [
        ("rain-shelf", "face", "flashing"), ("rain-shelf", "under", "flashing"), ("shelf-strip", "face", "strip"),
    ]  # fmt: skip
    cuts = {c["id"]: c for c in mine(doc["cuts"])}
    sheet = cuts["kitchen/vent/shelf"]
    # by hand: 6 in duct and 4 in past it each way; 3 in up, 6 in out (house.yaml), 3/4 in lip
    x0, y0, x1, y1 = shape({"type": "Polygon", "coordinates": sheet["flat"]}).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((14 * IN, 9.75 * IN), abs=2e-4)
    assert [f["segment"][0][1] for f in sheet["folds"]] == pytest.approx([0.75 * IN, 6.75 * IN], abs=1e-4)
    stock = {s["id"]: s for s in doc["stock"]}
    assert stock[sheet["stock"]]["product"] == "coil-stock"
    assert stock[cuts["kitchen/vent/shelf-strip"]["stock"]]["product"] == "self-adhered-sheet"
    area = sum(
        shape({"type": "Polygon", "coordinates": p["polygon"]}).area for p in pieces.values() if p["cut"] == sheet["id"]
    )
    assert area == pytest.approx(14 * 9.75 * IN**2, rel=1e-3)


def test_laps_follow_what_it_says_of_depth(doc: dict[str, Any]) -> None:
    role = {p["id"]: p["role"] for p in doc["pieces"]}
    pairs = {(role[x["over"]], role[x["under"]]) for x in doc["laps"] if "vent/shelf" in x["over"] + x["under"]}
    assert pairs == {
        ("course", "shelf-strip"),
        ("shelf-strip", "course"),
        ("course", "rain-shelf"),
        ("rain-shelf", "shelf-strip"),
    }
    for lap in doc["laps"]:
        if (role[lap["over"]], role[lap["under"]]) == ("course", "shelf-strip"):
            above = shape({"type": "Polygon", "coordinates": lap["polygon"]}).bounds[1]
            assert above >= 72 * IN + 3 * IN + 12 * IN - 2e-3  # the course is over the strip above the bend only
    assert not [f for f in doc["findings"] if f["level"] == "stop"]


def test_step_check_tie_and_order(made: Plan, doc: dict[str, Any]) -> None:
    (work,) = mine(doc["steps"])
    assert work["detail"] == "rain-shelf" and work["hours"] > 0 and "Strips and tapes" in work["hours_source"]
    assert sorted(work["pieces"]) == sorted(p["id"] for p in mine(doc["pieces"]))
    (look,) = mine(doc["checks"])
    assert look["step"] == work["id"] and look["lower"] == 5.0 and look["hold"]
    (tie,) = mine(doc["ties"])
    assert tie["water"] == tie["air"] == "tied" and tie["length_m"] == pytest.approx(14 * IN, abs=1e-4)
    rows = {r["product"]: r for r in doc["order"]}
    assert rows["coil-stock"]["packs"] == 1 and rows["coil-stock"]["need"] >= 9.75 * IN - 1e-4
    # the duct's own work is still all there
    assert {s["id"].rsplit("/", 1)[1] for s in doc["steps"] if s["place"] == "kitchen/vent"} > {"prepare", "shelf"}


def test_without_it_only_its_own_things_are_gone(made: Plan, doc: dict[str, Any]) -> None:
    plain = re.sub(r", detail: rain-shelf", "", (JOB / "house.yaml").read_text())
    plain = re.sub(r"(?m)^(own_details|settings).*\n(  .*\n)?", "", plain)
    from lapwright.scope.read import job_of
    from lapwright.yamlfile import parse_yaml

    other = Plan(job_of(parse_yaml(plain), JOB / "house.yaml", made.catalog), made.catalog)
    there, here = {s.id for s in other.steps}, {s["id"] for s in doc["steps"]}
    assert here - there == {"kitchen/vent/shelf"} and there <= here


def test_every_file_of_the_packet_shows_it(doc: dict[str, Any], tmp_path: Path) -> None:
    write(doc, tmp_path)
    plan = json.loads((tmp_path / "plan.json").read_text())
    assert (
        mine(plan["pieces"])
        and mine(plan["cuts"])
        and mine(plan["steps"])
        and mine(plan["checks"])
        and mine(plan["ties"])
    )
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "packet.pdf").pages)
    flat = re.sub(r"\s+", " ", text)
    assert "Rain shelf over vent" in flat and "slope of the rain shelf" in flat
    drawn = (tmp_path / "surfaces" / "kitchen-flashing.svg").read_text()
    mark = marks(plan["pieces"])["kitchen/vent/shelf"]
    assert f">{mark}: rain shelf, Coil stock" in drawn
    assert f">.{mark.rsplit('.', 1)[1]}<" in drawn  # on the piece itself, beside the name of its place
    model = ezdxf.readfile(tmp_path / "surfaces" / "kitchen-flashing.dxf").modelspace()
    face = next(p for p in mine(plan["pieces"]) if p["role"] == "rain-shelf" and p["plane"] == "face")
    corners = {(round(x, 3), round(y, 3)) for x, y in face["polygon"][0]}
    units = {1.0, 1000.0, 1 / IN, 12 * IN and 1 / (12 * IN)}
    outlines = [[(p[0], p[1]) for p in e.get_points()] for e in model.query("LWPOLYLINE")]
    assert any(
        all(any(math.dist(c, (x / u, y / u)) < 2e-3 for x, y in line) for c in corners)
        for line in outlines
        for u in units
    )
    rolls = "".join(p.read_text() for p in sorted((tmp_path / "rolls").glob("coil-stock*.svg")))
    assert f">{mark}<" in rolls
    assert "coil-stock" in (tmp_path / "order.csv").read_text()


def test_the_page_shows_the_whole_file_as_it_is() -> None:
    page = (ROOT / "docs" / "own-detail.md").read_text()
    assert f"```python\n{FILE.read_text().rstrip()}\n```" in page


def test_the_example_breaks_no_rule(made: Plan, doc: dict[str, Any]) -> None:
    from rules import broken_rules

    holes = {"kitchen": [c.polygon for c in made.claims if type(c).__name__ == "HoleClaim" and c.layer == "barrier"]}
    assert broken_rules(doc, holes, points=800) == []


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("import nonsense_that_is_not_there", "details.broken"),
        ("def f(:", "details.broken"),
        ("x = 1", "details.empty"),
    ],
)
def test_a_broken_file_is_a_finding(tmp_path: Path, text: str, code: str) -> None:
    (tmp_path / "details").mkdir()
    (tmp_path / "details" / "rain-shelf.py").write_text(text)
    (tmp_path / "house.yaml").write_text((JOB / "house.yaml").read_text())
    with pytest.raises(BadJob) as bad:
        open_plan(tmp_path, own_details=True)
    assert [f.code for f in bad.value.findings] == [code]

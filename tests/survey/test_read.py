"""Reading a survey: the records hold what was taped, exactly, worked by hand."""

from __future__ import annotations

import itertools
import math
import os
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.ops import unary_union

from lapwright.lengths import show_length
from lapwright.scope.model import Job
from lapwright.scope.read import job_of, read_job
from lapwright.survey.model import Face
from lapwright.yamlfile import parse_yaml

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
many = settings(max_examples=100 * SOAK, deadline=None, derandomize=SOAK == 1)
EXAMPLES = Path(__file__).parents[2] / "examples"
IN = 0.0254
FT = 0.3048


def job(text: str) -> Job:
    return job_of(parse_yaml(text), Path("house.yaml"))


def face(lines: str, width: str = "12'") -> Face:
    """Return one face; `lines` stand below its id and width."""
    body = "\n".join("    " + line for line in lines.strip().split("\n"))
    return job(f"faces:\n  - id: a\n    width: {width}\n{body}\n").survey.faces[0]


def ring(polygon: Polygon) -> set[tuple[float, float]]:
    return {(round(x, 9), round(y, 9)) for x, y in polygon.exterior.coords}


def test_a_plain_face_is_a_rectangle_above_and_below_the_line() -> None:
    wall = face('height: 18\' 4"\nbase: -8"', "31' 6-1/2\"")
    assert wall.width_m == pytest.approx(378.5 * IN, abs=1e-15)
    assert wall.outline.bounds == pytest.approx((0, -8 * IN, 378.5 * IN, 220 * IN), abs=1e-12)
    assert wall.outline.area == pytest.approx(378.5 * 228 * IN**2)
    assert wall.turn_deg == 0 and wall.left is None and wall.right is None


def test_a_gable_has_its_peak_where_it_was_taped() -> None:
    wall = face("height: {left: 9', right: 8'}\ngable: {peak: 15', at: 5'}")
    assert ring(wall.outline) == {
        (0, 0), (round(12 * FT, 9), 0), (round(12 * FT, 9), round(8 * FT, 9)), (round(5 * FT, 9), round(15 * FT, 9)),
        (0, round(9 * FT, 9)),
    }  # fmt: skip
    middle = face("height: 9'\ngable: {peak: 15'}")
    assert (round(6 * FT, 9), round(15 * FT, 9)) in ring(middle.outline)


def test_a_stepped_base_follows_its_steps() -> None:
    wall = face("height: 9'\nbase: [[0, -8\"], [4', -2'], [10', 1']]")
    assert wall.outline.area == pytest.approx((4 * (9 + 8 / 12) + 6 * 11 + 2 * 8) * FT**2)


def test_a_free_outline_stands_as_given() -> None:
    wall = face("outline: [[0, 0], [12', 0], [12', 6'], [6', 11'], [0, 6']]")
    assert wall.outline.area == pytest.approx((12 * 6 + 12 * 5 / 2) * FT**2)


def test_an_arch_is_a_circle_through_springing_and_crown() -> None:
    (opening,) = face(
        "height: 12'\nopenings: [{id: w, shape: arch, left: 2', sill: 3', width: 3', height: 4', rise: 8\"}]"
    ).openings
    half, rise = 18 * IN, 8 * IN
    radius = (half**2 + rise**2) / (2 * rise)
    center = (3.5 * FT, 7 * FT + rise - radius)
    assert opening.box == pytest.approx((2 * FT, 3 * FT, 5 * FT, 7 * FT + rise), abs=1e-9)
    curve = [p for p in opening.polygon.exterior.coords if p[1] > 7 * FT - 1e-9]
    assert len(curve) > 10
    assert all(math.dist(p, center) == pytest.approx(radius, abs=1e-9) for p in curve)
    for (x0, y0), (x1, y1) in itertools.pairwise(curve):
        if y0 > 7 * FT or y1 > 7 * FT:  # chords within 1 mm of the circle
            assert radius - math.dist(((x0 + x1) / 2, (y0 + y1) / 2), center) <= 1.001e-3
    sector = radius**2 * math.asin(half / radius) - half * (radius - rise)
    assert opening.polygon.area == pytest.approx(12 * FT**2 + sector, rel=1e-3)


def test_round_and_polygon_openings_and_their_facts() -> None:
    openings = face(
        "height: 12'\n"
        "openings:\n"
        "  - {id: r, shape: round, center: [3', 4'], diameter: 2'}\n"
        "  - {id: p, shape: polygon, points: [[6', 4'], [8', 4'], [7', 6']], state: insert, kind: door}\n"
        "  - {id: w, left: 9', sill: 2', width: 2', height: 3', bedroom: yes, clear: [20\", 30\"], weight: 100 lb}\n"
    ).openings
    round_, pointed, square = openings
    assert round_.polygon.bounds == pytest.approx((2 * FT, 3 * FT, 4 * FT, 5 * FT), abs=1e-12)
    assert (round_.state, round_.kind, round_.face) == ("kept", "window", "a")
    assert pointed.polygon.area == pytest.approx(2 * FT**2) and (pointed.state, pointed.kind) == ("insert", "door")
    assert square.bedroom and square.clear_m == pytest.approx((20 * IN, 30 * IN))
    assert square.weight_kg == pytest.approx(45.359237)
    assert (square.where.line, square.where.surface, square.where.thing) == (8, "a", "w")


def test_what_comes_through_is_round_with_one_size_and_a_box_with_two() -> None:
    pipe, meter = face(
        "height: 9'\npenetrations: [{id: p, kind: pipe, at: [2', 14\"], size: 1\"}, {id: m, kind: meter, at: [6', 5'], size: [10\", 15\"]}]"
    ).penetrations
    assert pipe.polygon.bounds == pytest.approx((23.5 * IN, 13.5 * IN, 24.5 * IN, 14.5 * IN), abs=1e-12)
    assert meter.polygon.bounds == pytest.approx((67 * IN, 52.5 * IN, 77 * IN, 67.5 * IN), abs=1e-12)


def test_attachments_have_their_lines() -> None:
    roof, ledger, stack = face(
        "height: 9'\n"
        "attachments:\n"
        "  - {id: r, kind: roof, from: [1', 5'], to: [6', 7'], ends: [eave, wall], below: inside, projection: 6'}\n"
        "  - {id: l, kind: deck_ledger, left: 2', right: 6', top: 3', depth: 9-1/4\", decision: remove}\n"
        "  - {id: c, kind: chimney, left: 9', right: 11', bottom: 0, top: 14'}\n"
    ).attachments
    assert (roof.start, roof.end) == ((FT, 5 * FT), pytest.approx((6 * FT, 7 * FT)))
    assert (roof.ends, roof.below, roof.projection_m) == (("eave", "wall"), "inside", pytest.approx(6 * FT))
    assert (ledger.start[1], ledger.depth_m, ledger.decision) == (
        pytest.approx(3 * FT),
        pytest.approx(9.25 * IN),
        "remove",
    )
    assert stack.polygon is not None and stack.polygon.area == pytest.approx(28 * FT**2)


def test_studs_run_from_the_first_at_their_spacing() -> None:
    framing = face('height: 9\'\nframing: {stud: 2x4, spacing: 16", first: 3/4"}').framing
    assert framing.studs_m == pytest.approx([(0.75 + 16 * k) * IN for k in range(9)])
    assert face("height: 9'\nframing: {studs: [1', 30\"]}").framing.studs_m == pytest.approx([FT, 30 * IN])
    assert face("height: 9'\nframing: unknown").framing.studs_m is None


_sides = st.tuples(st.integers(0, 11), st.integers(1, 6), st.integers(0, 14), st.integers(1, 6))


@many
@given(st.lists(_sides, max_size=4))
def test_zones_partition_the_face(cuts: list[tuple[int, int, int, int]]) -> None:
    """Whatever zones are listed, they and what is left over cover the outline once."""
    lines, taken = [], []
    for k, (x, w, y, h) in enumerate(cuts):
        box = (x, y, min(x + w, 12), min(y + h, 15))
        if any(box[0] < t[2] and t[0] < box[2] and box[1] < t[3] and t[1] < box[3] for t in taken):
            continue
        shape = Polygon([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])])
        gable = Polygon([(0, 0), (12, 0), (12, 9), (6, 15), (0, 9)])
        part = shape.intersection(gable)
        if part.area < 0.1 or part.geom_type != "Polygon":
            continue
        taken.append(box)
        lines.append(
            f"  - {{id: z{k}, left: {box[0]}', right: {box[2]}', bottom: {box[1]}', top: {box[3]}', decision: keep}}"
        )
    wall = face(
        "height: 9'\ngable: {peak: 15'}\nzones:\n" + "\n".join(lines) if lines else "height: 9'\ngable: {peak: 15'}"
    )
    zones = [z.polygon for z in wall.zones]
    assert sum(z.area for z in zones) == pytest.approx(wall.outline.area, rel=1e-9)
    assert unary_union(zones).symmetric_difference(wall.outline).area < 1e-6
    names = [z.id for z in wall.zones]
    assert len(set(names)) == len(names) and all(n.startswith(("z", "main")) for n in names)


def test_a_zone_without_a_side_reaches_to_the_edge_of_the_face() -> None:
    gable, rest = face("height: 9'\ngable: {peak: 15'}\nzones: [{id: top, bottom: 9', decision: keep}]").zones
    assert (gable.id, rest.id) == ("top", "main")
    assert gable.polygon.area == pytest.approx(12 * 6 / 2 * FT**2)
    assert rest.decision == "keep"


@many
@given(st.integers(1, 16 * 12 * 40), st.integers(-16 * 12, 16 * 12))
def test_every_sixteenth_survives_the_file(width: int, base: int) -> None:
    wall = face(f"height: 20'\nbase: {show_length(base * IN / 16)}", show_length(width * IN / 16))
    assert wall.width_m == float(Fraction(width, 16) * Fraction(254, 10_000))
    assert wall.outline.bounds[1] == float(Fraction(base, 16) * Fraction(254, 10_000))


def test_the_rest_of_the_survey_comes_in_si() -> None:
    survey = job(
        "job: Mill Lane\nunits: imperial\nplace: {name: x, latitude: 46.8, longitude: -92.1, elevation: 1420', climate_zone: 7}\n"
        'year_built: 1924\ntape: {length_error: 1/8"}\nwind: {speed: 115 mph, exposure: B}\n'
        "storeys: [{id: first, floor: 0, ceiling: 8' 1\"}]\nlowest_floor: {kind: basement, depth: 6' 10\"}\n"
        "fuel_burning: [boiler]\nservices: {power: overhead}\nreference_line: the old water table\n"
    ).survey
    assert survey.place.elevation_m == pytest.approx(1420 * FT) and survey.place.climate_zone == "7"
    assert survey.tape_error_m == pytest.approx(IN / 8) and survey.turn_error_deg == 1.0
    assert survey.wind_speed_m_s == pytest.approx(51.4096) and survey.wind_exposure == "B"
    assert survey.storeys[0].ceiling_m == pytest.approx(97 * IN)
    assert survey.lowest_floor is not None and survey.lowest_floor.depth_m == pytest.approx(82 * IN)
    assert (survey.fuel_burning, survey.services) == (("boiler",), (("power", "overhead"),))
    assert survey.reference_line == "the old water table" and survey.year_built == 1924


def test_two_things_at_one_spot_are_a_warning() -> None:
    found = job(
        "faces:\n  - id: a\n    width: 9'\n    height: 9'\n    penetrations:\n"
        "      - {id: p, kind: cable, at: [2', 2'], size: 1\"}\n      - {id: q, kind: cable, at: [24-1/4\", 2'], size: 1\"}\n"
    ).findings
    assert ("survey.same_spot", "warn") in {(f.code, f.level) for f in found}


def test_the_metric_example_is_the_house_that_was_drawn() -> None:
    survey = read_job(EXAMPLES / "metric").survey
    assert [f.width_m for f in survey.faces] == [9.6, 4.2, 3.6, 3.0, 6.0, 7.2]
    assert sum(len(f.openings) for f in survey.faces) == 7
    assert Polygon([f.origin[:2] for f in survey.faces]).area == pytest.approx(9.6 * 4.2 + 6.0 * 3.0)

"""Units in a thick wall: depths against sums made by hand, slopes against trigonometry, pieces against each other.

Figures by hand: the wall is 2 in of foam, 1-1/2 in of furring, 3/4 in of siding (4-1/4 in), on 3/4 in boards and 3-1/2 in
studs; tan 5 deg = 0.0874887, cos 5 deg = 0.9961947 (table of functions).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from shapely import LineString, Polygon, unary_union
from shapely.geometry import box

from conftest import plan_of
from lapwright import catalog
from lapwright.continuity.bucks import buck_rules
from lapwright.details.base import Context, Piece
from lapwright.details.depths import depths_of
from lapwright.details.egress import way_out
from lapwright.details.metalwork import made
from lapwright.details.opening_depth import seat_of, stud_depth_m, trim_for
from lapwright.plan.document import document
from lapwright.plan.graph import Plan
from lapwright.scope.model import Assembly, Job, Layer, Scope
from lapwright.survey.model import Face, Framing, Loop, Opening, Place, Storey, Survey, Zone

IN = 0.0254
CATALOG, _ = catalog.load()
TAN, COS = 0.0874887, 0.9961947
FOAM = Assembly(
    "foam",
    (
        Layer("cladding", "board-siding"), Layer("furring", "furring-2x3"), Layer("insulation", "xps-iv", thickness_m=2 * IN),
        Layer("barrier", "self-adhered-sheet"), Layer("sheathing", material="sheathing-board", thickness_m=0.75 * IN, existing=True),
    ),
)  # fmt: skip


def house(opening: dict[str, Any], assembly: Assembly = FOAM, storeys: tuple[Storey, ...] = (), **scope: Any) -> Plan:
    """One wall of 20 x 10 ft with one window of 36 x 50 in, its sill 32 in above the line."""
    shape = box(60 * IN, 32 * IN, 96 * IN, 82 * IN)
    hole = Opening(**{"id": "w", "face": "a", "kind": "window", "polygon": shape, "shape": "rectangle", "state": "after", **opening})  # type: ignore[arg-type]
    outline = box(0, 0, 240 * IN, 120 * IN)
    face = Face(
        "a", "main", 0, 240 * IN, 90.0, outline, None, None, (0.0, 0.0, 0.0), None, framing=Framing("2x4", 16 * IN), openings=(hole,),
        zones=(Zone("main", "a", outline, "remove", assembly.id),),
    )  # fmt: skip
    survey = Survey("T", "imperial", Place("nowhere"), (face,), (Loop("main", ("a",), False),), storeys=storeys)
    return Plan(Job(survey, Scope({assembly.id: assembly}, **scope), Path("."), Path("house.yaml")), CATALOG)


def inches(piece: Piece) -> list[float]:
    return [round(v / IN, 3) for v in piece.polygon.bounds]


def by_name(plan: Plan) -> dict[str, Piece]:
    return {p.id.removeprefix("a/w/"): p for p in plan.layout.pieces if p.place == "a/w"}


def bad(plan: Plan) -> list[str]:
    return [f"{f.code}: {f.what}" for f in plan.proofs if f.level == "stop"]


def test_the_layers_add_up_from_the_barrier_out() -> None:
    found = depths_of(FOAM, CATALOG)
    assert [round(s.outer_m / IN, 4) for s in found.slabs] == [2.0, 3.5, 4.25]
    assert [round(v / IN, 4) for v in (found.foam_m, found.backing_m, found.trim_m, found.face_m, found.out_m)] == [2, 3.5, 3.5, 4.25, 4.25]
    under = replace(FOAM, layers=(*FOAM.layers[:4], Layer("insulation", "xps-iv", thickness_m=1 * IN), FOAM.layers[4]))
    assert round(depths_of(under, CATALOG).out_m / IN, 4) == 5.25  # foam behind the barrier moves the wall out too
    blank = replace(FOAM, layers=(Layer("cladding", material="stucco"), *FOAM.layers[1:]))
    assert depths_of(blank, CATALOG).missing == ("stucco",)


def test_studs_are_as_deep_as_their_dressed_size() -> None:
    assert [round((stud_depth_m(s) or 0) / IN, 2) for s in ("2x3", "2x4", "2x6", "2x8")] == [2.5, 3.5, 5.5, 7.25]  # PS 20
    assert stud_depth_m("log") is None


@pytest.mark.parametrize(("position", "plane"), [("in", 0.0), ("mid", 1.75), ("out", 3.5)])
def test_where_the_unit_sits(position: str, plane: float) -> None:
    plan = house({"position": position})
    (place,) = [p for p, _ in plan.places if p.id == "a/w"]
    seat = seat_of(place, plan.context)
    assert (seat.position, round(seat.plane_m / IN, 4), seat.why) == (position, plane, "said")
    assert round(seat.reach_m / IN, 4) == 4.5  # 2 + 1-1/2 + 3/4 + 1/4 of drip
    assert round(seat.in_m / IN, 4) == 4.25  # 3/4 + 3-1/2
    assert bad(plan) == []


def test_nobody_said_where() -> None:
    assert [f.level for f in house({}).findings if f.code == "opening.position"] == ["note"]
    said = house({}, positions={"foam": "out"})
    assert not [f for f in said.findings if f.code == "opening.position"] and "buck-sill" in by_name(said)
    mat = replace(FOAM, layers=(FOAM.layers[0], Layer("mat", "mesh-mat"), *FOAM.layers[3:]))
    thin = house({"position": "out"}, mat)
    assert not [n for n in by_name(thin) if n.startswith(("buck", "return"))]  # 3/8 in of mat: trim covers it
    assert [f.level for f in thin.findings if f.code == "opening.position_thin"] == ["note"]
    inch = replace(FOAM, layers=(FOAM.layers[0], Layer("insulation", "xps-iv", thickness_m=1 * IN), *FOAM.layers[3:]))
    assert inches(by_name(house({"position": "out"}, inch))["buck-sill"])[1] == -1.0  # an inch of foam is enough to ask for one


def test_a_buck_is_as_deep_as_the_wall_and_its_sill_falls_five_degrees() -> None:
    plan = house({"position": "out"})
    found = by_name(plan)
    cuts = {c.id.removeprefix("a/w/"): c.flat.bounds for c in plan.layout.cuts}
    assert inches(found["buck-sill"]) == [60, -3.5, 96, 4.25]
    assert round(cuts["buck-sill"][3] / IN, 3) == round(7.75 / COS, 3)  # 7.780: the run over the cosine
    assert round(cuts["buck-head"][3] / IN, 3) == 7.75
    sill = found["buck-sill"].facts["section"]
    assert round(sill[1][1] / IN, 3) == round(7.75 * TAN, 3)  # 0.678 in of rise over its depth
    assert round((sill[2][1] - sill[1][1]) / IN, 3) == round(0.75 / COS, 3)
    side = found["buck-left"]
    assert side.polygon.bounds[1] == pytest.approx((32 + 0.75 / COS) * IN, abs=1e-5)  # stands on the sill's front
    assert side.polygon.bounds[3] == pytest.approx((82 - 0.75) * IN, abs=1e-5)  # under the head
    foot = [y for x, y in side.polygon.exterior.coords if abs(x - 4.25 * IN) < 1e-6]
    assert min(foot) == pytest.approx((32 + 0.75 / COS + 7.75 * TAN) * IN, abs=1e-5)


def test_strips_bridge_from_the_boards_to_the_buck_and_the_rest_stays_out_of_the_barrier() -> None:
    for position, deep in (("mid", 1.75), ("out", 3.5)):
        for state in ("before", "after"):
            plan = house({"position": position, "state": state})
            found = by_name(plan)
            assert inches(found["sill-strip/sill"])[1::2] == [-deep, 0] and inches(found["head-strip/head"])[1::2] == [-deep, 0]
            assert inches(found["jamb-strip-left/jamb"])[0::2] == [-deep, 0]
            assert {t.water + t.air for t in plan.layout.ties if t.id.startswith("a/w/")} == {"tiedtied"}
            laps = [x for x in plan.layout.laps if "unit" in (x.over + x.under) or "flange" in (x.over + x.under)]
            assert laps == []  # they stand in front of the foam
            assert buck_rules(plan.layout.pieces) == [] and bad(plan) == []
            flats = {c.id: c.flat.area for c in plan.layout.cuts}
            for cut, area in flats.items():
                if cut.startswith("a/w/"):
                    same = sum(p.polygon.area for p in plan.layout.pieces if p.cut == cut)
                    assert same == pytest.approx(area, rel=0.01), cut


def test_a_strip_that_stops_short_of_the_buck_is_a_stop() -> None:
    plan = house({"position": "out"})
    cut = [replace(p, polygon=box(p.polygon.bounds[0], -0.03, p.polygon.bounds[2], 0)) if p.id == "a/w/head-strip/head" else p for p in plan.layout.pieces]
    assert [f.code for f in buck_rules(cut)] == ["buck.bridge"]
    assert [f.code for f in buck_rules([p for p in plan.layout.pieces if p.role != "sill-pan"])] == ["buck.no_pan"]
    left_out = house({"position": "out", "without": ("jamb-strip",)})
    assert any("buck.bridge" in s for s in bad(left_out))
    assert any("the joint" in f.why for f in left_out.proofs if f.code == "buck.bridge")


@pytest.mark.parametrize("position", ["in", "mid", "out"])
def test_a_door_at_the_foot_of_the_wall(position: str) -> None:
    door = {"kind": "door", "polygon": box(60 * IN, 0, 96 * IN, 80 * IN), "unit": "door-unit", "position": position}
    plan = house(door)
    found = by_name(plan)
    front = {"in": 0.0, "mid": 1.75, "out": 3.5}[position]
    assert inches(found["sill-strip"])[1::2] == [-front, 4.0]  # under the buck, out to its front and in onto the floor
    assert bad(plan) == [] and ("buck-sill" in found) == (position != "in")
    assert not [n for n in found if n.startswith("flange-tape")]  # it has no flange
    assert [s.action for s in plan.steps if s.id == "a/w/unit" and "backer rod" in s.action] or position == "in"


def test_returns_line_the_opening_from_the_unit_to_the_casing() -> None:
    for position, deep, stock in (("in", 4.25, "trim-1x6"), ("mid", 2.5, "trim-1x4")):
        found = by_name(house({"position": position}))
        assert round((found["return-left"].polygon.bounds[2] - found["return-left"].polygon.bounds[0]) / IN, 3) == deep
        assert found["return-left"].product == stock  # 4-1/4 is wider than a 1x4
        back = found["return-sill"].facts["section"][2][1]
        front = found["return-sill"].facts["section"][3][1]
        assert (back - front) / IN == pytest.approx((3.5 - (4.25 - deep)) * TAN, abs=1e-3)
        assert found["sill-flashing"].facts["section"][2][1] > 0  # the metal's lip clears the casing of the sill
    assert "return-left" not in by_name(house({"position": "out"}))
    assert trim_for(Context(None, None, CATALOG), 10 * IN) is None  # type: ignore[arg-type]


@pytest.mark.parametrize("state", ["kept", "insert"])
def test_an_old_frame_stays_and_gets_returns_sill_and_metal(state: str) -> None:
    plan = house({"state": state})
    found = by_name(plan)
    assert {"return-head", "return-left", "return-right", "return-sill", "sill-flashing"} <= set(found)
    assert "buck-sill" not in found and bad(plan) == []
    assert inches(found["sill-flashing/sill"])[1] == -4.5


def test_metal_over_the_head_goes_out_past_the_new_face() -> None:
    plan = house({"position": "in"})
    metal = by_name(plan)["head-flashing/x0"]
    up, out, _, _ = metal.facts["legs_m"]
    assert out / IN == pytest.approx(4.5 / COS, abs=1e-3)  # 4.517 in along its slope of 5 degrees
    assert metal.polygon.bounds[1] / IN == pytest.approx(82 + 1.25 + 4.25 * TAN, abs=1e-3)  # so that it clears the casing's top
    assert up / IN == pytest.approx(3.0)
    (row,) = [m for m in made(plan.layout.pieces, CATALOG) if m.id.startswith("head-flashing")]
    xs = [x for x, _ in row.profile.folded()]
    assert max(xs) / IN == pytest.approx(4.5 + 0.75 * 0.1736482, abs=0.02)  # the drip leg hangs open sin 10 deg x 3/4 in
    assert row.profile.developed() / IN == pytest.approx(3 + 4.5 / COS + 0.75 + 0.25, abs=0.08)  # less the bends
    assert not [f for f in plan.findings if f.code.startswith("metal.")]


def test_foam_leaves_room_for_the_metal_and_a_strip_fills_it() -> None:
    plan = house({"position": "in"})
    foam = [p for p in plan.layout.pieces if p.layer == "insulation" and p.plane == "face"]
    line = LineString([(78 * IN, 82 * IN), (78 * IN, 100 * IN)])
    spans = sorted((p.polygon.intersection(line).bounds[1], p.polygon.intersection(line).bounds[3], p.role) for p in foam if p.polygon.intersects(line))
    assert spans[0][2] == "foam-strip" and spans[0][1] == pytest.approx(spans[1][0], abs=1e-4)
    assert unary_union([p.polygon for p in foam]).intersection(line).length == pytest.approx(line.length, abs=1e-3)  # no bare spot
    assert sum(p.polygon.area for p in foam) == pytest.approx(unary_union([p.polygon for p in foam]).area, abs=1e-3)  # nor a double one


def test_the_base_metal_reaches_past_the_new_face() -> None:
    lip = next(p for p in house({}).layout.pieces if p.role == "base-flashing" and p.plane == "under")
    assert lip.polygon.bounds[3] / IN == pytest.approx((4.25 + 0.375) / 0.9848078, abs=1e-3)  # cos 10 deg
    mat = replace(FOAM, layers=(FOAM.layers[0], Layer("mat", "mesh-mat"), *FOAM.layers[3:]))
    thin = next(p for p in house({}, mat).layout.pieces if p.role == "base-flashing" and p.plane == "under")
    assert thin.polygon.bounds[3] / IN == pytest.approx(1.5) and thin.product == "base-flashing"


def test_a_buck_counts_against_the_way_out() -> None:
    """5.7 sq ft, 20 in wide, 24 in high, sill 44 in at most: IRC R310.2 (2021), from memory."""
    floor = (Storey("s", "main", 0.0, 96 * IN),)
    for buck, thick in (("plywood-buck", 0.75), ("lumber-buck", 1.5)):
        plan = house({"position": "out", "buck": buck, "bedroom": True}, storeys=floor)
        (place,) = [p for p, _ in plan.places if p.id == "a/w"]
        opening = place.thing
        assert isinstance(opening, Opening)
        found = way_out(opening, place.face, plan.context, seat_of(place, plan.context))
        # the frame takes 2 in and the shims 1/2 in on each side; its depth of 3-1/4 in stands on the slope
        assert found.width_m / IN == pytest.approx(36 - 2 * thick - 5, abs=1e-3)
        lost = thick / COS + 3.25 * TAN + thick
        assert found.height_m / IN == pytest.approx(50 - lost - 5, abs=1e-3)
        assert (found.sill_m or 0) / IN == pytest.approx(32 + thick / COS + 3.25 * TAN + 2.5, abs=1e-3)
    narrow = Polygon(box(60 * IN, 32 * IN, 87 * IN, 82 * IN).exterior)  # 27 in: 22 clear, 20-1/2 in plywood, 19 in lumber
    small = {"polygon": narrow, "bedroom": True}
    for extra, codes in (({"position": "in"}, 0), ({"position": "out"}, 0), ({"position": "out", "buck": "lumber-buck"}, 1)):
        plan = house({**small, **extra}, storeys=floor)
        wide = [f for f in plan.findings if f.code == "egress.small" and "wide, 20 in asked" in f.what]
        assert len(wide) == codes, extra
    measured = house({**small, "position": "out", "clear_m": (26.5 * IN, 40 * IN)}, storeys=floor)
    assert [f.code for f in measured.findings if f.code == "egress.buck"] == ["egress.buck"]


@pytest.mark.parametrize(
    ("opening", "code"),
    [
        ({"position": "out", "polygon": Polygon([(1, 1), (2, 1), (1.5, 2)]), "shape": "polygon"}, "opening.depth_by_hand"),
        ({"position": "out", "polygon": box(1, 1, 1.08, 2), "buck": "lumber-buck"}, "buck.no_room"),
    ],
)
def test_what_cannot_be_built_is_said(opening: dict[str, Any], code: str) -> None:
    (said,) = [f for f in house(opening).findings if f.code == code]
    assert said.fix and said.why and said.where.thing == "w"


def test_a_wall_too_deep_for_its_stock_is_said() -> None:
    deep = replace(FOAM, layers=(*FOAM.layers[:2], Layer("insulation", "xps-iv", thickness_m=8 * IN), *FOAM.layers[3:]))
    assert [f.level for f in house({"position": "in"}, deep).findings if f.code == "returns.narrow" and f.where.thing == "w"] == ["stop"]
    assert [f.level for f in house({"position": "out", "buck": "lumber-buck"}, deep).findings if f.code == "buck.narrow"] == ["stop"]


def two_faces(beside: Assembly | None) -> Plan:
    """A wall of foam and one round an outside corner to its right: of another skin, or kept."""
    outline = box(0, 0, 240 * IN, 120 * IN)
    faces = tuple(
        Face(
            name, "main", n, 240 * IN, 90.0, outline, left, right, (0.0, 0.0, 0.0), None, framing=Framing("2x4", 16 * IN),
            zones=(Zone("main", name, outline, "remove" if skin else "keep", skin.id if skin else None),),
        )
        for n, (name, left, right, skin) in enumerate((("a", None, "b", FOAM), ("b", "a", None, beside)))
    )  # fmt: skip
    survey = Survey("T", "imperial", Place("nowhere"), faces, (Loop("main", ("a", "b"), False),))
    known = {x.id: x for x in (FOAM, beside) if x}
    return Plan(Job(survey, Scope(known), Path("."), Path("house.yaml")), CATALOG)


def test_the_open_side_of_a_thick_skin_gets_a_return() -> None:
    thin = Assembly("thin", (FOAM.layers[0], Layer("mat", "mesh-mat"), *FOAM.layers[3:]))
    for beside, on_a in ((None, {"left", "right"}), (thin, {"left", "right"}), (FOAM, {"left"})):
        found = [p for p in two_faces(beside).layout.pieces if p.role == "end-return" and p.surface == "a"]
        assert {p.id.split("end-return-")[1].split("-")[0] for p in found} == on_a
        for p in found:
            assert [round(v / IN, 3) for v in p.polygon.bounds] == [-4.25, 0, 0, 120]  # 2 + 1-1/2 + 3/4, all the way up
    plan = two_faces(thin)
    assert not [p for p in plan.layout.pieces if p.role == "end-return" and p.surface == "b"]
    assert any("returns 2 over the open sides" in s.action and '4-1/4" deep' in s.action for s in plan.steps)


def test_sections_are_cut_from_the_pieces() -> None:
    plan = house({"position": "in"})
    (row,) = document(plan, ["reveals"])["reveals"]
    assert [round((v["to_m"] - v["from_m"]) / IN, 2) for v in row["layers"]] == [0.75, 1.5, 2.0]
    shapes = {s: unary_union([Polygon(c["points"]) for c in row["sections"][s] if c["kind"] == "area"]) for s in ("head", "jamb", "sill")}
    # a probe through the wall 5 in above the head: foam and siding, 2 + 3/4 in, and nothing in the gap
    probe = LineString([(-0.2, -5 * IN), (0.2, -5 * IN)])
    assert shapes["head"].intersection(probe).length / IN == pytest.approx(2.75, abs=0.02)
    assert shapes["sill"].intersection(probe).length / IN == pytest.approx(2.75, abs=0.02)
    # beside the jamb, 1 in from the edge: casing, furring and foam
    beside = LineString([(-0.2, -1 * IN), (0.2, -1 * IN)])
    assert shapes["jamb"].intersection(beside).length / IN == pytest.approx(4.25, abs=0.02)
    assert {c["role"] for c in row["sections"]["sill"]} >= {"sill-flashing", "return", "sill-strip", "board", "casing", "siding"}


def test_the_example_shows_in_mid_out_and_old() -> None:
    rows = document(plan_of("foam-wall"), ["reveals"])["reveals"]
    assert {r["position"] for r in rows} == {"in", "mid", "out", "old"}
    assert not [f for f in plan_of("foam-wall").proofs if f.level != "note"]

"""Bent metal against handbook rules, hand sums, and a search over all cuttings of small coils."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest

from lapwright.catalog.load import builtin
from lapwright.catalog.model import Catalog, Product, Value
from lapwright.details.base import Piece
from lapwright.details.metalwork import metal_findings
from lapwright.findings import Finding
from lapwright.geometry import box
from lapwright.metal.brake import bend_order
from lapwright.metal.coil import Strip, coil_plan
from lapwright.metal.profile import Profile, bend_allowance, bend_deduction
from lapwright.packet.metal import order_words

IN = 0.0254
THIN = 0.019 * IN
HEAD = Profile((4 * IN, 2 * IN, 0.75 * IN, 0.25 * IN), (85.0, -75.0, -180.0), THIN)


@pytest.mark.parametrize(("t", "r"), [(0.032, 0.0), (0.032, 0.0625), (0.063, 0.125), (0.125, 0.25)])
def test_a_right_angle_by_the_handbook_rule(t: float, r: float) -> None:
    """L = 0.64 T + 1.57 R for a right angle in soft steel and aluminum (handbook rule, from memory)."""
    assert bend_allowance(t, r, 90) == pytest.approx(0.64 * t + 1.57 * r, rel=1e-3)
    assert bend_deduction(t, r, 90) == pytest.approx(2 * (r + t) - (0.64 * t + 1.57 * r), rel=2e-3)


def test_the_blank_is_the_legs_less_the_bends() -> None:
    angle = Profile((2 * IN, 2 * IN), (90.0,), 0.05 * IN, 0.05 * IN)
    taken = 2 * 0.1 * IN - math.pi / 2 * (0.05 + 0.64 / (math.pi / 2) * 0.05) * IN
    assert angle.developed() == pytest.approx(4 * IN - taken)
    assert angle.bend_lines()[0] == pytest.approx(angle.developed() / 2)
    told = Profile((2 * IN, 2 * IN), (90.0,), 0.05 * IN, deduction_m=0.02 * IN)
    assert told.developed() == pytest.approx(3.98 * IN)


def test_the_arc_through_the_bend_is_as_long_as_the_blank_says() -> None:
    """Straight parts between tangent points plus the arc of the neutral line, counted another way."""
    t, r = 0.063 * IN, 0.125 * IN
    for turn in (30.0, 60.0, 90.0, 120.0):
        p = Profile((1.5 * IN, 1.0 * IN), (turn,), t, r)
        setback = (r + t) * math.tan(math.radians(turn) / 2)
        arc = math.radians(turn) * (r + 0.64 / (math.pi / 2) * t)
        assert p.developed() == pytest.approx((1.5 * IN - setback) + (1.0 * IN - setback) + arc)


def test_the_folded_profile_has_the_legs_and_the_turns() -> None:
    points = HEAD.folded()
    assert math.dist(points[0], points[1]) == pytest.approx(4 * IN)
    assert math.degrees(math.atan2(points[2][1] - points[1][1], points[2][0] - points[1][0])) == pytest.approx(-5.0)
    assert not HEAD.crosses_itself()
    assert Profile((0.1, 0.05, 0.1, 0.1), (100.0, 100.0, 100.0), THIN).crosses_itself()


@pytest.mark.parametrize(
    "profile",
    [
        HEAD,
        Profile((2.5 * IN, 1 * IN, 0.75 * IN), (90.0, -80.0), THIN),
        Profile((4 * IN, 4 * IN), (90.0,), THIN),
        Profile((1 * IN, 2 * IN, 1 * IN), (90.0, 90.0), THIN),  # a channel
        Profile((0.5 * IN, 2 * IN, 2 * IN, 0.5 * IN), (-180.0, 90.0, 180.0), THIN),
    ],
)
def test_ordinary_flashings_have_an_order(profile: Profile) -> None:
    order = bend_order(profile)
    assert order is not None
    assert sorted(b.line for b in order) == list(range(len(profile.turns)))
    assert all(b.face == ("left" if (b.turn_deg > 0) == (b.front == "end") else "right") for b in order)


def test_a_closed_box_traps_a_leg() -> None:
    box = Profile((2 * IN, 2 * IN, 2 * IN, 2 * IN, 1.9 * IN), (90.0, 90.0, 90.0, 90.0), THIN)
    assert bend_order(box) is None


def test_a_deep_channel_is_bent_from_its_outer_edges_or_not_at_all() -> None:
    # return lips on a narrow, deep channel: the last bends swing the lips into the jaw
    lips = Profile((0.5 * IN, 3 * IN, 1 * IN, 3 * IN, 0.5 * IN), (90.0, 90.0, 90.0, 90.0), THIN)
    order = bend_order(lips)
    assert order is None or {order[0].line, order[1].line} == {0, 3}


def test_bad_profiles_are_refused() -> None:
    for legs, turns in (((1.0, -1.0), (90.0,)), ((1.0,), (90.0,)), ((1.0, 1.0), (0.0,)), ((1.0, 1.0), (200.0,))):
        with pytest.raises(ValueError, match=r"profile|legs|turn"):
            Profile(legs, turns, THIN)


def least(strips: list[Strip], coil: float) -> float:
    """Least length of a two-stage cutting, by trying every partition into blanks."""
    best = math.inf

    def go(left: list[Strip], drawn: float) -> None:
        nonlocal best
        if drawn >= best:
            return
        if not left:
            best = drawn
            return
        first, rest = left[0], left[1:]
        for n in range(len(rest) + 1):
            for more in itertools.combinations(rest, n):
                if first.width_m + sum(s.width_m for s in more) <= coil + 1e-9:
                    go([s for s in rest if s not in more], drawn + max(first.length_m, *(s.length_m for s in more), 0))

    go(sorted(strips, key=lambda s: -s.length_m), 0.0)
    return best


@pytest.mark.parametrize("seed", range(12))
def test_small_coils_against_every_cutting(seed: int) -> None:
    rng = random.Random(seed)
    strips = [Strip(f"s{i}", rng.choice([4, 6, 7.5, 10, 12]) * IN, rng.choice([24, 36, 40, 62, 118]) * IN) for i in range(7)]
    plan = coil_plan(strips, 24 * IN, 120 * IN)
    best = least(strips, 24 * IN)
    assert plan.bound_m <= best + 1e-6
    assert best - 1e-6 <= plan.drawn_m <= best * 1.05 + 1e-6
    assert sorted(s.id for b in plan.blanks for s in b.strips) == sorted(s.id for s in strips)
    for blank in plan.blanks:
        assert sum(s.width_m for s in blank.strips) <= 24 * IN + 1e-9
        assert max(s.length_m for s in blank.strips) == blank.length_m


def test_a_house_of_flashings_is_within_five_percent_of_the_bound() -> None:
    rng = random.Random(3)
    strips = [Strip(f"h{i}", 7 * IN, rng.uniform(30, 118) * IN) for i in range(30)]
    strips += [Strip(f"z{i}", 4.25 * IN, 118 * IN) for i in range(20)] + [Strip(f"b{i}", 6 * IN, 118 * IN) for i in range(14)]
    plan = coil_plan(strips, 24 * IN, 120 * IN)
    assert plan.drawn_m <= 1.05 * plan.bound_m


def test_eighty_sizes_that_are_all_different_are_within_five_percent_too() -> None:
    rng = random.Random(8)
    widths = [4.25, 6, 7, 8.5, 9]
    strips = [Strip(f"h{i}", rng.choice(widths) * IN, rng.uniform(20, 118) * IN) for i in range(80)]
    plan = coil_plan(strips, 24 * IN, 120 * IN)
    assert plan.drawn_m <= 1.05 * plan.bound_m
    assert sorted(s.id for b in plan.blanks for s in b.strips) == sorted(s.id for s in strips)
    assert all(sum(s.width_m for s in b.strips) <= 24 * IN + 1e-9 for b in plan.blanks)
    area = sum(s.width_m * s.length_m for s in strips)
    assert area / (24 * IN) <= plan.bound_m  # the bound is one that area alone does not give


def test_what_the_coil_or_the_brake_does_not_give_is_named() -> None:
    plan = coil_plan([Strip("wide", 0.7, 1.0), Strip("long", 0.1, 4.0), Strip("ok", 0.1, 1.0)], 24 * IN, 120 * IN)
    assert (plan.too_wide, plan.too_long) == (("wide",), ("long",))
    assert plan.drawn_m == pytest.approx(1.0)


def test_bends_that_take_more_than_a_leg_make_no_profile() -> None:
    with pytest.raises(ValueError, match="bends take off"):
        Profile((1 * IN, 1 * IN, 1 * IN), (90.0, -90.0), THIN, deduction_m=1.2 * IN)


def test_the_words_between_bends_say_which_face_and_edge() -> None:
    def row(swings: str, up: str, line: int) -> dict[str, object]:
        return {"line": line, "turn_deg": 90.0, "swings": swings, "up": up, "hem": False}

    class Plain:
        def length(self, value: float) -> str:
            return f"{value:g}"

    order = [row("end", "left", 1), row("start", "left", 2), row("end", "right", 3), row("end", "left", 4)]
    said = order_words(Plain(), {"order": order, "bend_lines_m": [1.0, 2.0, 3.0, 4.0], "developed_m": 5.0})  # type: ignore[arg-type]
    assert said[0].endswith("90 degrees.")
    assert "other face up first; the other edge swings" in said[1]
    assert "same face up; the other edge swings" in said[2]
    assert "other face up first; the same edge swings" in said[3]


def test_a_brake_too_short_and_a_coil_too_narrow_are_told() -> None:
    catalog = builtin()
    head, coil = catalog["head-flashing-metal"], catalog["coil-stock"]

    def told(product: Product, long: float, stock: Product = coil) -> list[Finding]:
        kinds = {**catalog.products, stock.id: stock}
        piece = Piece("p", "f", "face", box(0, 0, long, 0.1), product.id, "head-flashing", "flashing", "p", 1, "s", "c", "f/w")
        return metal_findings([product], [piece], Catalog(kinds))

    assert told(head, 3.0) == []
    (short,) = told(head, 3.2)
    assert (short.code, short.level) == ("metal.brake", "warn") and "3.20 m" in short.what and "3.05 m" in short.what
    assert [f.code for f in told(head, 3.0, replace(coil, values={**coil.values, "width_m": Value(0.1)}))] == ["metal.coil"]
    legs = {"leg_up_m": Value(0.15), "leg_out_m": Value(0.05), "leg_down_m": Value(0.2), "drip_open_deg": Value(200.0)}
    assert "metal.crosses" in [f.code for f in told(replace(head, values={**head.values, **legs}), 3.0)]

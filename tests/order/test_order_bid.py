"""The bid: material, labor and allowance, each visible; what is not given is named, never zero."""

import pytest
from order_jobs import SQ_FT, catalog, order, piece, scope, step

from lapwright.catalog.rates import hours
from lapwright.geometry import box
from lapwright.scope.model import Built, Crew

WALL = piece("c", "board-siding", box(0, 0, 100 * 0.3048, 10 * 0.3048), "cladding")  # 13 squares, 12 without spare
PRICED = catalog(board_siding={"price": 400.0, "fastener": None})


def tear_off(pieces=()):
    # 600 sq ft at 60-100 sq ft/h by two: 6 to 10 h on the clock
    _, middle, _, source = hours("tear-off", 600 * SQ_FT, 2)
    return step("s", middle, source, 2, pieces)


def test_a_bid_adds_up_by_hand():
    result = order([WALL], steps=[tear_off()], catalog_=PRICED,
                   scope_=scope(crew=Crew(wage_per_h=50.0), unfound_ratio=(0.05, 0.15)))  # fmt: skip
    bid = result.bid
    assert bid.missing == ()
    assert bid.material == pytest.approx((12 * 400, 13 * 400))
    assert bid.hours == pytest.approx((12, 20))  # both people
    assert bid.labor == pytest.approx((600, 1000))
    assert bid.allowance == pytest.approx((0.05 * 5400, 0.15 * 6200))
    assert bid.total == pytest.approx((5400 * 1.05, 6200 * 1.15))
    assert bid.to_json() == {
        "material": [4800.0, 5200.0], "labor": [600.0, 1000.0], "allowance": [270.0, 930.0],
        "total": [5670.0, 7130.0], "so_far": [5670.0, 7130.0], "hours": [12.0, 20.0], "wage_per_h": 50.0,
        "missing": [], "currency": "USD",
    }  # fmt: skip


def test_the_jobs_own_price_overrules_the_catalogs():
    result = order([WALL], catalog_=PRICED, scope_=scope(prices={"board-siding": 300.0}, crew=Crew(wage_per_h=1.0)))
    assert result.bid.material == pytest.approx((12 * 300, 13 * 300))
    assert result.rows[0].price == 300.0


def test_a_missing_price_is_named_and_there_is_no_total():
    pieces = [WALL, piece("k", "kick-out", box(0, 0, 1, 1), "flashing")]
    bid = order(pieces, steps=[tear_off()], catalog_=PRICED, scope_=scope(crew=Crew(wage_per_h=50.0))).bid
    assert bid.missing == ("kick-out",)
    assert bid.total is None
    assert bid.material == pytest.approx((4800, 5200))
    assert bid.so_far == pytest.approx((5400 * 1.05, 6200 * 1.15))


def test_nothing_priced_is_no_material_of_zero():
    bid = order([piece("k", "kick-out", box(0, 0, 1, 1), "flashing")]).bid
    assert (bid.material, bid.labor, bid.allowance, bid.total, bid.so_far) == (None, None, None, None, None)
    assert bid.missing == ("kick-out", "wage_per_h")


def test_a_unit_that_is_not_chosen_is_missing():
    bid = order([piece("w1", None, box(0, 0, 1, 1), "unit")]).bid
    assert bid.missing[0] == "unit at front"


def test_hours_without_a_range_count_as_they_are_and_done_steps_not_at_all():
    steps = [step("a", 3.0, "my own guess", 1), tear_off(["done"])]
    bid = order(steps=steps, scope_=scope(built=Built(pieces=({"id": "done"},)))).bid
    assert bid.hours == (3.0, 3.0)


def test_what_is_wholly_on_hand_needs_no_price():
    result = order([piece("k", "kick-out", box(0, 0, 1, 1), "flashing")],
                   scope_=scope(on_hand=(("kick-out", 0.0, None, 2),), crew=Crew(wage_per_h=9.0)))  # fmt: skip
    assert (result.rows[0].packs, result.rows[0].on_hand) == (0, 1)
    assert result.bid.missing == ()

"""Labor rates: the trade's ranges, worked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.catalog import rates

SQ_FT = 0.3048**2


@pytest.mark.parametrize(
    ("task", "amount", "low", "high"),
    [  # two people, as the trade says: the amount in SI, hours at the quick and the slow end
        ("tear-off", 600 * SQ_FT, 6, 10),
        ("courses", 1200 * SQ_FT, 8, 15),
        ("courses-obstructed", 600 * SQ_FT, 8, 15),
        ("opening", 3, 3, 6),
        ("unit", 4, 4, 6),
        ("penetration", 6, 1, 2),
        ("mat", 600 * SQ_FT, 2, 3),
    ],
)
def test_the_trades_ranges_give_the_hours_worked_by_hand(task, amount, low, high):
    got_low, middle, got_high, source = rates.hours(task, amount, 2)
    assert (got_low, got_high) == (pytest.approx(low), pytest.approx(high))
    assert got_low < middle < got_high
    assert "crew of two; common practice" in source


def test_courses_slow_down_by_half_with_more_than_four_obstructions_a_square():
    clean, busy = rates.rate("courses"), rates.rate("courses-obstructed")
    assert (busy.low, busy.high) == (pytest.approx(clean.low / 2), pytest.approx(clean.high / 2))
    assert rates.courses_task(8, 200 * SQ_FT) == "courses"
    assert rates.courses_task(9, 200 * SQ_FT) == "courses-obstructed"


@given(task=st.sampled_from(sorted(rates.table())), amount=st.floats(0, 1e4), people=st.integers(1, 6))
def test_hands_share_the_work_and_the_spread_gives_back_the_range(task, amount, people):
    low, middle, high, source = rates.hours(task, amount, people)
    one = rates.hours(task, amount, 1)
    assert one[1] == pytest.approx(middle * people)
    assert rates.spread(source, middle) == (pytest.approx(low), pytest.approx(high))


@given(task=st.sampled_from(sorted(rates.table())), own=st.floats(0.1, 100), amount=st.floats(0.1, 1e3))
def test_a_crews_own_record_overrules_the_table_and_has_no_range(task, own, amount):
    people = rates.rate(task).people
    low, middle, high, source = rates.hours(task, amount, people, {task: own})
    assert low == middle == high
    assert middle == pytest.approx(amount * own if rates.rate(task).measured_in == "each" else amount / own)
    assert source.endswith("own record")
    assert rates.spread(source, middle) == (pytest.approx(middle), pytest.approx(middle))


def test_tasks_done_together_take_the_widest_range_of_them():
    unit = rates.hours("unit", 1, 2)[3]  # 1-1.5 h: middle 1.25
    opening = rates.hours("opening", 1, 2)[3]  # 1-2 h: middle 1.5
    assert rates.spread(f"{unit} + {opening}", 3.0) == (pytest.approx(3 / 1.5), pytest.approx(3 * 2 / 1.5))


def test_an_unknown_source_has_no_known_range():
    assert rates.spread("my uncle", 3.0) is None


def test_a_task_that_is_not_there_names_the_close_one():
    with pytest.raises(KeyError, match="did you mean 'tear-off'"):
        rates.hours("tearoff", 1, 2)


@pytest.mark.parametrize(("amount", "people", "own"), [(-1, 2, {}), (1, 0, {}), (1, 2, {"mat": 0.0})])
def test_what_cannot_be_is_refused(amount, people, own):
    with pytest.raises(ValueError, match=r"mat: .* cannot be"):
        rates.hours("mat", amount, people, own)


def test_titles_are_different_so_that_a_source_names_one_task():
    titles = [r.title for r in rates.table().values()]
    assert len(set(titles)) == len(titles)

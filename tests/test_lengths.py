"""Lengths: read exactly, written as on a tape, refused when they could be read two ways."""

from __future__ import annotations

import os
from fractions import Fraction

import pytest
import scipy.constants
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.lengths import SHOW_TOL_M, Length, LengthError, parse_length, show_length

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
many = settings(max_examples=300 * SOAK, deadline=None, derandomize=SOAK == 1)

# Readings worked by hand: text -> inches.
BY_HAND = {
    "12' 6-1/2\"": Fraction(301, 2),
    "12' 6 1/2": Fraction(301, 2),
    "12'6½\"": Fraction(301, 2),
    "12’ 6-1/2″": Fraction(301, 2),
    "12' - 6 1/2\"": Fraction(301, 2),
    '150-1/2"': Fraction(301, 2),
    "12.5'": Fraction(150),
    "12ft 6in": Fraction(150),
    "12 ft. 6 in.": Fraction(150),
    "12 feet": Fraction(144),
    "3.81 m": Fraction(150),
    "3810 mm": Fraction(150),
    "381 cm": Fraction(150),
    '-8"': Fraction(-8),
    "−8\"": Fraction(-8),
    "-1' 6\"": Fraction(-18),
    "+3'": Fraction(36),
    '9-1/4"': Fraction(37, 4),
    '3/4"': Fraction(3, 4),
    "6''": Fraction(6),
    "1420'": Fraction(17040),
    "0": Fraction(0),
}


@pytest.mark.parametrize("text", BY_HAND)
def test_a_length_is_read_exactly(text: str) -> None:
    assert parse_length(text).inches == BY_HAND[text]


@pytest.mark.parametrize(
    ("bare", "meters"),
    [("mm", 1e-3), ("cm", 1e-2), ("m", 1.0), ("in", scipy.constants.inch), ("ft", scipy.constants.foot)],
)
def test_a_bare_number_takes_the_unit_it_is_given(bare: str, meters: float) -> None:
    for value in (12, 12.25, "12.25", "12"):
        assert parse_length(value, bare=bare).m == pytest.approx(float(value) * meters, rel=1e-15)  # type: ignore[arg-type]


@pytest.mark.parametrize("value", [12, 12.5, "12", "150-1/2", "-3"])
def test_a_bare_number_is_refused_without_a_unit(value: str | float) -> None:
    with pytest.raises(LengthError, match="no unit"):
        parse_length(value)


def test_a_bare_fraction_is_inches_only() -> None:
    assert parse_length("150-1/2", bare="in").inches == Fraction(301, 2)
    with pytest.raises(LengthError, match="fraction but no unit"):
        parse_length("150-1/2", bare="mm")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12.6.5", r"understood 12\.6, then stopped at \.5"),
        ("12 6", "understood 12, then stopped at 6"),
        ("3,81 m", "understood 3, then stopped at ,81 m"),
        ("12' 6\" 3", "understood 12' 6\", then stopped at 3"),
        ("12' 14\"", "14 inches after the feet is more than a foot"),
        ("12' 61/2\"", "61/2 is a whole inch or more"),
        ('7 1/3"', "1/3 is not on a tape"),
        ("12.5' 6\"", "parts of a foot and inches as well"),
        ('6.5 1/2"', "a decimal and a fraction"),
        ("5 ft 3 cm", "feet first and then cm"),
        ("1/2 m", "mixes a fraction with m"),
        ("12' 6-", "understood 12' 6, then stopped at -"),
        ("12' -", "not finished"),
        ("about ten", "is not a length"),
        ("--3\"", "is not a length"),
        ("٣ m", "is not a length"),
        ("", "no length here"),
        ("9" * 400 + " m", "too long"),
    ],
)
def test_what_can_be_read_two_ways_is_refused_with_what_was_understood(text: str, says: str) -> None:
    with pytest.raises(LengthError, match=says) as caught:
        parse_length(text)
    assert caught.value.fix


@pytest.mark.parametrize("value", [True, None, [1], float("nan"), float("inf")])
def test_what_is_no_number_is_no_length(value: object) -> None:
    with pytest.raises(LengthError, match="is not a length"):
        parse_length(value, bare="in")  # type: ignore[arg-type]


@many
@given(st.text(max_size=70) | st.text(alphabet="0123456789'\"-/. ftinmc½", max_size=14))
def test_any_text_is_a_length_or_a_refusal(text: str) -> None:
    try:
        parse_length(text, bare="in")
    except LengthError as error:
        assert error.what and error.fix


@many
@given(st.integers(-20000, 20000), st.sampled_from([1, 2, 4, 8, 16, 32, 64]))
def test_what_is_shown_reads_back_the_same(marks: int, denominator: int) -> None:
    length = Length(Fraction(marks, denominator))
    text = show_length(length.m, denominator=denominator)
    assert parse_length(text) == length
    assert not text.endswith(("+", "-"))


@many
@given(st.integers(-200000, 200000))
def test_metric_reads_back_to_a_tenth_of_a_millimeter(tenths: int) -> None:
    length = parse_length(show_length(tenths * 1e-4, "metric"))
    assert length.inches * Fraction(254, 10) == Fraction(tenths, 10)


@many
@given(st.floats(-300, 300))
def test_the_tail_says_on_which_side_the_true_value_lies(m: float) -> None:
    text = show_length(m)
    mark = parse_length(text.rstrip("+-")).m
    assert abs(m - mark) <= 0.0254 / 32 + 1e-9
    assert text.endswith("+") == (m - mark > SHOW_TOL_M)
    assert text.endswith("-") == (m - mark < -SHOW_TOL_M)


def test_lengths_are_shown_as_on_a_tape() -> None:
    assert show_length(3.8227) == "12' 6-1/2\""
    assert show_length(0.1016) == '4"'
    assert show_length(0.009525) == '3/8"'
    assert show_length(3.6576) == "12' 0\""
    assert show_length(5.4991) == "18' 0-1/2\""
    assert show_length(-0.2032) == '-8"'
    assert show_length(0.0999) == '3-15/16"-'  # 3.933 in, 3-15/16 is 3.9375
    assert show_length(3.81, "metric") == "3810 mm"
    assert show_length(0.1016, "metric") == "101.6 mm"


def test_a_figure_that_is_not_on_a_tape_is_not_shown() -> None:
    with pytest.raises(ValueError, match="not a length"):
        show_length(float("nan"))
    with pytest.raises(ValueError, match="1/10"):
        show_length(1.0, denominator=10)

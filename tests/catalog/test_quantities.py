"""Sheet values to SI, against the constants of another library and exact definitions."""

import re

import pytest
import scipy.constants as c
from hypothesis import given
from hypothesis import strategies as st

from lapwright.catalog.quantities import SI_UNIT, parse

FIGURE = st.integers(1, 10**6).map(lambda n: n / 1000)


@pytest.mark.parametrize(
    ("unit", "kind", "si"),
    [
        ("ft", "length", c.foot), ("in", "length", c.inch), ("mil", "length", c.mil),
        ("mm", "length", c.milli), ("sq ft", "area", c.foot**2), ("gal", "volume", c.gallon_US),
        ("fl oz", "volume", c.fluid_ounce_US), ("qt", "volume", c.gallon_US / 4), ("L", "volume", c.liter),
        ("cu yd", "volume", c.yard**3), ("lb", "mass", c.pound), ("ton", "mass", c.short_ton),
        ("mph", "speed", c.mph), ("psi", "pressure", c.psi), ("psf", "pressure", c.psi / 144),
        ("pcf", "density", c.pound / c.foot**3), ("psf", "area_mass", c.pound / c.foot**2), ("per ft", "per_length", 1 / c.foot),
        ("per 100 sq ft", "per_area", 1 / (100 * c.foot**2)),
        ("F", "temperature_difference", c.degree_Fahrenheit),
        ("min", "hours", c.minute / c.hour), ("weeks", "days", c.week / c.day), ("%", "ratio", 0.01),
    ],
)  # fmt: skip
@given(figure=FIGURE)
def test_a_unit_means_what_another_library_says(unit, kind, si, figure):
    assert parse(f"{figure} {unit}", kind).value == pytest.approx(figure * si, rel=1e-12)


@given(figure=st.integers(-500, 2000).map(lambda n: n / 10))
def test_fahrenheit_is_read_as_another_library_converts_it(figure):
    expected = c.convert_temperature(figure, "F", "C")
    assert parse(f"{figure} F", "temperature").value == pytest.approx(expected, abs=1e-9)


def test_r_per_inch_is_the_conductivity_whose_inch_has_that_r():
    # 1 in of R 5 (h ft2 F/Btu) in SI, from the definition of the Btu in another library
    r_si = 5 * c.hour * c.foot**2 * c.degree_Fahrenheit / c.Btu
    assert parse("R 5 per in", "conductivity").value == pytest.approx(c.inch / r_si, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("4 ft 6-1/2 in", 54.5),
        ("5' 2\"", 62),
        ("3/8 in", 0.375),
        ("1-1/2 in", 1.5),
        ("0.75 ft", 9),
        ("20 mil", 0.02),
    ],
)
def test_lengths_are_the_nearest_float_to_what_is_written(text, inches):
    assert parse(text, "length").value == pytest.approx(inches * 0.0254, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("1 gal", "m3", c.gallon_US), ("250 ft", "m", 76.2), ("100 sq ft", "m2", 9.290304),
     ("500 each", "each", 500), ("50 lb", "kg", 50 * c.pound)],
)  # fmt: skip
def test_a_pack_keeps_the_kind_of_measure_it_is_written_in(text, unit, value):
    amount = parse(text, "pack")
    assert (amount.unit, amount.value) == (unit, pytest.approx(value, rel=1e-12))


@given(low=st.integers(0, 50), more=st.integers(0, 50), share=st.integers(0, 10))
def test_a_range_takes_the_unit_of_its_figure(low, more, share):
    figure = low + more * share / 10
    amount = parse(f"{figure} mil ({low}-{low + more})", "length")
    assert amount.low == pytest.approx(low * c.mil)
    assert amount.high == pytest.approx((low + more) * c.mil)
    assert amount.value == pytest.approx(figure * c.mil)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("5", "temperature", "5 has no unit"),
        ("5 ft", "temperature", "5 ft: ft is no unit of temperature"),
        ("5", "density", "'5': the unit is missing; write one of: kg/m3, pcf"),
        ("5 lb", "density", "'lb' is no unit for it"),
        ("40 F (50-60)", "temperature", "outside its own range"),
        ("20 mil (25-12)", "length", "the range runs backwards"),
        ("1,000 each", "pack", "is no pack size"),
        ("3 furlongs", "pack", "is no pack size"),
        ("soon", "hours", "soon is no time"),
        ("5", "length", "has no unit"),
        ("R 0 per in", "conductivity", "write the R per inch as"),
        ("R five per in", "conductivity", "write the R per inch as"),
        ("12 each", "number", "should be a plain number"),
        ("1/0 in", "length", "is not on a tape"),
        ("5 h 3 min", "hours", "is no unit of time"),
        ("", "area", "is no area"),
    ],
)
def test_what_does_not_read_is_refused_in_plain_words(text, kind, says):
    with pytest.raises(ValueError, match=re.escape(says)):
        parse(text, kind)


@given(text=st.text(max_size=12), kind=st.sampled_from(sorted(SI_UNIT)))
def test_no_text_does_anything_but_read_or_be_refused(text, kind):
    try:
        amount = parse(text, kind)
    except ValueError as error:
        assert str(error)
    else:
        assert isinstance(amount.value, str if kind == "word" else float)

"""Quantities at the border agree with an independent table of units and survive the round trip."""

from __future__ import annotations

import os

import pytest
import scipy.constants as physical
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.units import UNITS, Kind, UnitError, in_unit, parse_quantity, show_quantity

SOAK = int(os.environ.get("LAPWRIGHT_SOAK", "1"))
many = settings(max_examples=300 * SOAK, deadline=None, derandomize=SOAK == 1)

# Another library's constants (scipy.constants, from CODATA and NIST definitions): text -> SI value.
ELSEWHERE: list[tuple[str, Kind, float]] = [
    ("1 sq ft", "area", physical.foot**2),
    ("1 sq in", "area", physical.inch**2),
    ("2 squares", "area", 200 * physical.foot**2),
    ("1 mil", "film", physical.mil),
    ("1 cfm", "flow", physical.foot**3 / 60),
    ("1 lb", "mass", physical.lb),
    ("1 oz", "mass", physical.oz),
    ("1 ton", "mass", physical.short_ton),
    ("1 psf", "pressure", physical.psi / 144),
    ("1 psi", "pressure", physical.psi),
    ("1 R", "resistance", physical.foot**2 * 3600 * physical.degree_Fahrenheit / physical.Btu_IT),
    ("R-13", "resistance", 13 * physical.foot**2 * 3600 * physical.degree_Fahrenheit / physical.Btu_IT),
    ("1 mph", "speed", physical.mph),
    ("1 kn", "speed", physical.knot),
    ("1 km/h", "speed", physical.kmh),
    ("-40 F", "temperature", -40.0),
    ("98.6 °F", "temperature", float(physical.convert_temperature(98.6, "F", "C"))),
    ("0 K", "temperature", float(physical.convert_temperature(0, "K", "C"))),
    ("1 gal", "volume", physical.gallon),
    ("1 fl oz", "volume", physical.fluid_ounce),
    ("1 cu ft", "volume", physical.foot**3),
    ("1 perm", "permeance", 57.2135e-12),  # ASTM E96, US perm at 0 C in ng/(s m2 Pa)
    ("90 min", "time", physical.minute * 90 / physical.hour),
]


@pytest.mark.parametrize(("text", "kind", "si"), ELSEWHERE)
def test_a_quantity_agrees_with_another_librarys_table(text: str, kind: Kind, si: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(si, rel=1e-9)


def test_the_perm_follows_from_its_own_definition() -> None:
    """One perm is one grain an hour through a square foot at an inch of mercury at 0 C."""
    inch_of_mercury_0c = 3386.389  # Pa, NIST SP 811
    si = physical.grain / (3600 * physical.foot**2 * inch_of_mercury_0c)
    assert parse_quantity("1 perm", "permeance") == pytest.approx(si, rel=1e-5)


@pytest.mark.parametrize("kind", UNITS)
def test_every_unit_makes_the_round_trip(kind: Kind) -> None:
    for word in UNITS[kind]:
        for figure in (-12.5, 0.0, 1.0, 1234.0):
            si = parse_quantity(f"{figure} {word}", kind)
            assert in_unit(si, kind, word) == pytest.approx(figure, rel=1e-12, abs=1e-9)
            shown = show_quantity(si, kind, word, digits=6)
            assert parse_quantity(shown, kind) == pytest.approx(si, rel=1e-5, abs=1e-9)


def test_a_bare_number_needs_a_unit_from_somewhere() -> None:
    assert parse_quantity(13, "resistance", bare="R") == parse_quantity("R-13", "resistance")
    with pytest.raises(UnitError, match=r"13 has no unit\. Write a number and a unit: R-13"):
        parse_quantity(13, "resistance")


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("fast", "is no speed"),
        ("12 furlongs", "furlongs is no unit of speed"),
        ("1.2.3 mph", "no unit of speed"),
        ("9" * 99 + " mph", "unit of speed"),
        (True, "True is no speed"),
        (float("nan"), "nan is no speed"),
        (None, "None is no speed"),
    ],
)
def test_what_is_no_quantity_is_refused_in_words(value: object, says: str) -> None:
    with pytest.raises(UnitError, match=says) as caught:
        parse_quantity(value, "speed")  # type: ignore[arg-type]
    assert "115 mph" in caught.value.fix


_texts = st.text(max_size=20) | st.text(alphabet="0123456789.-+ RmphFC/", max_size=12)


@many
@given(_texts, st.sampled_from(list(UNITS)))
def test_any_text_is_a_quantity_or_a_refusal(text: str, kind: Kind) -> None:
    try:
        assert isinstance(parse_quantity(text, kind), float)
    except UnitError as error:
        assert error.what and error.fix


def test_what_is_not_finite_is_not_shown() -> None:
    with pytest.raises(ValueError, match="no mass: inf"):
        show_quantity(float("inf"), "mass", "kg")

"""Amounts in the job's units, as one says them at the yard. The screens and the packet both say them from here."""

from __future__ import annotations

from lapwright.lengths import Units
from lapwright.units import CU_YARD_M3, FOOT_M, GALLON_M3, POUND_KG

# Exact by definition: foot, US gallon of 231 cubic inches, cubic yard, avoirdupois pound.
FOOT, SQ_FT_M2, GALLON, CU_YD, POUND = (float(v) for v in (FOOT_M, FOOT_M**2, GALLON_M3, CU_YARD_M3, POUND_KG))
OZ_PER_GAL = 128
LEAST_GAL = 0.25  # less than a quart is said in fluid ounces
POURED_M3 = 0.3  # more than that comes by the truck, not by the pail: common practice
WHOLE_FROM = 20  # nobody counts parts of a nail
NOT_GIVEN = "not given"


def plain(value: float, digits: int = 4) -> str:
    """Write a number with at most that many significant figures, without an exponent.

    >>> plain(1234.56), plain(0.25), plain(3.0)
    ('1,235', '0.25', '3')
    """
    text = f"{float(f'{value:.{digits}g}'):,.6f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def say_run(meters: float, units: Units | str) -> str:
    """Return a long length that nobody cuts to, in tenths of a foot or of a meter.

    >>> say_run(30.5, "imperial"), say_run(30.5, "metric"), say_run(0.02, "metric")
    ('100.1 ft', '30.5 m', '0.02 m')
    """
    shown, word = (meters / FOOT, "ft") if units == "imperial" else (meters, "m")
    return f"{plain(round(shown, 1), 7) if abs(shown) >= 1 else plain(shown, 1)} {word}"


def say_amount(value: float | None, measure: str, units: Units | str) -> str:
    """Return an amount (m, m2, m3, L, kg, each, or another count) in the job's units; `not given` for None.

    >>> say_amount(9.290304, "m2", "imperial"), say_amount(3.785411784, "L", "imperial"), say_amount(3.0, "each", "metric")
    ('100 sq ft', '1 gal', '3')
    >>> say_amount(7085.0, "kg", "imperial"), say_amount(0.0005, "m3", "imperial")
    ('15,620 lb', '16.9 fl oz')
    """
    if value is None:
        return NOT_GIVEN
    imperial = units == "imperial"
    if measure == "m":
        return say_run(value, units)
    if measure in ("m3", "L"):
        return _volume(value if measure == "m3" else value / 1000, imperial)
    if measure == "each":
        return plain(round(value) if value >= WHOLE_FROM else value)
    factor, word = {
        "m2": (SQ_FT_M2, "sq ft") if imperial else (1.0, "m2"),
        "kg": (POUND, "lb") if imperial else (1.0, "kg"),
    }.get(measure, (1.0, measure))
    return f"{plain(value / factor)} {word}"


def _volume(m3: float, imperial: bool) -> str:
    if m3 >= POURED_M3:
        return f"{plain(m3 / CU_YD, 3)} cu yd" if imperial else f"{plain(m3, 3)} m3"
    if not imperial:
        return f"{plain(m3 * 1000, 3)} L"
    gallons = m3 / GALLON
    return f"{plain(gallons, 3)} gal" if gallons >= LEAST_GAL else f"{plain(gallons * OZ_PER_GAL, 3)} fl oz"

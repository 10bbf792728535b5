"""Amounts of an order in the job's units, as one says them at the yard."""

from __future__ import annotations

from lapwright.lengths import Units, show_length
from lapwright.units import CU_YARD_M3, FOOT_M, GALLON_M3, POUND_KG

# Exact by definition: foot, US gallon of 231 cubic inches, cubic yard, avoirdupois pound.
SQ_FT_M2, GALLON, CU_YD, POUND = (float(v) for v in (FOOT_M**2, GALLON_M3, CU_YARD_M3, POUND_KG))
POURED_M3 = 0.3  # more than that comes by the truck, not by the pail: common practice


def say_amount(value: float | None, measure: str, units: Units) -> str:
    """Return an amount (m, m2, m3, L, kg, each) in the job's units; `not given` for None.

    >>> say_amount(9.290304, "m2", "imperial"), say_amount(3.785411784, "L", "imperial"), say_amount(3.0, "each", "metric")
    ('100 sq ft', '1 gal', '3 each')
    """
    if value is None:
        return "not given"
    if measure == "L":
        return say_amount(value / 1000, "m3", units)
    if measure == "m":
        return show_length(value, units)
    imperial = units == "imperial"
    factor, word = {
        "m2": (SQ_FT_M2, "sq ft") if imperial else (1.0, "m2"),
        "m3": ((CU_YD, "cu yd") if value >= POURED_M3 else (GALLON, "gal"))
        if imperial
        else ((1.0, "m3") if value >= POURED_M3 else (0.001, "L")),
        "kg": (POUND, "lb") if imperial else (1.0, "kg"),
    }.get(measure, (1.0, measure))
    return f"{value / factor:.4g} {word}"

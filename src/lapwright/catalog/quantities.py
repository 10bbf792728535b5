"""Values as they stand on a product's sheet ("5 ft", "40 F", "20 mil (12-25)") to SI floats.

Lengths and common quantities are read by `lapwright.lengths` and `lapwright.units`; this module adds the
kinds that only product sheets have, ranges in brackets, and packs. The unit must be written: a bare number
has no meaning on a sheet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from lapwright import units
from lapwright.lengths import parse_length
from lapwright.units import BTU_J, FOOT_M, POUND_KG, PSF_PA, parse_quantity

Kind = Literal[
    "length", "temperature", "temperature_difference", "area", "volume", "mass", "days", "hours", "speed",
    "percent", "ratio", "angle", "pressure", "conductivity", "density", "per_area", "per_length", "pack",
    "count", "number", "word", "stiffness", "area_mass",
]  # fmt: skip

ONE = Fraction(1)
INCH = FOOT_M / 12
# W/(m K) of a material of R 1 per inch: R 1 is 1 h ft2 F/Btu, so k = 1 Btu in/(h ft2 F)
R1_PER_INCH = BTU_J / 3600 / FOOT_M**2 * Fraction(9, 5) * INCH

_SHARED: dict[str, units.Kind] = {
    "area": "area", "volume": "volume", "mass": "mass", "speed": "speed", "angle": "angle",
    "pressure": "pressure", "temperature": "temperature", "hours": "time",
}  # fmt: skip
_EACH = ("each", "piece", "pieces", "roll", "rolls", "sheet", "sheets", "nails", "screws", "staples")
OWN_UNITS: dict[str, dict[str, Fraction]] = {
    "days": {"day": ONE, "days": ONE, "weeks": 7 * ONE},
    "percent": {"%": ONE},
    "ratio": {"%": ONE / 100},
    "conductivity": {"W/mK": ONE, "W/(m K)": ONE},
    "density": {"kg/m3": ONE, "pcf": POUND_KG / FOOT_M**3},
    "stiffness": {"Pa/m": ONE, "pci": 144 * PSF_PA / INCH},
    "area_mass": {"kg/m2": ONE, "psf": POUND_KG / FOOT_M**2},
    "per_area": {"per m2": ONE, "per sq ft": 1 / FOOT_M**2, "per 100 sq ft": 1 / (100 * FOOT_M**2)},
    "per_length": {"per m": ONE, "per ft": 1 / FOOT_M},
    "temperature_difference": {"K": ONE, "C": ONE, "F": Fraction(5, 9)},
    "count": dict.fromkeys(_EACH, ONE),
    "number": {"": ONE},
}
SI_UNIT: dict[str, str] = {
    "length": "m", "area": "m2", "volume": "m3", "mass": "kg", "days": "days", "hours": "h", "speed": "m/s",
    "percent": "%", "ratio": "", "angle": "degrees", "pressure": "Pa", "conductivity": "W/(m K)",
    "density": "kg/m3", "stiffness": "Pa/m", "area_mass": "kg/m2", "per_area": "1/m2", "per_length": "1/m",
    "temperature_difference": "K", "temperature": "C", "count": "each", "number": "", "word": "",
}  # fmt: skip
_PACK = ("count", "volume", "length", "area", "mass")

_FIGURE = re.compile(r"(-?(?:\d{1,15}(?:\.\d{1,15})?|\.\d{1,15}))\s*(|\D.*)", re.ASCII)
_RANGE = re.compile(r"(.*\S)\s*\(\s*(-?[\d./]+)\s*(?:-|to)\s*(-?[\d./]+)\s*\)", re.ASCII)


@dataclass(frozen=True)
class Amount:
    """A value in SI with its unit and, when the sheet gives one, its range."""

    value: float | str | None
    unit: str
    low: float | None = None
    high: float | None = None


def _convert(text: str, kind: str) -> tuple[float, str]:
    """Return (SI value, SI unit) of one figure without a range; ValueError says what is wrong."""
    if kind == "length":
        mil = text.endswith(("mil", "mils"))  # no mark on a tape
        return (parse_quantity(text, "film") if mil else parse_length(text).m), "m"
    if kind in _SHARED:
        return parse_quantity(text, _SHARED[kind]), SI_UNIT[kind]
    if kind == "pack":
        return _pack(text)
    match = _FIGURE.fullmatch(text)
    if not match:
        raise ValueError(f"'{text}' does not read as a figure with a unit")
    factor = OWN_UNITS[kind].get(match[2])
    if factor is None:
        if kind == "number":
            raise ValueError(f"'{text}' should be a plain number")
        said = f"'{match[2]}' is no unit for it" if match[2] else "the unit is missing"
        raise ValueError(f"'{text}': {said}; write one of: {', '.join(OWN_UNITS[kind])}")
    return float(Fraction(match[1]) * factor), SI_UNIT[kind]


def _pack(text: str) -> tuple[float, str]:
    """Return what a pack holds, in the kind of measure that its unit is of."""
    for kind in _PACK:
        try:
            return _convert(text, kind)
        except ValueError:
            continue
    raise ValueError(f"'{text}' is no pack size; write it like '1 gal', '50 ft', '100 sq ft' or '500 each'")


def _unit_of(text: str, kind: str) -> str:
    """Return the unit word that a figure ends with ("4 ft 6 in" -> "in"), so that its range may share it."""
    match = re.fullmatch(r"(?:.*\s)?-?[\d./-]+\s*(\D.*)" if kind == "length" else r"-?[\d.]+\s*(\D.*)", text)
    return match[1] if match else ""


def parse(text: str, kind: str) -> Amount:
    """Return a sheet value in SI.

    text: "5 ft", "4 ft 6 in", "40 F", "20 mil (12-25)" (the range in the unit of the figure), "R 5 per in"
    for a conductivity. kind: see `Kind`. ValueError, in plain words, when it does not read; the unit must be
    written for everything but a number and a word.

    >>> parse("5 ft", "length").value
    1.524
    >>> parse("-4 F", "temperature").value
    -20.0
    >>> amount = parse("60 days (60-180)", "days")
    >>> amount.value, amount.low, amount.high
    (60.0, 60.0, 180.0)
    """
    text = text.strip()
    if kind == "word":
        return Amount(text, "")
    if kind == "conductivity" and text.startswith("R "):
        match = re.fullmatch(r"R (\d{1,9}(?:\.\d{1,9})?) per in(?:ch)?", text, re.ASCII)
        if not match or not Fraction(match.group(1)):
            raise ValueError(f"'{text}': write the R per inch as 'R 5 per in'")
        return Amount(float(R1_PER_INCH / Fraction(match.group(1))), SI_UNIT[kind])
    match = _RANGE.fullmatch(text)
    if not match:
        value, unit = _convert(text, kind)
        return Amount(value, unit)
    value, unit = _convert(match[1], kind)
    word = _unit_of(match[1], kind)
    low, high = (_convert(f"{match[end]} {word}".strip(), kind)[0] for end in (2, 3))
    if not low <= high:
        raise ValueError(f"'{text}': the range runs backwards")
    if not low - 1e-12 <= value <= high + 1e-12:
        raise ValueError(f"'{text}': the figure is outside its own range")
    return Amount(value, unit, low, high)

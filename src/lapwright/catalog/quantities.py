"""Values as they stand on a product's sheet ("5 ft", "40 F", "20 mil (12-25)") to SI floats.

The catalog needs a handful of kinds (length, temperature, time ...), each with the units that sheets use.
The unit must be written: a bare number has no meaning on a sheet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from lapwright.lengths import parse_length

Kind = Literal[
    "length", "temperature", "temperature_difference", "area", "volume", "mass", "days", "hours", "speed",
    "percent", "ratio", "angle", "pressure", "conductivity", "density", "per_area", "per_length", "pack",
    "count", "number", "word", "stiffness",
]  # fmt: skip

# Exact fractions, so that a figure read from a sheet is the nearest float to what it says.
ONE = Fraction(1)
INCH = Fraction(254, 10000)  # m, exact: international inch
FOOT = 12 * INCH
POUND = Fraction("0.45359237")  # kg, exact
GALLON = 231 * INCH**3  # US gallon, exact by definition: 231 cubic inches
PSI = POUND * Fraction("9.80665") / INCH**2  # Pa, by definition
BTU = Fraction("1055.05585262")  # J, international table, exact
# W/(m K) of a material of R 1 per inch: R 1 is 1 h ft2 F/Btu, so k = 1 Btu in/(h ft2 F)
R1_PER_INCH = BTU / 3600 / FOOT**2 * Fraction(9, 5) * INCH

_LENGTH = {
    "m": ONE, "cm": ONE / 100, "mm": ONE / 1000, "in": INCH, '"': INCH, "inch": INCH, "inches": INCH,
    "ft": FOOT, "'": FOOT, "foot": FOOT, "feet": FOOT, "yd": 3 * FOOT, "mil": INCH / 1000,
    "mils": INCH / 1000,
}  # fmt: skip
_SQUARE = 100 * FOOT**2
_AREA = {"sq ft": FOOT**2, "sq in": INCH**2, "sq m": ONE, "m2": ONE, "square": _SQUARE, "squares": _SQUARE}
_VOLUME = {
    "gal": GALLON, "qt": GALLON / 4, "pt": GALLON / 8, "fl oz": GALLON / 128, "L": ONE / 1000,
    "ml": ONE / 10**6, "m3": ONE, "cu ft": FOOT**3, "cu yd": 27 * FOOT**3,
}  # fmt: skip
_COUNT = {"each": ONE, "pieces": ONE, "piece": ONE, "rolls": ONE, "roll": ONE, "sheets": ONE, "sheet": ONE,
          "nails": ONE, "screws": ONE, "staples": ONE}  # fmt: skip
_MASS = {"kg": ONE, "g": ONE / 1000, "lb": POUND, "ton": 2000 * POUND, "t": 1000 * ONE}

UNITS: dict[str, dict[str, Fraction]] = {
    "length": _LENGTH,
    "area": _AREA,
    "volume": _VOLUME,
    "mass": _MASS,
    "days": {"days": ONE, "day": ONE, "weeks": 7 * ONE},
    "hours": {"h": ONE, "hours": ONE, "hour": ONE, "min": ONE / 60, "days": 24 * ONE, "day": 24 * ONE},
    "speed": {"m/s": ONE, "mph": 5280 * FOOT / 3600, "km/h": 1000 * ONE / 3600},
    "percent": {"%": ONE},
    "ratio": {"%": ONE / 100},
    "angle": {"degrees": ONE, "deg": ONE},
    "pressure": {"Pa": ONE, "kPa": 1000 * ONE, "psf": PSI / 144, "psi": PSI},
    "conductivity": {"W/mK": ONE, "W/(m K)": ONE},
    "density": {"kg/m3": ONE, "pcf": POUND / FOOT**3},
    "stiffness": {"Pa/m": ONE, "pci": PSI / INCH},
    "per_area": {"per m2": ONE, "per sq ft": 1 / FOOT**2, "per 100 sq ft": 1 / _SQUARE},
    "per_length": {"per m": ONE, "per ft": 1 / FOOT},
    "temperature_difference": {"K": ONE, "C": ONE, "F": Fraction(5, 9)},
    "temperature": {"C": ONE, "F": Fraction(5, 9)},
    "count": _COUNT,
}
SI_UNIT: dict[str, str] = {
    "length": "m", "area": "m2", "volume": "m3", "mass": "kg", "days": "days", "hours": "h", "speed": "m/s",
    "percent": "%", "ratio": "", "angle": "degrees", "pressure": "Pa", "conductivity": "W/(m K)",
    "density": "kg/m3", "stiffness": "Pa/m", "per_area": "1/m2", "per_length": "1/m",
    "temperature_difference": "K", "temperature": "C", "count": "each", "number": "", "word": "",
}  # fmt: skip
_PACK = ("length", "area", "volume", "mass", "count")

_NUMBER = re.compile(r"\s*(-?(?:\d+[- ]\d+/\d+|\d+/\d+|\d+\.\d+|\.\d+|\d+))(?![\d.,/])\s*")
_ANY_UNIT = re.compile(
    "(?:"
    + "|".join(
        re.escape(w) for w in sorted({w for u in UNITS.values() for w in u}, key=lambda w: (-len(w), w))
    )
    + r"|[^\d\s]+)(?![A-Za-z])\s*,?"
)
_RANGE = re.compile(r"^(?P<main>.*\S)\s*\(\s*(?P<low>-?[\d./]+)\s*(?:-|to)\s*(?P<high>-?[\d./]+)\s*\)$")


@dataclass(frozen=True)
class Amount:
    """A value in SI with its unit and, when the sheet gives one, its range."""

    value: float | str | None
    unit: str
    low: float | None = None
    high: float | None = None


def _number(text: str) -> Fraction:
    """Return "12", "1.5", "3/4" or "1-1/2", exactly."""
    digits = text.strip()
    sign = -1 if digits.startswith("-") else 1
    whole, _, fraction = digits.lstrip("-").replace(" ", "-").rpartition("-")
    try:
        return sign * (Fraction(whole or 0) + Fraction(fraction))
    except ZeroDivisionError:
        raise ValueError(f"'{text}' divides by zero") from None


def _terms(text: str) -> list[tuple[Fraction, str]]:
    """Split "4 ft 6-1/2 in" into [(4, "ft"), (13/2, "in")]; ValueError when it does not read so."""
    terms: list[tuple[Fraction, str]] = []
    rest = text.strip()
    while rest:
        match = _NUMBER.match(rest)
        if not match:
            raise ValueError(f"'{text}' does not read as a figure with a unit")
        rest = rest[match.end() :]
        unit = _ANY_UNIT.match(rest)
        word = unit.group(0) if unit else ""
        rest = rest[len(word) :]
        terms.append((_number(match.group(1)), word.strip().rstrip(",").strip()))
    if not terms:
        raise ValueError("it is empty")
    return terms


def _convert(text: str, kind: str) -> tuple[float, str]:
    """Return (SI value, SI unit) of one figure without a range; ValueError says what is wrong."""
    if kind == "length" and "mil" not in text and "yd" not in text:  # what a tape shows has one reader
        return parse_length(text).m, "m"
    terms = _terms(text)
    if kind == "pack":
        fits = [other for other in _PACK if all(word in UNITS[other] for _, word in terms)]
        if not fits:
            raise ValueError(
                f"'{text}' is no pack size; write it like '1 gal', '50 ft', '100 sq ft' or '500 each'"
            )
        kind = fits[0]
    if kind == "number" or (kind == "count" and not terms[0][1]):
        if len(terms) > 1 or terms[0][1]:
            raise ValueError(f"'{text}' should be a plain number")
        return float(terms[0][0]), SI_UNIT[kind]
    if len(terms) > 1 and kind != "length":
        raise ValueError(f"'{text}' is not one figure with one unit")
    units = UNITS[kind]
    total = Fraction(0)
    for size, word in terms:
        if word not in units:
            said = f"'{word}' is no unit for it" if word else "the unit is missing"
            raise ValueError(f"'{text}': {said}; write one of: {', '.join(sorted(units))}")
        total += (size - 32 if kind == "temperature" and word == "F" else size) * units[word]
    return float(total), SI_UNIT[kind]


def parse(text: str, kind: str) -> Amount:
    """Return a sheet value in SI.

    text: "5 ft", "4 ft 6 in", "40 F", "20 mil (12-25)" (the range in the unit of the figure), "R 5 per in"
    for a conductivity. kind: see `Kind`. ValueError, in plain words, when it does not read; the unit must be
    written for everything but a count, a number and a word.

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
        match = re.fullmatch(r"R (\d+(?:\.\d+)?) per in(?:ch)?", text)
        if not match or not Fraction(match.group(1)):
            raise ValueError(f"'{text}': write the R per inch as 'R 5 per in'")
        return Amount(float(R1_PER_INCH / Fraction(match.group(1))), SI_UNIT[kind])
    match = _RANGE.match(text)
    if not match:
        value, unit = _convert(text, kind)
        return Amount(value, unit)
    main = match["main"]
    word = " " + _terms(main)[-1][1]
    value, unit = _convert(main, kind)
    low, high = (_convert(match[end] + word, kind)[0] for end in ("low", "high"))
    if not low <= high:
        raise ValueError(f"'{text}': the range runs backwards")
    if not low - 1e-12 <= value <= high + 1e-12:
        raise ValueError(f"'{text}': the figure is outside its own range")
    return Amount(value, unit, low, high)

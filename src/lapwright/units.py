"""Quantities other than lengths at the border: text with a unit in, SI float out, and back.

The factors are exact by definition unless the line says otherwise; arithmetic is on Fractions, so a
figure becomes the float nearest to what was written.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Kind = Literal[
    "angle", "area", "area_rate", "film", "flow", "length_rate", "mass", "permeance", "pressure",
    "resistance", "speed", "temperature", "time", "volume",
]  # fmt: skip

ONE = Fraction(1)
FOOT_M = Fraction(3048, 10000)  # m, international foot, exact
POUND_KG = Fraction(45359237, 10**8)  # kg, avoirdupois, exact
CU_YARD_M3 = 27 * FOOT_M**3  # m3, cubic yard, exact
GALLON_M3 = 231 * (FOOT_M / 12) ** 3  # m3, US liquid gallon = 231 cubic inches, exact
PSF_PA = POUND_KG * Fraction(980665, 10**5) / FOOT_M**2  # Pa, standard gravity 9.80665 m/s2, exact
BTU_J = Fraction(105505585262, 10**8)  # J, International Table, exact
R_SI = FOOT_M**2 * 3600 * Fraction(5, 9) / BTU_J  # m2 K/W of one h ft2 F/Btu (0.17611)
PERM = Fraction(572135, 10**16)  # kg/(s m2 Pa) of one US perm = 57.2135 ng/(s m2 Pa), at 0 C (ASTM E96)
HOUR_S = Fraction(3600)


@dataclass(frozen=True)
class Unit:
    """SI value = (figure - `zero`) * `factor`. `factor` > 0."""

    factor: Fraction
    zero: Fraction = Fraction(0)


def _units(*rows: tuple[str, Fraction]) -> dict[str, Unit]:
    return {name: Unit(factor) for names, factor in rows for name in names.split("|")}


# Kind -> unit words -> Unit. The first word of a kind is its SI unit.
UNITS: Mapping[Kind, Mapping[str, Unit]] = {
    "angle": _units(("deg|degree|degrees|°", ONE)),  # degrees
    "area": _units(
        ("m2|sq m|m²|square meters", ONE), ("sq ft|ft2|ft²|sqft|square feet", FOOT_M**2),
        ("square|squares", 100 * FOOT_M**2), ("sq in|in2|in²", (FOOT_M / 12) ** 2),
        ("cm2|cm²", ONE / 10**4),
    ),
    "area_rate": _units(("m2/h|sq m/h|m²/h", ONE), ("sq ft/h|ft2/h|sqft/h", FOOT_M**2)),  # m2 an hour
    "film": _units(
        ("m", ONE), ("mil|mils", FOOT_M / 12000), ("mm", ONE / 1000),
        ("um|µm|μm|micron|microns", ONE / 10**6), ("in|inch", FOOT_M / 12),
    ),
    "flow": _units(
        ("m3/s|m³/s", ONE), ("m3/h|m³/h", 1 / HOUR_S), ("l/s", ONE / 1000), ("cfm", FOOT_M**3 / 60),
    ),
    "length_rate": _units(("m/h", ONE), ("ft/h", FOOT_M)),  # m an hour
    "mass": _units(
        ("kg", ONE), ("g", ONE / 1000), ("lb|lbs|pound|pounds", POUND_KG), ("oz", POUND_KG / 16),
        ("ton|tons", 2000 * POUND_KG), ("t", Fraction(1000)),
    ),
    "permeance": _units(
        ("kg/(s m2 Pa)|kg/s m2 Pa", ONE), ("ng/(s m2 Pa)|ng/s m2 Pa", ONE / 10**12), ("perm|perms", PERM),
    ),
    "pressure": _units(
        ("pa", ONE), ("kpa", Fraction(1000)), ("psf", PSF_PA), ("psi", 144 * PSF_PA),
        ("bar", Fraction(10**5)), ("hpa|mbar", Fraction(100)),
    ),
    "resistance": _units(
        ("m2 K/W|m2K/W|m²K/W|m² K/W", ONE), ("h ft2 F/Btu|ft2 h F/Btu|hr ft2 F/Btu|R", R_SI),
        ("rsi", ONE),
    ),
    "speed": _units(
        ("m/s", ONE), ("mph", 5280 * FOOT_M / HOUR_S), ("km/h|kph", 1000 / HOUR_S),
        ("kn|knot|knots", 1852 / HOUR_S), ("ft/s", FOOT_M),
    ),
    "temperature": {
        "c": Unit(ONE), "°c": Unit(ONE), "f": Unit(Fraction(5, 9), Fraction(32)),
        "°f": Unit(Fraction(5, 9), Fraction(32)), "k": Unit(ONE, Fraction(27315, 100)),
    },  # C
    "time": _units(
        ("h|hour|hours|hr|hrs", ONE), ("min|minute|minutes", ONE / 60), ("day|days|d", Fraction(24)),
        ("week|weeks", Fraction(168)), ("s", ONE / 3600),
    ),  # h
    "volume": _units(
        ("m3|m³|cubic meters", ONE), ("l|liter|liters|litre|litres", ONE / 1000), ("ml", ONE / 10**6),
        ("gal|gallon|gallons", GALLON_M3), ("qt|quart|quarts", GALLON_M3 / 4), ("pt", GALLON_M3 / 8),
        ("fl oz", GALLON_M3 / 128), ("cu ft|ft3|ft³|cf", FOOT_M**3), ("cu yd|yd3", 27 * FOOT_M**3),
    ),
}  # fmt: skip
_FOLDED = {kind: {name.casefold(): unit for name, unit in units.items()} for kind, units in UNITS.items()}
_FIGURE = re.compile(r"\s*([-+−]?(?:[0-9]{1,15}(?:\.[0-9]{0,30})?|\.[0-9]{1,30}))\s*(.*?)\s*", re.DOTALL)
_R_FIRST = re.compile(r"\s*R\s*-?\s*([0-9.]+)\s*", re.IGNORECASE)


class UnitError(ValueError):
    """A quantity that cannot be read. `what` says what is wrong, `fix` how to write it."""

    def __init__(self, what: str, fix: str) -> None:
        self.what = what
        self.fix = fix
        super().__init__(f"{what} {fix}")


def parse_quantity(value: str | int | float, kind: Kind, bare: str | None = None) -> float:
    """Return a quantity in the first unit that `UNITS` lists for its kind (SI; C, hours and degrees as such).

    value: "115 mph", "40 F", "20 mil", "R-13", "1.2 perm", or a number. bare: the unit of a number without
    one; with None such a number is refused. Raises UnitError, which says what was understood.

    >>> parse_quantity("115 mph", "speed"), parse_quantity("68 F", "temperature")
    (51.4096, 20.0)
    >>> round(parse_quantity("R-13", "resistance"), 4)
    2.2894
    """
    units = _FOLDED[kind]
    fix = f"Write a number and a unit: {_examples(kind)}."
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise UnitError(f"{value!r} is no {_name(kind)}.", fix)
    if isinstance(value, str):
        lead = _R_FIRST.fullmatch(value) if kind == "resistance" else None
        match = _FIGURE.fullmatch(f"{lead.group(1)} R" if lead else value)
        if not match:
            raise UnitError(f"{value[:40]} is no {_name(kind)}.", fix)
        digits = match.group(1).replace("−", "-")
        figure = Fraction(digits + "0" if digits.endswith(".") else digits)
        word = " ".join(match.group(2).split()).casefold()
    else:
        if not math.isfinite(value):
            raise UnitError(f"{value!r} is no {_name(kind)}.", fix)
        figure, word = Fraction(repr(value)), ""
    if not word:
        if bare is None:
            raise UnitError(f"{value} has no unit.", fix)
        word = bare.casefold()
    unit = units.get(word)
    if unit is None:
        raise UnitError(f"{str(value)[:40]}: {word[:20]} is no unit of {_name(kind)}.", fix)
    return float((figure - unit.zero) * unit.factor)


def show_quantity(value: float, kind: Kind, unit: str, digits: int = 3) -> str:
    """Return an SI value as a figure in `unit` with `digits` significant figures and the unit's word.

    Raises KeyError when the kind has no such unit, ValueError when the value is not finite.

    >>> show_quantity(51.4096, "speed", "mph"), show_quantity(-20.0, "temperature", "F")
    ('115 mph', '-4 F')
    """
    if not math.isfinite(value):
        raise ValueError(f"no {_name(kind)}: {value!r}")
    figure = in_unit(value, kind, unit)
    places = digits - 1 - (math.floor(math.log10(abs(figure))) if figure else 0)
    text = f"{round(figure, places):.{max(places, 0)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{'0' if text == '-0' else text} {unit}"


def in_unit(value: float, kind: Kind, unit: str) -> float:
    """Return an SI value as a figure in `unit`. Raises KeyError when the kind has no such unit."""
    known = _FOLDED[kind][unit.casefold()]
    return float(Fraction(value) / known.factor + known.zero)


def _name(kind: Kind) -> str:
    return kind.replace("_", " ")


def _examples(kind: Kind) -> str:
    return {
        "angle": "90 degrees", "area": "120 sq ft or 11 m2", "area_rate": "80 sq ft/h or 8 m2/h",
        "film": "20 mil or 0.5 mm", "flow": "50 cfm or 25 L/s", "length_rate": "30 ft/h or 9 m/h",
        "mass": "90 lb or 40 kg", "permeance": "1.2 perm or 68 ng/(s m2 Pa)", "pressure": "25 psf or 50 Pa",
        "resistance": "R-13 or 2.3 m2K/W", "speed": "115 mph or 51 m/s", "temperature": "40 F or 5 C",
        "time": "1.5 h or 20 min", "volume": "5 gal or 19 L",
    }[kind]  # fmt: skip

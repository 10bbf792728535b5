"""Lengths as a carpenter writes them, read exactly, and written back the same way.

A length is a `Fraction` of an inch (1 in = 25.4 mm by definition, so metric lengths are exact too).
What cannot be read one way only is refused, and the refusal says how far the reading got.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Bare = Literal["mm", "cm", "m", "in", "ft"]
Units = Literal["imperial", "metric"]

M_PER_INCH = Fraction(127, 5000)  # 25.4 mm, exact: international yard and pound agreement, 1959
SHOW_TOL_M = 6e-5  # closer to a mark than this counts as on it: plan.json rounds lengths to 0.1 mm
LONGEST_TEXT = 60  # characters; no length on a tape needs more

_INCHES_PER: dict[str, Fraction] = {
    "mm": Fraction(5, 127),
    "cm": Fraction(50, 127),
    "m": Fraction(5000, 127),
    "in": Fraction(1),
    "ft": Fraction(12),
}
_SPELLINGS: dict[str, str] = {
    "mm": "mm", "millimeter": "mm", "millimeters": "mm", "millimetre": "mm", "millimetres": "mm",
    "cm": "cm", "centimeter": "cm", "centimeters": "cm", "centimetre": "cm", "centimetres": "cm",
    "m": "m", "meter": "m", "meters": "m", "metre": "m", "metres": "m",
    '"': "in", "in": "in", "in.": "in", "inch": "in", "inches": "in",
    "'": "ft", "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft",
}  # fmt: skip
_PLAIN = {
    "’": "'", "‘": "'", "′": "'", "´": "'", "`": "'", "‛": "'", "ʹ": "'",
    "”": '"', "“": '"', "″": '"', "‟": '"', "ʺ": '"',
    "−": "-", "–": "-", "‐": "-", "‑": "-", "⁄": "/", "∕": "/", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
    "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8",
}  # fmt: skip

_UNIT_WORDS = "|".join(sorted((re.escape(w) for w in _SPELLINGS), key=len, reverse=True))
_NUMBER = re.compile(r"\s*([0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)")
_UNIT = re.compile(rf"\s*({_UNIT_WORDS})(?![a-z])")
_FRACTION = re.compile(r"\s*([0-9]+)\s*/\s*([0-9]+)")
_AND_FRACTION = re.compile(r"(?:\s*-\s*|\s+)([0-9]+)\s*/\s*([0-9]+)")
_FIX = "Write it like 12' 6-1/2\", 150-1/2\", 12.5', 3.81 m or 3810 mm."


class LengthError(ValueError):
    """A length that cannot be read. `what` says what is wrong, `fix` how to write it."""

    def __init__(self, what: str, fix: str = _FIX) -> None:
        self.what = what
        self.fix = fix
        super().__init__(f"{what} {fix}")


@dataclass(frozen=True, order=True)
class Length:
    """An exact length. `inches` is any rational number of inches, negative below or left of zero.

    >>> Length(Fraction(1, 2)).m
    0.0127
    """

    inches: Fraction

    @property
    def m(self) -> float:
        """The length in metres, the nearest float to the exact value."""
        return float(self.inches * M_PER_INCH)


def parse_length(value: str | int | float, bare: Bare | None = None) -> Length:
    """Read a length exactly as written.

    value: text (`12' 6-1/2"`, `150-1/2"`, `12.5'`, `12 ft 6 in`, `3.81 m`, `3810 mm`, `-8"`) or a number.
    bare: the unit of a number that has none; with None such a number is refused (0 is 0 in any unit).
    Raises LengthError, which says what was understood and where the reading stopped.

    >>> parse_length("12' 6-1/2\\"").inches
    Fraction(301, 2)
    >>> parse_length("3810 mm") == parse_length(150, bare="in")
    True
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise LengthError(f"{value!r} is not a length.")
    if isinstance(value, (int, float)):
        if not math.isfinite(value):
            raise LengthError(f"{value!r} is not a length.")
        return _bare(Fraction(repr(value)), str(value), bare)
    if len(value) > LONGEST_TEXT:
        raise LengthError(f'"{value[:20]}..." is too long to be a length.')
    text = value.lower()
    for fancy, plain in _PLAIN.items():
        text = text.replace(fancy, plain)
    return _Reader(text.replace("''", '"').strip(), value.strip(), bare).read()


def _bare(number: Fraction, shown: str, bare: Bare | None) -> Length:
    if number == 0:
        return Length(Fraction(0))
    if bare is None:
        raise LengthError(
            f"{shown} has no unit: inches, feet or millimeters?",
            f"Write {shown}\" or {shown}' or {shown} mm, or set bare_numbers at the top of the job file.",
        )
    return Length(number * _INCHES_PER[bare])


class _Reader:
    """Reads one length from left to right, remembering how far it got."""

    def __init__(self, text: str, shown: str, bare: Bare | None) -> None:
        self.text = text
        self.shown = shown
        self.bare = bare
        self.at = 0

    def read(self) -> Length:
        if not self.text:
            raise LengthError("There is no length here.")
        sign = 1
        if self.text[0] in "+-":
            sign = -1 if self.text[0] == "-" else 1
            self.at = 1
        first, fraction = self._number()
        unit = self._take_unit()
        if unit is None:
            if self.at < len(self.text):
                self._stopped()
            if fraction and self.bare != "in" and first:
                raise LengthError(f"{self.shown} has a fraction but no unit.")
            return _bare(sign * first, self.shown, self.bare)
        if fraction and unit in ("mm", "cm", "m"):
            raise LengthError(f"{self.shown} mixes a fraction with {unit}.", "Write metric as decimals.")
        inches = first * _INCHES_PER[unit]
        if unit == "ft" and self.at < len(self.text):
            if first.denominator != 1:
                raise LengthError(f"{self.shown} has parts of a foot and inches as well.")
            inches += self._inches_after_feet()
        if self.at < len(self.text):
            self._stopped()
        return Length(sign * inches)

    def _inches_after_feet(self) -> Fraction:
        dash = re.compile(r"\s*-\s*").match(self.text, self.at)
        if dash:
            self.at = dash.end()
        got, _ = self._number()
        unit = self._take_unit()
        if unit not in (None, "in"):
            raise LengthError(f"{self.shown} has feet first and then {unit}.")
        if got >= 12:
            raise LengthError(
                f"{self.shown}: {float(got):g} inches after the feet is more than a foot.",
                "Check the figure; a fraction stands apart from the inches: 6-1/2, not 61/2.",
            )
        return got

    def _number(self) -> tuple[Fraction, bool]:
        """Take a number; return it and whether it held a fraction."""
        alone = _FRACTION.match(self.text, self.at)
        if alone:
            self.at = alone.end()
            return self._part(alone), True
        whole = _NUMBER.match(self.text, self.at)
        if not whole:
            self._stopped()
        assert whole is not None
        self.at = whole.end()
        got = Fraction(whole.group(1) + ("0" if whole.group(1).endswith(".") else ""))
        part = _AND_FRACTION.match(self.text, self.at)
        if part:
            if "." in whole.group(1):
                raise LengthError(f"{self.shown} has a decimal and a fraction.")
            self.at = part.end()
            return got + self._part(part), True
        return got, False

    def _part(self, match: re.Match[str]) -> Fraction:
        top, bottom = int(match.group(1)), int(match.group(2))
        if bottom not in (2, 4, 8, 16, 32, 64):
            raise LengthError(
                f"{self.shown}: {top}/{bottom} is not on a tape.",
                "A tape has halves, quarters, eighths, 16ths, 32nds and 64ths; else write a decimal.",
            )
        if top >= bottom:
            raise LengthError(
                f"{self.shown}: {top}/{bottom} is a whole inch or more.",
                "A fraction stands apart from the inches: 6-1/2, not 61/2.",
            )
        return Fraction(top, bottom)

    def _take_unit(self) -> str | None:
        match = _UNIT.match(self.text, self.at)
        if not match:
            return None
        self.at = match.end()
        return _SPELLINGS[match.group(1)]

    def _stopped(self) -> None:
        understood = self.text[: self.at].strip()
        rest = self.text[self.at :].strip()
        if not understood or understood in "+-":
            raise LengthError(f"{self.shown} is not a length.")
        if not rest:
            raise LengthError(f"{self.shown} is not finished: understood {understood}, then nothing.")
        raise LengthError(f"{self.shown} is not a length: understood {understood}, then stopped at {rest}.")


def show_length(m: float, units: Units = "imperial", denominator: int = 16) -> str:
    """Write a length in metres as it is read off a tape.

    units `imperial`: feet, inches and reduced fractions of `denominator` (a power of two up to 64), inches
    alone below a foot; a trailing `+` says that the true value lies above the mark shown, `-` below it (by
    more than 0.06 mm, what rounding to 0.1 mm can hide). units `metric`: millimeters, to 0.1 where they are not whole.
    Raises ValueError when `m` is not finite or `denominator` is not on a tape.

    >>> show_length(3.8227), show_length(0.1016), show_length(0.102), show_length(3.81, "metric")
    ('12\\' 6-1/2"', '4"', '4"+', '3810 mm')
    """
    if not math.isfinite(m):
        raise ValueError(f"not a length: {m!r}")
    if units == "metric":
        tenths = round(m * 10000)
        whole, rest = divmod(abs(tenths), 10)
        return ("-" if tenths < 0 else "") + (f"{whole}.{rest}" if rest else f"{whole}") + " mm"
    if denominator not in (1, 2, 4, 8, 16, 32, 64):
        raise ValueError(f"not on a tape: 1/{denominator}")
    marks = round(m / 0.0254 * denominator)
    off = m - float(Fraction(marks, denominator) * M_PER_INCH)
    tail = "+" if off > SHOW_TOL_M else "-" if off < -SHOW_TOL_M else ""
    feet, inches = divmod(Fraction(abs(marks), denominator), 12)
    part = inches - int(inches)
    if not part:
        text = f'{int(inches)}"'
    elif inches >= 1 or feet:  # 18' 0-1/2": a bare 1/2 behind feet is easily misread
        text = f'{int(inches)}-{part}"'
    else:
        text = f'{part}"'
    if feet:
        text = f"{feet}' {text}"
    return ("-" if marks < 0 else "") + text + tail


def show_both(m: float) -> str:
    """Write a length in inches and in millimeters, for words that do not know the job's units.

    >>> show_both(0.0508)
    '2" (51 mm)'
    """
    return f"{show_length(m)} ({m * 1000:.0f} mm)"

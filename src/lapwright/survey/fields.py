"""The kinds of value a job file holds, and how each is read: lengths, quantities, ids, words, numbers.

Every refusal is a `PydanticCustomError` that carries `what` and `fix`; `words.py` turns it into a finding.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationInfo, model_validator
from pydantic_core import PydanticCustomError

from lapwright.lengths import Length, LengthError, Units, parse_length, show_length
from lapwright.units import Kind, UnitError, parse_quantity

FOOT_M = 0.3048
ID = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?")
LONGEST_WORDS = 2000  # characters; a remark, not a novel: own choice


def refuse(code: str, what: str, fix: str) -> PydanticCustomError:
    """Return the error that refuses a value: `code` is the last part of the finding's code."""
    return PydanticCustomError("lapwright", "{what}", {"code": code, "what": what, "fix": fix})


class Part(BaseModel):
    """Base of every block of the job file: unknown names are refused, an empty name counts as not given."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=False)

    @model_validator(mode="before")
    @classmethod
    def _empty_is_not_given(cls, value: Any) -> Any:
        if isinstance(value, dict):
            return {name: v for name, v in value.items() if v is not None}
        return value


def _context(info: ValidationInfo, name: str) -> Any:
    return (info.context or {}).get(name)


def length(
    low_m: float = -math.inf, high_m: float = math.inf, *, above: float | None = None
) -> Callable[[Any, ValidationInfo], Length]:
    """Return a validator of lengths within [low_m, high_m] metres and, if given, > `above`."""

    def read(value: Any, info: ValidationInfo) -> Length:
        if isinstance(value, (list, dict)):
            raise refuse("length", "One length belongs here.", "Write one length, like 12' 6-1/2\".")
        try:
            got = parse_length(value, bare=_context(info, "bare"))
        except LengthError as error:
            raise refuse("length", error.what, error.fix) from None
        units: Units = "metric" if _context(info, "units") == "metric" else "imperial"
        if above is not None and got.m <= above:
            raise refuse(
                "size", f"{value} is not more than {show_length(above, units)}.", "Check the figure."
            )
        if not low_m <= got.m <= high_m:
            limit = show_length(low_m if got.m < low_m else high_m, units)
            side = "less" if got.m < low_m else "more"
            raise refuse("size", f"{value} is {side} than {limit}: that cannot be.", "Check figure and unit.")
        return got

    return read


def quantity(
    kind: Kind, low: float, high: float, bare: str | None = None, bare_metric: str | None = None
) -> Callable[[Any, ValidationInfo], float]:
    """Return a validator of quantities, SI value within [low, high]. bare: unit of a plain number."""

    def read(value: Any, info: ValidationInfo) -> float:
        plain = bare_metric if _context(info, "units") == "metric" else bare
        try:
            got = parse_quantity(value, kind, bare=plain)
        except UnitError as error:
            raise refuse("quantity", error.what, error.fix) from None
        if not low <= got <= high:
            raise refuse("size", f"{value} cannot be.", "Check figure and unit.")
        return got

    return read


def number(low: float, high: float, whole: bool = False) -> Callable[[Any], float]:
    """Return a validator of plain numbers within [low, high]."""

    def read(value: Any) -> float:
        kind = "whole number" if whole else "number"
        if isinstance(value, str):
            with contextlib.suppress(ValueError):
                value = float(value) if value.isascii() and len(value) < 40 else value
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise refuse("number", f"{_short(value)} is not a {kind}.", f"Write a plain {kind}.")
        if whole and value != int(value):
            raise refuse("number", f"{value} is not a whole number.", "Write a whole number.")
        if not low <= value <= high:
            raise refuse("size", f"{value} is outside {low:g} to {high:g}.", "Check the figure.")
        return int(value) if whole else float(value)

    return read


def _short(value: Any) -> str:
    if isinstance(value, dict):
        return "A block of names"
    if isinstance(value, list):
        return "A list"
    text = str(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _words(value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise refuse(
            "words", f"{_short(value)} stands where words belong.", "Write a word or a line of text."
        )
    text = " ".join(str(value).split())
    if len(text) > LONGEST_WORDS:
        raise refuse("words", f"{len(text)} characters are too many here.", "Shorten it.")
    return text


def _id(value: Any) -> str:
    text = _words(value)
    if not ID.fullmatch(text):
        raise refuse(
            "id", f"{_short(text) or 'Nothing'} cannot be an id.",
            "Use lower case letters, digits and hyphens, at most 40: front, w1, porch-roof.",
        )  # fmt: skip
    return text


def _flag(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.lower() in ("yes", "no"):
        return value.lower() == "yes"
    raise refuse("flag", f"{_short(value)} is neither yes nor no.", "Write yes or no.")


def as_block(name: str) -> Callable[[Any], Any]:
    """Return a reader that takes a lone value for the block `{name: value}`."""

    def read(value: Any) -> Any:
        return value if isinstance(value, dict) else {name: value}

    return read


Len = Annotated[Length, PlainValidator(length(-60 * FOOT_M, 300 * FOOT_M))]
"""A position: from 60 ft below or left of the mark to 300 ft."""
Height = Annotated[Length, PlainValidator(length(-60 * FOOT_M, 100 * FOOT_M))]
"""A height above the reference line (below it: negative)."""
FaceWidth = Annotated[Length, PlainValidator(length(above=0.0, high_m=300 * FOOT_M))]
OpeningSize = Annotated[Length, PlainValidator(length(above=0.0, high_m=40 * FOOT_M))]
SmallSize = Annotated[Length, PlainValidator(length(above=0.0, high_m=10 * FOOT_M))]
Thickness = Annotated[Length, PlainValidator(length(above=0.0, high_m=10 * FOOT_M))]
Depth = Annotated[Length, PlainValidator(length(0.0, 60 * FOOT_M))]
RollLength = Annotated[Length, PlainValidator(length(above=0.0, high_m=3000 * FOOT_M))]
Elevation = Annotated[Length, PlainValidator(length(-2000 * FOOT_M, 30000 * FOOT_M))]
TapeError = Annotated[Length, PlainValidator(length(above=0.0, high_m=2 * FOOT_M))]
Spot = tuple[Len, Len]
"""A point on a face: [x from its left edge, y above the reference line]."""

Words = Annotated[str, PlainValidator(_words)]
Id = Annotated[str, PlainValidator(_id)]
Flag = Annotated[bool, PlainValidator(_flag)]
Turn = Annotated[float, PlainValidator(number(-359, 359))]
Azimuth = Annotated[float, PlainValidator(number(0, 360))]
Count = Annotated[int, PlainValidator(number(1, 10000, whole=True))]
Money = Annotated[float, PlainValidator(number(0, 1e7))]
Percent = Annotated[float, PlainValidator(number(0, 100))]


def say(text: str, example: str = "", default: Any = None, alias: str | None = None) -> Any:
    """Return a field that may be left out, with its description and an example as it is typed."""
    return Field(default, description=text, examples=[example] if example else None, alias=alias)


def must(text: str, example: str = "", alias: str | None = None) -> Any:
    """Return a field that must be given, with its description and an example as it is typed."""
    return Field(description=text, examples=[example] if example else None, alias=alias)

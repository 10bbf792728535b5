"""What a job file may say about what is wanted, and the whole file in one class.

The descriptions are the reference: `docs/house-file.md` is made from them.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, PlainValidator, ValidationInfo, model_validator

from lapwright.lengths import LengthError, parse_length
from lapwright.scope.model import Setting
from lapwright.survey.fields import (
    Count,
    Flag,
    Id,
    Money,
    OpeningSize,
    Part,
    Percent,
    RollLength,
    Thickness,
    Words,
    must,
    quantity,
    refuse,
    say,
)
from lapwright.survey.schema import SurveyBlock
from lapwright.survey.slabs import SlabBlock
from lapwright.survey.words import did_you_mean
from lapwright.units import UnitError, parse_quantity

LAYERS = (
    *("cladding", "furring", "mat", "barrier", "film", "strip", "tape", "flashing", "primer", "sealant"),
    *("insulation", "sheathing", "fastener", "vapor", "slab", "unit", "existing"),
    *("air", "framing", "cavity", "masonry", "lining", "gravel"),
)  # the contract's layers, and what else a wall or floor is made of between them and the rooms
Resistance = Annotated[float, PlainValidator(quantity("resistance", 0, 50, "R", "m2 K/W"))]
Permeance = Annotated[float, PlainValidator(quantity("permeance", 0, 1e-3, "perm", "ng/(s m2 Pa)"))]


def _layer(value: Any) -> str:
    text = str(value)
    if text not in LAYERS:
        raise refuse("unknown", f"{text[:40]} is no layer.", did_you_mean(text, LAYERS))
    return text


class LayerBlock(Part):
    """One layer of an assembly: a product to buy, a material with its thickness, or plain figures."""

    layer: Annotated[str, PlainValidator(_layer)] = must("What kind of layer: " + ", ".join(LAYERS) + ".", "mat")
    product: Id | None = say("Catalog product to buy; docs/catalog.md lists them.", "mesh-mat")
    material: Id | None = say("Catalog material by name.", "board-sheathing")
    thickness: Thickness | None = say("Its thickness.", '3/4"')
    existing: Flag = say("Whether it stands there already and stays.", "yes", default=False)
    r: Resistance | None = say(
        "Thermal resistance instead of a material; a plain number is R (imperial) or m2K/W (metric).", "R-13"
    )
    permeance: Permeance | None = say(
        "Vapor permeance instead of a material; a plain number is perms (imperial) or ng/(s m2 Pa) (metric).",
        "0.5 perm",
    )


def _rate(value: Any) -> tuple[str, float]:
    """Return ("m2", m2/h), ("m", m/h) or ("each", hours for one)."""
    for measure, kind in (("m2", "area_rate"), ("m", "length_rate"), ("each", "time")):
        try:
            got = parse_quantity(value, kind)  # type: ignore[arg-type]
        except UnitError:
            continue
        if not 0 < got <= 10_000:
            raise refuse("size", f"{value} cannot be.", "Check figure and unit.")
        return measure, got
    raise refuse(
        "quantity",
        f"{str(value)[:40]} is no pace.",
        "Write it like 80 sq ft/h, 30 ft/h, or 1.5 h for one piece.",
    )


class CrewBlock(Part):
    """Who does it."""

    people: Count = say("How many hands.", "4", default=2)
    wage: Money | None = say("Pay of one person for an hour.", "45")
    rates: dict[Words, Annotated[tuple[str, float], PlainValidator(_rate)]] = say(
        "Your own pace by task, instead of the built-in one.", "{tear-off: 80 sq ft/h}", default={}
    )


class StockBlock(Part):
    """Stock that is already there."""

    product: Id = must("Catalog product.", "self-adhered-sheet")
    length: RollLength = must("Length of one.", "50'")
    width: OpeningSize | None = say("Width of one; the product's own when left out.", "5'")
    count: Count = say("How many of them.", "2", default=1)


def _patterns(value: Any) -> Any:
    return ["*"] if value == "all" else [value] if isinstance(value, str) else value


Patterns = Annotated[tuple[Words, ...], BeforeValidator(_patterns)]


class BuiltBlock(Part):
    """What is on the wall already, as an earlier plan.json in the job folder has it. It stays fixed."""

    from_: Words = must("The earlier plan.json, in the job folder.", "built/plan.json", alias="from")
    pieces: Patterns = say("Ids of the pieces that hang; * stands for anything.", "[front/*]", default=())
    lines: Patterns = say("Snapped lines: all, or ids of their faces.", "all", default=())
    rolls: Patterns = say("Ids of opened rolls.", "[self-adhered-sheet/01]", default=())


class AcceptBlock(Part):
    """A warning that you accept. A stop cannot be accepted."""

    code: Words = must("Code of the finding.", "lap.relies_on_glue")
    place: Words = say("Where it stands, as the finding says; everywhere when left out.", "front/ledger", default="")
    reason: Words = must("Why it is acceptable; the packet prints it.", "ledger probed sound, taped and checked")

    @model_validator(mode="after")
    def _has_a_reason(self) -> AcceptBlock:
        if not self.reason:
            raise refuse("missing", "`reason` is empty.", "Say why the warning is acceptable.")
        return self


def _figure(value: Any, info: ValidationInfo) -> Setting:
    """Return a figure of a detail in SI: a length, a temperature, a time, a plain number, or a word."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise refuse("words", "A figure or a word belongs here.", 'Write a figure with its unit, like 4".')
    length_m, refused = None, ("", "")
    try:
        length_m = parse_length(value, bare=(info.context or {}).get("bare")).m
    except LengthError as error:
        refused = error.what, error.fix
    if not isinstance(value, str):
        return Setting(float(value), "number", length_m, refused)
    if length_m is not None:
        return Setting(length_m, "length", length_m)
    for kind in ("temperature", "time", "film", "mass", "pressure", "speed", "angle"):
        try:
            return Setting(parse_quantity(value, kind), kind)
        except UnitError:
            continue
    if any(c.isdigit() for c in value):
        raise refuse("length", *refused)
    return Setting(value, "word")


Figure = Annotated[Setting, PlainValidator(_figure)]


def _upward(value: tuple[float, float]) -> tuple[float, float]:
    if value[0] > value[1]:
        raise refuse("size", "It runs from high to low.", "Write [5, 15].")
    return value


Range = Annotated[tuple[Percent, Percent], AfterValidator(_upward)]


class HouseBlock(SurveyBlock):
    """The whole job file: what stands, and what is wanted."""

    slabs: tuple[SlabBlock, ...] = say("Floors on the ground that get a new slab.", default=())
    assemblies: dict[Id, tuple[LayerBlock, ...]] = say(
        "Walls as layers from outside to inside, floors from the top down.", default={}
    )
    positions: dict[Id, Literal["in", "mid", "out"]] = say(
        "How deep in the new wall new units sit, by assembly: in (on the old boards), mid, out (with foam or furring).",
        "{foam-skin: out}", default={},
    )  # fmt: skip
    crew: CrewBlock | None = say("Who does it.", "{people: 4, wage: 45}")
    details: dict[Words, Id] = say(
        "The detail to use at a place, by the place's id.", "{front/w1: my-sill}", default={}
    )
    settings: dict[Id, dict[Words, Figure]] = say(
        "Figures of a detail that you set yourself. A length carries its unit or goes by `bare_numbers`, as everywhere.",
        '{courses-self-adhered: {course_lap: 4"}}',
        default={},
    )
    stock: tuple[StockBlock, ...] = say("What is there already.", default=())
    prices: dict[Id, Money] = say("Price of one pack by product.", "{self-adhered-sheet: 210}", default={})
    currency: Words = say("Currency of prices and wages.", "USD", default="USD")
    unfound: Range = say("Percent to add for what has not come to light: from, to.", "[5, 15]", default=(5.0, 15.0))
    built: BuiltBlock | None = say("What is on the wall already.")
    accept: tuple[AcceptBlock, ...] = say("Warnings that you accept.", default=())
    own_details: tuple[Words, ...] = say("Your own detail files, in the job folder.", "[details/vent.py]", default=())

"""What a job file may say about the house as it stands: one class per block, one line per name.

The descriptions are the reference: `docs/house-file.md` is made from them.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, PlainValidator, model_validator

from lapwright.survey.fields import (
    Azimuth,
    Depth,
    Elevation,
    FaceWidth,
    Flag,
    Height,
    Id,
    Len,
    OpeningSize,
    Part,
    SmallSize,
    Spot,
    TapeError,
    Turn,
    Words,
    as_block,
    must,
    number,
    quantity,
    refuse,
    say,
)
from lapwright.survey.nearby import Away, NearbyBlock

Degrees = Annotated[float, PlainValidator(number(-180, 180))]
Latitude = Annotated[float, PlainValidator(number(-90, 90))]
TurnError = Annotated[float, PlainValidator(number(0.01, 20))]
Year = Annotated[int, PlainValidator(number(1500, 2100, whole=True))]
Weight = Annotated[float, PlainValidator(quantity("mass", 0.1, 2000, "lb", "kg"))]
Speed = Annotated[float, PlainValidator(quantity("speed", 0, 150, "mph", "m/s"))]


class PlaceBlock(Part):
    """Where the house stands. `place: Duluth` alone gives the name."""

    name: Words = say("Town or neighborhood, as you call it.", "North Fork", default="")
    latitude: Latitude | None = say("Degrees, north is +.", "46.8")
    longitude: Degrees | None = say("Degrees, east is +.", "-92.1")
    elevation: Elevation | None = say("Height above the sea.", "1420'")
    climate: Words | None = say("The place whose built-in climate is used.", "Duluth")
    climate_zone: Words | None = say("Climate zone of the energy code.", "7")


class TapeBlock(Part):
    """How far off the tape and the square may be, give or take, 19 times of 20."""

    length_error: TapeError | None = say('For one taped width; 1/4" when left out.', '1/4"')
    turn_error: TurnError | None = say("For one turn, degrees; 1 when left out.", "1")


class LoopBlock(Part):
    """One ring of faces, or an open chain of them."""

    base: Height | None = say("Height of its foot above the reference line; 0 when left out.", "18'")
    closed: Flag | None = say("Whether the last face meets the first. Yes from three faces up.", "yes")
    origin: Spot | None = say("Where its first face's left end lies, seen from above.", "[6', 10']")
    first_face_azimuth: Azimuth | None = say("As at the top of the file, for this loop's first face.", "90")
    walk: Literal["left", "right"] | None = say(
        "Which way you walked while facing the wall; right when left out.", "left"
    )


class EaveBlock(Part):
    """Height of the eave where it differs between the ends. `height: 18'` alone is level."""

    left: Height = must("At the left end.", "18' 4\"")
    right: Height | None = say("At the right end; as the left when left out.", "17' 10\"")


class GableBlock(Part):
    """A gable on top of the eave height."""

    peak: Height = must("Height of the peak above the reference line.", "25' 2\"")
    at: Len | None = say("How far the peak lies from the left edge; the middle when left out.", "12'")


def _base(value: Any) -> Any:
    return value if isinstance(value, dict) else {"steps": value} if isinstance(value, list) else {"level": value}


class BaseBlock(Part):
    """The bottom edge of a face: `base: -8"`, or steps `[[x, y], ...]`: from x on rightwards it lies at y."""

    level: Height | None = say("One height all along.", '-8"')
    steps: tuple[Spot, ...] | None = say("From each x on rightwards, the height y.", "[[0, -8\"], [12', -2']]")


def _framing(value: Any) -> Any:
    return {} if value == "unknown" else value


def _studs(value: Any) -> Any:
    return None if value == "unknown" else value


class FramingBlock(Part):
    """The studs of a face. `framing: unknown` when nobody has looked."""

    stud: Words | None = say("Nominal size.", "2x4")
    spacing: SmallSize | None = say("Center to center.", '16"')
    first: Len | None = say("Center of the first stud from the left edge.", '3/4"')
    studs: Annotated[tuple[Len, ...] | None, BeforeValidator(_studs)] = say(
        "Center of every stud from the left edge, or unknown.", '[3/4", 15-1/4", 31"]'
    )


class ZoneBlock(Part):
    """A part of a face with its own decision. A side left out reaches to the edge of the face."""

    id: Id = must("Its name on this face; what the zones leave over is called main.", "gable")
    left: Len | None = say("Left side, from the face's left edge.", "0")
    right: Len | None = say("Right side, from the face's left edge.", "12'")
    bottom: Height | None = say("Lower side, above the reference line.", "9'")
    top: Height | None = say("Upper side, above the reference line.", "18'")
    points: tuple[Spot, ...] | None = say("Its corners in order, instead of the four sides.", "[[0, 9'], ...]")
    decision: Literal["keep", "remove", "cover"] = must(
        "keep: untouched; remove: old layers off, new skin on; cover: new skin over what stands.", "keep"
    )
    assembly: Id | None = say("The assembly of the new skin.", "new-skin")
    wrong_laps: tuple[Literal["top", "bottom"], ...] = say(
        "Sides of a kept zone where the new skin was lapped the wrong way: at its top the course went in behind the "
        "flashing instead of over it, at its bottom the strip went on over the old felt instead of under it.",
        "[top]", default=(),
    )  # fmt: skip
    cut_in: tuple[Literal["top"], ...] = say(
        "Sides of a kept zone where a wrong lap was mended by a strip: the course slit above the flashing, the strip "
        "tucked into the slit and brought down over the flashing.",
        "[top]", default=(),
    )  # fmt: skip


def _pair(value: Any) -> Any:
    if isinstance(value, list):
        if len(value) != 2:
            raise refuse("size", "Two sizes belong here: [width, height].", "Write [width, height].")
        return {"width": value[0], "height": value[1]}
    return as_block("width")(value)


class SizeBlock(Part):
    """A size: one figure is a diameter, `[width, height]` a box."""

    width: SmallSize = must("Width, or the diameter.", '4"')
    height: SmallSize | None = say("Height of a box.", '8"')


Size = Annotated[SizeBlock, BeforeValidator(_pair)]


# pieces of an opening that a crew has been seen to leave out; each has its own say in the drop test
LEFT_OUT = ("sill-strip", "jamb-strip", "head-strip", "head-flashing", "flange-tape")
Absent = Literal["sill-strip", "jamb-strip", "head-strip", "head-flashing", "flange-tape"]


class OpeningBlock(Part):
    """A rough opening for a window or door."""

    id: Id = must("Its name on this face.", "w1")
    kind: Literal["window", "door"] = say("window or door; window when left out.", "door", default="window")
    shape: Literal["rectangle", "arch", "round", "polygon"] = say(
        "rectangle, arch, round or polygon; rectangle when left out.", "arch", default="rectangle"
    )
    left: Len | None = say("Left side, from the face's left edge (rectangle, arch).", "4'")
    sill: Height | None = say("Lower side, above the reference line (rectangle, arch).", "3'")
    width: OpeningSize | None = say("Width (rectangle, arch).", "3'")
    height: OpeningSize | None = say("Height; of an arch up to where it starts to curve.", "5'")
    rise: OpeningSize | None = say("How far an arch rises above `height`; half the width at most.", '8"')
    center: Spot | None = say("Center (round).", "[6', 20']")
    diameter: OpeningSize | None = say("Diameter (round).", "2'")
    points: tuple[Spot, ...] | None = say("Corners in order (polygon).", "[[2', 9'], [4', 9'], [3', 11']]")
    state: Literal["before", "after", "kept", "insert"] = say(
        "before: the new unit is set before the barrier; after: after it; kept: the old unit stays; "
        "insert: a new unit inside the old frame. Kept when left out.",
        "before", default="kept",
    )  # fmt: skip
    unit: Id | None = say("Catalog product of the new unit.", "flanged-window")
    detail: Id | None = say("The detail to use here, instead of the usual one.", "my-sill")
    bedroom: Flag = say("Whether somebody sleeps behind it (way out in a fire).", "yes", default=False)
    basement: Flag = say("Whether it is the way out of a basement.", "yes", default=False)
    clear: tuple[OpeningSize, OpeningSize] | None = say("Clear opening as measured: [width, height].", '[30", 26"]')
    weight: Weight | None = say("Weight of the unit.", "110 lb")
    without: tuple[Absent, ...] = say(
        "What was left out here, or is to be: " + ", ".join(LEFT_OUT) + ".", "[head-strip]", default=()
    )

    position: Literal["in", "mid", "out"] | None = say(
        "How deep in the new wall a new unit sits: in (on the old boards), mid, out (with foam or furring). As `positions` "
        "says for the assembly when left out.",
        "out",
    )
    buck: Id | None = say("Catalog product of the box that carries a unit set mid or out.", "lumber-buck")

    @model_validator(mode="after")
    def _moves(self) -> OpeningBlock:
        for name in ("position", "buck"):
            if getattr(self, name) is not None and self.state in ("kept", "insert"):
                raise refuse(
                    "choice", f"A unit that is {self.state} stays where the old frame stands: `{name}` has no say.",
                    f"Take `{name}` out, or set a new unit: state: before or after.",
                )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _has_its_sizes(self) -> OpeningBlock:
        wants = {
            "rectangle": ("left", "sill", "width", "height"),
            "arch": ("left", "sill", "width", "height", "rise"),
            "round": ("center", "diameter"),
            "polygon": ("points",),
        }
        need_only(self, wants[self.shape], {n for names in wants.values() for n in names}, f"shape {self.shape}")
        return self


def need_only(block: Part, wanted: tuple[str, ...], known: set[str], why: str) -> None:
    """Refuse the block when it lacks one of `wanted`, or has one of `known` that is not wanted."""
    missing = [name for name in wanted if getattr(block, name) is None]
    if missing:
        raise refuse("missing", f"{_listed(missing)} missing for {why}.", f"Add {' and '.join(missing)}.")
    extra = sorted(name for name in known - set(wanted) if getattr(block, name) is not None)
    if extra:
        raise refuse("unknown", f"{_listed(extra)} out of place for {why}.", f"Take out {' and '.join(extra)}.")


def _listed(names: list[str]) -> str:
    return " and ".join(f"`{n}`" for n in names) + (" is" if len(names) == 1 else " are")


class PenetrationBlock(Part):
    """A thing that comes through the wall."""

    id: Id = must("Its name on this face.", "p1")
    kind: Literal["duct", "pipe", "cable", "bundle", "box", "bracket", "meter"] = must(
        "duct, pipe, cable, bundle (of cables), box, bracket or meter.", "pipe"
    )
    at: Spot = must("Its center.", '[2\' 6", 14"]')
    size: Size = must("Diameter, or [width, height] of a box.", '4"')
    through: Words = say("What runs in it: dryer, bath fan, flue, gas, power, water ...", "dryer", default="")
    detail: Id | None = say("The detail to use here, instead of the usual one.", "boot")


_LINE = ("from_", "to")
_BAND = ("left", "right", "top")


class AttachmentBlock(Part):
    """A thing fixed to the wall. A line is given by `from` and `to`, or by `left`, `right` and `top`."""

    id: Id = must("Its name on this face.", "porch")
    kind: Literal["roof", "porch_roof", "deck_ledger", "chimney", "roof_return", "belly_band", "eave"] = must(
        "roof (its line may slope), porch_roof, deck_ledger, chimney, roof_return, belly_band or eave.",
        "porch_roof",
    )
    from_: Spot | None = say("Left end of its line.", "[2', 9']", alias="from")
    to: Spot | None = say("Right end of its line.", "[10', 9']")
    left: Len | None = say("Left side, from the face's left edge.", "2'")
    right: Len | None = say("Right side, from the face's left edge.", "10'")
    bottom: Height | None = say("Lower side (chimney).", '-8"')
    top: Height | None = say("Upper side, above the reference line.", "9'")
    depth: SmallSize | None = say("Height of a ledger or band.", '9-1/4"')
    projection: OpeningSize | None = say("How far it stands out from the wall.", "6'")
    below: Literal["outside", "inside"] = say(
        "What the wall under a roof is: outside (porch) or inside (rooms).", "inside", default="outside"
    )
    ends: tuple[Literal["eave", "wall", "open"], Literal["eave", "wall", "open"]] = say(
        "What a roof's line runs into at its left and right end: eave (it pours there), wall or open.",
        "[eave, wall]", default=("open", "open"),
    )  # fmt: skip
    decision: Literal["keep", "remove"] = say("Whether it stays.", "remove", default="keep")
    detail: Id | None = say("The detail to use here, instead of the usual one.", "ledger-cap")

    @model_validator(mode="after")
    def _has_its_line(self) -> AttachmentBlock:
        if self.kind == "chimney":
            wanted: tuple[str, ...] = ("left", "right", "bottom", "top")
        elif self.from_ is not None or self.to is not None:
            wanted = _LINE
        elif self.kind == "roof":
            raise refuse("missing", "`from` and `to` are missing for a roof.", "Add from: [x, y] and to: [x, y].")
        else:
            wanted = _BAND
        if self.kind in ("deck_ledger", "belly_band"):
            wanted = (*wanted, "depth")
        known = {*_LINE, *_BAND, "bottom", *(() if self.kind == "eave" else ("depth",))}
        need_only(self, wanted, known, f"kind {self.kind}")
        return self


class FoundBlock(Part):
    """Something that came to light on a face."""

    id: Id = must("Its name on this face.", "rot1")
    what: Words = must("rot, no_sheathing, no_head_flashing, old_wire, asbestos_suspect, open_bay ...", "rot")
    at: Spot | None = say("Its center.", "[4', 1']")
    size: Size | None = say("Its size, one figure or [width, height].", "[2', 1']")
    note: Words = say("Anything else.", "soft two inches deep", default="")


class FaceBlock(Part):
    """One plane of wall between two corners. Faces stand in the order you walked."""

    id: Id = must("Its name.", "front")
    loop: Id = say("The loop it belongs to.", "dormer", default="main")
    width: FaceWidth = must("Corner to corner.", "31' 6-1/2\"")
    turn: Turn | None = say(
        "How the wall turns at the face's far end as you walk, degrees: outside corner +, inside corner -.",
        "90",
    )
    height: Annotated[EaveBlock | None, BeforeValidator(as_block("left"))] = say(
        "Height of the eave above the reference line, or {left, right}.", "18' 4\""
    )
    base: Annotated[BaseBlock | None, BeforeValidator(_base)] = say(
        "Bottom edge above the reference line, or steps [[x, y], ...]; the loop's base when left out.", '-8"'
    )
    gable: GableBlock | None = say("A gable above the eave height.", "{peak: 25' 2\", at: 12'}")
    outline: tuple[Spot, ...] | None = say(
        "All corners of the face in order, instead of height, base and gable.", "[[0, 0], [12', 0], ...]"
    )
    adjoins: Literal["outside", "party", "garage"] = say(
        "What lies beyond it: outside, party (the neighbor's house) or garage.", "party", default="outside"
    )
    framing: Annotated[FramingBlock | None, BeforeValidator(_framing)] = say(
        "Its studs, or unknown.", '{stud: 2x4, spacing: 16", first: 3/4"}'
    )
    eaves: Literal["open", "closed", "vented"] = say("Soffit at its top edge.", "vented", default="open")
    decision: Literal["keep", "remove", "cover"] | None = say(
        "For all of the face that no zone covers; keep when left out.", "remove"
    )
    assembly: Id | None = say("The assembly of the new skin there.", "new-skin")
    zones: tuple[ZoneBlock, ...] = say("Parts with another decision.", default=())
    openings: tuple[OpeningBlock, ...] = say("Windows and doors.", default=())
    penetrations: tuple[PenetrationBlock, ...] = say("What comes through the wall.", default=())
    attachments: tuple[AttachmentBlock, ...] = say("What is fixed to the wall.", default=())
    found: tuple[FoundBlock, ...] = say("What came to light.", default=())
    lot_line: Away | None = say(
        "From the old face straight out to the lot line (to the middle of a street, or half way to another house on the lot).",
        "4'",
    )

    nearby: tuple[NearbyBlock, ...] = say("What stands in front of it and must stay clear of it.", default=())

    @model_validator(mode="after")
    def _has_its_shape(self) -> FaceBlock:
        if self.outline is not None:
            for name in ("height", "gable", "base"):
                if getattr(self, name) is not None:
                    raise refuse("unknown", f"`outline` and `{name}` contradict each other.", "Keep one of them.")
        elif self.height is None:
            raise refuse("missing", "`height` is missing.", "Add height: the eave above the reference line.")
        return self


class StoreyBlock(Part):
    """One story: where its floor and ceiling lie."""

    id: Id = must("Its name.", "first")
    loop: Id = say("The loop that encloses it.", "main", default="main")
    floor: Height = must("Top of the floor above the reference line.", "0")
    ceiling: Height = must("Underside of the ceiling.", "8' 1\"")
    ceiling_kind: Literal["flat", "sloped"] = say("flat, or sloped (then `peak`).", "flat", default="flat")
    peak: Height | None = say("Highest point of a sloped ceiling.", "12'")


class LowestFloorBlock(Part):
    """What the house stands on."""

    kind: Literal["slab", "crawl", "basement"] = must("slab, crawl or basement.", "basement")
    depth: Depth | None = say("How far its floor lies below the reference line.", "6' 10\"")


class WindBlock(Part):
    """Wind for the first sizing of fasteners."""

    speed: Speed | None = say("Design wind speed.", "115 mph")
    exposure: Literal["B", "C", "D"] | None = say("Exposure category.", "B")


class SurveyBlock(Part):
    """The part of the job file that says what stands."""

    job: Words = say("Name of the job; the folder's name when left out.", "Alder Row", default="")
    units: Literal["imperial", "metric"] = say("How lengths are shown.", "metric", default="imperial")
    bare_numbers: Literal["in", "ft", "mm", "cm", "m"] | None = say(
        "Unit of a length without one; when left out such a length is refused.", "mm"
    )
    place: Annotated[PlaceBlock | None, BeforeValidator(as_block("name"))] = say(
        "Where the house stands.", "{name: North Fork, latitude: 46.8, longitude: -92.1}"
    )
    year_built: Year | None = say("The year it was built.", "1924")
    reference_line: Words = say(
        "The level mark that all heights are taken from.", "bottom of the old water table", default=""
    )
    first_face_azimuth: Azimuth | None = say(
        "Where the first face looks, degrees clockwise from true north (180 is south).", "180"
    )
    walk: Literal["left", "right"] = say("Which way you walked while facing the wall.", "left", default="right")
    tape: TapeBlock | None = say("How far off tape and square may be.", '{length_error: 1/4", turn_error: 1}')
    loops: dict[Id, LoopBlock] = say("Rings and chains of faces; one called main when left out.", default={})
    faces: tuple[FaceBlock, ...] = say("The walls in the order you walked.", default=())
    storeys: tuple[StoreyBlock, ...] = say("The stories.", default=())
    lowest_floor: LowestFloorBlock | None = say("What the house stands on.", "{kind: basement, depth: 6' 10\"}")
    fuel_burning: tuple[Words, ...] = say("What burns fuel in the house; [none] when nothing does.", "[boiler, range]", default=())
    services: dict[Words, Words] = say("What comes in and how.", "{power: overhead}", default={})
    wind: WindBlock | None = say("Wind.", "{speed: 115 mph, exposure: B}")
    wildfire: Flag | None = say("Whether the house stands in a wildfire zone.", "yes")
    termites: Literal["none", "slight", "moderate", "heavy", "very heavy"] | None = say(
        "How likely termites are, by the map of the local code.", "moderate"
    )
    season: Literal["spring", "summer", "fall", "winter"] | None = say("When the skin goes on.", "fall")

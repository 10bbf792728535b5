"""What stands: the house as it was taped, after reading, in SI floats (metres, degrees).

These are plain frozen records. `lapwright.survey.read` makes them from `house.yaml`; details and
layout only read them. Coordinates follow the contract: on a wall x runs right from its left edge
seen from outside, y = 0 is the job's reference line. Polygons are shapely polygons.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from shapely import Polygon

from lapwright.findings import Where
from lapwright.survey.slab_model import Slab

Position = Literal["in", "mid", "out"]
OpeningState = Literal["before", "after", "kept", "insert"]
PenetrationKind = Literal["duct", "pipe", "cable", "bundle", "box", "bracket", "meter"]
AttachmentKind = Literal[
    "roof", "porch_roof", "deck_ledger", "chimney", "roof_return", "belly_band", "eave"
]
Decision = Literal["keep", "remove", "cover"]
Adjoins = Literal["outside", "party", "garage"]


@dataclass(frozen=True)
class Opening:
    """A rough opening. `polygon` in face coordinates; `shape` rectangle|arch|round|polygon.

    `state`: before = its unit is set before the barrier, on strips that tie in later; after = barrier
    first; kept = old unit and frame stay; insert = new unit inside the old frame.
    `unit` is a catalog product or None (not given). `bedroom`/`basement` ask for the egress check;
    `clear_m` (width, height) is the clear opening when the owner measured it. `without`: roles of pieces that
    are left out there (head-strip ...), a fact of what was built. `position`: in | mid | out, how deep in the new wall
    the unit sits (None: not said); `buck`: the product of the box that carries it out (None: the usual one).
    """

    id: str
    face: str
    kind: str  # window | door
    polygon: Polygon
    shape: str
    state: OpeningState
    unit: str | None = None
    detail: str | None = None
    bedroom: bool = False
    basement: bool = False
    clear_m: tuple[float, float] | None = None
    weight_kg: float | None = None
    where: Where = field(default_factory=Where)
    without: tuple[str, ...] = ()
    position: Position | None = None
    buck: str | None = None

    @property
    def box(self) -> tuple[float, float, float, float]:
        """(left, sill, right, head) in metres."""
        left, sill, right, head = self.polygon.bounds
        return left, sill, right, head


@dataclass(frozen=True)
class Penetration:
    """A thing that comes through the wall. `polygon` is what passes the wall plane, in face coordinates."""

    id: str
    face: str
    kind: PenetrationKind
    polygon: Polygon
    through: str = ""  # "dryer", "bath fan", "flue", "gas", "power" ... free words, drive cautions
    detail: str | None = None
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Attachment:
    """A thing fixed to the wall. `start`, `end`: its line on the face, left to right, metres.

    roof: the line where the roof's surface meets the wall (slope from the two points), `below` says
    whether the wall under it is `outside` (open porch) or `inside` (an addition's rooms).
    porch_roof: same, level. deck_ledger, belly_band, eave: line of the top edge; `depth_m` its height.
    chimney: `polygon`. roof_return: a short roof at a gable's foot; line along its top.
    `ends`: what each end of a roof line runs into: `eave` (pours, needs a kick-out), `wall`, `open`.
    """

    id: str
    face: str
    kind: AttachmentKind
    start: tuple[float, float]
    end: tuple[float, float]
    depth_m: float = 0.0
    projection_m: float | None = None
    polygon: Polygon | None = None
    below: Literal["outside", "inside"] = "outside"
    ends: tuple[str, str] = ("open", "open")
    decision: Literal["keep", "remove"] = "keep"
    detail: str | None = None
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Zone:
    """A part of a face with one make-up and one decision. Zones partition the face's outline.

    Facts of what was built round a kept zone: `wrong_laps`: its sides (top, bottom) where the new skin laps the wrong
    way; `cut_in`: sides where such a lap was mended by a strip tucked into a slit of the course.
    """

    id: str
    face: str
    polygon: Polygon
    decision: Decision
    assembly: str | None = None
    where: Where = field(default_factory=Where)
    wrong_laps: tuple[str, ...] = ()
    cut_in: tuple[str, ...] = ()


@dataclass(frozen=True)
class Found:
    """Something that came to light: rot, no_sheathing, old_wire, asbestos_suspect ..."""

    id: str
    face: str
    what: str
    polygon: Polygon | None = None
    note: str = ""
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Framing:
    """Studs of a face. `studs_m` are centre lines (x), or None for unknown."""

    stud: str | None = None  # "2x4" ...
    spacing_m: float | None = None
    studs_m: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Nearby:
    """Something in front of a face that must stay clear of it: a walk, stairs, a meter, a cooler, the roof's overhang.

    away_m: from the old face to it (or how wide it is, counted from the old face); least_m: what must remain, as a
    sheet or the official says, None when nobody said.
    """

    id: str
    face: str
    kind: str
    away_m: float
    least_m: float | None = None
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Face:
    """One plane of wall between two turns of its loop.

    `turn_deg` is the turn at its right end, + at an outside corner (walking right, facing the wall).
    `left`, `right`: neighbouring face ids, None at the end of an open chain.
    `outline`: in face coordinates; openings are not holes in it.
    """

    id: str
    loop: str
    index: int
    width_m: float
    turn_deg: float
    outline: Polygon
    left: str | None
    right: str | None
    origin: tuple[float, float, float]
    azimuth_deg: float | None
    adjoins: Adjoins = "outside"
    framing: Framing = field(default_factory=Framing)
    openings: tuple[Opening, ...] = ()
    penetrations: tuple[Penetration, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    zones: tuple[Zone, ...] = ()
    found: tuple[Found, ...] = ()
    eaves: str = "open"  # soffit at the top edge: open | closed | vented
    where: Where = field(default_factory=Where)
    kind: str = "wall"
    lot_line_m: float | None = None  # from the old face straight out to the lot line
    nearby: tuple[Nearby, ...] = ()  # what must stay clear of the new face


@dataclass(frozen=True)
class Loop:
    """A ring of faces (`closed`) or an open chain. `base_m` is the height of its foot."""

    id: str
    faces: tuple[str, ...]
    closed: bool
    base_m: float = 0.0


@dataclass(frozen=True)
class Storey:
    """Floor and ceiling heights (y, metres) of one storey of a loop."""

    id: str
    loop: str
    floor_m: float
    ceiling_m: float
    ceiling: str = "flat"  # flat | sloped
    peak_m: float | None = None


@dataclass(frozen=True)
class LowestFloor:
    """What the house stands on: slab | crawl | basement; `depth_m` below the reference line."""

    kind: str
    depth_m: float | None = None


@dataclass(frozen=True)
class Place:
    """Where the house stands. Angles in degrees (north, east +), elevation in metres."""

    name: str
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    elevation_m: float | None = None
    climate: str | None = None
    climate_zone: str | None = None


@dataclass(frozen=True)
class Survey:
    """The whole house. `faces` in walking order, loop by loop."""

    name: str
    units: Literal["imperial", "metric"]
    place: Place
    faces: tuple[Face, ...]
    loops: tuple[Loop, ...]
    storeys: tuple[Storey, ...] = ()
    lowest_floor: LowestFloor | None = None
    year_built: int | None = None
    fuel_burning: tuple[str, ...] = ()
    services: tuple[tuple[str, str], ...] = ()
    wind_speed_m_s: float | None = None
    wind_exposure: str | None = None
    tape_error_m: float = 0.25 * 0.0254
    turn_error_deg: float = 1.0
    reference_line: str = ""
    file: str = "house.yaml"
    wildfire: bool | None = None  # None: the survey does not say
    termites: str | None = None  # none | slight | moderate | heavy | very heavy
    season: str | None = None  # spring | summer | fall | winter: when the skin goes on
    slabs: tuple[Slab, ...] = ()  # floors on the ground that get a new slab

    def face(self, face_id: str) -> Face:
        """Return the face of that id; KeyError when there is none."""
        for face in self.faces:
            if face.id == face_id:
                return face
        raise KeyError(face_id)

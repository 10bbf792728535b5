"""The vocabulary of details: places, claims, pieces, laps, steps, checks, ties.

A detail says how one thing is done. It is written once and used in two passes:

    detail + place          -> claims   (this module's *Claim records)
    layout (all claims)     -> pieces, laps, lines, cuts
    detail + place + pieces -> steps, checks, ties

Claims carry no pieces and shape no material: `lapwright.layout` is the only place that does.
All lengths in metres. A key is made from the place ("front/w1/sill-strip"), never from a counter.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, ClassVar, Literal, TypeVar

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from lapwright.catalog.model import Catalog, Product
from lapwright.details.sheet_claim import SheetClaim
from lapwright.findings import Finding, Where
from lapwright.scope.model import Assembly, Scope
from lapwright.survey.model import Attachment, Face, Opening, Penetration, Survey, Zone

if TYPE_CHECKING:
    from lapwright.details.registry import Registry

T = TypeVar("T")
Plane = Literal["face", "sill", "jamb", "head", "under"]
Held = Literal["adhered", "taped", "sealed", "fastened", "loose"]
LapKind = Literal["course", "end", "corner", "tie-in"]

# Order in time of what is done at one house. Later lies over earlier unless a claim says otherwise.
PHASE_EXISTING = 0
PHASE_REPAIR = 5
PHASE_BEFORE = 10  # strips and units set before the barrier
PHASE_BARRIER = 100  # courses, bottom to top
PHASE_AFTER = 200  # openings and penetrations cut into the barrier
PHASE_FLASHING = 300
PHASE_GAP = 400  # mat, furring
PHASE_CLADDING = 500

# ---------------------------------------------------------------- places


@dataclass(frozen=True)
class Place:
    """Where a detail is asked for.

    kind: base | field | mat | cladding | furring | outside_corner | inside_corner | opening | penetration |
    attachment | boundary | eave | rake ...; `sort` narrows it (state of an opening, kind of a penetration).
    `thing`: the survey record behind it; `line`: the place's own line on the face, left to right;
    `polygon`: the area of a field place. `layer`: for field places the layer to be put on.
    """

    id: str
    kind: str
    face: Face
    sort: str = ""
    zone: Zone | None = None
    assembly: Assembly | None = None
    thing: Opening | Penetration | Attachment | None = None
    line: tuple[tuple[float, float], tuple[float, float]] | None = None
    polygon: Polygon | None = None
    layer: str = ""
    other: Face | None = None  # the neighbour at a corner, or the face beyond
    other_zone: Zone | None = None
    where: Where = field(default_factory=Where)


@dataclass(frozen=True)
class Context:
    """What a detail may ask while it writes claims and steps.

    registry: the details of the job, its own among them; None stands for those that come with the program.
    """

    survey: Survey
    scope: Scope
    catalog: Catalog
    registry: Registry | None = None
    found: dict[tuple[Hashable, int], tuple[object, Any]] = field(init=False, default_factory=dict, compare=False, repr=False)

    def once(self, name: Hashable, of: object, make: Callable[[], T]) -> T:
        """Return what `make` finds, found once per context for that name and that very object `of` (a face, a place).

        name: whatever else the result depends on. `make` is pure, and nobody changes what it returned.
        """
        known = self.found.get((name, id(of)))
        if known is None:  # the object is kept beside it, so that no other can get its id
            known = self.found[name, id(of)] = of, make()
        return known[1]

    def claims(self, place: Place, detail: Detail) -> tuple[Claim, ...]:
        """Return what a detail claims at a place; asked again (boards ask for the holes round them), it is not made anew."""
        return self.once(("claims", detail.name, place.id), place.face, lambda: tuple(detail.claims(place, self)))

    def setting(self, detail: Detail, name: str) -> float:
        """Return a figure of the detail: the job's own (`settings:` in house.yaml) or the detail's default."""
        own = self.scope.settings.get(detail.name, {})
        value = own.get(name, detail.settings[name])
        return float(value)

    def product(self, place: Place, layer: str, default: str) -> Product:
        """Return the product for a layer at a place: the assembly's, else `default` from the catalog."""
        chosen = place.assembly.product(layer) if place.assembly else None
        return self.catalog[chosen or default]


# ---------------------------------------------------------------- claims


@dataclass(frozen=True)
class Part:
    """The area that one piece covers on one plane of one surface.

    plane `face`: surface coordinates. `sill`, `head`: x along the face, y = depth in from the face's plane.
    `jamb`: x = depth in, y height; on all three a negative depth lies out from the face. `under`: x along the face, y = distance out from the face.
    """

    surface: str
    plane: Plane
    polygon: Polygon


@dataclass(frozen=True)
class PieceClaim:
    """Material of a definite shape. One cut; one piece per part.

    flat: the sheet before folding, lower-left corner at (0, 0); None when nothing is cut from stock
    (film, sealant, unit, existing). folds: (segment in flat coordinates, angle in degrees).
    phase, rank: order in time (rank within the phase, at this place).
    over_field: on parts[0]: the region in which it lies over barrier courses; None = by time.
    over, under: keys of other claims that it lies over / under whatever the time.
    quantity: for products not cut from stock (litres of film, metres of sealant bead ...), else None.
    """

    key: str
    place: str
    role: str
    layer: str
    product: str | None
    parts: tuple[Part, ...]
    phase: int
    step: str
    rank: int = 0
    held: Held = "adhered"
    flat: Polygon | None = None
    folds: tuple[tuple[tuple[tuple[float, float], tuple[float, float]], float], ...] = ()
    over_field: BaseGeometry | None = None
    over: tuple[str, ...] = ()
    under: tuple[str, ...] = ()
    quantity: tuple[float, str] | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class RunClaim:
    """A long narrow strip along a line on one surface, which layout cuts into lengths.

    start -> end on `surface`; the piece lies between the offsets `low` and `high` to the left of that
    direction (above it, walking right). `legs`: further legs (plane, width) folded off the low edge, in order,
    with their fold angle. max_m: longest length (None: the stock's); lap_m: lap of one length over the next,
    the later over the earlier: they go on from `start` to `end`, on a rising or falling line from the low end up;
    off: intervals along the run where no joint may fall.
    """

    key: str
    place: str
    role: str
    layer: str
    product: str
    surface: str
    start: tuple[float, float]
    end: tuple[float, float]
    low: float
    high: float
    phase: int
    step: str
    rank: int = 0
    held: Held = "adhered"
    legs: tuple[tuple[Plane, float, float], ...] = ()
    max_m: float | None = None
    lap_m: float = 0.0
    off: tuple[tuple[float, float], ...] = ()
    over_field: BaseGeometry | None = None
    over: tuple[str, ...] = ()
    under: tuple[str, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class FieldClaim:
    """A region to be covered in courses from a roll, bottom to top, round the corners.

    course_lap_m, end_lap_m: at least this much (0 = butted, a mat). stagger_m: end laps of neighbouring
    courses at least this far apart. off_m: end laps at least this far from openings; corner_m: from corners.
    """

    key: str
    place: str
    role: str
    layer: str
    product: str
    surface: str
    region: Polygon
    course_lap_m: float
    end_lap_m: float
    step: str
    stagger_m: float = 24 * 0.0254
    off_m: float = 6 * 0.0254
    corner_m: float = 12 * 0.0254
    phase: int = PHASE_BARRIER
    held: Held = "adhered"
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class HoleClaim:
    """Courses of `layer` are cut out here (an opening, a pipe, a ledger)."""

    place: str
    surface: str
    layer: str
    polygon: Polygon


@dataclass(frozen=True)
class SlitClaim:
    """Courses of `layer` are slit along this line, so that one sheet can pass from under to over another."""

    place: str
    surface: str
    layer: str
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True)
class ClearClaim:
    """A band where no lap of `layer` may run. kind `course`: no course lap; `end`: no end lap.

    weight: how bad it is to break it, in metres of drawn roll that avoiding it is worth.
    """

    place: str
    surface: str
    layer: str
    polygon: Polygon
    kind: Literal["course", "end"]
    weight: float = 1.0
    why: str = ""


@dataclass(frozen=True)
class LineClaim:
    """A level line to be snapped (chalk) on a surface; `y` above the reference line."""

    place: str
    surface: str
    layer: str
    y: float
    x_from: float
    x_to: float
    why: str


@dataclass(frozen=True)
class TieClaim:
    """Two sides whose control layers meet along a line.

    For each control layer: keys of claims whose pieces carry it across (all must be there), an empty tuple
    when nothing does (open), or None when the layer is not asked for here.
    The word "field" stands for the courses of the barrier at that line.
    """

    id: str
    sides: tuple[str, str]
    surface: str
    line: tuple[tuple[float, float], ...]
    water: tuple[str, ...] | None = ()
    air: tuple[str, ...] | None = ()
    vapor: tuple[str, ...] | None = None
    heat: tuple[str, ...] | None = None


Claim = (
    PieceClaim | RunClaim | FieldClaim | SheetClaim | HoleClaim | SlitClaim | ClearClaim | LineClaim | TieClaim | Finding
)


# ---------------------------------------------------------------- what layout makes


@dataclass(frozen=True)
class Piece:
    """One area of material on one plane of one surface. `installed`: order in time over the whole job.

    `fact` holds what a view may need and the contract does not name (course number, chalk height ...).
    """

    id: str
    surface: str
    plane: Plane
    polygon: Polygon
    product: str | None
    role: str
    layer: str
    cut: str | None
    installed: int
    step: str
    claim: str
    place: str
    held: Held = "adhered"
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Lap:
    """One connected overlap of two pieces: which is over which, asked and got width, what holds it."""

    id: str
    over: str
    under: str
    surface: str
    polygon: Polygon
    kind: LapKind
    asked_m: float
    got_m: float
    held: Held


@dataclass(frozen=True)
class Cut:
    """One shape cut from stock before folding. `along`/`across`/`turned` are set by packing."""

    id: str
    product: str
    flat: Polygon
    folds: tuple[tuple[tuple[tuple[float, float], tuple[float, float]], float], ...] = ()
    pieces: tuple[str, ...] = ()
    installed: int = 0
    stock: str | None = None
    along_m: float = 0.0
    across_m: float = 0.0
    turned_deg: int = 0


@dataclass(frozen=True)
class ChalkLine:
    """A line to snap: height above the reference line, from x to x, and what it is for."""

    surface: str
    layer: str
    y_m: float
    x_from_m: float
    x_to_m: float
    why: str


# ---------------------------------------------------------------- steps and checks


@dataclass(frozen=True)
class Limits:
    """Weather and substrate limits of a step; None = no limit known."""

    t_min_C: float | None = None
    t_max_C: float | None = None
    dry_before_h: float | None = None
    dry_after_h: float | None = None
    wind_max_m_s: float | None = None
    moisture_max_pct: float | None = None


@dataclass(frozen=True)
class Step:
    """One thing somebody does at one place. `pieces`: ids; when there are none, `reason` says why.

    needs: step ids. exposes/covers: place or layer words for the exposure clock.
    """

    id: str
    detail: str
    place: str
    action: str
    people: int
    hours: float
    hours_source: str
    needs: tuple[str, ...] = ()
    pieces: tuple[str, ...] = ()
    limits: Limits = field(default_factory=Limits)
    wait_after_h: float = 0.0
    exposes: tuple[str, ...] = ()
    covers: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class Check:
    """What is measured before it disappears. lower/upper in `measured_in`; hold: work stops here until it passes."""

    id: str
    step: str
    place: str
    measure: str
    measured_in: str
    lower: float | None
    upper: float | None
    count: int
    hold: bool
    if_fails: str
    source: str


class Detail:
    """Base of all details. Subclass, set the class attributes, write `claims` and `steps`.

    name: stable id; title: what a carpenter calls it; places: the (kind, sort) pairs it serves, sort "" = any;
    settings: default figures in SI, each with its source in `sources`; lengths, but for those named in `plain`.
    """

    name: ClassVar[str] = ""
    title: ClassVar[str] = ""
    places: ClassVar[tuple[tuple[str, str], ...]] = ()
    settings: ClassVar[Mapping[str, float]] = {}
    sources: ClassVar[Mapping[str, str]] = {}
    plain: ClassVar[tuple[str, ...]] = ()  # settings that are plain numbers: counts, shares

    def claims(self, place: Place, ctx: Context) -> Iterable[Claim]:
        """Return what must be covered, cut, kept clear, lined and tied at this place."""
        return ()

    def steps(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Step]:
        """Return what people do at this place, in order. `pieces`: the pieces made from this place's claims."""
        return ()

    def checks(self, place: Place, ctx: Context, pieces: list[Piece]) -> Iterable[Check]:
        """Return what is measured before it disappears."""
        return ()


def with_pieces(step: Step, pieces: Iterable[Piece]) -> Step:
    """Return the step with the ids of the pieces whose `step` is this step's id."""
    return replace(step, pieces=tuple(p.id for p in pieces if p.step == step.id))

"""What touches what: laps, beads, what is stuck to the wall, what holds what, neighbors in a make-up."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from shapely import Polygon, STRtree
from shapely.ops import unary_union

from lapwright.catalog.model import Catalog
from lapwright.compatible.things import Thing, Things
from lapwright.details.base import Lap, Piece
from lapwright.details.places import is_new
from lapwright.scope.model import Assembly, Layer, Scope
from lapwright.survey.model import Survey

NEAR_M = 1e-3  # pieces drawn closer than this touch: own choice, ten times the contract's rounding
BARE = 0.05  # a piece with less than a twentieth of it on the wall itself is not on the wall: own choice
LEAST_M2 = 1e-4  # less than 1 cm2 is drawing error: own choice
PARTING = ("barrier", "strip", "tape", "film")  # what keeps metal off the wood over it
BEADS = ("sealant", "primer")  # these have no laps; they touch what they lie at
GAPS = ("mat", "furring", "air")  # layers that are open to the air: what is outside of them seals nothing
FRAMES = ("sheathing", "framing", "cavity", "masonry")


@dataclass(frozen=True)
class Contact:
    """Two things that touch in one way (see rules.yaml, `between`). spots: how often; places: up to a few of them."""

    between: str
    a: Thing
    b: Thing
    surface: str = ""
    places: tuple[str, ...] = ()
    x_m: float | None = None
    y_m: float | None = None
    spots: int = 1


Wanted = Callable[[str, Thing, Thing], bool]


class _Gathered:
    """Contacts of one kind of pair on one surface, counted."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str, str, str], Contact] = {}

    def add(self, found: Contact) -> None:
        key = (found.between, found.a.key, found.b.key, found.surface)
        have = self.rows.get(key)
        if have is None:
            self.rows[key] = found
        else:
            places = tuple(dict.fromkeys((*have.places, *found.places)))
            self.rows[key] = replace(have, spots=have.spots + 1, places=places)


def contacts(
    survey: Survey, scope: Scope, catalog: Catalog, pieces: Sequence[Piece], laps: Iterable[Lap], wanted: Wanted
) -> list[Contact]:
    """Return what touches what, pair by pair and surface by surface, in a fixed order.

    wanted(between, a, b): whether any rule cares for a pair; the rest is not measured.
    """
    things = Things(catalog)
    out = _Gathered()
    by_id = {p.id: p for p in pieces}
    laps = list(laps)
    for lap in laps:
        over, under = by_id.get(lap.over), by_id.get(lap.under)
        if over is None or under is None:
            continue
        a, b = things.piece(over), things.piece(under)
        for between, one, other in (("over", a, b), ("touching", a, b), ("touching", b, a)):
            if wanted(between, one, other):
                middle = lap.polygon.centroid
                out.add(Contact(between, one, other, lap.surface, (over.place,), float(middle.x), float(middle.y)))
    for found in (*_beads(pieces, things, wanted), *_metal(pieces, things, laps, by_id, wanted)):
        out.add(found)
    for found in (
        *_on_walls(survey, scope, things, pieces, laps, wanted), *_held(scope, things, pieces, wanted),
        *_in_make_ups(survey, scope, things, wanted),
    ):  # fmt: skip
        out.add(found)
    return [out.rows[k] for k in sorted(out.rows)]


def _beads(pieces: Sequence[Piece], things: Things, wanted: Wanted) -> Iterator[Contact]:
    """Yield what beads touch, of the pieces on the same plane of the same surface that they lie at."""
    planes: dict[tuple[str, str], list[Piece]] = {}
    for piece in pieces:
        planes.setdefault((piece.surface, piece.plane), []).append(piece)
    stuff = {key: list({(t := things.piece(p)).key: t for p in mine}.values()) for key, mine in planes.items()}
    trees: dict[tuple[str, str], STRtree] = {}
    for bead in (p for p in pieces if p.layer in BEADS):
        key = (bead.surface, bead.plane)
        a = things.piece(bead)
        if not any(wanted(how, *pair) for t in stuff[key] for how in ("touching", "over") for pair in ((a, t), (t, a))):
            continue
        tree = trees.setdefault(key, STRtree([p.polygon for p in planes[key]]))
        near = sorted(int(k) for k in tree.query(bead.polygon.buffer(NEAR_M), predicate="intersects"))
        for other in _at_bead(bead, [planes[key][i] for i in near if planes[key][i] is not bead]):
            b = things.piece(other)
            upper = (b, a) if other.installed > bead.installed else (a, b)
            for between, one, two in (("touching", a, b), ("touching", b, a), ("over", *upper)):
                if wanted(between, one, two):
                    middle = bead.polygon.centroid
                    yield Contact(between, one, two, bead.surface, (bead.place,), float(middle.x), float(middle.y))


def _at_bead(bead: Piece, near: Sequence[Piece]) -> Iterator[Piece]:
    """Yield which of the pieces drawn at a bead it touches: the next ones below and above it, by when they go on.

    The air seal lies at the back of the frame: it touches the unit and what is turned in. A joint fills the gap
    between what stands beside it; every other bead lies between what overlaps it.
    """
    if bead.role == "air-seal":
        yield from (p for p in near if p.place == bead.place and p.layer in ("unit", "strip", "film", "existing"))
        return
    for piece in near:
        here = piece.polygon.intersection(bead.polygon)
        if here.area <= LEAST_M2 / 10:
            if "joint" in bead.role and piece.layer in ("cladding", "unit", "existing"):
                yield piece
            continue
        low, high = sorted((piece.installed, bead.installed))
        between = [p.polygon for p in near if low < p.installed < high]
        if here.difference(unary_union(between)).area > BARE * here.area:
            yield piece


def _metal(
    pieces: Sequence[Piece], things: Things, laps: Sequence[Lap], by_id: Mapping[str, Piece], wanted: Wanted
) -> Iterator[Contact]:
    """Yield what flashings touch of furring and cladding: where no sheet, tape, film or mat lies between."""
    metal = [p for p in pieces if p.layer == "flashing" and p.plane == "face"]
    faces: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.plane == "face" and piece.layer in ("furring", "cladding", "mat"):
            faces.setdefault(piece.surface, []).append(piece)
    above: dict[str, list[Lap]] = {}
    for lap in laps:
        if lap.over in by_id and by_id[lap.over].layer in PARTING:
            above.setdefault(lap.under, []).append(lap)
    for piece in metal:
        a = things.piece(piece)
        for other in faces.get(piece.surface, ()):
            b = things.piece(other)
            if not (wanted("touching", a, b) or wanted("touching", b, a)):
                continue
            mats = [m.polygon for m in faces[piece.surface] if m.layer == "mat" and m is not other]
            parted = unary_union([x.polygon for x in above.get(piece.id, ())] + mats)
            here = piece.polygon.intersection(other.polygon).difference(parted)
            if here.area <= LEAST_M2:
                continue
            for one, two in ((a, b), (b, a)):
                if wanted("touching", one, two):
                    spot = here.representative_point()
                    yield Contact("touching", one, two, piece.surface, (piece.place,), float(spot.x), float(spot.y))


def substrate(assembly: Assembly) -> Layer | None:
    """Return what the barrier is put on: the next layer inside of it; without a barrier the first that stands."""
    layers = assembly.layers
    at = next((i for i, y in enumerate(layers) if y.layer == "barrier" and not y.existing), None)
    if at is not None:
        return layers[at + 1] if at + 1 < len(layers) else None
    return next((y for y in layers if y.existing), None)


def _on_walls(
    survey: Survey, scope: Scope, things: Things, pieces: Sequence[Piece], laps: Sequence[Lap], wanted: Wanted
) -> Iterator[Contact]:
    """Yield what lies on the wall itself: pieces on the face that other pieces do not part from it."""
    zones = {
        f.id: [(z.polygon, things.layer(y)) for z in f.zones if is_new(z) and (y := substrate(scope.assemblies[z.assembly or ""]))]
        for f in survey.faces
    }  # fmt: skip
    below: dict[str, list[Polygon]] = {}
    for lap in laps:
        below.setdefault(lap.over, []).append(lap.polygon)
    for piece in pieces:
        if piece.plane != "face" or piece.layer in ("unit", "existing", "mat", "furring", "cladding"):
            continue
        a = things.piece(piece)
        for area, b in zones.get(piece.surface, ()):
            if not wanted("on-wall", a, b):
                continue
            here = piece.polygon.intersection(area)
            under = below.get(piece.id, [])
            if piece.layer in BEADS:  # they have no laps
                under = [p.polygon for p in pieces if p.surface == piece.surface and p.installed < piece.installed]
            parted = unary_union(under)
            if here.difference(parted).area > BARE * piece.polygon.area:
                spot = here.representative_point()
                yield Contact("on-wall", a, b, piece.surface, (piece.place,), float(spot.x), float(spot.y))


def _held(scope: Scope, things: Things, pieces: Sequence[Piece], wanted: Wanted) -> Iterator[Contact]:
    """Yield what fasteners hold: by the product's own `fastener`; those of the cladding go into the furring too."""
    used = {(p.product, p.surface, p.place) for p in pieces if p.product in things.catalog}
    into: dict[str, set[str]] = {}
    for assembly in scope.assemblies.values():
        new = [y.product for y in assembly.layers if y.product in things.catalog and not y.existing]
        furring = [p for p in new if p and things.catalog[p].layer == "furring"]
        for product in new:
            if product and things.catalog[product].layer == "cladding":
                into.setdefault(product, set()).update(furring)
    screws = {p.place: str(p.product) for p in pieces if p.role == "screws"}  # chosen for the place, not the product's usual one
    for product, surface, place in sorted((str(a), b, c) for a, b, c in used):
        usual = things.catalog[product].word("fastener")
        fastener = things.product(screws.get(place, usual) if things.catalog[product].layer == "furring" else usual)
        if fastener is None:
            continue
        for held in (product, *sorted(into.get(product, ()))):
            b = things.product(held)
            if b is not None and wanted("fastened", fastener, b):
                yield Contact("fastened", fastener, b, surface, (place,))


def _in_make_ups(survey: Survey, scope: Scope, things: Things, wanted: Wanted) -> Iterator[Contact]:
    """Yield neighbors in each make-up that is used, and pairs of layers outside and inside of its frame."""
    used: dict[str, list[str]] = {}
    for face in survey.faces:
        for zone in face.zones:
            if is_new(zone):
                used.setdefault(zone.assembly or "", []).append(f"{face.id}/{zone.id}")
    for name, assembly in scope.assemblies.items():
        if survey.faces and name not in used:
            continue
        places = tuple(used.get(name, [])) or (name,)
        surface = places[0].split("/", 1)[0] if name in used else ""
        layers = [things.layer(y) for y in assembly.layers]
        for a, b in itertools.pairwise(layers):
            for one, other in ((a, b), (b, a)):
                if wanted("layers", one, other):
                    yield Contact("layers", one, other, surface, places)
        for a, b in _apart(assembly.layers, layers):
            if wanted("apart", a, b):
                yield Contact("apart", a, b, surface, places)


def _apart(layers: Sequence[Layer], things: Sequence[Thing]) -> Iterator[tuple[Thing, Thing]]:
    """Yield (outer, inner) pairs on the two sides of the frame; outside only what lies within the gap of the cladding."""
    frame = [i for i, y in enumerate(layers) if y.layer in FRAMES]
    gaps = [i for i, y in enumerate(layers) if y.layer in GAPS and (not frame or i < frame[0])]
    first = max(gaps) + 1 if gaps else next((i for i, y in enumerate(layers) if y.layer != "cladding"), 0)
    if not frame:
        return
    for i in range(first, frame[0]):
        for j in range(frame[0] + 1, len(layers)):
            if j not in frame:
                yield things[i], things[j]

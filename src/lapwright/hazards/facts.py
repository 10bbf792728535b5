"""The named conditions of the table: what of the survey, the scope and the step makes a hazard bite.

What the survey does not say counts as the worse case; `lapwright.hazards.found` asks for it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from lapwright.catalog.model import Catalog
from lapwright.details.base import Context
from lapwright.details.depths import depths_of
from lapwright.details.penetration_case import carries, new_face_m
from lapwright.hazards.spots import Spot
from lapwright.scope.model import Assembly, Layer
from lapwright.survey.model import Face, Found, Survey

FT = 0.3048
LEAD_YEAR = 1978  # 40 CFR 745.83: housing built before 1978
ASBESTOS_YEAR = 1990  # common practice; 29 CFR 1926.1101 presumes it in some materials up to 1980
OLD_WIRE_YEAR = 1950  # common practice: knob-and-tube wire was drawn in until about then
OLD_BOARDS_YEAR = 1960  # common practice: panels took the place of boards about then
LADDER_M = 1.8  # work above this is done from a ladder or a plank: common practice; 29 CFR 1926.501 counts from 6 ft
SCAFFOLD_M = 10 * FT  # 29 CFR 1926.451(g): 10 ft
LOT_LINE_M = 5 * FT  # IRC Table R302.1(1): 5 ft
HEAVY_KG = 100 * 0.45359237  # over 100 lb: two people: common practice
UNIT_KG_M2 = 6 * 4.88243  # about 6 lb per sq ft of insulating glass unit with its frame: from memory
DEEP_M = 0.05  # outside layers deeper than 2 in make deep bucks: common practice

FOAM = ("foam", "xps", "eps", "polyiso", "polystyrene", "polyurethane")
MASONRY = ("brick", "stone", "masonry", "block wall", "concrete block", "adobe", "rubble")
DUSTY = ("fiber cement", "silica", "stucco", "concrete", "mortar", *MASONRY)
FILLS = ("insulation", "cavity")
NO_FUEL = ("none", "no", "nothing", "all electric")

Condition = Callable[[Spot], bool]
CONDITIONS: dict[str, tuple[Condition, str]] = {}


def condition(check: Condition) -> Condition:
    """Register a condition under its function's name; its docstring is its meaning in words."""
    CONDITIONS[check.__name__] = (check, str(check.__doc__).removeprefix("Whether ").rstrip("."))
    return check


def before(survey: Survey, year: int) -> bool:
    """Return whether the house is from before a year, or of unknown age."""
    return survey.year_built is None or survey.year_built < year


def found_words(entry: Found) -> str:
    """Return what was found and its note in lower case, words apart."""
    return re.sub(r"[_\-/&]+", " ", f"{entry.what} {entry.note}".lower())


def found(face: Face | None, *words: str) -> list[Found]:
    """Return what came to light on a face that is called by one of the words."""
    if face is None:
        return []
    return [f for f in face.found if any(w in re.sub(r"[_\-/&]+", " ", f.what.lower()) for w in words)]


def words_of(layer: Layer, catalog: Catalog) -> str:
    """Return everything that names a layer's stuff, in lower case."""
    said = [layer.material or "", layer.product or ""]
    if layer.product in catalog:
        product = catalog[layer.product or ""]
        said += [product.title, product.word("note")]
    return " ".join(said).lower().replace("-", " ")


def called(layer: Layer, catalog: Catalog) -> str:
    """Return the name of a layer's stuff without remarks, in lower case."""
    title = catalog[layer.product or ""].title if layer.product in catalog else ""
    return f"{layer.material or ''} {layer.product or ''} {title}".lower().replace("-", " ")


def is_foam(layer: Layer, catalog: Catalog) -> bool:
    """Return whether a new layer is plastic foam."""
    said = called(layer, catalog)
    return not layer.existing and any(re.search(rf"\b{w}\b", said) for w in FOAM)


def inner_layers(assembly: Assembly | None) -> Iterator[Layer]:
    """Yield the new insulation that lies inside of the sheathing, or of the barrier where no sheathing is listed."""
    if assembly is None:
        return
    shells = [i for i, y in enumerate(assembly.layers) if y.layer == "sheathing"]
    shells = shells or [i for i, y in enumerate(assembly.layers) if y.layer == "barrier" or y.existing]
    for i, layer in enumerate(assembly.layers):
        if layer.layer in FILLS and not layer.existing and shells and i > max(shells):
            yield layer


def outer_depth_m(spot: Spot) -> float:
    """Return how far the new skin stands out from the wall, metres; layers of unknown thickness count nothing."""
    return depths_of(spot.assembly, spot.catalog).out_m


def new_outside(assembly: Assembly) -> Iterator[Layer]:
    """Yield the new layers outside of the first one that stays."""
    for layer in assembly.layers:
        if layer.existing:
            return
        yield layer


# ---------------------------------------------------------------- the house


@condition
def lead_years(spot: Spot) -> bool:
    """Whether built before 1978, or the year is not given."""
    return before(spot.survey, LEAD_YEAR)


@condition
def asbestos_years(spot: Spot) -> bool:
    """Whether built before 1990, or the year is not given."""
    return before(spot.survey, ASBESTOS_YEAR)


@condition
def old_wire_years(spot: Spot) -> bool:
    """Whether built before 1950, or the year is not given."""
    return before(spot.survey, OLD_WIRE_YEAR)


@condition
def old_boards(spot: Spot) -> bool:
    """Whether boards stand in the wall, or it was built before 1960, or the year is not given."""
    boards = any(y.existing and "board" in (y.material or "") for y in (spot.assembly.layers if spot.assembly else ()))
    return boards or before(spot.survey, OLD_BOARDS_YEAR)


@condition
def power_lines(spot: Spot) -> bool:
    """Whether power comes in overhead, or the survey does not say underground."""
    said = " ".join(f"{k} {v}" for k, v in spot.survey.services if "power" in k or "electric" in k).lower()
    return not any(w in said for w in ("underground", "buried"))


@condition
def burns_fuel(spot: Spot) -> bool:
    """Whether something burns fuel, or a flue or gas pipe comes through a wall."""
    listed = [w for w in spot.survey.fuel_burning if w.lower() not in NO_FUEL]
    return bool(listed) or fuel_seen(spot.survey)


def fuel_seen(survey: Survey) -> bool:
    """Return whether a flue, a combustion intake or a gas pipe is in the survey."""
    piped = any(carries(p.through) in ("hot", "gas", "intake") for f in survey.faces for p in f.penetrations)
    return piped or any(w in f"{k} {v}".lower() for k, v in survey.services for w in ("gas", "propane", "oil tank"))


@condition
def fuel_not_given(spot: Spot) -> bool:
    """Whether the survey does not say what burns fuel."""
    return not spot.survey.fuel_burning


@condition
def tightened(spot: Spot) -> bool:
    """Whether a closed ring of walls or a lowest floor is in the survey: the house gets tighter."""
    return spot.survey.lowest_floor is not None or any(loop.closed for loop in spot.survey.loops)


@condition
def wildfire(spot: Spot) -> bool:
    """Whether the house stands in a wildfire zone."""
    return spot.survey.wildfire is True


@condition
def termites_very_heavy(spot: Spot) -> bool:
    """Whether very heavy termite zone."""
    return spot.survey.termites == "very heavy"


@condition
def termites_some(spot: Spot) -> bool:
    """Whether slight to heavy termite zone, or the survey does not say."""
    return spot.survey.termites in (None, "slight", "moderate", "heavy")


# ---------------------------------------------------------------- the face


@condition
def near_lot_line(spot: Spot) -> bool:
    """Whether the new face stands less than 5 ft from the lot line."""
    if spot.face is None or spot.face.lot_line_m is None:
        return False
    return spot.face.lot_line_m - outer_depth_m(spot) < LOT_LINE_M - 1e-9


@condition
def found_no_sheathing(spot: Spot) -> bool:
    """Whether no sheathing was found on the face."""
    return bool(found(spot.face, "no sheathing"))


@condition
def found_old_wire(spot: Spot) -> bool:
    """Whether old wire was found on the face."""
    return bool(found(spot.face, "old wire", "knob"))


@condition
def found_asbestos(spot: Spot) -> bool:
    """Whether something that may hold asbestos was found on the face."""
    return bool(found(spot.face, "asbestos"))


@condition
def found_vermiculite(spot: Spot) -> bool:
    """Whether vermiculite was found on the face."""
    return bool(found(spot.face, "vermiculite"))


@condition
def found_open_bay(spot: Spot) -> bool:
    """Whether open bays were found on the face."""
    return bool(found(spot.face, "open bay", "balloon"))


@condition
def gas_meter_here(spot: Spot) -> bool:
    """Whether the services say that a gas meter stands on the face, or do not say where it stands."""
    return spot.face is not None and spot.face.id in gas_meter_faces(spot.survey)


def gas_meter_faces(survey: Survey) -> set[str]:
    """Return the faces on which the services place a gas meter; all of them when no face is named."""
    out: set[str] = set()
    ids = {f.id for f in survey.faces}
    for key, value in survey.services:
        said = f"{key} {value}".lower()
        if ("gas" in said or "propane" in said) and ("meter" in said or "regulator" in said):
            out |= (set(re.findall(r"[a-z0-9-]+", value.lower())) & ids) or ids
    return out


# ---------------------------------------------------------------- the make-up


@condition
def foam_inside(spot: Spot) -> bool:
    """Whether new foam lies inside of the sheathing."""
    return any(is_foam(y, spot.catalog) for y in inner_layers(spot.assembly))


@condition
def foam(spot: Spot) -> bool:
    """Whether a new layer is foam."""
    return spot.assembly is not None and any(is_foam(y, spot.catalog) for y in spot.assembly.layers)


@condition
def cavity_filled(spot: Spot) -> bool:
    """Whether new insulation fills the wall inside of the sheathing."""
    return any(True for _ in inner_layers(spot.assembly))


@condition
def masonry_inside(spot: Spot) -> bool:
    """Whether masonry stands and new insulation lies inside of it."""
    layers = spot.assembly.layers if spot.assembly else ()
    walls = [
        i
        for i, y in enumerate(layers)
        if y.existing and (y.layer == "masonry" or any(w in words_of(y, spot.catalog) for w in MASONRY))
    ]
    return bool(walls) and any(y.layer in FILLS and not y.existing and i > walls[0] for i, y in enumerate(layers))


@condition
def silica(spot: Spot) -> bool:
    """Whether fiber cement, stucco, masonry or concrete is in the make-up, or the thing is a chimney."""
    if getattr(spot.place.thing if spot.place else None, "kind", "") == "chimney":
        return True
    layers = spot.assembly.layers if spot.assembly else ()
    return any(y.layer == "masonry" or w in words_of(y, spot.catalog) for y in layers for w in DUSTY)


@condition
def screws_carry(spot: Spot) -> bool:
    """Whether furring or foam stands between cladding and wall."""
    layers = list(new_outside(spot.assembly)) if spot.assembly else []
    return any(y.layer in ("furring", "insulation") for y in layers)


@condition
def slab(spot: Spot) -> bool:
    """Whether the make-up has a slab."""
    return spot.assembly is not None and any(y.layer == "slab" and not y.existing for y in spot.assembly.layers)


# ---------------------------------------------------------------- the thing and the work


@condition
def new_unit(spot: Spot) -> bool:
    """Whether a new unit is set."""
    return spot.opening is not None and spot.opening.state != "kept"


@condition
def bedroom_or_basement(spot: Spot) -> bool:
    """Whether the opening is the way out of a bedroom or basement."""
    return spot.opening is not None and (spot.opening.bedroom or spot.opening.basement)


@condition
def opening_shrinks(spot: Spot) -> bool:
    """Whether the unit is an insert, or the new skin is over 2 in deep."""
    if spot.opening is None or spot.place is None:
        return False
    deep = new_face_m(spot.place, Context(spot.survey, spot.scope, spot.catalog))
    return spot.opening.state == "insert" or (deep or 0.0) > DEEP_M


@condition
def heavy_unit(spot: Spot) -> bool:
    """Whether the unit weighs over 100 lb, or its size says so where the weight is not given."""
    if spot.opening is None:
        return False
    weight = spot.opening.weight_kg
    if weight is None:
        weight = float(spot.opening.polygon.area) * UNIT_KG_M2
    return weight > HEAVY_KG


@condition
def regulator(spot: Spot) -> bool:
    """Whether a regulator or relief vent comes through here."""
    said = spot.penetration.through.lower() if spot.penetration else ""
    return any(w in said for w in ("regulator", "relief"))


@condition
def runs_not_said(spot: Spot) -> bool:
    """Whether the survey does not say what runs in it."""
    return spot.penetration is not None and not carries(spot.penetration.through)


@condition
def high(spot: Spot) -> bool:
    """Whether the work reaches above 6 ft over the ground."""
    return spot.top_m is not None and spot.top_m > LADDER_M


@condition
def very_high(spot: Spot) -> bool:
    """Whether the work reaches above 10 ft over the ground."""
    return spot.top_m is not None and spot.top_m > SCAFFOLD_M


@condition
def metal(spot: Spot) -> bool:
    """Whether metal is put on."""
    return any(spot.catalog[p].word("metal") for p in spot.products if p in spot.catalog)

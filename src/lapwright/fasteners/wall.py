"""What the screws go through and what pulls at them: from the survey's words to numbers."""

from __future__ import annotations

import itertools
import statistics
from dataclasses import dataclass

from lapwright.catalog.model import Catalog, Product
from lapwright.loads import wind
from lapwright.loads.rows import GRAVITY, IN, PSF, Row
from lapwright.scope.model import Assembly, Layer
from lapwright.survey.model import Face, Survey

SPEED = 115 * wind.MPH  # where the job does not say: most of the country, ASCE 7 risk category II, from memory
LEAST_HEIGHT_M = 30 * wind.FT  # mean roof height that IRC Table R301.2(2) takes; a taller wall takes its own
STUDS_M = 16 * IN  # where nothing is known: common practice
BOARD_M = 0.75 * IN  # of old board sheathing whose thickness nobody wrote: common practice
WEIGHT_PA = 3 * PSF  # of cladding whose weight nobody wrote: first column of the code's table
GRAVITY_OF_WOOD = 0.42  # specific gravity: spruce-pine-fir, the least that the code's table takes (NDS Table 12.3.3A)
WOOD = {"board", "boards", "plank", "planks", "shiplap", "lumber", "plywood", "osb"}
NO_WOOD = {"gypsum", "fiber", "wool", "foam", "insulation"}


@dataclass(frozen=True)
class Wall:
    """Layers of a wall with furring over foam, metres. foam_m: what gives no bearing between furring and sheathing or stud.

    sheathing_m: wood on the studs, which counts neither as gap nor as penetration; None when there is no sheathing at all.
    guessed: what nobody wrote, in words.
    """

    furring: Product
    furring_m: float
    foam_m: float
    sheathing_m: float | None
    cladding: Product | None
    cladding_m: float
    weight_pa: float
    stud_m: float
    named: str | None
    guessed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()  # layers whose thickness nobody wrote and that nothing stands for

    @property
    def through_m(self) -> float:
        """How far a screw goes before it reaches the stud."""
        return self.furring_m + self.foam_m + (self.sheathing_m or 0.0)


@dataclass(frozen=True)
class Loads:
    """Wind suction on the wall and the cladding's weight, Pa, both > 0; rows: how they were found."""

    suction_pa: float
    weight_pa: float
    rows: tuple[Row, ...]
    guessed: tuple[str, ...] = ()


def wooden(name: str) -> bool:
    """Return whether sheathing of that name is boards or panels of wood."""
    words = set(name.lower().replace("-", " ").split())
    return bool(words & WOOD) and not words & NO_WOOD


def _thick(layer: Layer, catalog: Catalog) -> float | None:
    if layer.thickness_m is not None:
        return layer.thickness_m
    return catalog[layer.product].number("thickness_m") if layer.product in catalog and layer.product else None


def wall_of(assembly: Assembly | None, face: Face, catalog: Catalog) -> Wall | None:
    """Return the wall that furring is fastened to through foam; None where no new furring lies outside of insulation."""
    if assembly is None:
        return None
    layers = assembly.layers
    at = next((n for n, y in enumerate(layers) if y.layer == "furring" and y.product in catalog and not y.existing), None)
    if at is None:
        return None
    end = next((n for n, y in enumerate(layers) if n > at and y.layer in ("framing", "cavity")), len(layers))
    inner = [y for y in layers[at + 1 : end]]
    shells = [n for n, y in enumerate(inner) if y.layer == "sheathing"]
    outer = inner[: max(shells)] if shells else inner
    if not any(y.layer == "insulation" for y in outer):
        return None
    furring = catalog[layers[at].product or ""]
    foam, sheathing, guessed, missing = 0.0, None, [], []
    for layer in inner[: max(shells) + 1] if shells else inner:
        thick = _thick(layer, catalog)
        if layer.layer == "sheathing":
            name = layer.product or layer.material or ""
            if thick is None:
                thick = BOARD_M
                guessed.append(f"sheathing {BOARD_M / IN:g} in thick")
            sheathing = (sheathing or 0.0) + (thick if wooden(name) else 0.0)
            foam += 0.0 if wooden(name) else thick
        elif layer.layer in ("insulation", "mat", "cladding"):  # kept siding gives no bearing that anybody can count on
            foam += thick or 0.0
            if not thick:
                missing.append(layer.product or layer.material or layer.layer)
    outside = next((y for y in layers[:at] if y.layer == "cladding" and y.product and y.product in catalog), None)
    cladding = catalog[outside.product or ""] if outside else None
    weight = cladding.number("area_weight_kg_m2") if cladding else None
    if weight is None:
        guessed.append("cladding of 3 psf")
    stud = face.framing.spacing_m
    if stud is None and face.framing.studs_m is not None and len(face.framing.studs_m) > 1:
        # the usual distance: a window's gap in the row has strips of its own beside it
        stud = round(statistics.median(b - a for a, b in itertools.pairwise(sorted(face.framing.studs_m))), 4)
    if stud is None:
        guessed.append("studs 16 in apart")
    return Wall(
        furring, _thick(layers[at], catalog) or BOARD_M, foam, sheathing, cladding,
        (_thick(outside, catalog) or 0.0) if outside else 0.0,
        weight * GRAVITY if weight is not None else WEIGHT_PA, stud or STUDS_M, assembly.product("fastener"), tuple(guessed), tuple(missing),
    )  # fmt: skip


def loads_of(wall: Wall, face: Face, survey: Survey) -> Loads:
    """Return wind suction (corner zone, smallest area) and weight on the cladding of a wall.

    ValueError when the wall is higher than components and cladding of low buildings go (60 ft).
    """
    guessed = []
    speed, exposure = survey.wind_speed_m_s, survey.wind_exposure
    if speed is None:
        speed = SPEED
        guessed.append("wind of 115 mph")
    if exposure is None:
        exposure = "B"
        guessed.append("exposure B")
    _, low, _, high = face.outline.bounds
    height = max(LEAST_HEIGHT_M, float(high - min(low, 0.0)))  # a dormer's wall starts high up
    q = wind.velocity_pressure(speed, height, exposure)
    area = 10 * wind.FT**2
    field, corner = (wind.wall_coefficient(z, area, True) for z in (4, 5))
    suction = max(-wind.design_pressure(q, corner), wind.LEAST_PA)
    said = "house.yaml" if survey.wind_speed_m_s is not None else "assumed: nobody wrote it"
    rows = (
        Row("wind speed, 3-second gust at strength level", speed, "m/s", said),
        Row("height of the roof taken", height, "m", "IRC Table R301.2(2): 30 ft, or the wall's own when taller"),
        Row(f"factor of height and ground, exposure {exposure}", wind.height_factor(height, exposure), "", "ASCE 7 Table 26.10-1"),
        Row("pressure of that wind", q, "Pa", "ASCE 7 equation 26.10-1"),
        Row("suction factor in the field of a wall, small area", field, "", "ASCE 7 Figure 30.3-1, from memory"),
        Row("suction factor near a corner, small area", corner, "", "ASCE 7 Figure 30.3-1, from memory"),
        Row("suction in the field, working level", -wind.design_pressure(q, field), "Pa", "0.6 of it, with 0.18 from inside: ASCE 7"),
        Row("suction near a corner, working level: taken for the whole wall", suction, "Pa", "0.6 of it, with 0.18 from inside, at least 10 psf: ASCE 7"),
        Row("weight of the cladding", wall.weight_pa, "Pa", wall.cladding.source("area_weight_kg_m2") if wall.cladding else "assumed"),
    )  # fmt: skip
    return Loads(suction, wall.weight_pa, rows, tuple(guessed))

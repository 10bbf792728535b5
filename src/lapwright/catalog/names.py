"""The value names that the catalog knows: how they are written, what they become in SI, what they mean.

A name that is not here is kept but warned about: nothing reads it, so it is most likely a slip.
"""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.catalog.quantities import Kind


@dataclass(frozen=True)
class Name:
    """One value name. `si`: its name in `Product.values`; low, high: what can be meant at all, in SI."""

    written: str
    si: str
    kind: Kind
    meaning: str
    low: float | None = None
    high: float | None = None
    above: bool = False  # low itself is not allowed

    def range_text(self) -> str:
        """Return the allowed range in words, "" when anything goes."""
        if self.low is None:
            return ""
        least = f"more than {self.low:g}" if self.above else f"at least {self.low:g}"
        return least if self.high is None else f"{least} and at most {self.high:g}"


def _size(written: str, meaning: str) -> Name:
    return Name(written, f"{written.replace(' ', '_')}_m", "length", meaning, 0.0, 1000.0, above=True)


def _gap(written: str, meaning: str) -> Name:
    return Name(written, f"{written.replace(' ', '_')}_m", "length", meaning, 0.0, 1000.0)


def _word(written: str, meaning: str) -> Name:
    return Name(written, written.replace(" ", "_"), "word", meaning)


def _hours(written: str, meaning: str) -> Name:
    return Name(written, f"{written.replace(' ', '_')}_h", "hours", meaning, 0.0, 10000.0)


def _ratio(written: str, meaning: str, high: float = 1.0) -> Name:
    return Name(written, f"{written.replace(' ', '_')}_ratio", "ratio", meaning, 0.0, high)


_ALL: tuple[Name, ...] = (
    # sizes
    _size("width", "across the roll, sheet, board or flashing as bought"),
    _size("length", "along the roll, sheet or stick as bought"),
    _size("thickness", "of the material"),
    _size("diameter", "of what passes, or of the opening in it"),
    _size("leg up", "leg that stands against the wall"),
    _size("leg out", "leg that lies out from the wall"),
    _size("height", "of the product standing in the wall"),
    _size("flange", "width of the flange round it"),
    _gap("leg down", "leg that turns down over what is below"),
    _gap("hem", "edge folded back on itself"),
    _gap("bend deduction", "taken off the sum of the legs for each bend"),
    _gap("end dam", "height of the turned-up end"),
    _gap("drip", "how far the lower edge stands off the face below"),
    Name("slope", "slope_deg", "angle", "how far the top slopes out", 0.0, 60.0),
    Name("drip open", "drip_open_deg", "angle", "how far the drip edge is bent open", 0.0, 60.0),
    _size("brake length", "longest piece a brake bends in one go"),
    # laps and laying
    _gap("course lap", "upper course over the lower one"),
    _gap("end lap", "end of one piece over the next, and corners of the field"),
    _gap("stagger", "between end laps of neighboring courses"),
    _gap("lap", "of one length over the next (flashings, strips, retarder)"),
    _gap("past edge", "how far film, tape or sealant goes past the edge it seals, each side"),
    _gap("joint", "gap left between neighbors (sheathing, foam)"),
    _gap("clearance", "held above whatever is below (flashing, roof, paving)"),
    _size("hold length", "longest piece that two people hold on a clean wall"),
    _size("fastener spacing", "between fasteners along one line"),
    _word("fastener", "product id of what holds it"),
    _word("ground contact", "whether its standard covers contact with the ground: yes or no"),
    _word("seam tape", "product id of the tape that closes its joints"),
    Name("fasteners per area", "fasteners_per_m2", "per_area", "how many hold one area of it", 0.0, 10000.0),
    Name("fasteners per length", "fasteners_per_m", "per_length", "how many hold one length of it", 0.0, 1000.0),
    _size("penetration", "how deep the fastener must reach into the stud (not into boards)"),
    _gap("kerf", "width the saw takes from a length or sheet"),
    _gap("trim", "cut off the outer end of each roll before the first piece"),
    _word("turn", "how a piece may be turned on the stock: any, half or none"),
    _size("reveal", "height of one siding course that stays to be seen"),
    _size("shank", "diameter of the fastener's shank"),
    _size("head", "diameter of the fastener's head, or of the washer under it"),
    _size("root", "diameter at the root of the fastener's thread"),
    _word("holds as", "whose rules of withdrawal hold for the fastener: screw, lag, nail or ring nail"),
    Name("bending yield", "bending_yield_Pa", "pressure", "bending yield strength of the fastener", 0.0, 5e9, above=True),
    Name("area weight", "area_weight_kg_m2", "area_mass", "weight of one area of cladding as it hangs", 0.0, 500.0),
    # weather, time, substrate
    Name("t min", "t_min_C", "temperature", "coldest substrate and air it may be put on in", -60.0, 60.0),
    Name("t max", "t_max_C", "temperature", "warmest substrate it may be put on", -20.0, 120.0),
    Name("dew margin", "dew_margin_K", "temperature_difference", "substrate above the dew point", 0.0, 30.0),
    Name("moisture max", "moisture_max_pct", "percent", "wettest wood it may be put on, by weight", 0.0, 100.0),
    Name("exposure", "exposure_days", "days", "longest it may stay uncovered", 0.0, 3650.0),
    Name("wind max", "wind_max_m_s", "speed", "wind that stops the work", 0.0, 60.0),
    _hours("dry before", "dry weather before the work"),
    _hours("dry after", "dry weather after the work"),
    _hours("skin", "until the film has a skin"),
    _hours("rain safe", "until rain no longer harms it"),
    _hours("cure", "until it is cured or may be covered"),
    _hours("open time", "after which the next layer must be on"),
    # film
    Name("film", "film_m", "length", "wet thickness of the film", 0.0, 0.02, above=True),
    Name("dry film", "dry_film_m", "length", "thickness of the film when cured", 0.0, 0.02, above=True),
    _ratio("solids", "solids by volume: wet thickness = dry / solids"),
    Name("rough factor", "rough_factor", "number", "times the film that rough boards take", 1.0, 10.0),
    Name("cover", "cover_m2", "area", "area that one pack covers", 0.0, 10000.0, above=True),
    _gap("gap max", "widest gap it bridges without backing"),
    _gap("bead", "width of the sealant bead (its depth is half of it)"),
    # buying
    Name("pack", "pack_size", "pack", "what one pack holds", 0.0, None, above=True),
    Name("price", "price", "number", "of one pack, in the job's currency", 0.0, None),
    Name("kgCO2e", "kgCO2e", "number", "emissions of one pack, kg CO2e (may be below zero)", -1e6, 1e6),
    _ratio("spare", "bought on top of the need", 2.0),
    _word("spare reason", "why that much spare"),
    _ratio("waste", "cut off and thrown away in laying, on top of the need", 2.0),
    Name("weight", "weight_kg", "mass", "of one piece or pack", 0.0, 100000.0),
    # units
    _gap("frame", "width the frame takes on each side of the clear opening"),
    _gap("shim gap", "left between frame and rough opening on each side"),
    _size("frame depth", "from the outer face of the frame to the inner"),
    # drainage, heat, strength
    _ratio("open", "share of the layer's volume that is open to air and water"),
    Name("conductivity", "conductivity_W_mK", "conductivity", "heat conductivity", 0.0, 500.0, above=True),
    _ratio("cold loss", "share of the R-value lost in the cold"),
    Name("density", "density_kg_m3", "density", "mass by volume", 0.0, 25000.0, above=True),
    Name("strength", "strength_Pa", "pressure", "compressive strength by its standard", 0.0, 1e9, above=True),
    Name(
        "strength live",
        "strength_live_Pa",
        "pressure",
        "allowable for loads that come and go",
        0.0,
        1e9,
        above=True,
    ),
    Name("strength dead", "strength_dead_Pa", "pressure", "allowable for loads that stay", 0.0, 1e9, above=True),
    Name(
        "stiffness",
        "stiffness_Pa_m",
        "stiffness",
        "foundation modulus at its thickness",
        0.0,
        1e12,
        above=True,
    ),
    _ratio("water uptake", "water taken up, by volume"),
    # words
    _word("rate", "labor rate that goes with it (lapwright.catalog.rates)"),
    _word("vapor", "open, shut or responsive"),
    _word("backing", "release sheet: split or whole"),
    _word("adhesive", "acrylic, butyl, asphalt"),
    _word("metal", "aluminum, galvanized, copper ..."),
    _word("primer", "product id of the primer it takes where the substrate asks"),
    _word("starter", "product id that goes under the first course"),
    _word("closure", "product id that closes the top or bottom of the gap"),
    _word("stud size", "actual size in words: 1-1/2 x 2-1/2 in"),
    _word("treated", "yes or no: against rot"),
    _word("sealant base", "silicone, polyurethane, polyether, acrylic, butyl or solvent"),
    _word("solvent", "yes or no: carries a strong solvent"),
    _word("flange of", "what a unit's flange is made of: vinyl, soft vinyl, aluminum, fiberglass, wood"),
    _word("finish", "of a fastener: plain, coated, galvanized, stainless, copper, aluminum"),
    _word("note", "anything worth knowing"),
)

NAMES: dict[str, Name] = {name.written: name for name in _ALL}
BY_SI: dict[str, Name] = {name.si: name for name in _ALL}


def find(written: str) -> Name | None:
    """Return the value name as written in a catalog ("course lap" or "course_lap"), or None."""
    return NAMES.get(written) or NAMES.get(written.replace("_", " "))

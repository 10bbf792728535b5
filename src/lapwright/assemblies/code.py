"""What the code's own rule says: class of the inner retarder and foam outside by zone, IRC R702.7."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.assemblies.build import Built
from lapwright.moisture.vapor import PERM_SI, air_permeability
from lapwright.moisture.wall import Layer, Membrane

R_IMPERIAL = 5.678263  # h ft2 F/Btu in one m2K/W
DRY_CUP = 0.25
# Least continuous insulation outside, R in h ft2 F/Btu, by (class inside, zone, framing). IRC 2021 Table R702.7(3) and
# (4): 2x6 rows of zones 4 and 6 seen quoted, the rest from memory.
LEAST_R: dict[tuple[str, int, str], float] = {
    ("III", 4, "2x4"): 2.5, ("III", 4, "2x6"): 3.75, ("III", 5, "2x4"): 5.0, ("III", 5, "2x6"): 7.5,
    ("III", 6, "2x4"): 7.5, ("III", 6, "2x6"): 11.25, ("III", 7, "2x4"): 10.0, ("III", 7, "2x6"): 15.0,
    ("III", 8, "2x4"): 12.5, ("III", 8, "2x6"): 20.0,
    ("II", 3, "2x4"): 2.0, ("II", 3, "2x6"): 2.0, ("II", 4, "2x4"): 3.0, ("II", 4, "2x6"): 5.0,
    ("II", 5, "2x4"): 3.0, ("II", 5, "2x6"): 5.0, ("II", 6, "2x4"): 3.0, ("II", 6, "2x6"): 5.0,
    ("II", 7, "2x4"): 5.0, ("II", 7, "2x6"): 7.5, ("II", 8, "2x4"): 7.5, ("II", 8, "2x6"): 10.0,
}  # fmt: skip
SOURCE = "IRC 2021 R702.7, tables R702.7(3) and (4), partly from memory: check your local code"


@dataclass(frozen=True)
class Ratio:
    """What the rule found: retarder class inside (I, II, III or none), foam outside and needed (R), and what it says."""

    zone: str
    inner_class: str
    outer_class: str
    r_outside: float
    r_cavity: float
    r_needed: float | None
    passes: bool | None
    says: str

    def to_json(self) -> dict[str, object]:
        """Return the fields; R in h ft2 F/Btu, as the code's table has it."""
        return {
            "zone": self.zone, "inner_class": self.inner_class, "outer_class": self.outer_class,
            "r_outside_ip": round(self.r_outside, 2), "r_cavity_ip": round(self.r_cavity, 2), "r_needed_ip": self.r_needed,
            "passes": self.passes, "says": self.says, "source": SOURCE,
        }  # fmt: skip


def retarder_class(perms: float) -> str:
    """Return I (at most 0.1 perm), II (at most 1), III (at most 10) or `none`, IRC R702.7 by dry cup.

    >>> [retarder_class(p) for p in (0.06, 0.7, 5, 40)]
    ['I', 'II', 'III', 'none']
    """
    return "I" if perms <= 0.1 else "II" if perms <= 1.0 else "III" if perms <= 10.0 else "none"


def ratio(built: Built, zone: str) -> Ratio:
    """Return what the code's rule says of a wall in a climate zone (`6A`)."""
    cavity = next((s.index for s in built.spots if s.kind == "cavity"), None)
    inside, outside = _sides(built, cavity)
    layers = built.wall.layers
    r = [x.thickness_m / x.material.conductivity * R_IMPERIAL for x in layers]
    ci = sum(r[s.index] for s in built.spots if s.kind == "insulation" and (cavity is None or s.index < cavity))
    bay = r[cavity] if cavity is not None else 0.0
    number = int(zone[0]) if zone[:1].isdigit() else None
    framing = "2x6" if cavity is not None and layers[cavity].thickness_m > 0.115 else "2x4"
    kind, outer = retarder_class(inside), retarder_class(outside)
    if number is None:
        return Ratio(zone, kind, outer, ci, bay, None, None, "The climate zone is not known: the rule cannot be read.")
    marine = zone.upper().endswith("C") and number == 4
    asked = number >= 5 or marine
    if kind == "I":
        shut = outer in ("I", "II") and ci > 0
        says = "Class I on both sides: needs an approved design (R702.7)." if shut else f"Class I inside is allowed in zone {zone}."
        if not asked:
            says = f"Class I inside is not allowed in zone {zone}: zones 5 to 8 and 4C only."
        return Ratio(zone, kind, outer, ci, bay, None, asked and not shut, says)
    if kind == "none":
        return Ratio(zone, kind, outer, ci, bay, None, not asked, "No retarder inside: zones 5 to 8 and 4C ask for one." if asked else "No retarder is asked here.")
    if kind == "II" and number <= 2:
        return Ratio(zone, kind, outer, ci, bay, None, False, f"Class II inside is not allowed in zone {zone}: from zone 3 on only.")
    needed = LEAST_R.get((kind, number, framing)) if kind == "II" or asked else None
    if needed is None or (kind == "II" and ci == 0):
        return Ratio(zone, kind, outer, ci, bay, needed, True, f"Class {kind} inside is allowed in zone {zone}.")
    if kind == "III" and ci == 0:
        vented = built.gap is not None and built.gap_changes_h >= 20
        return Ratio(zone, kind, outer, ci, bay, needed, vented, "Class III without foam: only with vented cladding over listed sheathing.")
    good = ci >= needed
    says = f"Class {kind} inside, {framing}, zone {zone}: R-{needed:g} outside asked, R-{ci:.3g} there."
    return Ratio(zone, kind, outer, ci, bay, needed, good, says)


def _sides(built: Built, cavity: int | None) -> tuple[float, float]:
    """Return dry-cup perms of the tightest single thing inside the bay and outside it."""
    air = float(air_permeability(20.0))
    inner, outer = [1e3], [1e3]
    seen = -1
    for part in built.wall.parts:
        if isinstance(part, Layer):
            seen += 1
            perms = float(part.material.permeability(np.array(DRY_CUP))) / part.thickness_m / PERM_SI
            side = inner if cavity is not None and seen > cavity else outer
            if built.spots[seen].kind in ("air", "cavity", "cladding") or perms > air / 1e-3 / PERM_SI:
                continue
            side.append(perms)
        elif isinstance(part, Membrane):
            perms = float(part.at(np.array(DRY_CUP))) / PERM_SI
            (inner if cavity is not None and seen >= cavity else outer).append(perms)
    return min(inner), min(outer)

"""What would close a gap, for each kind of place. All common practice (see docs/proofs.md)."""

from __future__ import annotations

from collections.abc import Mapping

# (kind, sort or suffix) -> words; the closest key counts: with the sort, else ("kind", "").
CLOSES: Mapping[tuple[str, str], str] = {
    ("base", ""): "A strip from the sheathing down over the sill plate onto the foundation, rolled on primed masonry; "
    "the lowest course laps over it and the base flashing.",
    ("slab", ""): "Carry the retarder up the wall and tape it; foam on edge along the wall, tight to the foam under the slab.",
    ("eave", ""): "A strip over the top edge of the last course, turned onto the top plate behind the soffit.",
    ("eave", "closed"): "Open the soffit at the wall, run the course up to the top plate and turn a strip onto it; "
    "if the soffit stays, seal ceiling to top plate from the attic.",
    ("eave", "vented"): "A strip from the last course onto the top plate, below the vent: the attic's intake stays open.",
    ("rake", ""): "A strip along the rake from the last course onto the roof boards, or onto the end rafter behind the frieze.",
    ("corner", ""): "Wrap the courses 6 to 12 in round the corner, or a strip in the corner half on each face.",
    ("corner", "inside"): "A strip pressed into the corner, half on each face, under the courses of both.",
    ("boundary", ""): "Cut the old cladding back and tie a strip from the old sheathing or felt under the new courses.",
    ("boundary", "below"): "A flashing over the old cladding, upstand behind the new courses; a strip from new sheathing to old for air.",
    ("boundary", "above"): "Slip the new course up under the old felt or siding, and seal it to the old sheathing.",
    ("boundary", "seam"): "A strip that both sheets take, half on each, the upper sheet over the lower.",
    ("boundary", "end"): "Turn the courses onto the neighboring wall and bed them in sealant behind a stop, with a backer rod where it moves.",
    ("opening", "sill"): "A sill pan or strip that runs up both jambs, and an air seal between the back of the frame and the opening.",
    ("opening", "left"): "A jamb strip from the sheathing into the opening (over the flange of a new unit), and the air seal at the back of the frame.",
    ("opening", "right"): "A jamb strip from the sheathing into the opening (over the flange of a new unit), and the air seal at the back of the frame.",
    ("opening", "head"): "A head strip over the head flashing or flange, tucked under the course above, and the air seal at the back of the frame.",
    ("penetration", ""): "A collar or boot lapped into the courses, or liquid film onto the pipe and the sheet; foam or sealant inside the hole.",
    ("penetration", "bundle"): "Spread the cables, then liquid film round each one; sealant in the hole.",
    ("penetration", "cable"): "A grommet or liquid film onto the cable and the sheet; sealant in the hole.",
    ("penetration", "bracket"): "Bed the bracket in sealant over the sheet, screws through it, film over its upper edge.",
    ("roof", ""): "Strip and step flashing behind the courses along the roof, a kick-out where it pours.",
    ("roof", "left"): "A strip from the sheathing onto the wall of the rooms below the roof, under the course's end.",
    ("roof", "right"): "A strip from the sheathing onto the wall of the rooms below the roof, under the course's end.",
    ("roof", "under"): "A strip from the last course below the roof onto its underside or ledger; block between its rafters if they run in.",
    ("porch_roof", ""): "Flashing and strip behind the courses above the porch roof; take up the first boards if the wall behind is open.",
    ("porch_roof", "under"): "Open the porch ceiling at the wall and run a strip onto the ledger or header; block and seal where joists run into the house.",
    ("eave", "under"): "A strip from the last course onto the frieze or soffit board, behind its molding.",
    ("roof_return", ""): "Flash the short roof to the wall behind the courses; seal its boards to the sheathing.",
    ("deck_ledger", ""): "Flashing over the ledger behind the courses; better, take the ledger off and run the sheet behind it.",
    ("deck_ledger", "below"): "A strip behind the lower edge of the ledger, under its boards, over the course below.",
    ("deck_ledger", "left"): "A strip from the sheathing onto the ledger's end, covered by its flashing.",
    ("deck_ledger", "right"): "A strip from the sheathing onto the ledger's end, covered by its flashing.",
    ("belly_band", ""): "Run the course on behind the band, with a flashing over it.",
    ("chimney", ""): "Flashing over the shoulder, let into a joint of the masonry; a strip from it to the sheathing.",
    ("chimney", "left"): "A strip turned onto the masonry, counterflashing let into a joint, sealant over a backer rod; fire clearance first.",
    ("chimney", "right"): "A strip turned onto the masonry, counterflashing let into a joint, sealant over a backer rod; fire clearance first.",
}  # fmt: skip
OVERALL = "Let a detail serve this place: name one in house.yaml under details."
HEAT = "Butt the insulation tight there and fill what is left; at a kept part carry it past the joint by at least its own depth twice."


def closing(kind: str, sort: str, suffix: str, layers: list[str]) -> str:
    """Return what would close the layers at a place of this kind, in a carpenter's words."""
    tries = [(kind, suffix), (kind, sort), (kind, sort.split("-")[0]), (kind, "")]
    text = next((CLOSES[k] for k in tries if k[1] and k in CLOSES), CLOSES.get((kind, ""), OVERALL))
    return f"{text} {HEAT}" if "heat" in layers and layers != ["heat"] else HEAT if layers == ["heat"] else text

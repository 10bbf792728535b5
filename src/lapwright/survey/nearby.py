"""What stands in front of a face in the job file and must stay clear of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import PlainValidator

from lapwright.lengths import Length
from lapwright.survey.fields import FOOT_M, Id, Part, length, must, say

Away = Annotated[Length, PlainValidator(length(0.0, 1000 * FOOT_M))]
NEAR = ("walk", "stair", "landing", "deck", "drive", "meter", "regulator", "equipment", "fixture", "overhang", "roof")


class NearbyBlock(Part):
    """Something in front of a face that must stay clear of it; the new skin comes closer to it."""

    id: Id = must("Its name on this face.", "walk")
    kind: Literal[
        "walk", "stair", "landing", "deck", "drive", "meter", "regulator", "equipment", "fixture", "overhang", "roof"
    ] = must("What it is: " + ", ".join(NEAR) + " (equipment: a cooler or heat pump; roof: one that ends before the face).", "walk")
    away: Away = must(
        "From the old face straight out: how far off it stands, or how wide it is there (walk, stair, landing, overhang).", "3' 2\""
    )
    least: Away | None = say("What must remain, by its sheet or the official; else what the code says of its kind.", "3'")

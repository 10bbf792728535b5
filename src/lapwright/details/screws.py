"""Screws of furring through foam: from `lapwright.fasteners` to claims, words and checks of a place."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from lapwright import fasteners
from lapwright.details.base import PHASE_GAP, Check, Claim, Context, Part, Piece, PieceClaim, Place
from lapwright.details.runs import wall_of
from lapwright.details.shapes import IN
from lapwright.details.work import check, many, say
from lapwright.fasteners.choose import END_M, Design
from lapwright.fasteners.choose import findings as said
from lapwright.findings import Finding, Where
from lapwright.geometry import box
from lapwright.loads.rows import LBF

if TYPE_CHECKING:
    from lapwright.details.furring import Stick

PROOF = 2.0  # a pull test goes to this many times the wind's pull: common practice


def where_of(place: Place, ctx: Context) -> Where:
    """Return where findings on a place's screws point."""
    line = place.assembly.where.line if place.assembly and place.assembly.where.line else place.where.line
    return Where(ctx.survey.file, line, place.face.id, place.id)


def design_of(place: Place, ctx: Context) -> Design | Finding | None:
    """Return the fastener for furring through foam; None when there is no foam under it; a finding when it cannot be reckoned."""
    wall = fasteners.wall_of(place.assembly, place.face, ctx.catalog)
    if wall is None:
        return None
    if wall.missing:
        return Finding(
            "fasteners.no_thickness", "stop",
            f"How thick is {', '.join(wall.missing)} under the furring of {wall_of(place)}? Nobody wrote it.",
            "The screw spans it: without its thickness neither length nor strength can be told.",
            'Write it on the layer: thickness: 2".', where_of(place, ctx), "IBC Table 2603.13.2",
        )  # fmt: skip
    try:
        loads = fasteners.loads_of(wall, place.face, ctx.survey)
    except ValueError as why:
        return Finding(
            "fasteners.wind", "stop", f"Wind on {wall_of(place)} cannot be reckoned: {why}.",
            "Components and cladding of low buildings go to 60 ft.",
            "Design required: have an engineer design furring and screws.", where_of(place, ctx), "ASCE 7 chapter 30",
        )  # fmt: skip
    return fasteners.design(wall, loads, ctx.catalog)


def lengths_of(stick: Stick, stock_m: float | None) -> list[float]:
    """Return the lengths that an upright is made of when its stock is `stock_m` long, metres."""
    rest, out = stick.high - stick.low, []
    while stock_m and rest > stock_m + 1e-6:
        out.append(stock_m)
        rest -= stock_m
    return [*out, rest]


def screw_claims(place: Place, ctx: Context, sticks: Sequence[Stick], width_m: float, stock_m: float | None) -> Iterator[Claim]:
    """Yield the screws of a zone's furring, one thin piece along each upright, and what has to be said."""
    made = design_of(place, ctx)
    if made is None:
        return
    if isinstance(made, Finding):
        yield made
        return
    yield from said(made, ctx.catalog, where_of(place, ctx), wall_of(place))
    if made.product is None or not sticks:
        return
    half = min(width_m, made.product.number("head_m") or width_m) / 2
    for n, stick in enumerate(sticks):
        count = sum(made.count(long) for long in lengths_of(stick, stock_m))
        yield PieceClaim(
            key=f"{place.id}/screws-{stick.at}-{round(stick.x / IN)}-{round(stick.low / IN)}",
            place=place.id,
            role="screws",
            layer="fastener",
            product=made.product.id,
            parts=(Part(place.face.id, "face", box(stick.x - half, stick.low, stick.x + half, stick.high)),),
            phase=PHASE_GAP + 1,
            step=f"{place.id}/strips",
            rank=len(sticks) + n,
            held="fastened",
            quantity=(float(count), "each"),
            facts={"spacing_m": made.spacing_m, "end_m": END_M, "length_m": made.length_m, "reach_m": made.reach_m},
        )


def screw_words(ctx: Context, pieces: Sequence[Piece]) -> str:
    """Return what the step says of the screws; "" when they were not designed."""
    mine = [p for p in pieces if p.role == "screws"]
    if not mine or mine[0].product is None:
        return ""
    facts = mine[0].facts
    count = sum(float(p.facts["quantity"][0]) for p in mine)
    return (
        f" {many(count, 'piece')} of {ctx.catalog[mine[0].product].title.lower()}, every {say(ctx, facts['spacing_m'])} and "
        f"{say(ctx, facts['end_m'])} from each end, {say(ctx, facts['reach_m'])} into the stud; drive until the strip sits on "
        "the foam, not into it."
    )


def screw_checks(place: Place, ctx: Context, pieces: Sequence[Piece]) -> Iterator[Check]:
    """Yield what is measured of designed screws: their length, and a pull."""
    made = design_of(place, ctx)
    mine = [p for p in pieces if p.role == "screws"]
    if not mine or not isinstance(made, Design) or made.product is None or made.held is None:
        return
    wall, asked = wall_of(place), made.product.needed("penetration_m")
    yield check(
        place, "strips", "length", f"screws of {wall}: length, before they go in", "mm",
        round((made.wall.through_m + asked) * 1000, 1), None,
        "Send them back: the depth counts in the stud only, strip, foam and boards come off first.",
        made.product.source("penetration_m"), count=3,
    )  # fmt: skip
    pull = made.held.cases[0].load
    yield check(
        place, "strips", "pull", f"screws of {wall}, one in a stud at each end of the wall: pull it holds (lb)", "lb",
        round(PROOF * pull / LBF, 1), None,
        "Stop; the stud is soft or missed. Probe it, move the strip, ask an engineer.",
        f"{PROOF:g} times the pull of the wind on one screw: common practice", count=2,
    )  # fmt: skip
    drawn = [p for p in pieces if p.role == "furring"]
    if drawn:
        yield check(
            place, "strips", "plane", f"strips of {wall}: hollow or hump under a straightedge of 6 ft", "mm", None, 6.0,
            "Back the screw off or shim behind the strip; foam pressed in shows as a wave in the siding.", "common practice",
            count=max(3, math.ceil(len(drawn) / 10)), hold=False,
        )  # fmt: skip

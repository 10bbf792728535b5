"""A unit in a buck stands outside of the barrier's plane: what the drop test on that plane does not see of it.

The plane itself closes by the strips that turn out along the buck; these rules ask what lies in front of it: that the
strips reach the buck's front, that a pan lies on its sill and drains, and that what the head sheds falls past the skin.
Whatever a piece does not say is not judged.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from lapwright.details.base import Piece
from lapwright.findings import Finding, Where
from lapwright.lengths import show_both

SHORT_M = 0.25 * 0.0254  # a strip that ends this far behind the buck's front still lies under the flange; own choice
BRIDGES = {"sill-strip": "sill", "jamb-strip": "jamb", "head-strip": "head"}


def buck_rules(pieces: Sequence[Piece]) -> list[Finding]:
    """Return what is wrong in front of the barrier round each unit that stands in a buck."""
    by_place: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces:
        by_place[piece.place].append(piece)
    return [f for mine in by_place.values() if any(p.role == "buck" for p in mine) for f in _of(mine)]


def _of(mine: Sequence[Piece]) -> Iterator[Finding]:
    front = max(-_inner(p)[0] for p in mine if p.role == "buck")
    place = mine[0].place
    for role, side in BRIDGES.items():
        out = [max(reaches) for reaches in _strips(mine, role, side).values()]
        there = len(out) >= (2 if side == "jamb" else 1)  # one at each jamb
        if there and min(out) >= front - SHORT_M:
            continue
        got = f"ends {show_both(front - min(out))} behind its front" if there else "is not there" if not out else "is missing at one side"
        yield _finding(
            "buck.bridge", mine, f"The {role.replace('-', ' ')} of {place} {got}.",
            f"At the {side} nothing carries the barrier from the boards onto the buck: water behind the foam runs into the joint.",
            "Turn the strip out along the buck to its front.", "IRC R703.1.1, R703.4; common practice",
        )  # fmt: skip
    if not any(p.role == "sill-pan" and p.plane == "sill" for p in mine):
        yield _finding(
            "buck.no_pan", mine, f"No pan lies on the buck's sill of {place}.", "What gets past the unit soaks the buck's end grain.",
            "Film or sheet over the sill, up both jambs, a dam behind the frame, its front open.", "ASTM E2112, general practice",
        )  # fmt: skip
    sealed = [p for p in mine if p.layer in ("tape", "sealant") and p.facts.get("on") == "buck" and p.role == "flange-tape" and p.claim.endswith("sill")]
    if sealed:
        yield _finding(
            "buck.sealed_sill", mine, f"The bottom flange of {place} is sealed.", "The pan behind it cannot drain.",
            "Leave it open.", "ASTM E2112, general practice",
        )  # fmt: skip


def _strips(mine: Sequence[Piece], role: str, side: str) -> dict[str, list[float]]:
    """Return how far out the strips of a role reach, by the claim that asked for each (a jamb has its own)."""
    out: dict[str, list[float]] = defaultdict(list)
    for p in mine:
        if p.role == role and p.plane == side:
            out[p.claim].append(-_inner(p)[0])
    return out


def _inner(piece: Piece) -> tuple[float, float]:
    """Return the depths between which a piece in the reveal lies, - is out from the face."""
    x0, y0, x1, y1 = piece.polygon.bounds
    return (x0, x1) if piece.plane == "jamb" else (y0, y1)


def _finding(code: str, mine: Sequence[Piece], what: str, why: str, fix: str, source: str) -> Finding:
    first = next(p for p in mine if p.role == "buck")
    x0, y0, *_ = first.polygon.bounds
    return Finding(code, "stop", what, why, fix, Where(surface=first.surface, thing=first.place, x_m=x0, y_m=y0), source)

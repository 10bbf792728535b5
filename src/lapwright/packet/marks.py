"""Short marks for pieces, so that a drawing can carry a name the size of a thumbnail.

A mark comes from where the piece is, never from a counter over the house: `B3.2` is the second piece
from the left in course 3 of the barrier, `w1.4` the fourth piece to go on at window w1. An edit at one
window leaves every other window's marks alone. Marks are unique on their surface; one cut that
is folded over several planes of one surface has one mark there, and so has film on several planes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

COURSE_LETTERS = {
    "barrier": "B",
    "mat": "M",
    "furring": "R",
    "insulation": "I",
    "sheathing": "P",
    "vapor": "V",
    "slab": "L",
    "cladding": "C",
    "strip": "S",
    "film": "G",
    "tape": "T",
    "flashing": "F",
    "primer": "Q",
    "sealant": "K",
    "fastener": "N",
    "unit": "U",
    "existing": "E",
}
LONGEST_TAG = 4


def tag(place: str) -> str:
    """Return a short lower-case tag of a place id, without its surface.

    >>> tag("front/w1"), tag("front/dryer-vent"), tag("front/belly-band-2"), tag("front/chimney")
    ('w1', 'dv', 'bb2', 'chim')
    """
    own = place.split("/", 1)[-1]
    words = [w for w in re.split(r"[^0-9A-Za-z]+", own) if w]
    joined = "".join(words)
    if len(joined) <= LONGEST_TAG:
        return joined.lower() or "x"
    if len(words) == 1:
        return joined[:LONGEST_TAG].lower()
    return "".join(w if w.isdigit() else w[0] for w in words).lower()


def _left_bottom(piece: Mapping[str, Any]) -> tuple[float, float]:
    shell = piece["polygon"][0]
    return min(p[0] for p in shell), min(p[1] for p in shell)


def marks(pieces: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Return {piece id: mark}. Pieces of one cut on one surface share their mark; so do
    uncut pieces of one claim (film in both corners of a sill).

    Pieces with a course in their facts are numbered left to right in the course, the others in the order
    in which they go on at their place.
    """
    out: dict[str, str] = {}
    by_surface: dict[str, list[Mapping[str, Any]]] = {}
    for piece in pieces:
        by_surface.setdefault(piece["surface"], []).append(piece)
    for on_surface in by_surface.values():
        out.update(_surface_marks(on_surface))
    return out


def _surface_marks(pieces: list[Mapping[str, Any]]) -> dict[str, str]:
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for piece in pieces:
        label = piece["facts"].get("label", piece["facts"].get("course"))
        if label is None:
            groups.setdefault(("place", piece["place"]), []).append(piece)
        else:
            prefix = COURSE_LETTERS.get(piece["layer"], "X") + str(label)
            groups.setdefault(("course", prefix), []).append(piece)
    taken = {name.casefold() for kind, name in groups if kind == "course"}
    out: dict[str, str] = {}
    for (kind, name), members in sorted(groups.items(), key=lambda item: item[0]):
        if kind == "course":
            prefix = name
            members = sorted(members, key=lambda p: (*_left_bottom(p), p["id"]))
        else:
            prefix, extra = tag(name), 1
            while prefix.casefold() in taken:
                extra += 1
                prefix = f"{tag(name)}-{extra}"
            taken.add(prefix.casefold())
            members = sorted(members, key=lambda p: (p["installed"], p["id"]))
        numbers: dict[str, int] = {}
        for piece in members:
            claim = piece["facts"].get("claim") if kind == "place" else None
            number = numbers.setdefault(piece["cut"] or claim or piece["id"], len(numbers) + 1)
            out[piece["id"]] = f"{prefix}.{number}"
    return out

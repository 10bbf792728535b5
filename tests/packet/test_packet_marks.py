"""Marks are unique on their surface and keep still when something else changes."""

from __future__ import annotations

import packet_doc
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.packet.marks import marks, tag

PIECES = packet_doc.make(faces=8)["pieces"]


def test_a_mark_names_one_cut_on_its_surface() -> None:
    named = marks(PIECES)
    assert set(named) == {p["id"] for p in PIECES}
    owners: dict[tuple[str, str], set[str]] = {}
    for piece in PIECES:
        owners.setdefault((piece["surface"], named[piece["id"]]), set()).add(piece["cut"] or piece["id"])
    assert all(len(cuts) == 1 for cuts in owners.values())


@settings(deadline=None)
@given(st.sampled_from(sorted({p["place"] for p in PIECES if "course" not in p["facts"]})))
def test_taking_one_place_away_leaves_every_other_mark_alone(place: str) -> None:
    before, after = marks(PIECES), marks([p for p in PIECES if p["place"] != place])
    assert all(before[key] == mark for key, mark in after.items())


@settings(deadline=None)
@given(st.permutations(PIECES[:60]))
def test_the_order_of_the_list_does_not_matter(pieces: list[dict[str, object]]) -> None:
    assert marks(pieces) == marks(PIECES[:60])


def test_places_with_the_same_tag_stay_apart() -> None:
    base = {"surface": "f", "facts": {}, "layer": "tape", "cut": None, "installed": 1, "polygon": [[[0, 0]]]}
    pieces = [{**base, "id": i, "place": f"f/{i}"} for i in ("dryer-vent", "drain-valve", "b3")]
    pieces.append({**base, "id": "c", "place": "f/barrier", "layer": "barrier", "facts": {"course": 3}})
    named = marks(pieces)
    assert len({m.casefold().split(".")[0] for m in named.values()}) == 4
    assert named["c"] == "B3.1"


@settings(deadline=None)
@given(st.text(max_size=30))
def test_any_place_has_a_short_tag(place: str) -> None:
    assert len(tag(place)) > 0
    assert " " not in tag(place)

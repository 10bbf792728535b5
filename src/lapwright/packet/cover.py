"""The first page: what stops the work, what to do first, and where everything is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from lapwright.packet.alike import form
from lapwright.packet.view import NOT_GIVEN, View

COLUMNS = {
    "strip": "before the barrier",
    "barrier": "barrier",
    "flashing": "flashings, tape",
    "sheathing": "sheathing",
    "insulation": "insulation",
    "vapor": "vapor",
    "slab": "slab",
    "furring": "furring",
    "finish": "mat, cladding",
    "edges": "edges to mind",
    "steps": "steps and checks",
}


def first(
    view: View, steps: Mapping[str, Sequence[Mapping[str, Any]]], faces: Sequence[Mapping[str, Any]]
) -> list[tuple[str, str]]:
    """Return what to do first, in order: the words, and the name of the place in the book that says more ("" if none).

    steps: by surface, as `steps_by_surface`. faces: what the book holds on each surface.
    """
    anchors = {face["id"]: face["anchor"] for face in faces}
    out: list[tuple[str, str]] = []
    stops = len(view.stops)
    warnings = sum(f["level"] == "warn" for f in view.rows("findings"))
    if stops:
        out.append((f"Mend {_count(stops, 'thing that stops', 'things that stop')} the job. Build nothing before.", ""))
    if warnings:
        out.append((f"Settle {_count(warnings, 'warning')}: mend it, or accept it in house.yaml with a reason.", ""))
    if view.doc["job"].get("cautions"):
        line = "Read the cautions with everybody who works here, and call the licensed people they name"
        out.append((line, "cautions"))
    order = view.rows("order")
    if order:
        missing = sum(r["price"] is None for r in order)
        line = f"{_count(missing, 'price is', 'prices are')} {NOT_GIVEN}. " if missing else ""
        out.append(
            (f"{line}Buy {_count(len(order), 'product')}; the sheet in hand overrules the figures here", "order")
        )
    starts: dict[str, tuple[str, list[str]]] = {}
    for surface, rows in steps.items():
        if rows and not rows[0]["after"]:
            action = "".join(words for words, _ in rows[0]["action"])
            short = form(action, surface, frozenset())[0]
            starts.setdefault(short, (_clause(action), []))[1].append(surface)
    for action, surfaces in starts.values():
        also = f"; the same on {', '.join(surfaces[1:])}" if len(surfaces) > 1 else ""
        on = {"wall": "On the wall: ", "floor": "On the floor: "}.get(view.surfaces.get(surfaces[0], {}).get("kind", ""), "")
        out.append((f"{on}{action}{also}", anchors[surfaces[0]]))
    return out


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _clause(action: str) -> str:
    """Return the beginning of an action, up to the first stop."""
    at = min((i for c in ",:;(" if (i := action.find(c)) > 0), default=len(action))
    return action[:at].strip().rstrip(".")


def where(faces: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the table of what is where: a row per surface, columns for the sheets that there are.

    A cell holds the name of the place in the book, "" where there is none.
    """
    used = {sheet["key"] for face in faces for sheet in face["sheets"]}
    used |= {"steps"} if any(face["steps"] for face in faces) else set()
    used |= {"edges"} if any(face["edges"] for face in faces) else set()
    keys = [k for k in COLUMNS if k in used]
    rows = []
    for face in faces:
        at = {sheet["key"]: sheet["anchor"] for sheet in reversed(face["sheets"])}  # the first of a kind
        if face["edges"]:
            at["edges"] = face["edges"]["anchor"]
        if face["steps"]:
            at["steps"] = face["anchor"]
        rows.append({"surface": face["id"], "at": [at.get(k, "") for k in keys]})
    return {"heads": [COLUMNS[k] for k in keys], "rows": rows}

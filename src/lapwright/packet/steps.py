"""The steps as the crew works them: in an order that what they need allows, like ones together, with their checks."""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

from lapwright.order.words import plain
from lapwright.packet.alike import Shared, form, gather, shared
from lapwright.packet.cautions import Cautions
from lapwright.packet.view import Row, View
from lapwright.packet.words import limits, passes

WHOLE = "whole house"
SHORT_H = 1.0  # below this a time is said in minutes, rounded to five


def in_work_order(steps: Sequence[Row], installed: dict[str, float]) -> list[Row]:
    """Return the steps so that none stands before what it needs; else by when their pieces go on.

    installed: order in time by piece id. A step without pieces comes just before the first step that needs
    it, or, when none does, after all that it needs. Steps that need each other in a ring keep their place at
    the end. Needs that are not in the list count as done.
    """
    by_id = {s["id"]: s for s in steps}
    needs = {s["id"]: [n for n in dict.fromkeys(s["needs"]) if n in by_id and n != s["id"]] for s in steps}
    dependents: dict[str, list[str]] = {i: [] for i in by_id}
    for step_id, wanted in needs.items():
        for need in wanted:
            dependents[need].append(step_id)
    order = _sorted(needs, dependents, {i: (0.0, n) for n, i in enumerate(by_id)})
    when: dict[str, float] = {}
    for step_id in order:  # forward: pieces say when, else what is needed says so
        own = [installed[p] for p in by_id[step_id]["pieces"] if p in installed]
        when[step_id] = min(own) if own else max((when.get(n, 0.0) for n in needs[step_id]), default=math.inf)
    for step_id in reversed(order):  # backward: what prepares a step comes with that step
        if not any(p in installed for p in by_id[step_id]["pieces"]) and dependents[step_id]:
            when[step_id] = min(when.get(d, math.inf) for d in dependents[step_id])
    key = {i: (when.get(i, math.inf), n) for n, i in enumerate(by_id)}
    done = _sorted(needs, dependents, key)
    return [by_id[i] for i in (*done, *[i for i in by_id if i not in set(done)])]


def _sorted(
    needs: dict[str, list[str]], dependents: dict[str, list[str]], key: dict[str, tuple[float, int]]
) -> list[str]:
    left = {i: len(wanted) for i, wanted in needs.items()}
    ready = [(key[i], i) for i, count in left.items() if not count]
    heapq.heapify(ready)
    out = []
    while ready:
        _, step_id = heapq.heappop(ready)
        out.append(step_id)
        for other in dependents[step_id]:
            left[other] -= 1
            if not left[other]:
                heapq.heappush(ready, (key[other], other))
    return out


def ordered(view: View) -> list[Row]:
    """Return all steps of the document in working order."""
    return in_work_order(view.rows("steps"), {i: float(p["installed"]) for i, p in view.pieces.items()})


def groups(view: View) -> list[list[Row]]:
    """Return all steps in an order that can be worked, steps that say the same on one surface together.

    Pieces that lie over each other keep their order in time.
    """
    rows = ordered(view)
    place = {s["id"]: n for n, s in enumerate(rows)}
    after = {s["id"]: set(s["needs"]) for s in rows}
    step_of = {p: s["id"] for s in rows for p in s["pieces"]}
    for lap in view.rows("laps"):
        pair = {step_of.get(lap["over"]), step_of.get(lap["under"])} - {None}
        if len(pair) == 2:
            first, second = sorted((str(i) for i in pair), key=lambda i: place[i])
            after[second].add(first)
    return gather(rows, after, lambda step: _key(view, step))


def _key(view: View, step: Row) -> tuple[object, ...]:
    """Return what steps must have in common to stand together."""
    surface, own, names = _names(view, step)
    return (
        surface,
        step["detail"],
        step["people"],
        step["wait_after_h"],
        step.get("reason"),
        limits(view, step.get("limits") or {}),
        form(step["action"], own, names)[0],
        *(
            (form(c["measure"], own, names)[0], c["measured_in"], c["count"], c["hold"], c["if_fails"], c["source"])
            for c in view.checks_of.get(step["id"], [])
        ),
    )


def _names(view: View, step: Row) -> tuple[str, str, frozenset[str]]:
    """Return the surface of a step, what its place is called there, and the names of everything there."""
    surface, _, thing = step["place"].partition("/")
    own = thing.split("/", 1)[0] or surface
    names = view.names.get(surface) or frozenset()
    return surface, own, names if own in names else names | {own}


def steps_by_surface(view: View) -> dict[str, list[dict[str, Any]]]:
    """Return the steps by surface, numbered on each, with their checks; `WHOLE` for steps of no single one."""
    by_surface: dict[str, list[list[Row]]] = {}
    for group in groups(view):
        surface = group[0]["place"].split("/", 1)[0]
        by_surface.setdefault(surface if surface in view.surfaces else WHOLE, []).append(group)
    numbers = {s["id"]: (at, n) for at, rows in by_surface.items() for n, group in enumerate(rows, 1) for s in group}
    cautions = Cautions(view)
    return {at: [_step(view, group, at, numbers, cautions) for group in rows] for at, rows in by_surface.items()}


FEWEST_ALIKE = 3  # steps with the same limits from which on these are said once, at the head
ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")


def named_limits(steps: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Name the limits that many steps share, (I, words), and put the name into these steps instead."""
    counts = Counter(s["limits"] for s in steps if s["limits"])
    often = [words for words, n in counts.items() if n >= FEWEST_ALIKE][: len(ROMAN)]
    names = dict(zip(often, ROMAN, strict=False))
    for step in steps:
        step["weather"] = names.get(step["limits"], "")
    return [(name, words) for words, name in names.items()]


def _step(
    view: View, group: list[Row], surface: str, numbers: dict[str, tuple[str, int]], cautions: Cautions
) -> dict[str, Any]:
    first = group[0]
    number = numbers[first["id"]][1]
    after = {numbers[n] for s in group for n in s["needs"] if n in numbers} - {(surface, number)}
    every = [set(cautions.numbers(s["cautions"])) for s in group]
    care = set.intersection(*every)
    names = [_names(view, s)[1] for s in group]
    action = _said(view, group, [s["action"] for s in group])
    alone = len(group) == 1
    own_name = len(set(names)) == len(names)
    members = []
    for i, step in enumerate(group):
        marks = dict.fromkeys(view.marks[p] for p in step["pieces"] if p in view.marks)
        members.append(
            {
                "name": names[i] if own_name and not alone else "",
                "values": action.values[i],
                "marks": ", ".join(marks),
                "care": cautions.called(every[i] - care),
            }
        )
    wait = first["wait_after_h"]
    return {
        "number": number,
        "action": action.parts,
        "place": "" if names[0] in first["action"] or not alone else names[0],
        "members": members,
        "reason": first.get("reason") or "",
        "work": f"{_people(first['people'])}, {_times([s['hours'] for s in group])}",
        "after": ", ".join(str(n) if s == surface else f"{s} {n}" for s, n in sorted(after)),
        "limits": limits(view, first.get("limits") or {}),
        "wait": f"Then wait {plain(wait)} h." if wait else "",
        "care": cautions.called(care),
        "all_care": sorted(set.union(*every)),
        "checks": _checks(view, group, names if own_name and not alone else [""] * len(group)),
    }


def _checks(view: View, group: list[Row], names: list[str]) -> list[dict[str, Any]]:
    """Return the checks of a group of steps: each once, with a place to write for each step."""
    out = []
    for same in zip(*(view.checks_of.get(s["id"], []) for s in group), strict=True):
        said = _said(view, group, [c["measure"] for c in same])
        pass_if = [passes(view, c) for c in same]
        differs = len(set(pass_if)) > 1
        out.append(
            {
                "measure": said.parts,
                "passes": "" if differs else pass_if[0],
                "at": [
                    {"name": name, "values": values, "passes": words if differs else ""}
                    for name, values, words in zip(names, said.values, pass_if, strict=True)
                ],
                "count": same[0]["count"],
                "hold": bool(same[0]["hold"]),
                "if_fails": same[0]["if_fails"],
                "source": same[0]["source"],
            }
        )
    return out


def _said(view: View, group: list[Row], texts: list[str]) -> Shared:
    called = [_names(view, s) for s in group]
    forms = [form(text, own, names) for text, (_, own, names) in zip(texts, called, strict=True)]
    return shared(forms[0][0], [f[1] for f in forms], [own for _, own, _ in called])


def _people(count: float) -> str:
    return "1 person" if count == 1 else f"{plain(count)} people"


def _times(hours: Sequence[float]) -> str:
    """Say how long each takes: one time, or from the shortest to the longest."""
    said = list(dict.fromkeys(_time(h) for h in sorted(hours)))
    each = " each" if len(hours) > 1 else ""
    return (said[0] if len(said) == 1 else f"{said[0]} to {said[-1]}") + each


def _time(hours: float) -> str:
    return f"{max(5, 5 * round(hours * 12))} min" if hours < SHORT_H else f"{plain(hours, 2)} h"

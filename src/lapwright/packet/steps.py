"""The steps as the crew works them: in an order that what they need allows, with their checks."""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from typing import Any

from lapwright.packet.view import Row, View
from lapwright.packet.words import limits, passes, plain

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


def steps_by_surface(view: View) -> dict[str, list[dict[str, Any]]]:
    """Return the steps by surface, numbered on each, with their checks; `other` for steps of no single one."""
    groups: dict[str, list[Row]] = {}
    for step in ordered(view):
        surface = step["place"].split("/", 1)[0]
        groups.setdefault(surface if surface in view.surfaces else "other", []).append(step)
    numbers = {s["id"]: (surface, n) for surface, rows in groups.items() for n, s in enumerate(rows, 1)}
    checks: dict[str, list[Row]] = {}
    for check in view.rows("checks"):
        checks.setdefault(check["step"], []).append(check)
    return {
        surface: [_step(view, step, surface, numbers, checks.get(step["id"], [])) for step in rows]
        for surface, rows in groups.items()
    }


def _step(
    view: View, step: Row, surface: str, numbers: dict[str, tuple[str, int]], checks: list[Row]
) -> dict[str, Any]:
    marks = dict.fromkeys(view.marks[p] for p in step["pieces"] if p in view.marks)
    after = [numbers[n] for n in dict.fromkeys(step["needs"]) if n in numbers]
    wait = step["wait_after_h"]
    return {
        "number": numbers[step["id"]][1],
        "action": step["action"],
        "place": view.place(step["place"]),
        "marks": ", ".join(marks),
        "reason": step.get("reason") or "",
        "work": f"{_people(step['people'])}, {_time(step['hours'])}",
        "after": ", ".join(str(n) if s == surface else f"{s} {n}" for s, n in sorted(after)),
        "limits": limits(view, step.get("limits") or {}),
        "wait": f"Then wait {plain(wait)} h." if wait else "",
        "cautions": list(step["cautions"]),
        "checks": [
            {
                "measure": c["measure"],
                "passes": passes(view, c),
                "count": c["count"],
                "hold": bool(c["hold"]),
                "if_fails": c["if_fails"],
                "source": c["source"],
            }
            for c in checks
        ],
    }


def _people(count: float) -> str:
    return "1 person" if count == 1 else f"{plain(count)} people"


def _time(hours: float) -> str:
    return f"{max(5, 5 * round(hours * 12))} min" if hours < SHORT_H else f"{plain(hours, 2)} h"

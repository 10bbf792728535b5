"""What each step has to wait for, as the laps ask it: nothing goes on before what it lies over or is tucked behind.

Details say what they know of their own place; the pieces of other places that theirs meet are known only here.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from lapwright.details.base import Lap, Piece, Step


def with_lap_needs(steps: Sequence[Step], pieces: Iterable[Piece], laps: Iterable[Lap]) -> list[Step]:
    """Return the steps with the needs that follow from the laps; one that others bring along is left out.

    Of two pieces that overlap, the step of the later one (`Piece.installed`) needs the step of the earlier. What is
    needed by a course before any course of its wall hangs is needed already when its lines are snapped (`prepare`).
    Needs that would close a ring are left out. The steps come in the order of work: what goes on first stands first,
    and nothing stands before what it needs. Deterministic; linear in laps but for bit sets over the steps.
    """
    by_piece = {p.id: p for p in pieces}
    number = {s.id: n for n, s in enumerate(steps)}
    first, last = _spans(by_piece.values(), number)
    asked: list[set[int]] = [set() for _ in steps]
    for lap in laps:
        a, b = by_piece[lap.over], by_piece[lap.under]
        later, earlier = (a, b) if a.installed > b.installed else (b, a)
        if later.step == earlier.step or later.step not in number or earlier.step not in number:
            continue
        at, need = number[later.step], number[earlier.step]
        ready = number.get(f"{later.place}/prepare") if later.role == "course" and earlier.role != "course" else None
        if ready is not None and last[need] < first[later.place]:
            at = ready
        asked[at].add(need)
    own = [{number[n] for n in s.needs if n in number} for s in steps]
    order = _by_needs(own, _times(steps, by_piece.values(), own))
    place = {n: k for k, n in enumerate(order)}
    behind = [0] * len(steps)  # bit sets: what has to be done before
    out = list(steps)
    for at in order:
        for need in own[at]:
            behind[at] |= behind[need] | 1 << need
        more = []
        for need in sorted(asked[at], key=lambda n: -place[n]):
            if place[need] < place[at] and not behind[at] >> need & 1:
                more.append(need)
                behind[at] |= behind[need] | 1 << need
        if more:
            out[at] = replace(steps[at], needs=(*steps[at].needs, *(steps[n].id for n in sorted(more))))
    return [out[n] for n in order]


def _spans(pieces: Iterable[Piece], number: dict[str, int]) -> tuple[dict[str, int], dict[int, int]]:
    """Return when the first course of each place goes on, and when the last piece of each step does."""
    first: dict[str, int] = {}
    last: dict[int, int] = {}
    for p in pieces:
        if p.role == "course":
            first[p.place] = min(first.get(p.place, p.installed), p.installed)
        if p.step in number:
            last[number[p.step]] = max(last.get(number[p.step], 0), p.installed)
    return first, last


def _times(steps: Sequence[Step], pieces: Iterable[Piece], own: Sequence[set[int]]) -> list[float]:
    """Return about when each step is done, on the scale of `Piece.installed`.

    A step with pieces: when its first goes on. One without: just before the first step that needs it, else after all.
    """
    number = {s.id: n for n, s in enumerate(steps)}
    times = [math.inf] * len(steps)
    for p in pieces:
        if p.step in number:
            times[number[p.step]] = min(times[number[p.step]], float(p.installed))
    for n in reversed(_by_needs(own, [0.0] * len(steps))):
        for need in own[n]:
            if not steps[need].pieces:
                times[need] = min(times[need], times[n] - 0.5)
    for n in _by_needs(own, times):
        if times[n] == math.inf:  # nobody waits for it: right after what it waits for
            times[n] = max((times[need] for need in own[n] if times[need] < math.inf), default=math.inf) + 0.25
    return times


def _by_needs(own: Sequence[set[int]], times: Sequence[float]) -> list[int]:
    """Return the steps in an order that keeps every need, the earliest free one next. Steps in a ring of needs come last."""
    waits = [len(o) for o in own]
    frees: list[list[int]] = [[] for _ in own]
    for n, needs in enumerate(own):
        for need in needs:
            frees[need].append(n)
    ready = [(times[n], n) for n in range(len(own)) if not waits[n]]
    heapq.heapify(ready)
    out: list[int] = []
    while ready:
        _, n = heapq.heappop(ready)
        out.append(n)
        for other in frees[n]:
            waits[other] -= 1
            if not waits[other]:
                heapq.heappush(ready, (times[other], other))
    return out + sorted(set(range(len(own))) - set(out))

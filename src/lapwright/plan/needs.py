"""What each step has to wait for, as the laps ask it: nothing goes on before what it lies over or is tucked behind.

Details say what they know of their own place; the pieces of other places that theirs meet are known only here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from lapwright.details.base import Lap, Piece, Step


def with_lap_needs(steps: Sequence[Step], pieces: Iterable[Piece], laps: Iterable[Lap]) -> list[Step]:
    """Return the steps with the needs that follow from the laps; one that others bring along is left out.

    Of two pieces that overlap, the step of the later one (`Piece.installed`) needs the step of the earlier. What is
    needed by a course before any course of its wall hangs is needed already when its lines are snapped (`prepare`).
    Needs that would close a ring are left out. Deterministic; linear in laps but for bit sets over the steps.
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
    place, order = _sorted(own, asked)
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
    return out


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


def _sorted(own: Sequence[set[int]], asked: Sequence[set[int]]) -> tuple[list[int], list[int]]:
    """Return (place in the order, order): needs first, by number where free; what is asked gives way in a ring."""
    count = len(own)
    done = [False] * count
    place, order = [0] * count, list[int]()

    def visit(start: int) -> None:
        """Put a step and everything before it in order, depth first without recursion."""
        stack: list[tuple[int, list[int]]] = [(start, sorted(own[start]) + sorted(asked[start] - own[start]))]
        on = {start}
        while stack:
            at, rest = stack[-1]
            if rest:
                nxt = rest.pop(0)
                if not done[nxt] and nxt not in on:
                    stack.append((nxt, sorted(own[nxt]) + sorted(asked[nxt] - own[nxt])))
                    on.add(nxt)
                continue
            stack.pop()
            on.discard(at)
            done[at] = True
            place[at] = len(order)
            order.append(at)

    for n in range(count):
        if not done[n]:
            visit(n)
    return place, order

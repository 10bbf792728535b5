"""Gathers steps that say the same but for a name and some figures, so that they can share one line on paper.

`Sill strip of w1, 4' 4" x 1' 0"` and `Sill strip of w2, 4' 0" x 1' 0"` become one step at each of w1 and w2, with one
letter in place of the figure that differs. Nothing is gathered that would turn the order of the work round.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from lapwright.packet.view import Row

# A length on the tape or any other figure; not one inside a name such as R703.2.
FIGURE = r"(?<![\w.'\"-])-?(?:\d+' ?)?\d+(?:-\d+/\d+|/\d+|[.,]\d+)*(?:[\"'][+-]?)?(?![\w.])"
OWN, OTHER = "\1", "\0"
EACH = "each"
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I or O: they look like figures

# Words, and what they are: plain, a letter that stands for a figure, or the name of the place.
Part = tuple[str, Literal["", "letter", "name"]]


@dataclass(frozen=True)
class Shared:
    """Texts that differ in figures and names only, said once; `values` has one row of (letter, figure) per text."""

    parts: tuple[Part, ...]
    values: tuple[tuple[tuple[str, str], ...], ...]


def form(text: str, own: str, names: frozenset[str]) -> tuple[str, tuple[str, ...]]:
    r"""Return a text with its own name and everything that may vary cut out, and what was cut out.

    names: of all things on the surface; a list of them may vary as a whole.

    >>> form('Head strip of w1, 4\' 4" x 10", over w2, w3.', "w1", frozenset({"w1", "w2", "w3"}))[1]
    ('4\' 4"', '10"', 'w2, w3')
    """
    found: list[str] = []

    def cut(match: re.Match[str]) -> str:
        if match[0] == own:
            return OWN
        found.append(match[0])
        return OTHER

    return _varies(names | {own}).sub(cut, text), tuple(found)


@lru_cache(maxsize=256)
def _varies(names: frozenset[str]) -> re.Pattern[str]:
    one = "|".join(re.escape(i) for i in sorted(names, key=lambda i: (-len(i), i)))
    return re.compile(rf"(?<![\w-])(?:{one})(?:, (?:{one}))*(?![\w-])|{FIGURE}")


def shared(shape: str, values: Sequence[tuple[str, ...]], names: Sequence[str]) -> Shared:
    """Put texts of one form together: what is the same in all is said, what differs gets a letter.

    shape and values: of `form`; names: what each text calls itself.
    """
    columns = list(zip(*values, strict=True))
    letters: dict[tuple[str, ...], str] = {}
    for column in columns:
        if len(set(column)) > 1 and column not in letters:
            letters[column] = LETTERS[len(letters)] if len(letters) < len(LETTERS) else f"Z{len(letters)}"
    own = names[0] if len(set(names)) == 1 else EACH
    parts: list[Part] = []
    columns_left = iter(columns)
    for piece in re.split(f"([{OWN}{OTHER}])", shape):
        if piece == OTHER:
            column = next(columns_left)
            parts.append((letters[column], "letter") if column in letters else (column[0], ""))
        elif piece:
            parts.append((own, "name") if piece == OWN else (piece, ""))
    merged: list[Part] = []
    for words, kind in parts:  # neighbors that are plain words become one
        if merged and not kind and not merged[-1][1]:
            merged[-1] = (merged[-1][0] + words, "")
        else:
            merged.append((words, kind))
    rows = [tuple((letter, column[i]) for column, letter in letters.items()) for i in range(len(values))]
    return Shared(tuple(merged), tuple(rows))


def gather(steps: Sequence[Row], after: Mapping[str, Iterable[str]], key: Callable[[Row], Hashable]) -> list[list[Row]]:
    """Return the steps in groups of one key, in an order that can be worked.

    steps: in working order. after: by step id, what must be done before it. A step joins the group of its key
    only when no third group would have to come both after and before that group.
    """
    group_of: dict[str, int] = {}
    groups: list[list[Row]] = []
    before: list[set[int]] = []  # by group, the groups that come directly before it
    open_groups: dict[Hashable, list[int]] = {}
    for step in steps:
        needs = {group_of[n] for n in after.get(step["id"], ()) if n in group_of}
        same = open_groups.setdefault(key(step), [])
        at = next((g for g in same if not _reaches(before, needs - {g}, g)), None)
        if at is None:
            at = len(groups)
            groups.append([])
            before.append(set())
            same.append(at)
        groups[at].append(step)
        before[at] |= needs - {at}
        group_of[step["id"]] = at
    return [groups[g] for g in _in_order(before)]


def _reaches(before: Sequence[set[int]], start: Iterable[int], target: int) -> bool:
    """Return whether the target must be done before one of `start`."""
    todo, seen = list(start), set(start)
    while todo:
        group = todo.pop()
        if group == target:
            return True
        new = before[group] - seen
        seen |= new
        todo += new
    return False


def _in_order(before: Sequence[set[int]]) -> list[int]:
    """Return the groups so that none stands before what comes before it; else as they were made."""
    out: list[int] = []
    done: set[int] = set()

    def visit(group: int) -> None:
        todo = [group]
        while todo:
            top = todo[-1]
            left = sorted(before[top] - done, reverse=True)
            if top in done or not left:
                todo.pop()
                if top not in done:
                    done.add(top)
                    out.append(top)
            else:
                todo += left

    for group in range(len(before)):
        visit(group)
    return out

"""Changes: an edit of the job as data, that can be shown, tried, written and taken back.

A view never edits a job; it proposes a `Change`, and whoever wants it applies it (`lapwright.plan.trials`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


class Gone:
    """Stands for "not in the file" where an edit adds or takes out an entry."""

    def __repr__(self) -> str:
        return "not there"


ABSENT = Gone()


@dataclass(frozen=True)
class Edit:
    """One entry of house.yaml: where it stands, what it must say now, what it is to say.

    path: names from the top; in a list the item's `id` (`("faces", "front", "openings", "w1", "state")`).
    old, new: plain data (text, numbers, lists, mappings), or ABSENT.
    """

    path: tuple[str, ...]
    old: Any
    new: Any

    def back(self) -> Edit:
        """Return the edit that undoes this one."""
        return Edit(self.path, self.new, self.old)


@dataclass(frozen=True)
class Change:
    """Edits that belong together. id: stable, made from the place and what is done there (`front/w1:add-head-strip`)."""

    id: str
    what: str
    edits: tuple[Edit, ...]

    def back(self) -> Change:
        """Return the change that undoes this one.

        >>> Change("a:b", "Say so.", (Edit(("job",), "A", "B"),)).back().edits[0].new
        'A'
        """
        return Change(f"{self.id}:back", f"Undo: {self.what}", tuple(e.back() for e in reversed(self.edits)))

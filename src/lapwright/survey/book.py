"""The notebook that reading a job file writes its findings into, each with the line it is about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from lapwright.findings import BadJob, Finding, Level, Where, in_order
from lapwright.yamlfile import Key, Written

Path = tuple[Key, ...]
_THINGS = ("openings", "penetrations", "attachments", "zones", "found")


@dataclass
class Book:
    """Findings of one job file. `bad` ends the reading (after everything was looked at); `say` does not."""

    written: Written
    fatal: list[Finding] = field(default_factory=list)
    said: list[Finding] = field(default_factory=list)

    def where(self, path: Path, x_m: float | None = None, y_m: float | None = None) -> Where:
        """Return the place of a path in the file: its line, and the ids of the face and thing it is in."""
        surface, thing = self._names(path)
        line = self.written.lines.at(path)
        return Where(self.written.file, line, surface, thing, x_m, y_m)

    def bad(self, code: str, path: Path, what: str, why: str = "", fix: str = "") -> None:
        """Note something that makes the job unreadable or contradictory."""
        self.fatal.append(Finding(code, "stop", what, why, fix, self.where(path)))

    def say(self, level: Level, code: str, path: Path, what: str, why: str = "", fix: str = "") -> None:
        """Note something that the job can be read with."""
        self.said.append(Finding(code, level, what, why, fix, self.where(path)))

    def close(self) -> tuple[Finding, ...]:
        """Raise BadJob, notes left out, when a finding is fatal; else return what was said, in order."""
        if self.fatal:
            raise BadJob(in_order([*self.fatal, *(f for f in self.said if f.level != "note")]))
        return tuple(in_order(self.said))

    def _names(self, path: Path) -> tuple[str | None, str | None]:
        """Return (face id, thing id) of a path, as far as the file gives them."""
        names: dict[str, str] = {}
        here: Any = self.written.data
        for step, key in enumerate(path):
            if isinstance(here, Mapping) and isinstance(key, str) and key in here:
                here = here[key]
            elif isinstance(here, list) and isinstance(key, int) and key < len(here):
                here = here[key]
                if isinstance(here, Mapping) and isinstance(here.get("id"), str):
                    names[str(path[step - 1])] = here["id"][:40]
            else:
                break
        thing = next((names[kind] for kind in _THINGS if kind in names), None)
        return names.get("faces"), thing

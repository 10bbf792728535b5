"""Which details there are, and which one serves a place.

Built-in details register themselves by being listed here; a job's own details (one file each) are
loaded from the job folder when the user allows it and come first.
"""

from __future__ import annotations

import importlib.util
import inspect
from collections.abc import Iterable, Sequence
from pathlib import Path

from lapwright.details.base import Context, Detail, Place
from lapwright.findings import BadJob, Finding, Where


class Registry:
    """Details by name, and the default choice by place kind and sort (later registration wins)."""

    def __init__(self, details: Iterable[Detail]) -> None:
        self._by_name: dict[str, Detail] = {}
        self._by_place: dict[tuple[str, str], Detail] = {}
        for detail in details:
            self.add(detail)

    def add(self, detail: Detail, default: bool = True) -> None:
        """Register a detail; `default` makes it the choice for the places it lists."""
        self._by_name[detail.name] = detail
        if default:
            for key in detail.places:
                self._by_place[key] = detail

    def names(self) -> list[str]:
        """Return all names, sorted."""
        return sorted(self._by_name)

    def get(self, name: str) -> Detail:
        """Return the detail of that name; KeyError when there is none."""
        return self._by_name[name]

    def choose(self, place: Place, ctx: Context) -> Detail | None:
        """Return the detail for a place: the job's choice, the thing's own, else the default; None when nobody serves it."""
        named = ctx.scope.details.get(place.id) or getattr(place.thing, "detail", None)
        if named:
            return self._by_name[named]
        return self._by_place.get((place.kind, place.sort)) or self._by_place.get((place.kind, ""))


def built_in() -> Registry:
    """Return the registry of the details that come with the program."""
    from lapwright.details import library

    return Registry(library.DETAILS)


def load_own(folder: Path, files: Sequence[str], allowed: bool) -> list[Detail]:
    """Return the details defined in a job's own files.

    A detail file is program code. It runs only when the user said so on the command line (`allowed`);
    otherwise BadJob tells him how. Errors in the file become findings that name the file.
    """
    out: list[Detail] = []
    for name in files:
        path = folder / name
        where = Where(file=name)
        if not path.resolve().is_relative_to(folder.resolve()) or path.suffix != ".py" or not path.is_file():
            raise BadJob(
                [
                    Finding(
                        "details.missing",
                        "stop",
                        f"There is no detail file {name} in the job folder.",
                        "house.yaml lists it under own_details.",
                        "Put the file there or take the line out.",
                        where,
                    )
                ]
            )
        if not allowed:
            raise BadJob(
                [
                    Finding(
                        "details.not_allowed",
                        "stop",
                        f"{name} is program code that came with this job.",
                        "Code from a job folder can do anything on this machine.",
                        "Read the file; if you trust it, run the command again with --own-details.",
                        where,
                    )
                ]
            )
        spec = importlib.util.spec_from_file_location(f"lapwright_own_{path.stem.replace('-', '_')}", path)
        assert spec is not None and spec.loader is not None  # a .py path always has a loader
        module = importlib.util.module_from_spec(spec)
        try:
            spec.loader.exec_module(module)
        except Exception as exc:
            line = getattr(exc, "lineno", None)
            raise BadJob(
                [
                    Finding(
                        "details.broken",
                        "stop",
                        f"The detail file {name} does not load: {exc}.",
                        "Python stopped while reading it.",
                        "Mend the file or take it out of own_details.",
                        Where(file=name, line=line),
                    )
                ]
            ) from exc
        found = [
            cls()
            for _, cls in sorted(inspect.getmembers(module, inspect.isclass))
            if issubclass(cls, Detail) and cls is not Detail and cls.__module__ == module.__name__
        ]
        if not found:
            raise BadJob(
                [
                    Finding(
                        "details.empty",
                        "stop",
                        f"{name} holds no detail.",
                        "A detail is a class built on Detail.",
                        "See docs/own-detail.md.",
                        where,
                    )
                ]
            )
        out += found
    return out

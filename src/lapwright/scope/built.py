"""What hangs already: the rows of an earlier plan.json that `built:` names, taken over as they are."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from lapwright.geometry import from_rings
from lapwright.scope.model import Built
from lapwright.scope.schema import BuiltBlock
from lapwright.survey.book import Book
from lapwright.survey.words import did_you_mean

MAX_BYTES = 100_000_000  # a plan of a big house is some MB; own choice
Row = Mapping[str, Any]
_PATH = ("built",)


def read_built(block: BuiltBlock | None, folder: Path, book: Book) -> Built:
    """Return the pieces, cuts, rolls and lines that hang; what is wrong with them goes into the book.

    Cuts are those of the pieces named, rolls those named and those the cuts come from.
    """
    if block is None:
        return Built()
    plan = _load(block.from_, folder, book)
    if plan is None:
        return Built()
    pieces = _matching(_rows(plan, "pieces"), block.pieces, "pieces", book)
    cut_ids = {str(p["cut"]) for p in pieces if p.get("cut") is not None}
    cuts = [c for c in _rows(plan, "cuts") if str(c.get("id")) in cut_ids]
    _whole(pieces, cuts, cut_ids, book)
    from_rolls = {str(c["stock"]) for c in cuts if c.get("stock") is not None}
    named = {str(r["id"]) for r in _matching(_rows(plan, "stock"), block.rolls, "rolls", book)}
    stock = [r for r in _rows(plan, "stock") if str(r.get("id")) in from_rolls | named]
    lines = _lines(_rows(plan, "lines"), block.lines, book)
    return Built(tuple(pieces), tuple(cuts), tuple(stock), tuple(lines))


def _load(name: str, folder: Path, book: Book) -> dict[str, Any] | None:
    """Return the earlier plan as data, or None when it cannot be had."""
    path = (*_PATH, "from")
    target = folder / name
    fix = "Keep the earlier plan.json in the job folder and name it here."
    try:
        if not target.resolve().is_relative_to(folder.resolve()):
            book.bad("job.built", path, f"{name} lies outside the job folder.", fix=fix)
            return None
        if not target.is_file():
            book.bad("job.built", path, f"There is no file {name} in the job folder.", fix=fix)
            return None
        if target.stat().st_size > MAX_BYTES:
            book.bad("job.built", path, f"{name} is larger than 100 MB.", fix="Is it the right file?")
            return None
        plan = json.loads(target.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        book.bad("job.built", path, f"{name} cannot be read as a plan.", fix="Take it from the earlier packet again.")
        return None
    if not isinstance(plan, dict):
        book.bad("job.built", path, f"{name} is no plan.", fix="Take plan.json from the earlier packet.")
        return None
    return plan


def _rows(plan: Mapping[str, Any], key: str) -> list[Row]:
    rows = plan.get(key)
    return [r for r in rows if isinstance(r, dict)] if isinstance(rows, list) else []


def _matching(rows: Sequence[Row], patterns: Sequence[str], key: str, book: Book) -> list[Row]:
    """Return the rows whose id fits one of the patterns, in the plan's order; a pattern that fits none is wrong."""
    ids = [str(r.get("id")) for r in rows]
    for index, pattern in enumerate(patterns):
        if not any(fnmatchcase(i, pattern) for i in ids):
            what = f"The earlier plan has no {key} called {pattern}."
            book.bad("job.unknown", (*_PATH, key, index), what, fix=did_you_mean(pattern, ids))
    return [r for r, i in zip(rows, ids, strict=True) if any(fnmatchcase(i, p) for p in patterns)]


def _lines(rows: Sequence[Row], patterns: Sequence[str], book: Book) -> list[Row]:
    faces = sorted({str(r.get("surface")) for r in rows})
    for index, pattern in enumerate(patterns):
        if pattern != "*" and not any(fnmatchcase(f, pattern) for f in faces):
            what = f"The earlier plan has no snapped lines on {pattern}."
            book.bad("job.unknown", (*_PATH, "lines", index), what, fix=did_you_mean(pattern, faces))
    return [r for r in rows if any(fnmatchcase(str(r.get("surface")), p) for p in patterns)]


_PIECE_TEXT = ("id", "surface", "plane", "role", "layer", "step", "place", "held")


def _whole(pieces: Iterable[Row], cuts: Sequence[Row], cut_ids: set[str], book: Book) -> None:
    """Refuse rows that lack what the layout builds on: they were edited, or are no plan of this program."""
    bad: list[str] = []
    for row in pieces:
        whole = all(isinstance(row.get(k), str) for k in _PIECE_TEXT) and isinstance(row.get("facts"), dict)
        number = row.get("installed")
        if not (whole and isinstance(number, int) and not isinstance(number, bool) and _is_polygon(row.get("polygon"))):
            bad.append(str(row.get("id")))
    for row in cuts:
        numbers = all(isinstance(row.get(k, 0.0), (int, float)) for k in ("along_m", "across_m", "turned_deg"))
        if not (numbers and isinstance(row.get("product"), str) and _is_polygon(row.get("flat"))):
            bad.append(str(row.get("id")))
    bad += sorted(cut_ids - {str(c.get("id")) for c in cuts})
    if bad:
        what = f"{len(bad)} rows of the earlier plan are not whole: {', '.join(bad[:5])}."
        book.bad("job.built", (*_PATH, "from"), what, fix="Take plan.json from the earlier packet, unedited.")


def _is_polygon(value: Any) -> bool:
    try:
        return bool(from_rings(value).is_valid and from_rings(value).area > 0)
    except (TypeError, ValueError, IndexError, KeyError):
        return False
    except Exception as error:  # shapely's own error family has no common public root
        if type(error).__module__.startswith("shapely"):
            return False
        raise

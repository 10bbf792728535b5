"""What hangs already: the rows of an earlier plan.json that `built:` names, taken over as they are."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError

from lapwright.geometry import from_rings
from lapwright.scope.model import Built
from lapwright.scope.schema import BuiltBlock
from lapwright.survey.book import Book
from lapwright.survey.words import did_you_mean

MAX_BYTES = 100_000_000  # a plan of a big house is some MB; own choice
Row = Mapping[str, Any]
_PATH = ("built",)


def read_built(block: BuiltBlock | None, folder: Path, faces: Collection[str], book: Book) -> Built:
    """Return the pieces, cuts, rolls and lines that hang; what is wrong with them goes into the book.

    faces: ids of the job's faces. Cuts are those of the pieces named, rolls those named and those the cuts come from.
    """
    if block is None:
        return Built()
    plan = _load(block.from_, folder, book)
    if plan is None:
        return Built()
    pieces = _whole(_matching(_rows(plan, "pieces"), block.pieces, "pieces", book), _PieceRow, "pieces", book)
    for row in pieces:
        if row["surface"] not in faces:
            what = f"The piece {row['id']} hangs on {row['surface']}, which is no face of this job."
            book.bad("job.unknown", (*_PATH, "pieces"), what, fix=did_you_mean(str(row["surface"]), faces))
            break
    cut_ids = {str(p["cut"]) for p in pieces if p["cut"] is not None}
    cuts = _whole([c for c in _rows(plan, "cuts") if c.get("id") in cut_ids], _CutRow, "cuts", book)
    lost = sorted(cut_ids - {str(c["id"]) for c in cuts})
    if lost and not book.fatal:
        what = f"The earlier plan lacks the cut {lost[0]} of a piece that hangs."
        book.bad("job.built", (*_PATH, "from"), what, fix="Take plan.json from the earlier packet, unedited.")
    from_rolls = {str(c["stock"]) for c in cuts if c["stock"] is not None}
    rolls = _whole(_rows(plan, "stock"), _StockRow, "stock", book)
    named = {str(r["id"]) for r in _matching(rolls, block.rolls, "rolls", book)}
    stock = [r for r in rolls if r["id"] in from_rolls | named]
    lines = _lines(_whole(_rows(plan, "lines"), _LineRow, "lines", book), block.lines, book)
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


Finite = Annotated[float, Field(allow_inf_nan=False)]


def _polygon(value: Any) -> Any:
    try:
        if from_rings(value).is_valid and from_rings(value).area > 0:
            return value
    except Exception as error:  # shapely and numpy share no public family of errors
        raise ValueError("no polygon") from error
    raise ValueError("no polygon")


Rings = Annotated[Any, PlainValidator(_polygon)]


class _Row(BaseModel):
    model_config = ConfigDict(defer_build=True)  # only a job with `built:` pays for them


class _PieceRow(_Row):
    """A piece as the layout builds on it (contract: pieces)."""

    id: str
    surface: str
    plane: Literal["face", "sill", "jamb", "head", "under"]
    polygon: Rings
    product: str | None
    role: str
    layer: str
    cut: str | None
    installed: int
    step: str
    place: str
    held: Literal["adhered", "taped", "sealed", "fastened", "loose"]
    facts: dict[str, Any]


class _Fold(_Row):
    segment: tuple[tuple[Finite, Finite], tuple[Finite, Finite]]
    angle_deg: Finite


class _CutRow(_Row):
    """A cut as packing builds on it (contract: cuts)."""

    id: str
    product: str
    flat: Rings
    folds: list[_Fold]
    stock: str | None
    along_m: Finite
    across_m: Finite
    turned_deg: int


class _StockRow(_Row):
    """A roll or sheet (contract: stock)."""

    id: str
    product: str
    length_m: Annotated[Finite, Field(gt=0)]
    width_m: Annotated[Finite, Field(gt=0)] | None = None


class _LineRow(_Row):
    """A snapped line (contract: lines)."""

    surface: str
    layer: str
    y_m: Finite
    x_from_m: Finite
    x_to_m: Finite


def _whole(rows: Sequence[Row], schema: type[BaseModel], key: str, book: Book) -> list[Row]:
    """Return the rows that are whole; refuse the others: they were edited, or are no plan of this program."""
    out: list[Row] = []
    bad: list[str] = []
    for row in rows:
        try:
            schema.model_validate(row)
            out.append(row)
        except ValidationError as error:
            loc = error.errors(include_url=False)[0]["loc"]
            bad.append(f"{str(row.get('id', row.get('surface')))[:60]} ({loc[0] if loc else 'row'})")
    if bad:
        what = f"{len(bad)} of the {key} in the earlier plan are not whole: {', '.join(bad[:5])}."
        book.bad("job.built", (*_PATH, "from"), what, fix="Take plan.json from the earlier packet, unedited.")
    return out

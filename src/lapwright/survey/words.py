"""What the schema objects to, in a carpenter's words, each with its line and the way to mend it."""

from __future__ import annotations

import difflib
import types
from collections.abc import Iterable
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from lapwright.survey.book import Book, Path

MOST_FINDINGS = 200  # a page of findings; a wrong file would give thousands: own choice


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return "Did you mean x?", or the list of what is known.

    >>> did_you_mean("heigth", ["height", "width"])
    'Did you mean height?'
    """
    names = sorted(known)
    close = difflib.get_close_matches(word[:60], names, n=1, cutoff=0.6)
    if close:
        return f"Did you mean {close[0]}?"
    if not names:
        return "Take it out."
    shown = ", ".join(names[:30]) + (", ..." if len(names) > 30 else "")
    return f"Known here: {shown}."


def explain(error: ValidationError, schema: type[BaseModel], book: Book) -> None:
    """Write every complaint of pydantic about the job file into the book, as fatal findings."""
    rows = error.errors(include_url=False)
    for row in rows[:MOST_FINDINGS]:
        path = tuple(row["loc"])
        code, what, fix = _say(row, path, schema)
        label = _label(path, book)
        book.bad(f"job.{code}", path, f"{label}: {what}" if label else what, fix=fix)
    if len(rows) > MOST_FINDINGS:
        more = len(rows) - MOST_FINDINGS
        book.bad("job.many", (), f"{more} more things are wrong.", fix="Mend the ones above first.")


def _say(row: Any, path: Path, schema: type[BaseModel]) -> tuple[str, str, str]:
    """Return (code, what, fix) of one complaint."""
    kind, ctx = row["type"], row.get("ctx") or {}
    last = path[-1] if path else ""
    if kind == "lapwright":
        return ctx["code"], ctx["what"], ctx["fix"]
    if kind == "extra_forbidden":
        names = _names_at(schema, path[:-1])
        return "unknown", f"`{str(last)[:40]}` is not known here.", did_you_mean(str(last), names)
    if kind == "missing":
        if isinstance(last, int):
            return "missing", f"Number {last + 1} of the list is missing.", "Write the whole list."
        example = _example(schema, path)
        return (
            "missing",
            f"`{last}` is missing.",
            f"Add `{last}: {example}`." if example else f"Add `{last}`.",
        )
    if kind == "literal_error":
        choices = [c.strip("'") for c in str(ctx.get("expected", "")).replace(" or ", ", ").split(", ")]
        shown = row["input"] if isinstance(row["input"], (str, int, float)) else "This"
        fix = did_you_mean(str(shown), choices)
        if fix.startswith("Did"):
            fix += f" It is one of: {', '.join(choices)}."
        return (
            "choice",
            f"{str(shown)[:40]} is none of the choices.",
            fix.replace("Known here", "Write one of"),
        )
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return (
            "block",
            "A block of `name: value` lines belongs here.",
            "Write `name: value` pairs, indented below.",
        )
    if kind in ("tuple_type", "list_type"):
        return "list", "A list belongs here.", "Write [a, b], or lines that start with a dash."
    if kind == "too_long":
        return "list", f"The list has more than {ctx.get('max_length', 2)} entries.", "Take the surplus out."
    return "value", f"This cannot be read ({row['msg']}).", "Check the figure."


def _label(path: Path, book: Book) -> str:
    """Return the names on the way to a path: "front, w1, `width`"."""
    where = book.where(path)
    names = [n for n in (where.surface, where.thing) if n]
    if not names:
        names = [str(p) for p in path[:1] if isinstance(p, str)] if len(path) > 1 else []
    last = next((p for p in reversed(path) if isinstance(p, str)), None)
    if (
        last
        and last not in names
        and last not in ("faces", "openings", "penetrations", "attachments", "zones")
    ):
        names.append(f"`{last[:40]}`")
    return ", ".join(names)


def block_of(annotation: Any) -> type[BaseModel] | None:
    """Return the block class inside an annotation such as `tuple[OpeningBlock, ...] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (Union, types.UnionType, tuple, list, dict) or hasattr(
        annotation, "__metadata__"
    ):
        for part in get_args(annotation):
            found = block_of(part)
            if found is not None:
                return found
    return None


def _block_at(schema: type[BaseModel], path: Path) -> type[BaseModel]:
    """Return the class of the block a path leads to."""
    block = schema
    for key in path:
        if isinstance(key, str):
            fields = {f.alias or name: f for name, f in block.model_fields.items()}
            if key in fields:
                block = block_of(fields[key].annotation) or block
    return block


def _names_at(schema: type[BaseModel], path: Path) -> list[str]:
    return [field.alias or name for name, field in _block_at(schema, path).model_fields.items()]


def _example(schema: type[BaseModel], path: Path) -> str:
    fields = {f.alias or name: f for name, f in _block_at(schema, path[:-1]).model_fields.items()}
    field = fields.get(str(path[-1]))
    return str(field.examples[0]) if field is not None and field.examples else ""

"""The tables of `docs/house-file.md`, made from the schema, so that the page cannot lag behind it.

`python -m lapwright.scope.reference docs/house-file.md` renews the tables in the page.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel

from lapwright.scope.schema import HouseBlock
from lapwright.survey.words import block_of

START = "<!-- names: made by python -m lapwright.scope.reference -->"
END = "<!-- end of names -->"


def blocks() -> Iterator[tuple[str, type[BaseModel]]]:
    """Yield (path as it is written, block class) of the whole job file, each class once, in file order."""
    seen: set[type[BaseModel]] = set()

    def walk(path: str, schema: type[BaseModel]) -> Iterator[tuple[str, type[BaseModel]]]:
        if schema in seen:
            return
        seen.add(schema)
        yield path, schema
        for name, field in schema.model_fields.items():
            inner = block_of(field.annotation)
            if inner is not None:
                yield from walk(f"{path}.{field.alias or name}" if path else field.alias or name, inner)

    yield from walk("", HouseBlock)


def tables() -> str:
    """Return one table of names per block, in Markdown."""
    out: list[str] = []
    for path, schema in blocks():
        out += [f"### {path or 'Top of the file'}", "", str(schema.__doc__).split("\n\n")[0], ""]
        out += ["| name | | what it says | as typed |", "|---|---|---|---|"]
        for name, field in schema.model_fields.items():
            need = "must" if field.is_required() else ""
            example = f"`{field.examples[0]}`" if field.examples else ""
            out.append(f"| `{field.alias or name}` | {need} | {field.description} | {example} |")
        out.append("")
    return "\n".join(out)


def renewed(page: str) -> str:
    """Return the page with its tables made anew; ValueError when the marks are missing."""
    head, start, rest = page.partition(START)
    _, end, tail = rest.partition(END)
    if not start or not end:
        raise ValueError("the page has no marks for the tables")
    return f"{head}{START}\n\n{tables()}\n{END}{tail}"


if __name__ == "__main__":
    file = Path(sys.argv[1])
    file.write_text(renewed(file.read_text(encoding="utf-8")), encoding="utf-8")

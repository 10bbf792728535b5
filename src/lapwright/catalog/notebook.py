"""Read a notebook-like YAML file as text with line numbers.

Every scalar stays the text that was written (no guessing of numbers and dates: "5 ft" and "1.10" must
arrive as they stand), so units and errors are decided where the meaning is known. Uses the C parser.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import yaml

from lapwright.findings import BadJob, Finding, Where


@dataclass(frozen=True)
class Text:
    """A scalar as written, and its line."""

    text: str
    line: int


@dataclass(frozen=True)
class List:
    """A list, and its first line."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True)
class Map:
    """A map in the order written: key -> (line of the key, node)."""

    items: dict[str, tuple[int, Node]]
    line: int


Node = Text | List | Map

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def read(text: str, file: str) -> Node | None:
    """Return the document as nodes, None when it is empty; BadJob for broken YAML or doubled keys."""
    try:
        root = yaml.compose(text, Loader=_LOADER)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise BadJob([_stop(file, mark.line + 1 if mark else 1, f"the file does not read: {error.problem}")]) from None
    except (yaml.YAMLError, RecursionError) as error:
        raise BadJob([_stop(file, 1, f"the file does not read: {' '.join(str(error).split())}")]) from None
    return None if root is None else _node(root, file, set())


def _stop(file: str, line: int, what: str) -> Finding:
    return Finding(
        "catalog.unreadable",
        "stop",
        what,
        fix="Mend that line; values stand as 'name: value', two spaces further in than the product.",
        where=Where(file=file, line=line),
    )


def _node(node: Any, file: str, seen: set[int]) -> Node:
    line = node.start_mark.line + 1
    if id(node) in seen:  # the same node twice: an alias, which could unfold without end
        raise BadJob([_stop(file, line, "the lines here are used again by an alias (*name); write them out")])
    seen.add(id(node))
    if isinstance(node, yaml.ScalarNode):
        return Text(node.value.strip(), line)
    if isinstance(node, yaml.SequenceNode):
        return List(tuple(_node(item, file, seen) for item in node.value), line)
    items: dict[str, tuple[int, Node]] = {}
    for key, value in node.value:
        at = key.start_mark.line + 1
        if not isinstance(key, yaml.ScalarNode):
            raise BadJob([_stop(file, at, "a name must be plain words")])
        if key.value in items:
            raise BadJob([_stop(file, at, f"'{key.value}' stands twice (first on line {items[key.value][0]})")])
        items[key.value] = (at, _node(value, file, seen))
    return Map(items, line)

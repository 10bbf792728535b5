"""Read a notebook-like YAML file as text with line numbers.

Every scalar stays the text that was written (no guessing of numbers and dates: "5 ft" and "1.10" must
arrive as they stand), so units and errors are decided where the meaning is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from lapwright import yamlfile
from lapwright.yamlfile import tree


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


def read(text: str, file: str) -> Node | None:
    """Return the document as nodes, None when it is empty; BadJob for what `lapwright.yamlfile` refuses."""
    top = tree(text, file)
    return None if top is None else _node(top)


def _node(node: yamlfile.Node) -> Node:
    if isinstance(node.value, dict):
        return Map({name: (line, _node(child)) for name, (line, child) in node.value.items()}, node.line)
    if isinstance(node.value, list):
        return List(tuple(_node(child) for child in node.value), node.line)
    return Text(node.typed.strip(), node.line)

"""A YAML file as plain data, or as text, plus the line each thing stands on; what is wrong with it is a `BadJob`.

Scalars are resolved here, close to YAML 1.2: whole numbers, decimals, true/false and null; everything
else is text (no base-60 numbers, no yes/no, no dates). The file is read event by event, so neither depth
nor a pile of aliases can exhaust the machine before it is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from lapwright.findings import BadJob, Finding, Where

MAX_BYTES = 2_000_000  # a big house is 100 kB; own choice
MAX_NODES = 200_000  # after expanding aliases; own choice
MAX_DEPTH = 40  # the deepest honest job file nests about 10; own choice

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,17})")  # 007 stays as it is written
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]{1,3})?")
_TRUE = ("true", "True", "TRUE")
_FALSE = ("false", "False", "FALSE")
_NULL = ("", "~", "null", "Null", "NULL")

Key = str | int
PathKey = tuple[Key, ...]

_PLAIN_WORDS = (  # (part of the parser's message, what it means, how to mend it)
    ("mapping values are not allowed", "a colon where none can stand",
     "Indent this line like its neighbors, and put words that hold a colon in quotes."),
    ("expected <block end>", "this line does not fit the ones above it",
     "Check the indent of this line and that every quote and bracket above it is closed."),
    ("expected ',' or", "a bracket that is not closed, or a comma missing",
     "Check the brackets and commas on this line and the ones above."),
    ("did not find expected key", "this line does not fit the ones above it",
     "Check the indent of this line and that every quote and bracket above it is closed."),
    ("did not find expected '-' indicator", "this line does not fit the list above it",
     "Check the indent: items of one list start in the same column, with a dash."),
    ("could not find expected ':'", "a name without a colon",
     "Write `name: value`, with a space behind the colon."),
    ("found unexpected end of stream", "a quote that is never closed", "Close the quote."),
    ("cannot start any token", "a character that cannot stand here", "Put the words in quotes."),
    ("undefined alias", "an alias (*name) without its anchor (&name)", "Write the value out."),
    ("control characters", "a character that is no text", "Delete it and type the line again."),
    ("special characters", "a character that is no text", "Delete it and type the line again."),
)  # fmt: skip


@dataclass(frozen=True)
class Lines:
    """The line (from 1) of every key and list item, by its path: ("faces", 0, "width")."""

    table: Mapping[PathKey, int]

    def at(self, path: tuple[Key, ...]) -> int:
        """Return the line of the path, or of the nearest thing above it that the file holds."""
        for end in range(len(path), 0, -1):
            line = self.table.get(path[:end])
            if line is not None:
                return line
        return 1


@dataclass(frozen=True)
class Written:
    """What a file says: `data` (its top-level mapping), `lines`, and the `file` name used in findings."""

    data: dict[str, Any]
    lines: Lines
    file: str


@dataclass
class Node:
    """One node. `value`: scalar, list of nodes, or dict of name -> (line, node); `typed`: a scalar's text."""

    line: int
    value: Any
    size: int = 1
    depth: int = 1
    anchor: str | None = None
    key: tuple[str, int] | None = None
    typed: str = ""


def read_yaml(path: Path) -> Written:
    """Read a YAML file of at most 2 MB whose top level is a mapping. Raises BadJob."""
    return parse_yaml(read_text(path), path.name or str(path))


def read_text(path: Path) -> str:
    """Return the text of a job's file: UTF-8, at most 2 MB (no more is ever read). Raises BadJob."""
    name = path.name or str(path)
    try:
        if not path.exists():
            raise _bad(name, None, "file.missing", "There is no such file.", "Check the name.")
        if not path.is_file():
            raise _bad(name, None, "file.missing", "This is not a file.", "Give the folder or house.yaml.")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "the name cannot be used"
        what = f"The file cannot be opened: {why}."
        raise _bad(name, None, "file.missing", what, "Check the name.") from None
    if len(raw) > MAX_BYTES:
        raise _bad(
            name, None, "file.too_big", "The file is larger than 2 MB.",
            "A job file is text of some hundred lines; is this the right file?",
        )  # fmt: skip
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise _bad(
            name, line, "file.not_utf8", "The file is not plain UTF-8 text.",
            "Save it again as UTF-8 text (not as a word processor's document).",
        ) from None  # fmt: skip


def parse_yaml(text: str, file: str = "house.yaml") -> Written:
    """Read YAML text whose top level is a mapping; `file` is the name used in findings. Raises BadJob.

    >>> parse_yaml("width: 12' 6\\nturn: 90").data
    {'width': "12' 6", 'turn': 90}
    """
    top = tree(text, file)
    if top is None or top.value is None:
        raise _bad(file, 1, "file.empty", "The file is empty.", "Start with `job: a name`, then `faces:`.")
    if not isinstance(top.value, dict):
        raise _bad(
            file, top.line, "file.not_a_job", "The file is not a list of `name: value` lines.",
            "Start with `job: a name` at the left margin.",
        )  # fmt: skip
    table: dict[PathKey, int] = {}
    data = _plain(top, (), table)
    return Written(data, Lines(table), file)


def tree(text: str, file: str) -> Node | None:
    """Return the nodes of YAML text, None when it holds nothing; `file` is the name used in findings. Raises BadJob.

    An alias is the node it points at, so a node may hang in several places; the tree written out has at most
    200,000 nodes and is at most 40 deep.
    """
    reader = _Reader(text, file)
    try:
        top = reader.read()
    except yaml.YAMLError as error:
        raise reader.explain(error) from None
    if reader.repeats:
        raise BadJob(reader.repeats)
    return top


def _plain(node: Node, path: PathKey, table: dict[PathKey, int]) -> Any:
    if isinstance(node.value, dict):
        out: dict[str, Any] = {}
        for name, (line, child) in node.value.items():
            table[(*path, name)] = line
            out[name] = _plain(child, (*path, name), table)
        return out
    if isinstance(node.value, list):
        for index, child in enumerate(node.value):
            table[(*path, index)] = child.line
        return [_plain(child, (*path, index), table) for index, child in enumerate(node.value)]
    return node.value


def _bad(file: str, line: int | None, code: str, what: str, fix: str, why: str = "") -> BadJob:
    return BadJob([Finding(code, "stop", what, why, fix, Where(file=file, line=line))])


def resolve(text: str) -> str | int | float | bool | None:
    """Return what an unquoted scalar means: a whole number, a decimal, true/false, null, or text."""
    if text in _NULL:
        return None
    if text in _TRUE or text in _FALSE:
        return text in _TRUE
    if _INT.fullmatch(text):
        return int(text)
    if _FLOAT.fullmatch(text):
        value = float(text)
        return value if abs(value) < 1e300 else text
    return text


class _Reader:
    """Builds the tree of nodes from the parser's events, refusing what is too deep, too big or too clever."""

    def __init__(self, text: str, file: str) -> None:
        self.text = text
        self.file = file
        self.repeats: list[Finding] = []
        self.anchors: dict[str, Node] = {}

    def read(self) -> Node | None:
        stack: list[Node] = []
        top: Node | None = None
        for event in self._events():
            line = self._line(event)
            if isinstance(event, yaml.ScalarEvent):
                node = Node(line, self._scalar(event, line), anchor=event.anchor, typed=event.value)
            elif isinstance(event, yaml.AliasEvent):
                node = self._alias(event, line)
            elif isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
                if event.tag is not None and not event.implicit:
                    raise self._clever(line, f"a tag ({event.tag})")
                if len(stack) >= MAX_DEPTH:
                    raise self._too_much(line, "nests too deeply")
                is_map = isinstance(event, yaml.MappingStartEvent)
                stack.append(Node(line, {} if is_map else [], anchor=event.anchor))
                continue
            elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
                node = stack.pop()
            else:
                continue
            if node.anchor and not isinstance(event, yaml.AliasEvent):
                self.anchors[node.anchor] = node
            if stack:
                self._put(stack[-1], node)
            else:
                top = node
        return top

    @staticmethod
    def _line(event: Any) -> int:
        return int(event.start_mark.line) + 1

    def _events(self) -> Iterator[Any]:
        documents = 0
        for event in yaml.parse(self.text, Loader=_LOADER):
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    line = self._line(event)
                    raise _bad(self.file, line, "file.not_a_job", "A second document starts here (---).",
                               "Keep one house in one file.")  # fmt: skip
            yield event

    def _put(self, holder: Node, node: Node) -> None:
        """Add a finished node to the list or mapping that holds it."""
        if isinstance(holder.value, list):
            holder.value.append(node)
        elif holder.key is None:
            if isinstance(node.value, (dict, list)):
                raise self._clever(node.line, "a list or mapping as a name")
            name = node.typed
            if not name:
                raise _bad(self.file, node.line, "file.yaml", "A colon without a name.", "Write the name.")
            if name in holder.value:
                first = holder.value[name][0]
                self.repeats.append(
                    Finding(
                        "file.repeated", "stop", f"`{name}` stands twice, on lines {first} and {node.line}.",
                        "Only one of them would count.", "Keep one, or give the second its own name.",
                        Where(file=self.file, line=node.line),
                    )
                )
            holder.key = (name, node.line)
            return
        else:
            name, line = holder.key
            holder.value[name] = (line, node)
            holder.key = None
        holder.size += node.size
        holder.depth = max(holder.depth, node.depth + 1)
        if holder.size > MAX_NODES:
            raise self._too_much(node.line, "holds too many entries")
        if holder.depth > MAX_DEPTH:
            raise self._too_much(node.line, "nests too deeply")

    def _scalar(self, event: Any, line: int) -> Any:
        if event.tag is not None and event.tag not in ("!", "tag:yaml.org,2002:str"):
            raise self._clever(line, f"a tag ({event.tag})")
        return resolve(event.value) if event.implicit[0] and event.tag is None else event.value

    def _alias(self, event: Any, line: int) -> Node:
        known = self.anchors.get(event.anchor)
        if known is None:
            raise self._clever(line, f"an alias (*{event.anchor}) to something not finished above it")
        return Node(line, known.value, known.size, known.depth, typed=known.typed)

    def _clever(self, line: int, what: str) -> BadJob:
        return _bad(self.file, line, "file.yaml", f"The file uses {what}, which a job file never needs.",
                    "Write it out plainly.")  # fmt: skip

    def _too_much(self, line: int, what: str) -> BadJob:
        return _bad(self.file, line, "file.too_big", f"The file {what}.",
                    "A job file is some hundred plain lines; is this the right file?")  # fmt: skip

    def explain(self, error: yaml.YAMLError) -> BadJob:
        """Return the parser's complaint in plain words, with the line it points at."""
        mark: yaml.Mark | None = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        problem = str(getattr(error, "problem", None) or getattr(error, "reason", None) or error)
        position = getattr(error, "position", None)
        if mark is not None:
            line = int(mark.line) + 1
        else:
            line = self.text.encode()[: position or 0].count(b"\n") + 1
        if "nesting depth" in problem:
            return self._too_much(line, "nests too deeply")
        rows = self.text.split("\n")
        row = rows[line - 1] if line <= len(rows) else ""
        if "\t" in row[: len(row) - len(row.lstrip())] or "tab" in problem or "'\\t'" in problem:
            return _bad(self.file, line, "file.tab", "A tab stands in the indent of this line.",
                        "Replace the tab by spaces.", "YAML allows only spaces there.")  # fmt: skip
        for part, what, fix in _PLAIN_WORDS:
            if part in problem:
                return _bad(self.file, line, "file.yaml", f"This line cannot be read: {what}.", fix, problem)
        fix = "Check indent, quotes, brackets and colons on this line and the one above."
        return _bad(self.file, line, "file.yaml", "This line cannot be read.", fix, problem)

"""Write a Change into the text of a house.yaml: only the entry's own characters change.

The file's nodes say where each entry stands; the new words are put exactly there, so comments, layout, line ends and
everything else stay byte for byte. Before it is given back the new text is read again: it must say what was meant.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import yaml

from lapwright.change import ABSENT, Change, Edit
from lapwright.findings import BadJob, Finding, Where
from lapwright.yamlfile import parse_yaml, resolve

BOM = "\ufeff"
Steps = Sequence[str | int]


def changed_text(text: str, change: Change, file: str = "house.yaml") -> str:
    """Return the text with the change in it. Raises BadJob when the file does not say what the change starts from.

    >>> from lapwright.change import Change, Edit
    >>> print(changed_text("job: A  # mine", Change("x", "", (Edit(("job",), "A", "B"),))))
    job: B  # mine
    """
    for edit in change.edits:
        text = _edited(text, edit, change.id, file)
    return text


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all: beside it first, then in its place. Its permissions stay. Raises OSError."""
    target = path.resolve()
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, target.stat().st_mode & 0o7777)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def read_text(path: Path) -> str:
    """Return a file's text with its line ends and byte order mark as they are."""
    return path.read_bytes().decode("utf-8")


def _edited(text: str, edit: Edit, change: str, file: str) -> str:
    mark, body = (BOM, text[1:]) if text.startswith(BOM) else ("", text)
    before = parse_yaml(body, file).data
    steps = _steps(before, edit.path)
    there = _at(before, steps) if steps is not None else ABSENT
    if steps is None or _differs(there, edit.old):
        raise BadJob([_stale(edit, change, file)])
    new = body if not _differs(edit.old, edit.new) else _put(body, steps, edit, change, file)
    want = _with(before, steps, edit.new)
    try:
        said = parse_yaml(new, file).data
    except BadJob:
        said = {}
    if said != want:
        raise BadJob([_not_by_program(edit, change, file)])
    return mark + new


def _differs(a: Any, b: Any) -> bool:
    return (a is ABSENT) != (b is ABSENT) or (a is not ABSENT and a != b)


def _stale(edit: Edit, change: str, file: str) -> Finding:
    return Finding(
        "change.stale", "stop", f"{change}: the file does not say {' / '.join(edit.path)}: {edit.old!r} any more.",
        "A change is an edit of what stood there when it was proposed.", "Run the command again for today's proposals.",
        Where(file=file),
    )  # fmt: skip


def _not_by_program(edit: Edit, change: str, file: str) -> Finding:
    return Finding(
        "change.by_hand", "stop", f"{change}: the program cannot edit {' / '.join(edit.path)} in this file.",
        "It is written in a way (an alias, say) where an edit would touch more than this entry.",
        f"Write it by hand: {' / '.join(edit.path)}: {'take it out' if edit.new is ABSENT else edit.new}.", Where(file=file),
    )  # fmt: skip


def _steps(data: Any, path: Sequence[str]) -> list[str | int] | None:
    """Return the path with list items by number; None when something on the way is not there."""
    out: list[str | int] = []
    for n, name in enumerate(path):
        if isinstance(data, list):
            at = next((i for i, x in enumerate(data) if isinstance(x, dict) and str(x.get("id")) == name), None)
            if at is None:
                return None
            out.append(at)
            data = data[at]
        elif isinstance(data, dict):
            out.append(name)
            if name not in data:
                return out if n == len(path) - 1 else None
            data = data[name]
        else:
            return None
    return out


def _at(data: Any, steps: Steps) -> Any:
    for step in steps:
        if isinstance(data, dict) and step not in data:
            return ABSENT
        data = data[step]
    return data


def _with(data: Any, steps: Steps, new: Any) -> Any:
    """Return the data with another value at the end of the steps."""
    if not steps:
        return new
    first, rest = steps[0], steps[1:]
    if isinstance(data, list):
        return [_with(x, rest, new) if i == first else x for i, x in enumerate(data)]
    out = dict(data)
    if not rest and new is ABSENT:
        out.pop(str(first), None)
    else:
        out[str(first)] = _with(out.get(str(first)), rest, new)
    return out


# ------------------------------------------------------------ where the characters go


def _put(text: str, steps: Steps, edit: Edit, change: str, file: str) -> str:
    node: Any = yaml.compose(text, Loader=yaml.SafeLoader)
    floor = 0  # an alias leads to a node that stands before the way to it
    for step in steps[:-1]:
        pairs = dict(enumerate(node.value)) if isinstance(step, int) else {k.value: v for k, v in node.value}
        node = pairs[step]
        if node.start_mark.index < floor:
            raise BadJob([_not_by_program(edit, change, file)])
        floor = node.start_mark.index
    name = str(steps[-1])
    at = next((i for i, (k, _) in enumerate(node.value) if k.value == name), None)
    if at is None:
        return _added(text, node, name, edit.new)
    key, value = node.value[at]
    if value.start_mark.index < key.end_mark.index:
        raise BadJob([_not_by_program(edit, change, file)])
    if edit.new is not ABSENT:
        return text[: value.start_mark.index] + _words(edit.new) + text[_end(value) :]
    return _taken(text, node, at)


def _end(node: Any) -> int:
    """Return where a node's last character stands, without the comments and blank lines behind it."""
    if isinstance(node, yaml.ScalarNode) or node.flow_style or not node.value:
        return int(node.end_mark.index)
    last = node.value[-1]
    return _end(last[1] if isinstance(last, tuple) else last)


def _line_start(text: str, at: int) -> int:
    return text.rfind("\n", 0, at) + 1


def _added(text: str, node: Any, name: str, value: Any) -> str:
    entry = f"{name}: {_words(value)}"
    if node.flow_style:
        if not node.value:
            at = node.start_mark.index + 1
            return text[:at] + entry + text[at:]
        at = _end(node.value[-1][1])
        return f"{text[:at]}, {entry}{text[at:]}"
    key, last = node.value[-1]
    at = text.find("\n", _end(last))
    end = "\r\n" if "\r\n" in text else "\n"
    line = " " * key.start_mark.column + entry
    return f"{text}{end}{line}" if at < 0 else f"{text[: at + 1]}{line}{end}{text[at + 1 :]}"


def _taken(text: str, node: Any, at: int) -> str:
    key, value = node.value[at]
    start, stop = key.start_mark.index, _end(value)
    if node.flow_style:
        if at:
            return text[: _end(node.value[at - 1][1])] + text[stop:]
        if len(node.value) > 1:
            return text[:start] + text[node.value[1][0].start_mark.index :]
        return text[:start] + text[stop:]
    line = _line_start(text, start)
    if text[line:start].strip():  # behind the dash of a list item: the next name moves up to it
        return text[:start] + text[node.value[at + 1][0].start_mark.index :] if at + 1 < len(node.value) else text
    after = text.find("\n", stop)
    rest = text[stop:] if after < 0 else text[stop:after]
    if "#" in rest:  # its remark stays, on a line of its own
        return text[:start] + rest.lstrip() + ("" if after < 0 else text[after:])
    return text[:line] + ("" if after < 0 else text[after + 1 :])


def _words(value: Any) -> str:
    """Return a value as it is typed in a house.yaml, on one line."""
    if isinstance(value, list | tuple):
        return f"[{', '.join(_words(v) for v in value)}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_words(v)}" for k, v in value.items()) + "}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    plain = text == text.strip() and resolve(text) == text and not set(text) & set("[]{},#:&*!|>%@`\"'\n\\")
    quoted = text.replace("'", "''")
    return text if plain and text[:1] not in ("-", "?") else f"'{quoted}'"

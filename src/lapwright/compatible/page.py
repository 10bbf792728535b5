"""The table of `docs/compatibility.md`, made from the rules, so that the page cannot lag behind them.

`python -m lapwright.compatible.page docs/compatibility.md` renews it.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

from lapwright.compatible.rules import builtin

START = "<!-- rules: made by python -m lapwright.compatible.page -->"
END = "<!-- end of rules -->"


def _words(conditions: Mapping[str, frozenset[str]]) -> str:
    return "; ".join(f"{trait}: {' or '.join(sorted(words))}" for trait, words in conditions.items())


def table() -> str:
    """Return the built-in rules as one Markdown table."""
    out = ["| rule | between | a | b | verdict | why | fix | source |", "|---|---|---|---|---|---|---|---|"]
    for r in builtin():
        between = f"{r.between}, {r.limit}" if r.limit else r.between
        out.append(
            f"| `{r.id}` | {between} | {_words(r.a)} | {_words(r.b)} | {r.verdict} | {r.why} | {r.fix} | {r.source} |"
        )
    return "\n".join(out)


def renewed(page: str) -> str:
    """Return the page with its table made anew; ValueError when the marks are missing."""
    head, start, rest = page.partition(START)
    _, end, tail = rest.partition(END)
    if not start or not end:
        raise ValueError("the page has no marks for the table")
    return f"{head}{START}\n\n{table()}\n\n{END}{tail}"


if __name__ == "__main__":
    file = Path(sys.argv[1])
    file.write_text(renewed(file.read_text(encoding="utf-8")), encoding="utf-8")

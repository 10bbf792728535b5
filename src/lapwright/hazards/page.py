"""The tables of `docs/hazards.md`, made from the table of hazards, so that the page cannot lag behind it.

`python -m lapwright.hazards.page docs/hazards.md` renews them.
"""

from __future__ import annotations

import sys
from pathlib import Path

from lapwright.hazards.facts import CONDITIONS
from lapwright.hazards.rows import STANDINGS, Row, table

START = "<!-- hazards: made by python -m lapwright.hazards.page -->"
END = "<!-- end of hazards -->"
LINES = {
    1: "Bracing, lot line, wildfire",
    2: "Lead, asbestos, silica",
    3: "Heights and power lines",
    4: "Meters, vents, old wire",
    5: "Air, foam, termites",
    6: "Openings and work inside",
    7: "Sizing",
    0: "From the work itself",
}


def _when(row: Row) -> str:
    said = [" or ".join(CONDITIONS[name][1] for name in group) for group in row.when]
    said += [f"it carries {' or '.join(row.runs)}"] if row.runs else []
    return "; ".join(said) or "always at these steps"


def _where(row: Row) -> str:
    said = [f"`{p}`" for p in row.at] + [f"steps that put on {layer}" for layer in row.layers]
    return ", ".join(said) + (" (once a place)" if row.once else "")


def tables() -> str:
    """Return one table of hazards per line of the trade's list, in Markdown."""
    out: list[str] = []
    for line, title in LINES.items():
        out += [f"### {title}", "", "| hazard | when | beside | said | code, standing |", "|---|---|---|---|---|"]
        for row in (r for r in table() if r.line == line):
            cites = "; ".join(f"{c}: {STANDINGS[c.standing]}{f' ({c.where})' if c.where else ''}" for c in row.cites)
            out.append(f"| `{row.id}` | {_when(row)} | {_where(row)} | {row.say} | {cites} |")
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

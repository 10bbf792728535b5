"""Plain text on the terminal. Everything here is printed as it comes from the plan document."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, TextIO

from lapwright.lengths import show_length
from lapwright.units import Kind, show_quantity

Doc = Mapping[str, Any]
WIDTH = 96
HEADS = {"stop": "STOP", "warn": "Warning", "note": "Note"}


def findings(rows: Sequence[Mapping[str, Any]], to: TextIO | None = None) -> None:
    """Print findings: the level and what, then the fix, then why and where."""
    to = to or sys.stdout
    for row in rows:
        where = row["where"]
        spot = ", ".join(
            str(s)
            for s in (
                f"{where['file']} line {where['line']}"
                if where.get("line") and where.get("file")
                else where.get("file"),
                where.get("surface"),
                where.get("thing"),
            )
            if s
        )
        _wrap(f"{HEADS[row['level']]}: {row['what']}", "", to)
        if row["fix"]:
            _wrap(f"Do: {row['fix']}", "  ", to)
        tail = " ".join(s for s in (row["why"], f"({row['source']})" if row["source"] else "") if s)
        if tail:
            _wrap(f"Why: {tail}", "  ", to)
        for fix in row.get("changes", ()):
            print(f"  Fix: {fix}", file=to)
        print(f"  [{row['code']}{', ' + spot if spot else ''}]", file=to)


def _wrap(text: str, indent: str, to: TextIO | None = None) -> None:
    print(textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  "), file=to or sys.stdout)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print a plain table, numbers right-aligned."""
    cells = [list(head), *[list(r) for r in rows]]
    widths = [max(len(r[i]) for r in cells) for i in range(len(head))]
    for n, row in enumerate(cells):
        line = "  ".join(c.rjust(w) if _number(c) and n else c.ljust(w) for c, w in zip(row, widths, strict=True))
        print("  " + line.rstrip())
        if n == 0:
            print("  " + "  ".join("-" * w for w in widths))


def _number(text: str) -> bool:
    return text.replace(".", "").replace("-", "").replace(",", "").isdigit()


def _len(doc: Doc, value: float | None) -> str:
    return "not given" if value is None else show_length(value, doc["job"]["units"])


def _given(value: Any) -> str:
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _head(doc: Doc, text: str) -> None:
    print(f"{doc['job']['name']}: {text}")


def _tail(doc: Doc) -> None:
    print()
    if not doc["findings"]:
        print("No findings under the stated assumptions.")
        return
    findings(doc["findings"])


def survey(doc: Doc) -> None:
    """Print the faces and what the tape says."""
    _head(doc, "survey")
    rows = []
    for s in doc["surfaces"]:
        ys = [p[1] for p in s["outline"][0]]
        rows.append(
            [
                s["id"],
                s["loop"],
                _len(doc, s["width_m"]),
                _len(doc, max(ys)),
                f"{s['turn_deg']:g}",
                str(len(s["openings"])),
                str(len(s["penetrations"])),
                ", ".join(z["decision"] for z in s["zones"]),
            ]
        )
    table(["face", "loop", "width", "top", "turn", "openings", "through", "zones"], rows)
    facts = doc["survey"]
    feet = doc["job"]["units"] == "imperial"
    _fact("Floor area", facts["floor_area_m2"], "area", "sq ft" if feet else "m2")
    _fact("Heated volume", facts["heated_volume_m3"], "volume", "cu ft" if feet else "m3")
    for loop in facts["loops"]:
        if loop["closes"] is None:
            print(f"  Loop {loop['id']}: an open chain, nothing to close.")
        else:
            ratio = f", 1 in {round(1 / loop['ratio'])}" if loop["ratio"] else ""
            said = "closes" if loop["closes"] else "does NOT close"
            print(
                f"  Loop {loop['id']} {said}: off by {_len(doc, loop['misclosure_m'])} in {_len(doc, loop['perimeter_m'])}{ratio}."
            )
    _tail(doc)


def _fact(words: str, known: Mapping[str, Any], kind: Kind, unit: str) -> None:
    value = known["value"]
    said = f"not known: {'; '.join(known['lacks'])}" if value is None else show_quantity(value, kind, unit)
    _wrap(f"{words}: {said}", "  ")


def check(doc: Doc) -> None:
    """Print the key figures and all findings."""
    _head(doc, "check")
    f = doc["figures"]
    open_ties = [t["id"] for t in doc["ties"] if "open" in (t["water"], t["air"], t["vapor"], t["heat"])]
    print(
        f"  {f['pieces']} pieces, {f['laps']} laps, {len(doc['ties'])} ties"
        + (f"; open: {', '.join(open_ties)}" if open_ties else ", none open")
        + f"; {f['steps']} steps, {f['checks']} checks."
    )
    _tail(doc)


def cuts(doc: Doc) -> None:
    """Print chalk lines and the cuts of every roll in working order."""
    _head(doc, "lines to snap and cuts")
    print("\nLines, heights above the reference line")
    table(
        ["face", "layer", "height", "from", "to", "for"],
        [
            [c["surface"], c["layer"], _len(doc, c["y_m"]), _len(doc, c["x_from_m"]), _len(doc, c["x_to_m"]), c["for"]]
            for c in doc["lines"]
        ],
    )
    by_stock: dict[str, list[Mapping[str, Any]]] = {}
    for cut in doc["cuts"]:
        by_stock.setdefault(cut["stock"] or "no stock fits", []).append(cut)
    for unit in [s["id"] for s in doc["stock"]] + ["no stock fits"]:
        mine = by_stock.get(unit)
        if not mine:
            continue
        print(f"\n{unit}")
        rows = []
        for cut in sorted(mine, key=lambda c: (c["along_m"], c["across_m"])):
            xs = [p[0] for p in cut["flat"][0]]
            ys = [p[1] for p in cut["flat"][0]]
            rows.append(
                [
                    _len(doc, cut["along_m"]),
                    _len(doc, cut["across_m"]),
                    _len(doc, max(xs)),
                    _len(doc, max(ys)),
                    f"{cut['turned_deg']}",
                    cut["id"],
                ]
            )
        table(["along", "across", "length", "width", "turned", "cut"], rows)
    print("\nHow close this is to the least that any cutting could draw")
    table(
        ["product", "drawn", "least", "units", "least", "leaves out"],
        [
            [
                b["product"],
                _len(doc, b["drawn_m"]),
                _len(doc, b["packing_bound_m"]),
                str(b["stock_used"]),
                str(b["packing_bound_stock"]),
                b["leaves_out"],
            ]
            for b in doc["bounds"]
        ],
    )
    _tail(doc)


def order(doc: Doc) -> None:
    """Print the purchase and the bid."""
    from lapwright.order.words import say_amount

    units = doc["job"]["units"]
    _head(doc, "order")
    table(
        ["product", "need", "spare", "packs", "of", "price", "kg CO2e"],
        [
            [
                r["product"],
                say_amount(r["need"], r["measured_in"], units),
                say_amount(r["spare"], r["measured_in"], units) if r["spare"] else "none",
                _given(r["packs"]),
                say_amount(r["pack_size"], r["measured_in"], units),
                _given(r["price"]),
                _given(r["kgCO2e"]),
            ]
            for r in doc["order"]
        ],
    )
    print("\nBid, low to high")
    b = doc["bid"]
    for key in ("material", "labor", "allowance", "total"):
        value = b[key]
        shown = "not given" if value is None else f"{value[0]:,.0f} to {value[1]:,.0f} {b['currency']}"
        print(f"  {key:<10} {shown}")
    if b["missing"]:
        _wrap(f"Not priced, so not in the bid: {', '.join(b['missing'])}", "  ")
    _tail(doc)


def packet(doc: Doc, target: Path) -> None:
    """Print where the packet lies and its key figures."""
    f = doc["figures"]
    stops = [x for x in doc["findings"] if x["level"] == "stop"]
    warns = [x for x in doc["findings"] if x["level"] == "warn"]
    print(f"{doc['job']['name']}: packet in {target}")
    print(f"  {f['faces']} faces, {f['openings']} openings, {f['penetrations']} penetrations")
    print(f"  {f['pieces']} pieces, {f['laps']} laps, {f['steps']} steps, {f['checks']} checks")
    print(f"  {_run(doc, f['drawn_m'])} of barrier drawn from {f['rolls']} rolls; {_given(f['hours'])} person-hours")
    print(f"  {len(stops)} stops, {len(warns)} warnings, {len(doc['findings']) - len(stops) - len(warns)} notes")
    if stops:
        print("  DO NOT BUILD:")
        findings(stops)


def compare(out: Mapping[str, Any]) -> None:
    """Print a difference."""
    for name in ("findings", "pieces", "edges", "lines", "order"):
        if name not in out:
            continue
        d = out[name]
        print(
            f"{name}: {len(d['added'])} new, {len(d['removed'])} gone, {len(d['changed'])} changed, {d['same']} the same"
        )
        if name == "edges":
            continue  # places of edges say nothing in a list; the findings do
        for sign, rows in (("+", d["added"]), ("-", d["removed"])):
            for row in rows:
                print(f"  {sign} {row}")
        for row in d["changed"]:
            print(f"  ~ {row['id']}: " + ", ".join(row.get("what", [k for k in row if k != "id"])))
    for key, (was, now) in out.get("bid", {}).items():
        print(f"bid {key}: {was} -> {now}")


def continuity(doc: Doc) -> None:
    """Print how many edges are in which state, and what is wrong."""
    count: dict[tuple[str, str], float] = {}
    for e in doc["edges"]:
        key = (e["role"], e["state"])
        count[key] = count.get(key, 0) + 1
    print("Drop test: stretches of edge")
    states = ("shingled", "relies_on_glue", "open", "not_seen")
    table(["edge", "shingled", "relies on glue", "open", "not seen"],
          [[role, *[f"{count.get((role, s), 0)}" for s in states]] for role in ("entry", "side", "drain")])  # fmt: skip
    if doc.get("pencil"):
        _pencil(doc)
    if doc.get("changes"):
        print("\nFixes to try (--try FIX shows what it changes, --accept FIX writes it to house.yaml)")
        for c in doc["changes"]:
            _wrap(f"{c['id']}: {c['what']}", "  ")
    _tail(doc)


def _pencil(doc: Doc) -> None:
    """Print per layer whether it closes and over what length, and every gap with what would close it."""
    test = doc["pencil"]
    print("\nPencil test: each layer round the heated space")
    said = {True: "closes", False: "has gaps", None: "no gap found; not all seen"}
    rows = []
    for row in test["layers"]:
        lengths = [_run(doc, row[f"{state}_m"]) for state in ("tied", "gap", "not_seen", "not_given")]
        rows.append([row["layer"], said[row["closes"]], *lengths])
    table(["layer", "", "tied", "gap", "not seen", "not given"], rows)
    for joint in test["joints"]:
        lost = [layer for layer in ("water", "air", "vapor", "heat") if joint[layer] == "gap"]
        if lost:
            _wrap(f"{joint['id']} ({', '.join(lost)}; {_run(doc, joint['length_m'])}): {joint['closes_with']}", "  ")
    for lack in test["lacks"]:
        _wrap(f"Cannot be traced: {lack}.", "  ")


def _run(doc: Doc, meters: float) -> str:
    """Return a long length that nobody cuts to: a tenth of a foot or of a meter."""
    return f"{meters / 0.3048:.1f} ft" if doc["job"]["units"] == "imperial" else f"{meters:.1f} m"


def tried(doc: Doc) -> None:
    """Print what a fix changes in the job, and the stops and warnings that are left."""
    change = doc["change"]
    print(f"{change['id']}: {'written to house.yaml' if change['written'] else 'tried, nothing written'}")
    _wrap(change["what"], "  ")
    for e in change["edits"]:
        was, now = (str(e[k]) if k in e else "(not there)" for k in ("old", "new"))
        print(f"  {' / '.join(e['path'])}: {was} -> {now}")
    compare(doc["compare"])
    left = [f for f in doc["findings"] if f["level"] != "note"]
    stops = sum(f["level"] == "stop" for f in left)
    print(f"\nLeft: {stops} stops, {len(left) - stops} warnings.")
    findings(left)


def air(doc: Doc) -> None:
    """Print each fan test and what it means."""
    print("Fan tests")
    table(["test", "mode", "n", "flow at 50 Pa, m3/h", "low", "high", "air changes at 50 Pa", "ELA 4 Pa, cm2"],
          [[str(t["test"]), t["mode"], _given(t["n"]), _given(t["flow50_m3_h"]), _given(t["flow50_95"][0]),
            _given(t["flow50_95"][1]), _given(t["ach50"]), _given(t["ela4_cm2"])] for t in doc["tests"]])  # fmt: skip
    _tail(doc)

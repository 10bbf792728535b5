"""Plain text on the terminal. Everything here is printed as it comes from the plan document."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from itertools import groupby
from pathlib import Path
from typing import Any

from lapwright.cli.text import count, findings, table, tail, wrap
from lapwright.lengths import show_length
from lapwright.units import Kind, show_quantity

Doc = Mapping[str, Any]

__all__ = ["air", "check", "compare", "continuity", "cuts", "findings", "moisture", "order", "packet", "survey", "tried"]


def _len(doc: Doc, value: float | None) -> str:
    return "not given" if value is None else show_length(value, doc["job"]["units"])


def _given(value: Any) -> str:
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _head(doc: Doc, text: str) -> None:
    print(f"{doc['job']['name']}: {text}")


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
            off, round_ = _len(doc, loop["misclosure_m"]), _len(doc, loop["perimeter_m"])
            wrap(f"Loop {loop['id']} {said}: off by {off} in {round_}{ratio}.", "  ")
    tail(doc["findings"])


def _fact(words: str, known: Mapping[str, Any], kind: Kind, unit: str) -> None:
    value = known["value"]
    said = f"not known: {'; '.join(known['lacks'])}" if value is None else show_quantity(value, kind, unit)
    wrap(f"{words}: {said}", "  ")


def check(doc: Doc) -> None:
    """Print the key figures and all findings."""
    _head(doc, "check")
    f = doc["figures"]
    open_ties = [t["id"] for t in doc["ties"] if "open" in (t["water"], t["air"], t["vapor"], t["heat"])]
    wrap(
        f"{count(f['pieces'], 'piece')}, {count(f['laps'], 'lap')}, {count(len(doc['ties']), 'tie')}"
        + (f"; open: {', '.join(open_ties)}" if open_ties else ", none open")
        + f"; {count(f['steps'], 'step')}, {count(f['checks'], 'check')}.",
        "  ",
    )
    tail(doc["findings"])


def cuts(doc: Doc) -> None:
    """Print chalk lines and the cuts of every roll in working order, by the marks that the packet prints."""
    # here, not at the top: the other screens do without the drawings' geometry
    from lapwright.packet.cutting import bound_notes, worded
    from lapwright.packet.view import View

    view = View(doc)
    _head(doc, "lines to snap and cuts")
    _lines(doc)
    print("\nCuts, from the free end at the left; lines further in go on with what came off")
    for product in worded(view):
        print()
        wrap(f"{product['title']}: {product['tag']}{', ' + product['size'] if product['size'] else ''}")
        for unit in product["units"]:
            head = f"{unit['id']}{' (' + unit['size'] + ')' if not product['size'] else ''}:"
            if unit["pieces"]:
                wrap(f"{head} {'; '.join(unit['pieces'])}", "  ", more="    ")
                continue
            print(f"  {head}")
            for depth, words in unit["knife"]:
                wrap(words, "    " + "  " * depth)
    print("\nHow close this is to the least that any cutting could draw")
    table(
        ["product", "drawn", "least to draw", "units", "least units"],
        [
            [
                b["product"],
                _len(doc, b["drawn_m"]),
                _len(doc, b["packing_bound_m"]),
                str(b["stock_used"]),
                str(b["packing_bound_stock"]),
            ]
            for b in doc["bounds"]
        ],
    )
    for words, products in bound_notes(doc["bounds"]).items():
        wrap(f"Left out of the least of {', '.join(products)}: {words}.", "  ")
    tail(doc["findings"], all_of=False)


def _lines(doc: Doc) -> None:
    """Print the chalk lines: those of one height and purpose once, with the faces that they run round."""
    print("\nLines to snap, heights above the reference line")
    ends = {}
    for s in doc["surfaces"]:
        xs = [p[0] for p in s["outline"][0]]
        ends[s["id"]] = (min(xs), max(xs))
    rows: dict[tuple[str, float, str], list[str]] = {}
    for c in doc["lines"]:
        low, high = ends[c["surface"]]
        whole = abs(c["x_from_m"] - low) < 1e-3 and abs(c["x_to_m"] - high) < 1e-3
        span = "" if whole else f" ({_len(doc, c['x_from_m'])} to {_len(doc, c['x_to_m'])})"
        rows.setdefault((c["layer"], c["y_m"], c["for"]), []).append(c["surface"] + span)
    ordered = sorted(rows.items(), key=lambda r: (r[0][0], r[0][1], r[0][2]))
    table(["layer", "height", "for", "on"], [[k[0], _len(doc, k[1]), k[2], ", ".join(on)] for k, on in ordered])
    print("  No distances beside a face: the line runs its whole width.")


def order(doc: Doc) -> None:
    """Print the purchase and the bid."""
    from lapwright.order.words import plain, say_amount

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
                "-" if r["price"] is None else plain(r["price"]),
                "-" if r["kgCO2e"] is None else plain(r["kgCO2e"]),
            ]
            for r in doc["order"]
        ],
    )
    print("  Price and CO2 of a pack. -: not given, never zero.")
    print("\nBid, low to high")
    b = doc["bid"]
    for key in ("material", "labor", "allowance", "total"):
        value = b[key]
        shown = "not given" if value is None else f"{value[0]:,.0f} to {value[1]:,.0f} {b['currency']}"
        print(f"  {key:<10} {shown}")
    if b["missing"]:
        wrap(f"Not priced, so not in the bid: {', '.join(b['missing'])}", "  ")
    tail(doc["findings"], all_of=False)


def packet(doc: Doc, target: Path) -> None:
    """Print where the packet lies and its key figures."""
    from lapwright.order.words import say_run

    f = doc["figures"]
    stops = [x for x in doc["findings"] if x["level"] == "stop"]
    warns = [x for x in doc["findings"] if x["level"] == "warn"]
    notes = len(doc["findings"]) - len(stops) - len(warns)
    print(f"{doc['job']['name']}: packet in {target}")
    print(
        f"  {count(f['faces'], 'face')}, {count(f['openings'], 'opening')}, {count(f['penetrations'], 'penetration')}"
    )
    print(
        f"  {count(f['pieces'], 'piece')}, {count(f['laps'], 'lap')}, {count(f['steps'], 'step')}, {count(f['checks'], 'check')}"
    )
    drawn = say_run(f["drawn_m"], doc["job"]["units"])
    print(f"  {drawn} of barrier drawn from {count(f['rolls'], 'roll')}; {_given(f['hours'])} person-hours")
    print(f"  {count(len(stops), 'stop')}, {count(len(warns), 'warning')}, {count(notes, 'note')}")
    if stops:
        print("  DO NOT BUILD:")
        findings(stops)


MOST_ROWS = 12  # of a list of changes; more are counted by place


def compare(out: Mapping[str, Any], after: Doc | None = None) -> None:
    """Print a difference. after: the later plan document, which knows what the order is measured in."""
    from lapwright.order.words import say_amount

    amounts = {r["product"]: r["measured_in"] for r in after["order"]} if after else {}
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
            for row in _by_place(rows) if name == "pieces" and len(rows) > MOST_ROWS else rows:
                wrap(f"{sign} {row}", "  ")
        for row in d["changed"]:
            measure = amounts.get(row["id"]) if name == "order" else None
            values = {k: v for k, v in row.get("values", row).items() if k != "id"}
            if measure and after and "need" in values:
                values["need"] = [say_amount(v, measure, after["job"]["units"]) for v in values["need"]]
            said = ", ".join(
                f"{k.removesuffix('_m').replace('_', ' ')} {_change(v)}".strip() for k, v in values.items()
            )
            wrap(f"~ {row['id']}: {said}", "  ")
    for key, (was, now) in out.get("bid", {}).items():
        print(f"bid {key}: {_change([was, now])}")


def _by_place(ids: list[str]) -> list[str]:
    """Return the places of many pieces, each with how many there are."""
    places = sorted(i.rpartition("/")[0] if i.count("/") < 3 else "/".join(i.split("/")[:3]) for i in ids)
    return [f"{place}: {count(len(list(same)), 'piece')}" for place, same in groupby(places)]


def _change(pair: Any) -> str:
    """Say a change of a number, a word or a range; nothing of shapes, which no one reads as figures."""
    if not isinstance(pair, list) or len(pair) != 2:
        return ""
    said = []
    for value in pair:
        if isinstance(value, list) and len(value) == 2 and all(isinstance(v, int | float) for v in value):
            said.append(f"{value[0]:,.0f} to {value[1]:,.0f}")
        elif isinstance(value, list | dict):
            return ""
        else:
            said.append(_given(value))
    return " -> ".join(said)


def continuity(doc: Doc) -> None:
    """Print how many edges are in which state, and what is wrong."""
    number: dict[tuple[str, str], int] = {}
    for e in doc["edges"]:
        key = (e["role"], e["state"])
        number[key] = number.get(key, 0) + 1
    print("Drop test: stretches of edge")
    states = ("shingled", "relies_on_glue", "open", "not_seen")
    table(["edge", "shingled", "relies on glue", "open", "not seen"],
          [[role, *[f"{number.get((role, s), 0)}" for s in states]] for role in ("entry", "side", "drain")])  # fmt: skip
    if doc.get("pencil"):
        _pencil(doc)
    if doc.get("changes"):
        print("\nFixes to try (--try FIX shows what it changes, --accept FIX writes it to house.yaml)")
        for c in doc["changes"]:
            wrap(f"{c['id']}: {c['what']}", "  ")
    tail(doc["findings"], all_of=False)


def _pencil(doc: Doc) -> None:
    """Print per layer whether it closes and over what length, and every gap with what would close it."""
    from lapwright.order.words import say_run

    def run(meters: float) -> str:
        return say_run(meters, doc["job"]["units"]) if meters else "none"

    test = doc["pencil"]
    print("\nPencil test: each layer round the heated space")
    said = {True: "closes", False: "has gaps", None: "no gap found; not all seen"}
    rows = []
    for row in test["layers"]:
        lengths = [run(row[f"{state}_m"]) for state in ("tied", "gap", "not_seen", "not_given")]
        rows.append([row["layer"], said[row["closes"]], *lengths])
    table(["layer", "", "tied", "gap", "not seen", "not given"], rows)
    for joint in test["joints"]:
        lost = [layer for layer in ("water", "air", "vapor", "heat") if joint[layer] == "gap"]
        if lost:
            wrap(f"{joint['id']} ({', '.join(lost)}; {run(joint['length_m'])}): {joint['closes_with']}", "  ")
    for lack in test["lacks"]:
        wrap(f"Cannot be traced: {lack}.", "  ")


def tried(doc: Doc) -> None:
    """Print what a fix changes in the job, and the stops and warnings that are left."""
    change = doc["change"]
    print(f"{change['id']}: {'written to house.yaml' if change['written'] else 'tried, nothing written'}")
    wrap(change["what"], "  ")
    for e in change["edits"]:
        was, now = (str(e[k]) if k in e else "(not there)" for k in ("old", "new"))
        wrap(f"{' / '.join(e['path'])}: {was} -> {now}", "  ")
    compare(doc["compare"])
    left = [f for f in doc["findings"] if f["level"] != "note"]
    stops = sum(f["level"] == "stop" for f in left)
    print(f"\nLeft: {count(stops, 'stop')}, {count(len(left) - stops, 'warning')}.")
    findings(left)


def air(doc: Doc, units: str) -> None:
    """Print each fan test and what it means."""
    from lapwright.packet.air_page import HEAD, test_rows

    print("Fan tests")
    table(HEAD, test_rows(doc["tests"], units == "imperial"))
    print("  n: exponent of the flow. Low to high holds the flow 19 times of 20.")
    tail(doc["findings"])


def moisture_progress(done: int, total: int) -> None:
    """Tell on standard error, every tenth, how far the years have gone by."""
    step = max(total // 10 // 240 * 240, 240)
    if done % step == 0 and done < total:
        sys.stderr.write(f"... {100 * done // total} % of the weather has gone by\n")


VERDICTS = {"stop": "do not build it so", "warn": "may get wet", "note": "stays dry by a small margin", "ok": "no finding under these assumptions"}


def moisture(doc: Doc) -> None:
    """Print the verdict of every wall: what governs, how likely, what was assumed."""
    _head(doc, "moisture")
    climate = doc["climate"]
    if climate is not None:
        print(f"  Weather drawn from the normals of {climate['place']}, {climate['period']}; zone {climate['zone']}.")
    for row in doc["assemblies"]:
        print(f"{row['id']}: {VERDICTS[row['verdict']]}")
        wrap(row["why"], "  ")
        if row["verdict_leak"] is None:
            continue
        wrap(row["why_leak"], "  ")
        rows = []
        for common, leak in zip(row["places"], row["places_leak"], strict=True):
            rows.append([f"{common['layer']}, {common['face']}", *_wetness(common), *_wetness(leak), common["trend"]])
        table(["place", "wet %", "mold", "wet % leak", "mold leak", "over the years"], rows)
        wrap(f"Code: {row['code']['says']}", "  ")
        wrap(f"Monthly check: at most {row['monthly']['most_g_m2']:g} g/m2. {row['agree']}", "  ")
        if row["matters"]:
            wrap(f"Matters most: {row['matters'][0]['unknown']} ({100 * row['matters'][0]['share']:.0f} % of the spread).", "  ")
        if row["assumed"]:
            wrap(f"Assumed: {'; '.join(row['assumed'])}.", "  ")
    tail(doc["findings"])


def _wetness(place: Mapping[str, Any]) -> tuple[str, str]:
    peak = place["moisture_peak_pct"]
    return "-" if peak is None else f"{peak['p90']:.0f}", f"{place['mold_index']['p90']:.1f}"

"""More rules that every plan document must keep: ids, steps, laps, lengths, end laps, and flats on their stock.

As `rules.py`, written from the contract and from the trade's rules, not from the program's code.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from typing import Any

from shapely import STRtree
from shapely.affinity import rotate, translate

from rules import poly

Row = dict[str, Any]

HOLD_LOSS = 0.15  # each cut-out takes 15 % of what two people hold: common practice
HOLD_LEAST_M = 2.4
HOLD_M = 7.62  # 25 ft of 5 ft sheet for two people: trade notes
STAGGER_M = 24 * 0.0254  # side laps of neighboring courses: 24 in or more
OFF_M = 6 * 0.0254  # side laps off openings: 6 in
CORNER_M = 12 * 0.0254  # corners wrapped 12 in


def broken_plan_rules(doc: Row, holes: dict[str, list[Any]]) -> list[str]:
    """Return a line for every rule that the document breaks. holes: per surface, what courses leave out on purpose."""
    return [
        *repeated_ids(doc),
        *bad_steps(doc),
        *short_laps(doc),
        *bad_bands(doc),
        *long_pieces(doc, holes),
        *bad_end_laps(doc, holes),
        *bad_packing(doc),
    ]


def repeated_ids(doc: Row) -> Iterator[str]:
    for key in ("surfaces", "pieces", "cuts", "stock", "laps", "ties", "steps", "checks"):
        for name, count in Counter(r["id"] for r in doc[key]).items():
            if count > 1:
                yield f"{key}: the id {name} stands {count} times"


def bad_steps(doc: Row) -> Iterator[str]:
    steps = {s["id"]: s for s in doc["steps"]}
    pieces = {p["id"] for p in doc["pieces"]}
    for s in steps.values():
        for need in s["needs"]:
            if need not in steps:
                yield f"{s['id']} needs {need}, which there is not"
        if not s["place"] or not (s["pieces"] or s["reason"]):
            yield f"{s['id']} has no place, or neither pieces nor a reason"
        if not set(s["pieces"]) <= pieces:
            yield f"{s['id']} names pieces that are not there: {sorted(set(s['pieces']) - pieces)[:3]}"
        if s["hours"] <= 0 or s["people"] < 1 or not s["action"]:
            yield f"{s['id']} takes {s['hours']} h of {s['people']} people: {s['action'][:30]}"
    for p in doc["pieces"]:
        if p["layer"] != "existing" and p["step"] not in steps:
            yield f"{p['id']} belongs to the step {p['step']}, which there is not"
    for c in doc["checks"]:
        if c["step"] not in steps:
            yield f"the check {c['id']} belongs to the step {c['step']}, which there is not"
    done: dict[str, bool] = {}

    def ring(name: str) -> bool:
        if name in done:
            return not done[name]
        done[name] = False
        found = any(ring(n) for n in steps[name]["needs"] if n in steps)
        done[name] = True
        return found

    for name in steps:
        if name not in done and ring(name):
            yield f"{name} needs itself by a ring of steps"
            return


def short_laps(doc: Row) -> Iterator[str]:
    """A lap that falls short is told."""
    said = {(f["where"].get("surface"), f["where"].get("thing")) for f in doc["findings"] if f["code"] == "lap.short"}
    for lap in doc["laps"]:
        if lap["got_m"] < lap["asked_m"] - 1e-4 and (lap["surface"], lap["over"]) not in said:
            yield f"{lap['id']}: {lap['got_m']} m of {lap['asked_m']} m, and nobody says so"


def courses(doc: Row, layer: str = "barrier") -> dict[str, dict[int, list[Row]]]:
    """Return per chain and course number its pieces."""
    out: dict[str, dict[int, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for p in doc["pieces"]:
        if p["role"] == "course" and p["layer"] == layer:
            out[p["facts"]["chain"]][p["facts"]["course"]].append(p)
    return out


def value(doc: Row, product: str, name: str, default: float = 0.0) -> float:
    found = doc["products"][product]["values"].get(name)
    return default if found is None else float(found["value"])


def bad_bands(doc: Row) -> Iterator[str]:
    """A course is no taller than the roll is wide, and the next one laps over it by the sheet's lap or what is asked."""
    stopped = {f["code"] for f in doc["findings"] if f["level"] == "stop"}
    if "lap.too_wide" in stopped:
        return
    chain_of = {p["id"]: p["facts"].get("chain") for p in doc["pieces"]}
    asked: dict[str, float] = {}
    for lap in doc["laps"]:
        if lap["kind"] == "course" and lap["asked_m"]:
            asked[chain_of[lap["over"]]] = lap["asked_m"]
    for chain, rows in courses(doc).items():
        product = chain.split("/")[-1]
        width = value(doc, product, "width_m")
        bands = {n: (ps[0]["facts"]["bottom_m"], ps[0]["facts"]["top_m"]) for n, ps in rows.items()}
        for n, (low, high) in bands.items():
            if high - low > width * 1.0005:  # plan.json gives the width to four figures
                yield f"{chain} course {n} is {high - low:.3f} m tall; the roll is {width} m wide"
            if n + 1 in bands and high - bands[n + 1][0] < asked.get(chain, 0.0) - 1e-4:
                yield f"{chain} course {n + 1} laps only {high - bands[n + 1][0]:.4f} m over course {n}"


def long_pieces(doc: Row, holes: dict[str, list[Any]]) -> Iterator[str]:
    """No piece of a course is longer than the roll, nor than two people hold with its cut-outs."""
    cuts = {c["id"]: poly(c["flat"]) for c in doc["cuts"]}
    for rows in courses(doc).values():
        mine: dict[str, list[Row]] = defaultdict(list)
        for p in (p for ps in rows.values() for p in ps):
            mine[p["cut"]].append(p)
        for cut, ps in mine.items():
            x0, _, x1, _ = cuts[cut].bounds
            product = ps[0]["product"]
            spans: dict[str, list[float]] = defaultdict(list)  # two pieces on one face when a slit runs between them
            for p in ps:
                spans[p["surface"]] += poly(p["polygon"]).bounds[::2]
            band = ps[0]["facts"]["bottom_m"], ps[0]["facts"]["top_m"]
            things = sum(_cut_outs(min(xs), max(xs), band, holes.get(f, [])) for f, xs in spans.items())
            hold = max(value(doc, product, "hold_length_m", HOLD_M) * (1 - HOLD_LOSS * things), HOLD_LEAST_M)
            if x1 - x0 > value(doc, product, "length_m") + 1e-3:
                yield f"{cut} is {x1 - x0:.3f} m long, more than the roll"
            if x1 - x0 > hold + 0.02:
                yield f"{cut} is {x1 - x0:.3f} m long with {things} cut-outs; two people hold {hold:.3f} m"


def _cut_outs(x0: float, x1: float, band: tuple[float, float], holes: list[Any]) -> int:
    """Return how many holes have their middle in a stretch of course, half an end lap (3 in) left out at its ends."""
    boxes = [h.bounds for h in holes]
    return sum(x0 + 0.08 < (a + c) / 2 < x1 - 0.08 and d > band[0] + 1e-3 and b < band[1] - 1e-3 for a, b, c, d in boxes)


def bad_end_laps(doc: Row, holes: dict[str, list[Any]]) -> Iterator[str]:
    """An end lap that is near an opening, a corner or the end lap below stands there only where it cannot move.

    It can move when both of its pieces stay as long as two people hold, and a stretch of 8 in is free.
    """
    surfaces = {s["id"]: s for s in doc["surfaces"]}
    cuts = {c["id"]: poly(c["flat"]) for c in doc["cuts"]}
    cut_of = {p["id"]: p["cut"] for p in doc["pieces"]}
    for chain, rows in courses(doc).items():
        joints: dict[tuple[str, int], list[float]] = defaultdict(list)
        here: list[tuple[Row, int, float, Row, Row]] = []
        pieces = {p["id"]: p for ps in rows.values() for p in ps}
        for lap in doc["laps"]:
            if lap["kind"] == "end" and lap["over"] in pieces and lap["under"] in pieces:
                x0, _, x1, _ = poly(lap["polygon"]).bounds
                n = pieces[lap["over"]]["facts"]["course"]
                joints[lap["surface"], n].append((x0 + x1) / 2)
                here.append((lap, n, (x0 + x1) / 2, pieces[lap["over"]], pieces[lap["under"]]))
        for lap, n, x, one, two in here:
            face = surfaces[lap["surface"]]
            _, y0, _, y1 = poly(lap["polygon"]).bounds
            if y1 - y0 < 0.98 * (one["facts"]["top_m"] - one["facts"]["bottom_m"]):
                continue  # slits and slopes leave parts of a course there, each shorter than what is hung
            bad = _unwelcome(face, one, holes, joints, n)
            if not any(a + 1e-3 < x < b - 1e-3 for a, b in bad):
                continue
            left, right = sorted((one, two), key=lambda p: poly(p["polygon"]).bounds[0])
            la, lb = (cuts[cut_of[p["id"]]].bounds[2] for p in (left, right))
            on = [{pieces[i]["surface"] for i in pieces if cut_of[i] == cut_of[p["id"]]} for p in (left, right)]
            most = [_limit(doc, p, faces, holes) for p, faces in zip((left, right), on, strict=True)]
            room = [(x - (most[1] - lb), x + (most[0] - la))]
            ends = (poly(left["polygon"]).bounds[0] + 0.5, poly(right["polygon"]).bounds[2] - 0.5)
            room = [(max(room[0][0], ends[0]), min(room[0][1], ends[1]))]
            free = _free(room, bad)
            if any(b - a > 8 * 0.0254 for a, b in free):
                yield f"{chain} course {n}: the end lap at {lap['surface']} {x:.3f} m could stand in {free} off {bad}"


def _limit(doc: Row, piece: Row, faces: set[str], holes: dict[str, list[Any]]) -> float:
    """Return what two people hold of it with every cut-out of the faces it runs over and one more: never too long."""
    band = piece["facts"]["bottom_m"], piece["facts"]["top_m"]
    things = sum(_cut_outs(-1e3, 1e3, band, holes.get(f, [])) for f in faces) + 1
    hold = value(doc, piece["product"], "hold_length_m", HOLD_M)
    return max(hold * (1 - HOLD_LOSS * things), HOLD_LEAST_M)


def _unwelcome(
    face: Row, piece: Row, holes: dict[str, list[Any]], joints: dict[tuple[str, int], list[float]], n: int
) -> list[tuple[float, float]]:
    low, high = piece["facts"]["bottom_m"], piece["facts"]["top_m"]
    half = 0.0762
    out = [(-9.0, CORNER_M + half), (face["width_m"] - CORNER_M - half, face["width_m"] + 9.0)]
    for hole in holes.get(face["id"], []):
        a, b, c, d = hole.bounds
        if d + OFF_M > low and b - OFF_M < high:
            out.append((a - OFF_M - half, c + OFF_M + half))
    out += [(x - STAGGER_M, x + STAGGER_M) for x in joints.get((face["id"], n - 1), [])]
    return out


def _free(room: list[tuple[float, float]], bad: list[tuple[float, float]]) -> list[tuple[float, float]]:
    for a, b in bad:
        room = [r for c, d in room for r in ((c, min(d, a)), (max(c, b), d)) if r[1] > r[0]]
    return room


def bad_packing(doc: Row) -> Iterator[str]:
    """On one roll, sheet or length no two flats overlap (one may lie in another's hole) and all lie inside."""
    stock = {s["id"]: s for s in doc["stock"]}
    lying: dict[str, list[tuple[str, Any]]] = defaultdict(list)
    stopped = {f["where"].get("thing") for f in doc["findings"] if f["code"].startswith("cut.")}
    for c in doc["cuts"]:
        if c["stock"] is None:
            if c["id"] not in stopped and c["product"] in {s["product"] for s in doc["stock"]}:
                yield f"the cut {c['id']} comes from no stock"
            continue
        if c["stock"] not in stock or stock[c["stock"]]["product"] != c["product"]:
            yield f"the cut {c['id']} comes from {c['stock']}, which is none of its product"
            continue
        shape = rotate(poly(c["flat"]), c["turned_deg"], origin=(0, 0))
        x0, y0, *_ = shape.bounds
        lying[c["stock"]].append((c["id"], translate(shape, c["along_m"] - x0, c["across_m"] - y0)))
    for unit, rows in lying.items():
        size = stock[unit]
        for name, shape in rows:
            x0, y0, x1, y1 = shape.bounds
            if x0 < -1e-4 or y0 < -1e-4 or x1 > size["length_m"] + 2e-4 or y1 > size["width_m"] + 2e-4:
                yield f"{name} lies outside {unit}"
        tree = STRtree([s for _, s in rows])
        for i, j in tree.query([s for _, s in rows], predicate="intersects").T.tolist():
            if i < j:
                both = rows[i][1].buffer(-2e-4).intersection(rows[j][1].buffer(-2e-4))
                if both.area > 1e-6:
                    yield f"{rows[i][0]} and {rows[j][0]} overlap by {both.area:.6f} m2 on {unit}"

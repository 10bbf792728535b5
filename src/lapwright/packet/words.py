"""Puts figures of the plan document into a reader's words: quantities, weather limits, findings."""

from __future__ import annotations

from typing import Any

from lapwright.order.words import plain, say_amount, say_run
from lapwright.packet.view import NOT_GIVEN, Row, View

# Exact by definition: statute mile, thousandth of an inch.
MPH_PER_M_S = 3600 / 1609.344
MIL_M = 0.0254 / 1000
THIN_M = 0.0254 / 16  # below one mark on the tape
LENGTHS_M = {"mm": 0.001, "cm": 0.01, "in": 0.0254, "ft": 0.3048}
ACCEPTED = ("Accepted: ", "Reason given: ")  # how the plan words a warning that house.yaml accepts
HEADS = {
    "stop": "Stop: do not build until this is mended",
    "warn": "Mend or accept before you start",
    "accepted": "Accepted, with the reason given",
    "note": "Worth knowing",
}


def quantity(view: View, value: float | None, unit: str) -> str:
    """Write a quantity with its unit, in the job's units."""
    if value is None:
        return NOT_GIVEN
    if unit == "m":
        return thin(view, value) if 0 < abs(value) < THIN_M else view.length(value)
    if unit in ("m2", "m3", "L", "kg"):
        return say_amount(value, unit, view.units)
    if unit in LENGTHS_M:
        return view.length(value * LENGTHS_M[unit])
    if unit == "K":
        return f"{plain(value * 9 / 5)} °F" if view.imperial else f"{plain(value)} K"
    if unit == "m/s":
        return speed(view, value)
    if unit in ("yes/no", "yes"):
        return "yes" if value else "no"
    if unit in ("C", "degC", "°C"):
        return temperature(view, value)
    return f"{plain(value)} {unit}".strip()


def thin(view: View, metres: float) -> str:
    """Write a thickness too small for a tape: mils, or millimeters."""
    return f"{plain(metres / MIL_M)} mil" if view.imperial else f"{plain(metres * 1000)} mm"


def speed(view: View, metres_per_second: float) -> str:
    """Write a wind speed."""
    return f"{metres_per_second * MPH_PER_M_S:.0f} mph" if view.imperial else f"{plain(metres_per_second, 2)} m/s"


def temperature(view: View, celsius: float) -> str:
    """Write a temperature in whole degrees of the job's units."""
    return f"{celsius * 9 / 5 + 32:.0f} °F" if view.imperial else f"{celsius:.0f} °C"


def money(value: float | None, currency: str) -> str:
    """Write an amount, or say that it is not given."""
    return NOT_GIVEN if value is None else f"{value:,.2f} {currency}".strip()


def money_range(pair: list[float] | None, currency: str) -> str:
    """Write a range of amounts, rounded to whole units of currency."""
    if pair is None or any(v is None for v in pair):
        return NOT_GIVEN
    low, high = float(pair[0]), float(pair[1])
    return f"{low:,.0f} {currency}" if low == high else f"{low:,.0f} to {high:,.0f} {currency}"


def missing(view: View, name: str) -> str:
    """Name a thing that the bid lacks: a product by its title, else the words themselves."""
    title = view.product(name)
    if title != name:
        return f"price of {title}"
    return {"wage_per_h": "wage per hour"}.get(name, name.replace("_", " "))


def bound_words(view: View, product: str) -> str:
    """Say how much a product's cutting uses beside what no packing can do without."""
    row = next((r for r in view.rows("bounds") if r["product"] == product), None)
    if row is None or row["drawn_m"] is None or row["packing_bound_m"] is None:
        return ""
    words = f"{view.length(row['drawn_m'])} drawn from {plain(row['stock_used'])}. "
    words += f"However these pieces are packed, {view.length(row['packing_bound_m'])} must be drawn"
    words += ": this is as good as it gets." if row["proven"] else "."
    return words


def figure(view: View, name: str, value: Any) -> tuple[str, str]:
    """Return a key figure's name and value in words; the unit is read from the end of the name.

    A name such as `wall_m2` is an area, `lap_m` a length, `crew_h` hours.
    """
    for unit in ("m2", "m3", "m", "h", "kg"):
        if name.endswith(f"_{unit}") and isinstance(value, int | float):
            if unit == "m":
                return name[: -len(unit) - 1].replace("_", " "), say_run(float(value), view.units)
            return name[: -len(unit) - 1].replace("_", " "), quantity(view, float(value), unit)
    if value is None:
        return name.replace("_", " "), NOT_GIVEN
    shown = plain(value) if isinstance(value, int | float) and not isinstance(value, bool) else str(value)
    return name.replace("_", " "), shown


def limits(view: View, row: Row) -> str:
    """Return a step's weather and substrate limits as one line of words."""
    said = []
    low, high = row.get("t_min_C"), row.get("t_max_C")
    if low is not None:
        said.append(f"{temperature(view, low)} or warmer")
    if high is not None:
        said.append(f"not above {temperature(view, high)}")
    if row.get("dry_before_h"):
        said.append(f"dry for {plain(row['dry_before_h'])} h before")
    if row.get("dry_after_h"):
        said.append(f"no rain for {plain(row['dry_after_h'])} h after")
    wind = row.get("wind_max_m_s")
    if wind is not None:
        said.append(f"wind up to {speed(view, wind)}")
    if row.get("moisture_max_pct") is not None:
        said.append(f"wood at or below {plain(row['moisture_max_pct'])} %")
    return " · ".join(said)


def passes(view: View, row: Row) -> str:
    """Return what a check must measure to pass."""
    low, high, unit = row["lower"], row["upper"], row["measured_in"]

    if unit == "yes/no":
        return "yes" if (low if low is not None else high) else "no"

    def said(value: float) -> str:
        if unit == "deg":
            return f"{plain(value)}°"
        return f"{plain(value)} %" if unit in ("pct", "%") else quantity(view, value, unit)

    if low is not None and high is not None:
        return said(low) if low == high else f"{said(low)} to {said(high)}"
    if low is not None:
        return f"{said(low)} or more"
    if high is not None:
        return f"{said(high)} or less"
    return "yes"


def where(row: Row) -> str:
    """Return the place of a finding in words: line of the job file, surface, thing."""
    spot = row["where"]
    parts = [str(spot[k]) for k in ("surface", "thing") if spot.get(k)]
    if spot.get("line") is not None:
        parts.append(f"{spot.get('file') or 'house.yaml'} line {spot['line']}")
    elif spot.get("file"):
        parts.append(str(spot["file"]))
    return ", ".join(parts)


def _accepted(row: Row) -> Row:
    """Return an accepted warning as a finding of a level of its own, its reason where the fix stood."""
    why, reason_is, reason = str(row["why"]).partition(ACCEPTED[1])
    if row["level"] != "note" or not row["what"].startswith(ACCEPTED[0]) or not reason_is:
        return row
    what = row["what"].removeprefix(ACCEPTED[0])
    return {**row, "level": "accepted", "what": what, "why": why.strip(), "fix": f"Reason: {reason}"}


def findings(rows: list[Row]) -> list[dict[str, Any]]:
    """Return findings grouped by level, then those that ask for the same thing together, fix first."""
    out = []
    for level, head in HEADS.items():
        same: dict[tuple[str, ...], dict[str, Any]] = {}
        for row in map(_accepted, rows):
            if row["level"] != level:
                continue
            key = (row["code"], row["fix"], row["why"], row["source"])
            item = same.setdefault(
                key,
                {"fix": row["fix"] or row["what"], "why": row["why"], "source": row["source"], "at": []}
                | {"code": row["code"]},
            )
            line = row["where"].get("line")
            item["at"].append(
                {
                    "what": row["what"] if row["fix"] else "",
                    "where": where(row),
                    "line": f"line {line}" if line is not None else where(row),
                }
            )
        if same:
            out.append({"level": level, "head": head, "items": list(same.values())})
    return out

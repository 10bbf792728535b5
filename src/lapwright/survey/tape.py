"""What the closure test has to say, in words: the tape closes, or which wall to tape again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import LinearRing

from lapwright.lengths import Units, show_length
from lapwright.survey.book import Book, Path
from lapwright.survey.closure import Closure, Measure, Suspect, close_ring
from lapwright.survey.walk import Corner, corners

CLOSED_M = 1e-6  # figures that close this well are exact: float noise of the walk
PRACTICE = "Inches in 150 ft is tape error, a foot is a blunder: common practice."


@dataclass(frozen=True)
class Ring:
    """One loop as walked to the right: names, figures, and where each face stands in the file."""

    loop: str
    faces: tuple[str, ...]
    paths: tuple[Path, ...]
    widths_m: tuple[float, ...]
    turns_deg: tuple[float, ...]
    units: Units


@dataclass(frozen=True)
class TapeErrors:
    """How far off one width (m) and one turn (degrees) may be, 19 times of 20; see `close_ring`."""

    length_m: float
    turn_deg: float
    rule_of_thumb: bool


def place_ring(
    ring: Ring, book: Book, first_deg: float, start: Corner, errors: TapeErrors, closed: bool
) -> list[Corner]:
    """Return the corners of a loop (n + 1) after testing it, and say in the book what the test found.

    first_deg: direction of its first face, start: its left end (metres). Within tape error the corners are the adjusted ones, so the ring closes.
    """
    raw = corners(ring.widths_m, ring.turns_deg, first_deg, start)
    if not closed:
        book.say(
            "note", "tape.chain", ring.paths[0], f"Loop {ring.loop} is an open chain: nothing tells whether its tape is right.",
            "Only a ring that comes back to its start checks itself.", "Tape on round the house for a check.",
        )  # fmt: skip
        return raw
    result = close_ring(
        ring.widths_m, ring.turns_deg, errors.length_m, errors.turn_deg, rule_of_thumb=errors.rule_of_thumb
    )
    if not result.closes or result.widths_m is None or result.turns_deg is None:
        _say_open(ring, result, book)
        return raw
    exact = result.length_m < CLOSED_M and abs(result.angle_deg) < 1e-9
    spots = raw if exact else corners(result.widths_m, result.turns_deg, first_deg, start)
    if not LinearRing(spots[:-1]).is_simple:
        book.say(
            "stop", "tape.crosses", ring.paths[0], f"Seen from above, {_loop(ring)} crosses itself.",
            "A wall cannot run through another one.", "Check the turns: outside corners are +, inside corners -.",
        )  # fmt: skip
        return raw
    if exact:
        what = f"The tape of {_loop(ring)} closes exactly."
    else:
        what = f"The tape of {_loop(ring)} closes within {_gap(ring, result)}; that is tape error."
    book.say("note", "tape.closes", ring.paths[0], what)
    return spots


def _loop(ring: Ring) -> str:
    return f"loop {ring.loop}"


def _gap(ring: Ring, result: Closure) -> str:
    walk = show_length(result.perimeter_m, ring.units)
    gap = show_length(result.length_m, ring.units).rstrip("+-")
    turned = f" and {abs(result.angle_deg):.3g} degrees" if abs(result.angle_deg) > 0.05 else ""
    ratio = f", 1 in {round(1 / result.ratio)}" if result.length_m > CLOSED_M else ""
    return f"{gap}{turned} in {walk.rstrip('+-')} of walk{ratio}"


def _say_open(ring: Ring, result: Closure, book: Book) -> None:
    what = f"The tape does not close: {_loop(ring)} misses its start by {_gap(ring, result)}."
    if abs(result.angle_deg + 720) < 45:
        book.say(
            "stop", "tape.open", ring.paths[0], f"{what} The turns add up to -360 degrees.",
            "Outside corners are +, whichever way you walked.",
            "Make outside corners + and inside corners -; if you walked left, write walk: left.",
        )  # fmt: skip
        return
    if not result.suspects:
        book.say(
            "stop", "tape.open", ring.paths[0], what,
            f"No single width or turn explains it: two figures are wrong, or a face is missing. {PRACTICE}",
            "Walk round again with the tape; check that every face is listed, and every inside corner has a -.",
        )  # fmt: skip
        return
    best = result.suspects[0]
    suspects = [_suspect(ring, s) for s in result.suspects]
    why = f"One wrong figure explains it ({result.confidence:.0%} test): {'; or '.join(suspects)}. {PRACTICE}"
    again = list(dict.fromkeys(_name(ring, s) for s in result.suspects))
    fix = f"Tape again: {', '.join(again)}." + _telling(ring, result.suspects, result.measure)
    field = "width" if best.kind == "width" else "turn"
    book.say("stop", "tape.open", (*ring.paths[best.index], field), what, why, fix)


def _suspect(ring: Ring, suspect: Suspect) -> str:
    if suspect.kind == "width":
        corrected = show_length(suspect.corrected, ring.units).rstrip("+-")
        return f"{ring.faces[suspect.index]} is {corrected}, not {show_length(suspect.taped, ring.units)}"
    return f"{_name(ring, suspect)} is {suspect.corrected:.1f} degrees, not {suspect.taped:g}"


def _name(ring: Ring, suspect: Suspect) -> str:
    if suspect.kind == "width":
        return ring.faces[suspect.index]
    return f"the turn from {ring.faces[suspect.index]} to {ring.faces[(suspect.index + 1) % len(ring.faces)]}"


def _corner(ring: Ring, index: int) -> str:
    """Name the corner at the left end of face `index`."""
    return f"{ring.faces[index - 1]}/{ring.faces[index]}"


def _telling(ring: Ring, suspects: Sequence[Suspect], measure: Measure | None) -> str:
    """Say what one more measurement reads under each suspect."""
    if measure is None:
        return ""
    if len(suspects) == 1 and measure.retape:
        return ""
    reads: list[tuple[str, list[str]]] = []
    for suspect, meters in zip(suspects, measure.meters, strict=True):
        step = 0.005 if ring.units == "metric" else 0.25 * 0.0254  # what a tape across a corner is good for
        shown = show_length(round(meters / step) * step, ring.units).rstrip("+-")
        names = next((names for text, names in reads if text == shown), None)
        if names is None:
            reads.append((shown, [_name(ring, suspect)]))
        else:
            names.append(_name(ring, suspect))
    if len(suspects) > 1 and len(reads) == 1:
        return ""
    told = "; ".join(f"{text} if it is {' or '.join(names)}" for text, names in reads)
    where = f"from the corner {_corner(ring, measure.start)} to the corner {_corner(ring, measure.end)}"
    return f" One more measurement tells: {where} it is {told}."

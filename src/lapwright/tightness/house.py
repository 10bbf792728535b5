"""What a fan test needs to know of the house: from the readings file first, else from the job, else not given."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.air.ventilation import CFM_M3_H
from lapwright.survey.areas import floor_area_m2, heated_volume_m3, plan_ring
from lapwright.survey.model import Survey
from lapwright.tightness.readings import Readings

NOT_GIVEN = "not given"
# What one exhaust takes out when nobody measured it, m3/h: 62.2's least for hood and bath (from memory), a
# dryer's usual draw (seen in trade press as about 150 cfm). Fans of the job are known by their penetration's words.
EXHAUSTS: tuple[tuple[str, float, str], ...] = (
    ("dryer", 150.0 * CFM_M3_H, "dryer"),
    ("range", 100.0 * CFM_M3_H, "range hood"),
    ("hood", 100.0 * CFM_M3_H, "range hood"),
    ("kitchen", 100.0 * CFM_M3_H, "range hood"),
    ("bath", 50.0 * CFM_M3_H, "bath fan"),
)


@dataclass(frozen=True)
class Known:
    """A figure and where it comes from; value None when nobody gave it (then `source` says what is lacking)."""

    value: float | None
    source: str = NOT_GIVEN


@dataclass(frozen=True)
class House:
    """The figures that turn a flow into results, each with its source. SI; exhausts: (what, m3/h)."""

    volume_m3: Known
    envelope_m2: Known
    floor_m2: Known
    height_m: Known
    altitude_m: Known
    bedrooms: Known
    exhausts: tuple[tuple[str, float], ...]
    exhaust_source: str


def house_of(readings: Readings, survey: Survey | None) -> House:
    """Return the house's figures; a figure in the readings file goes before the job's."""
    volume = heated_volume_m3(survey) if survey else None
    floor = floor_area_m2(survey) if survey else None
    elevation = survey.place.elevation_m if survey else None
    bedrooms = sum(o.bedroom for f in survey.faces for o in f.openings) if survey else 0
    exhausts, exhaust_source = _exhausts(readings, survey)

    def known(key: str, value: float | None, source: str, lacks: str = NOT_GIVEN) -> Known:
        got = readings.number(key)
        if got is not None:
            return Known(got, f"{readings.file} line {readings.given[key].line}")
        return Known(value, source) if value is not None else Known(None, lacks)

    taped = "the job, to the outside of the walls"
    return House(
        known("volume_m3", volume.value if volume else None, taped, _lacks(volume.lacks if volume else ())),
        known("area_m2", _envelope_m2(survey) if survey else None, taped),
        known("floor_area_m2", floor.value if floor else None, taped, _lacks(floor.lacks if floor else ())),
        known("height_m", _height_m(survey) if survey else None, "the job, lowest foot to highest ceiling"),
        known("altitude_m", elevation, "the job's place"),
        known("bedrooms", float(bedrooms) if bedrooms else None, "the job's windows marked bedroom, one each"),
        exhausts,
        exhaust_source,
    )


def _lacks(lacks: tuple[str, ...]) -> str:
    return f"{NOT_GIVEN}; the job lacks: {'; '.join(lacks)}" if lacks else NOT_GIVEN


def _stories(survey: Survey) -> list[tuple[str, float, float]]:
    """Return (loop, floor, top) of each story; a sloped ceiling counts with the mean of both sides."""
    return [
        (s.loop, s.floor_m, s.ceiling_m if s.peak_m is None else (s.ceiling_m + s.peak_m) / 2) for s in survey.storeys
    ]


def _envelope_m2(survey: Survey) -> float | None:
    """Return walls from the lowest floor to the highest ceiling, plus lowest floor and highest ceiling.

    None unless all stories stand on one closed loop: elsewhere they share ceilings, and area_m2 must be given.
    """
    stories = _stories(survey)
    loops = {loop for loop, _, _ in stories}
    found = [loop for loop in survey.loops if loop.id in loops]
    ring = plan_ring(survey, found[0]) if len(found) == 1 == len(loops) else None
    if ring is None:
        return None
    height = max(top for _, _, top in stories) - min(floor for _, floor, _ in stories)
    return float(ring.length * height + 2.0 * ring.area)


def _height_m(survey: Survey) -> float | None:
    stories = _stories(survey)
    feet = [loop.base_m for loop in survey.loops if loop.id in {name for name, _, _ in stories}]
    if not stories or not feet:
        return None
    height = max(top for _, _, top in stories) - min(feet)
    return height if height > 0.0 else None


def _exhausts(readings: Readings, survey: Survey | None) -> tuple[tuple[tuple[str, float], ...], str]:
    for key, unit in (("exhaust_cfm", CFM_M3_H), ("exhaust_m3_h", 1.0)):
        total = readings.number(key)
        if total is not None:
            return (("all exhaust", total * unit),), f"{readings.file} line {readings.given[key].line}"
    found = []
    for face in survey.faces if survey else ():
        for thing in face.penetrations:
            kind = next(((flow, what) for word, flow, what in EXHAUSTS if word in thing.through.lower()), None)
            if kind and thing.kind == "duct":
                found.append((f"{kind[1]} ({face.id}/{thing.id})", kind[0]))
    return tuple(found), "usual figures for the job's fans; read the plates or measure" if found else NOT_GIVEN

"""Sun on walls against pvlib, driven rain against ISO 15927-3 by hand, zones, files."""

from __future__ import annotations

import numpy as np
import pytest
from hourly_facts import rows

from lapwright.weather import (
    airfield_index,
    climate_zone,
    find,
    on_face,
    places,
    position,
    read_csv,
    read_tmy3,
    split,
    wall_rain,
)

LAT, LON = 42.36, -71.01


def test_sun_position_split_and_walls_agree_with_pvlib() -> None:
    table = {k: np.array([float(r[k]) for r in rows("sun_pvlib.csv")]) for k in rows("sun_pvlib.csv")[0]}
    sine, azimuth = position(table["day"], table["hour_utc"], LAT, LON)
    assert np.degrees(np.arcsin(sine)) == pytest.approx(table["elevation"], abs=0.35)
    assert azimuth == pytest.approx(table["azimuth"], abs=0.6)
    beam, diffuse = split(table["ghi"], sine, table["day"])
    assert diffuse == pytest.approx(table["dhi"], abs=12)
    for name, face in (("east", 90), ("south", 180), ("west", 270), ("north", 0)):
        ours = on_face(table["ghi"], table["day"], table["hour_utc"], LAT, LON, face)
        assert ours == pytest.approx(table[name], abs=25), name
        assert ours.mean() == pytest.approx(table[name].mean(), rel=0.03), name
    assert np.all(beam >= 0)


@pytest.mark.parametrize(
    "v, r, angle, expected", [(5, 1, 0, 1.11111), (8, 2.5, 30, 3.47642), (12, 4, 60, 4.57197), (3, 0.4, 90, 0), (10, 3.2, -45, 4.41870)]
)  # fmt: skip
def test_airfield_index_of_iso_15927_3(v: float, r: float, angle: float, expected: float) -> None:
    assert float(airfield_index(v, angle, r, 0.0)) == pytest.approx(expected, abs=1e-5)  # derived by hand


def test_rain_from_behind_wets_no_wall() -> None:
    assert float(wall_rain(5.0, 180.0, 2.0, 0.0, 1.0, 1.0)) == 0.0
    assert float(wall_rain(5.0, 0.0, 2.0, 0.0, 1.2, 0.5)) == pytest.approx(0.2 * 5 * 2 * 0.6)


def test_the_table_holds_150_places_and_no_summit() -> None:
    table = places()
    assert len(table) >= 150
    assert all(n.source and n.period for n in table.values())
    assert not [k for k in table if k.startswith(("Sonnblick", "Mount Washington", "Mt. Washington"))]
    for n in table.values():
        assert np.all(n.t_min_C <= n.t_mean_C) and np.all(n.t_mean_C <= n.t_max_C), n.key
        assert np.all((n.rh_pct > 5) & (n.rh_pct <= 100)), n.key
        assert np.all(n.precip_mm >= 0) and np.all(n.wind_m_s > 0.3), n.key


@pytest.mark.parametrize(
    "name, zone", [("Miami, FL", "1A"), ("Phoenix, AZ", ("1B", "2B")), ("Atlanta, GA", "3A"), ("Seattle, WA", "4C"),
                   ("Portland, OR", "4C"), ("Denver, CO", ("5A", "5B")), ("Anchorage, AK", "7"), ("Boston, MA", ("4A", "5A"))]
)  # fmt: skip
def test_zones_are_those_of_the_code_or_the_next(name: str, zone: str | tuple[str, ...]) -> None:
    n = find(name)
    assert n is not None
    assert climate_zone(n) in ((zone,) if isinstance(zone, str) else zone)  # IECC Table C301.1; the warmer normals may give one less


HEAD = "time_utc,t_C,rh_pct,wind_m_s,wind_dir_deg,rain_mm,ghi_W_m2\n"


def _year(change: dict[int, str]) -> str:
    lines = [f"2001-01-01T{k % 24:02d}:00Z,10,80,3,200,0.1,100" for k in range(8760)]
    for k, text in change.items():
        lines[k] = text
    return HEAD + "\n".join(lines)


def test_a_plain_file_is_read_and_its_faults_are_named() -> None:
    h = read_csv(_year({}), 45.0, 0.0, "mine")
    assert h.hours == 8760 and h.scaled_rain(500.0).rain_mm.sum() == pytest.approx(500.0)
    with pytest.raises(ValueError, match="line 12: t_C is 300, outside -70 to 60: is it in F or kelvin"):
        read_csv(_year({10: "2001-01-01T10:00Z,300,80,3,200,0.1,100"}), 45, 0, "mine")
    with pytest.raises(ValueError, match="line 12: rh_pct is 104"):
        read_csv(_year({10: "2001-01-01T10:00Z,3,104,3,200,0.1,100"}), 45, 0, "mine")
    with pytest.raises(ValueError, match="line 12: t_C is '', not a number"):
        read_csv(_year({10: "2001-01-01T10:00Z,,80,3,200,0.1,100"}), 45, 0, "mine")
    with pytest.raises(ValueError, match="8759 hours; whole years"):
        read_csv(_year({}).rsplit("\n", 1)[0], 45, 0, "mine")
    with pytest.raises(ValueError, match="column ghi_W_m2 is missing"):
        read_csv(_year({}).replace("ghi_W_m2", "sun"), 45, 0, "mine")
    with pytest.raises(ValueError, match="it is a fraction"):
        read_csv(_year({}).replace(",80,", ",0.8,"), 45, 0, "mine")


def test_a_typical_year_is_read_with_its_rain_in_tenths_and_its_hours_in_utc() -> None:
    columns = "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),Dry-bulb (C),RHum (%),Wdir (degrees),Wspd (m/s),Lprecip depth (mm)"
    body = [f"01/01/1990,{k % 24 + 1:02d}:00,{k % 24 * 10},5,70,180,4,{'-9900' if k % 2 else '3'}" for k in range(8760)]
    text = "\n".join(["723170,GREENSBORO,NC,-5.0,36.100,-79.950,273", columns, *body])
    h = read_tmy3(text)
    assert h.rain_mm.max() == pytest.approx(0.3)
    assert h.latitude == 36.1 and h.longitude == -79.95
    assert h.ghi_W_m2[5] == 0.0 and h.ghi_W_m2[6] == 10.0  # the hour ending 1:00 at UTC-5 begins at 5:00 UTC
    with pytest.raises(ValueError, match="has 8760 hours"):
        read_tmy3(text.rsplit("\n", 2)[0])

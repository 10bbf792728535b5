"""Weather by the hour: normals of places, years drawn from them, files, sun and driven rain on a face, climate zone.

Arrays in, arrays out; it knows no house.
"""

from lapwright.weather.files import Hourly, read_csv, read_tmy3
from lapwright.weather.generate import draw
from lapwright.weather.normals import Normals, climate_zone, degree_days, find, nearest, places
from lapwright.weather.rain import airfield_index, wall_rain
from lapwright.weather.sun import on_face, position, split

__all__ = [
    "Hourly", "Normals", "airfield_index", "climate_zone", "degree_days", "draw", "find", "nearest", "on_face", "places",
    "position", "read_csv", "read_tmy3", "split", "wall_rain",
]  # fmt: skip

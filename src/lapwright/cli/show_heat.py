"""What `heat` prints: each assembly's layers and what it holds back, in the job's units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.cli.text import findings, table, wrap
from lapwright.lengths import show_length
from lapwright.units import in_unit, show_quantity

Doc = Mapping[str, Any]


def heat(doc: Doc) -> None:
    """Print the assemblies of a job as `heat` reckoned them."""
    feet = doc["job"]["units"] == "imperial"
    climate = doc["climate"]
    where = "climate not given" if climate is None else f"climate of {climate['place']}"
    wrap(f"{doc['job']['name']}: heat, {where}, {100 * doc['framing_share']:g} % of walls framing")
    for row in doc["assemblies"]:
        print()
        _assembly(row, feet)
    print()
    findings(doc["findings"])


def _assembly(row: Doc, feet: bool) -> None:
    planned = row["planned"]
    if planned is None:
        wrap(f"{row['id']}: not reckoned, see below.")
        return
    print(f"{row['id']}, outside to inside")
    table(["layer", "of", "thick", "holds back", "in framing"], [_layer(x, feet) for x in row["layers"]])
    stays = row["stays"]
    before = f"; what stays of the old wall holds {_r(stays['r_m2K_W'], feet)}" if stays and stays != planned else ""
    u = f"{planned['u_ip']:.3f}" if feet else f"{planned['u_W_m2K']:.3g} W/m2K"
    wrap(f"With framing, films and fasteners {_r(planned['r_m2K_W'], feet)} (U {u}){before}.", "  ")
    wrap(
        f"Between the framing {_r(planned['r_between_framing_m2K_W'], feet)}; reckoned two ways "
        f"{_r(planned['r_parallel_paths_m2K_W'], feet)} and {_r(planned['r_isothermal_planes_m2K_W'], feet)}.",
        "  ",
    )
    if planned["loss_kWh_m2_year"] is not None:
        lost = f"{planned['loss_kWh_ft2_year']:.3g} kWh a sq ft" if feet else f"{planned['loss_kWh_m2_year']:.3g} kWh a m2"
        wrap(f"Loses about {lost} of wall in a usual year.", "  ")
    surface = row.get("surface")
    if surface:
        cold, need = (show_quantity(surface[k], "temperature", "F" if feet else "C") for k in ("coldest_C", "needed_C"))
        wrap(f"Inside, behind furniture at the weakest place, {cold} in the coldest month; mold needs {need} or less. Left out: {surface['leaves_out']}.", "  ")
    if row.get("leaves_out"):
        wrap(f"Left out: {row['leaves_out']}.", "  ")
    for text in row["assumed"]:
        wrap(f"Assumed: {text}.", "  ")


def _layer(x: Doc, feet: bool) -> list[str]:
    thick = "-" if x["thickness_m"] is None else show_length(x["thickness_m"], "imperial" if feet else "metric")
    name = x["material"] + (", stands" if x["existing"] else "")
    if x["outside_open_gap"]:
        return [x["layer"], name, thick, "open to outside", ""]
    same = x["r_m2K_W"] == x["r_framing_m2K_W"]
    return [x["layer"], name, thick, _r(x["r_m2K_W"], feet), "" if same else _r(x["r_framing_m2K_W"], feet)]


def _r(value: float, feet: bool) -> str:
    return f"R-{in_unit(value, 'resistance', 'R'):.3g}" if feet else f"{value:.3g} m2K/W"

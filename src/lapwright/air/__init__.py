"""Air through a house: properties of air, the fan test's power law with its uncertainty, leakage, fresh air, draft.

Numbers in, numbers out; it knows no house and can be used alone.
"""

from lapwright.air.components import COMPONENTS, Component, Range, leakage_cm2, total_cm2
from lapwright.air.corrections import device_factor, envelope_factor, induced_pressure_Pa, standard_factor
from lapwright.air.draft import DRAFT_LIMITS, depressurization_Pa, natural_air_change_1_h
from lapwright.air.fit import PowerLaw, fit_power_law, fit_weighted, student_t
from lapwright.air.limits import LIMITS, Breach, Limit, breaches
from lapwright.air.properties import (
    density_kg_m3,
    humidity_ratio,
    saturation_pressure_Pa,
    standard_pressure_Pa,
    viscosity_Pa_s,
)
from lapwright.air.results import (
    Difference,
    Estimate,
    air_change_1_h,
    difference,
    flow_estimate,
    flow_of_area_m3_h,
    leakage_area_m2,
    mean,
    permeability_m3_h_m2,
)
from lapwright.air.ventilation import fan_rate_m3_h, height_factor, infiltration_m3_h, whole_house_rate_m3_h

__all__ = [
    "COMPONENTS",
    "DRAFT_LIMITS",
    "LIMITS",
    "Breach",
    "Component",
    "Difference",
    "Estimate",
    "Limit",
    "PowerLaw",
    "Range",
    "air_change_1_h",
    "breaches",
    "density_kg_m3",
    "depressurization_Pa",
    "device_factor",
    "difference",
    "envelope_factor",
    "fan_rate_m3_h",
    "fit_power_law",
    "fit_weighted",
    "flow_estimate",
    "flow_of_area_m3_h",
    "height_factor",
    "humidity_ratio",
    "induced_pressure_Pa",
    "infiltration_m3_h",
    "leakage_area_m2",
    "leakage_cm2",
    "mean",
    "natural_air_change_1_h",
    "permeability_m3_h_m2",
    "saturation_pressure_Pa",
    "standard_factor",
    "standard_pressure_Pa",
    "student_t",
    "total_cm2",
    "viscosity_Pa_s",
    "whole_house_rate_m3_h",
]

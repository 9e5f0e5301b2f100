"""Sea water: density, specific gravity, and salinity in every unit a keeper meets.

Salinity is practical salinity (PSS-78), the "ppt" of the trade. Temperature is deg C on ITS-90. Pressure is
that of the surface. A tank has no longitude or latitude and an artificial mix has no known anomaly, so
Absolute Salinity is taken as Reference Salinity, 35.16504/35 g/kg per unit of practical salinity.
"""

from __future__ import annotations

import math
from functools import cache
from importlib import import_module
from typing import Any

from planner.science.formula import Formula, require

__all__ = [
    "FORMULAS",
    "conductivity_from_salinity",
    "density_kg_m3",
    "grams_per_kg_from_salinity",
    "grams_per_litre_from_salinity",
    "heat_capacity_j_kg_k",
    "pure_water_density_kg_m3",
    "salinity_from_conductivity",
    "salinity_from_hydrometer",
    "salinity_from_sg",
    "sg_from_salinity",
]

SALINITY_MAX = 42.0  # upper end of PSS-78
TEMPERATURE_MAX_C = 40.0  # upper end of the oceanographic range of TEOS-10
G_PER_KG_PER_SALINITY = 35.16504 / 35.0  # TEOS-10, u_PS (IOC, SCOR & IAPSO 2010, eq. 2.4.1)

# The derivative of the Gibbs function by pressure at the surface (1e5 kJ/kg per 100 MPa): powers of t/40 deg C along a row,
# powers of (salinity/40)^(1/2) from the second on down the rows. IAPWS SR7-09 (fresh water) and R13-08 (salt).
FRESH_VOLUME = (100015.695367145, -270.983805184062, 1455.0364540468, -672.50778314507, 397.968445406972, -194.618310617595,
                63.5113936641785, -9.63108119393062)
SALT_VOLUME = (
    (-3310.49154044839, 729.116529735046, -860.764303783977, 694.244814133268, -297.728741987187),
    (199.459603073901, -175.292041186547, 383.058066002476, -460.319931801257, 234.565187611355),
    (-54.7919133532887, -22.6683558512829),
    (36.0284195611086,),
)


@cache
def _gsw() -> Any:
    """The TEOS-10 library, loaded at the first use: its import costs more than most of our commands take."""
    return import_module("gsw")


def _salinity(value: float, low: float = 0.0) -> float:
    return require("salinity", value, low, SALINITY_MAX, "ppt")


def _temperature(value: float, high: float = TEMPERATURE_MAX_C, name: str = "temperature") -> float:
    return require(name, value, 0.0, high, "°C")


def density_kg_m3(salinity: float, temperature_c: float) -> float:
    """Density of sea water, kg/m3, at the surface.

    Valid: salinity 0-42 (PSS-78), 0-40 deg C. Raises OutOfRange.
    Source: TEOS-10 (IOC, SCOR & IAPSO 2010) sec. 2.8, from the Gibbs function, with SA = SR. The function's derivative by
    pressure is written out here: loading the library for it takes longer than a whole plan.
    """
    square = _salinity(salinity) / 40.0
    root = math.sqrt(square)
    y = _temperature(temperature_c) / 40.0
    volume = _along(FRESH_VOLUME, y)
    for power, row in enumerate(SALT_VOLUME):
        volume += square * root**power * _along(row, y)
    return 1e8 / volume


def _along(coefficients: tuple[float, ...], y: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * y + coefficient
    return total


def pure_water_density_kg_m3(temperature_c: float) -> float:
    """Density of pure water, kg/m3, at the surface; the denominator of every specific gravity.

    Valid: 0-40 deg C. Raises OutOfRange. Source: TEOS-10 at SA = 0 (IAPWS-95 below it).
    """
    return density_kg_m3(0.0, temperature_c)


def sg_from_salinity(
    salinity: float, sample_temperature_c: float = 25.0, reference_temperature_c: float = 25.0
) -> float:
    """Specific gravity: density of the sample over that of pure water, each at its own temperature.

    "25/25" is sample 25, reference 25; "20/4" is sample 20, reference 4; 60 F is 15.56 deg C.
    Valid: salinity 0-42, both temperatures 0-40 deg C. Raises OutOfRange.
    Source: definition of relative density (ISO 80000-4:2019), densities from TEOS-10.
    """
    sample = density_kg_m3(salinity, _temperature(sample_temperature_c, name="sample temperature"))
    return sample / pure_water_density_kg_m3(
        _temperature(reference_temperature_c, name="reference temperature")
    )


def salinity_from_sg(
    sg: float, sample_temperature_c: float = 25.0, reference_temperature_c: float = 25.0
) -> float:
    """Practical salinity of water whose specific gravity is `sg` for that pair of temperatures.

    The pair belongs to the number: 1.026 is 34.5 on 25/25 and 38.5 on 25/4.
    Valid: any sg whose salinity comes out at 0-42; both temperatures 0-40 deg C. Raises OutOfRange.
    Source: inverse of `sg_from_salinity`, by the secant method (density is nearly straight in salinity).
    """
    low = sg_from_salinity(0.0, sample_temperature_c, reference_temperature_c)
    high = sg_from_salinity(SALINITY_MAX, sample_temperature_c, reference_temperature_c)
    require("specific gravity", sg, low, high)
    s_old, f_old = 0.0, low - sg
    s_new, f_new = SALINITY_MAX, high - sg
    for _ in range(20):
        if abs(f_new) < 1e-13 or f_new == f_old:
            break
        s_next = min(SALINITY_MAX, max(0.0, s_new - f_new * (s_new - s_old) / (f_new - f_old)))
        s_old, f_old = s_new, f_new
        s_new, f_new = s_next, sg_from_salinity(s_next, sample_temperature_c, reference_temperature_c) - sg
    return s_new


def salinity_from_hydrometer(
    reading_sg: float,
    water_temperature_c: float,
    *,
    scale_temperature_c: float,
    reference_temperature_c: float,
    glass_expansion_per_k: float = 25e-6,
) -> float:
    """Practical salinity from a hydrometer read in water that is not at the temperature of its scale.

    Valid: salinity 0-42, temperatures 0-40 deg C, expansion 0-300e-6 (plastic arms are at the upper end); the salinity must come out at 0-42. Raises OutOfRange.
    Source: a float of volume V0 [1 + gamma (t - t_scale)] displaces its own mass; air buoyancy (3e-5) left out.
    """
    gamma = require("glass expansion", glass_expansion_per_k, 0.0, 300e-6, "1/K")
    warm_k = _temperature(water_temperature_c) - _temperature(scale_temperature_c, name="scale temperature")
    return salinity_from_sg(reading_sg / (1.0 + gamma * warm_k), water_temperature_c, reference_temperature_c)


def conductivity_from_salinity(salinity: float, temperature_c: float = 25.0) -> float:
    """Conductivity, mS/cm, of sea water at `temperature_c`.

    Valid: salinity 2-42, 0-35 deg C (PSS-78). Raises OutOfRange.
    Source: PSS-78, inverted (UNESCO Tech. Pap. Mar. Sci. 44, 1983, p. 6-12); C(35, 15 C IPTS-68) = 42.9140
    mS/cm.
    """
    gsw = _gsw()
    return float(gsw.C_from_SP(_salinity(salinity, 2.0), _temperature(temperature_c, high=35.0), 0.0))


def salinity_from_conductivity(conductivity_ms_cm: float, temperature_c: float = 25.0) -> float:
    """Practical salinity from conductivity (mS/cm) and the temperature at which it was measured.

    A meter that shows conductivity "at 25 deg C" has done the temperature step itself: pass 25.
    Valid: 0-35 deg C and a result of 2-42. Raises OutOfRange.
    Source: PSS-78 (UNESCO Tech. Pap. Mar. Sci. 44, 1983, p. 6-12).
    """
    gsw = _gsw()
    t = _temperature(temperature_c, high=35.0)
    low, high = (float(gsw.C_from_SP(s, t, 0.0)) for s in (2.0, SALINITY_MAX))
    c = require("conductivity", conductivity_ms_cm, low * (1 - 1e-9), high * (1 + 1e-9), "mS/cm")
    return float(gsw.SP_from_C(c, t, 0.0))


def grams_per_kg_from_salinity(salinity: float) -> float:
    """Reference Salinity, g of dry sea salt per kg of sea water. Valid: 0-42. Source: TEOS-10 eq. 2.4.1."""
    return _salinity(salinity) * G_PER_KG_PER_SALINITY


def grams_per_litre_from_salinity(salinity: float, temperature_c: float = 25.0) -> float:
    """Dry reference salt in one litre of finished sea water, g/L (35 ppt at 25 deg C: 35.986).

    Valid: salinity 0-42, 0-40 deg C. Raises OutOfRange. Source: TEOS-10 eq. 2.4.1 times density.
    """
    return grams_per_kg_from_salinity(salinity) * density_kg_m3(salinity, temperature_c) / 1000.0


def heat_capacity_j_kg_k(salinity: float, temperature_c: float) -> float:
    """Isobaric heat capacity of sea water, J/(kg K). Valid: 0-42, 0-40 deg C. Source: TEOS-10 sec. 2.20."""
    gsw = _gsw()
    return float(gsw.cp_t_exact(grams_per_kg_from_salinity(salinity), _temperature(temperature_c), 0.0))


_TEOS = "TEOS-10: IOC, SCOR & IAPSO 2010, Manuals and Guides 56"
_S_T = "0 to 42 ppt, 0 to 40 °C"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "sg_from_salinity",
            "SG = rho(salinity, sample temperature) / rho(pure water, reference temperature)",
            f"relative density, ISO 80000-4:2019; densities {_TEOS}",
            _S_T,
        ),
        Formula(
            "salinity_from_hydrometer",
            "the salinity at which reading = rho(S, t) / rho(pure, ref. t) x [1 + gamma (t - scale t)]",
            f"Archimedes' principle with the float's cubic expansion gamma; densities {_TEOS}",
            _S_T,
        ),
    )
}

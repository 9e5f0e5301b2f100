"""Carbon dioxide and chalk in sea water: what pH and alkalinity together say, and when chalk falls out.

The constants of sea water at the surface on the total scale; a meter's reading is taken as NBS and turned by `ammonia.nbs_minus_total_ph`.
Good for 15 to 32 °C and 25 to 40 ppt. Checked against PyCO2SYS, which is no part of the program.
"""

from __future__ import annotations

import math

from planner.science import molar
from planner.science.ammonia import nbs_minus_total_ph
from planner.science.formula import Formula, require
from planner.science.water import density_kg_m3

__all__ = ["FORMULAS", "aragonite_saturation", "pco2_uatm"]


def _checked(temperature_c: float, salinity: float) -> tuple[float, float]:
    return require("temperature", temperature_c, 15.0, 32.0, "°C") + 273.15, require("salinity", salinity, 25.0, 40.0, "ppt")


def _constants(temperature_c: float, salinity: float) -> tuple[float, float, float, float, float, float, float]:
    """(K0 mol/kg/atm, K1, K2, KB, KW, total boron mol/kg, K aragonite mol2/kg2)."""
    t, s = _checked(temperature_c, salinity)
    # Weiss 1974.
    k0 = math.exp(93.4517 * 100 / t - 60.2409 + 23.3585 * math.log(t / 100) + s * (0.023517 - 0.023656 * t / 100 + 0.0047036 * (t / 100) ** 2))
    # Lueker, Dickson, Keeling 2000.
    k1 = 10 ** -(3633.86 / t - 61.2172 + 9.67770 * math.log(t) - 0.011555 * s + 0.0001152 * s * s)
    k2 = 10 ** -(471.78 / t + 25.9290 - 3.16967 * math.log(t) - 0.01781 * s + 0.0001122 * s * s)
    # Dickson 1990; total boron by Uppstrom 1974.
    kb = math.exp((-8966.90 - 2890.53 * s**0.5 - 77.942 * s + 1.728 * s**1.5 - 0.0996 * s * s) / t + 148.0248 + 137.1942 * s**0.5 + 1.62142 * s
                  - (24.4344 + 25.085 * s**0.5 + 0.2474 * s) * math.log(t) + 0.053105 * s**0.5 * t)
    kw = math.exp(148.9652 - 13847.26 / t - 23.6521 * math.log(t) + (118.67 / t - 5.977 + 1.0495 * math.log(t)) * s**0.5 - 0.01615 * s)
    boron = 0.0004157 * s / 35.0
    # Mucci 1983.
    ka = 10 ** (-171.945 - 0.077993 * t + 2903.293 / t + 71.595 * math.log10(t) + (-0.068393 + 0.0017276 * t + 88.135 / t) * s**0.5 - 0.10018 * s + 0.0059415 * s**1.5)
    return k0, k1, k2, kb, kw, boron, ka


def _alkalinity_mol_kg(alkalinity_dkh: float, temperature_c: float, salinity: float) -> float:
    return require("alkalinity", alkalinity_dkh, 0.5, 30.0, "dKH") / molar.DKH_PER_MEQ / density_kg_m3(salinity, temperature_c)


def _bicarbonate(h: float, alkalinity: float, k: tuple[float, ...]) -> float:
    """mol/kg of HCO3- at this hydrogen ion (total scale): alkalinity less borate and water, shared with carbonate."""
    _, _, k2, kb, kw, boron, _ = k
    return (alkalinity - boron * kb / (kb + h) - kw / h + h) / (1 + 2 * k2 / h)


def pco2_uatm(alkalinity_dkh: float, ph_nbs: float, temperature_c: float = 25.0, salinity: float = 35.0) -> float:
    """Carbon dioxide of the water in microatmospheres; outdoor air has about 420, a shut room 1000 and more.

    Valid: pH 7-9, 15-32 °C, 25-40 ppt. Raises OutOfRange. Source: Lueker 2000, Weiss 1974, Dickson 1990, Uppstrom 1974.
    """
    h = 10 ** -(require("pH", ph_nbs, 7.0, 9.0) - nbs_minus_total_ph(temperature_c, salinity))
    k = _constants(temperature_c, salinity)
    return _bicarbonate(h, _alkalinity_mol_kg(alkalinity_dkh, temperature_c, salinity), k) * h / k[1] / k[0] * 1e6


def aragonite_saturation(alkalinity_dkh: float, calcium_mg_l: float, ph_nbs: float, temperature_c: float = 25.0, salinity: float = 35.0) -> float:
    """How far the water is supersaturated with the chalk of skeletons: reef water about 4; above 7 chalk falls out on particles (Moras 2022, abstract).

    Valid: calcium 100-1000 mg/L. Raises OutOfRange. Source: Mucci 1983; as `pco2_uatm`."""
    h = 10 ** -(require("pH", ph_nbs, 7.0, 9.0) - nbs_minus_total_ph(temperature_c, salinity))
    k = _constants(temperature_c, salinity)
    carbonate = _bicarbonate(h, _alkalinity_mol_kg(alkalinity_dkh, temperature_c, salinity), k) * k[2] / h
    calcium = require("calcium", calcium_mg_l, 100.0, 1000.0, "mg/L") / 1000.0 / molar.CA / (density_kg_m3(salinity, temperature_c) / 1000.0)
    return calcium * carbonate / k[6]


FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("pco2_uatm", "CO2 = HCO3 x H / (K1 K0), HCO3 from alkalinity less borate", "Lueker 2000, Weiss 1974, Dickson 1990, Uppstrom 1974", "pH 7 to 9, 15 to 32 °C, 25 to 40 ppt"),
    )
}

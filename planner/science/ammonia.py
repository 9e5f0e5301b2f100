"""Free ammonia (NH3) in sea water, and the units in which nitrogen is reported.

Total ammonia is NH3 + NH4+, kept as mg/L of nitrogen. pH is what a meter calibrated with ordinary (NBS)
buffers reads. Two numbers come out: the one to show (Clegg & Whitfield 1995, carried to the NBS scale) and a
higher one for warnings (the classical forms of Bower & Bidwell 1978 and Khoo et al. 1977). The liquid
junction of a real electrode moves pH by about 0.05 and with it NH3 by about 12 %: no more digits than that
are real.
"""

from __future__ import annotations

import math
from typing import Literal

from planner.frozen import dataclass
from planner.science import molar
from planner.science.formula import Formula, require

__all__ = [
    "FORMULAS",
    "FreeAmmonia",
    "Species",
    "free_ammonia",
    "nbs_minus_total_ph",
    "nh3_fraction",
    "nh3_fraction_upper",
    "pk_ammonium_nbs",
    "pk_ammonium_total",
    "species_mg_l_from_n",
]

Species = Literal["N", "NH3", "NH4", "NO2", "NO3"]

SPECIES_G_MOL: dict[Species, float] = {"N": molar.N, "NH3": molar.NH3, "NH4": molar.NH4, "NO2": molar.NO2, "NO3": molar.NO3}


@dataclass(frozen=True, slots=True)
class FreeAmmonia:
    """Free ammonia as NH3, mg/L: `shown_` for the reader, `warning_` (the upper form) for alarms."""

    shown_fraction: float
    shown_nh3_mg_l: float
    warning_nh3_mg_l: float


def species_mg_l_from_n(n_mg_l: float, species: Species) -> float:
    """mg/L of an ion or molecule from mg/L of nitrogen (1 mg/L nitrite-N is 3.285 mg/L NO2-).

    Valid: 0-10 000 mg/L. Raises OutOfRange; KeyError for another species. Source: molar masses (IUPAC).
    """
    return require("nitrogen", n_mg_l, 0.0, 10_000.0, "mg/L as N") * SPECIES_G_MOL[species] / molar.N


def _salinity(salinity: float) -> float:
    return require("salinity", salinity, 5.0, 40.0, "ppt")


def _kelvin(temperature_c: float) -> float:
    return require("temperature", temperature_c, 5.0, 35.0, "°C") + 273.15


def pk_ammonium_total(temperature_c: float, salinity: float) -> float:
    """pK* of NH4+ on the total pH scale, mol per kg of sea water.

    The published fit is molal (per kg of water); pH scales count per kg of sea water, hence the factor 1 -
    0.001005 S.
    Valid: 5-35 deg C, salinity 5-40 (the fit itself: -2 to 40 deg C, 0-40). Raises OutOfRange.
    Source: Clegg & Whitfield 1995, Geochim. Cosmochim. Acta 59:2403, eq. 18.
    """
    t, s = _kelvin(temperature_c), _salinity(salinity)
    root = math.sqrt(t)
    molal = (
        9.244605
        - 2729.33 * (1 / 298.15 - 1 / t)
        + (0.04203362 - 11.24742 / t) * s**0.25
        + (-13.6416 + 1.176949 * root - 0.02860785 * t + 545.4834 / t) * s**0.5
        + (-0.1462507 + 0.0090226468 * root - 0.0001471361 * t + 10.5425 / t) * s**1.5
        + (0.004669309 - 0.0001691742 * root - 0.5677934 / t) * s**2
        + (-2.354039e-05 + 0.009698623 / t) * s**2.5
    )
    return float(molal) - math.log10(1.0 - 0.001005 * s)


def nbs_minus_total_ph(temperature_c: float, salinity: float) -> float:
    """pH on the NBS scale less pH on the total scale (0.137 at 25 deg C and 35 ppt).

    Valid: 5-35 deg C, salinity 5-40. Raises OutOfRange.
    Source: fH of Takahashi et al. 1982 (GEOSECS Pacific Expedition 3, ch. 3, p. 80); total to sea-water
    scale with bisulfate of Dickson 1990 (J. Chem. Thermodyn. 22:113, eq. 22-23), HF of Dickson & Riley
    1979 (Mar. Chem. 7:89), sulfate of Morris & Riley 1966, fluoride of Riley 1965, ionic strength of DOE
    1994, ch. 5 eq. 7.2.4.
    """
    t, s = _kelvin(temperature_c), _salinity(salinity)
    ionic = 19.924 * s / (1000.0 - 1.005 * s)
    per_kg_seawater = 1.0 - 0.001005 * s
    ln_t = math.log(t)
    k_bisulfate = per_kg_seawater * math.exp(
        -4276.1 / t
        + 141.328
        - 23.093 * ln_t
        + (-13856.0 / t + 324.57 - 47.986 * ln_t) * math.sqrt(ionic)
        + (35474.0 / t - 771.54 + 114.723 * ln_t) * ionic
        - 2698.0 / t * ionic**1.5
        + 1776.0 / t * ionic**2
    )
    k_fluoride = per_kg_seawater * math.exp(1590.2 / t - 12.641 + 1.525 * math.sqrt(ionic))
    sulfate = 0.14 / 96.062 * s / 1.80655
    fluoride = 0.000067 / 18.998 * s / 1.80655
    free_to_total = 1.0 + sulfate / k_bisulfate
    seawater_to_total = free_to_total / (free_to_total + fluoride / k_fluoride)
    f_h = 1.2948 - 0.002036 * t + (0.0004607 - 0.000001475 * t) * s**2
    return math.log10(seawater_to_total / f_h)


def pk_ammonium_nbs(temperature_c: float, salinity: float) -> float:
    """pK* of NH4+ to use with a pH read on the NBS scale (9.383 at 25 deg C and 35 ppt).

    Valid: 5-35 deg C, salinity 5-40. Raises OutOfRange.
    Source: Clegg & Whitfield 1995 eq. 18 (`pk_ammonium_total`) plus `nbs_minus_total_ph`.
    """
    return pk_ammonium_total(temperature_c, salinity) + nbs_minus_total_ph(temperature_c, salinity)


def _ph(ph_nbs: float) -> float:
    return require("pH", ph_nbs, 6.0, 9.5)


def nh3_fraction(ph_nbs: float, temperature_c: float, salinity: float = 35.0) -> float:
    """Share of total ammonia that is free NH3, 0 to 1: the value to show.

    Valid: pH 6-9.5 (NBS), 5-35 deg C, salinity 5-40. Raises OutOfRange.
    Source: f = 1/(1 + 10^(pK - pH)) with `pk_ammonium_nbs`.
    """
    return 1.0 / (1.0 + math.pow(10.0, pk_ammonium_nbs(temperature_c, salinity) - _ph(ph_nbs)))


def nh3_fraction_upper(ph_nbs: float, temperature_c: float, salinity: float = 35.0) -> float:
    """Share of total ammonia that is free NH3, 0 to 1: the highest of the published forms, for warnings.

    Valid: pH 6-9.5, 5-35 deg C, salinity 5-40. Raises OutOfRange.
    Source: the highest of (a) Whitfield 1974 as used by Bower & Bidwell 1978 (Trans. Am. Fish. Soc.
    107:447), in the constants of a Florida DEP procedure, (b) Khoo, Culberson & Bates 1977 (J. Solution
    Chem. 6:281), (c) `nh3_fraction`.
    """
    t_c, s, ph = _kelvin(temperature_c) - 273.15, _salinity(salinity), _ph(ph_nbs)
    lowest_pk = pk_ammonium_nbs(temperature_c, salinity)
    # (zero of the Kelvin scale as each source has it, numerator and denominator of its ionic strength)
    for zero_k, ionic_top, ionic_bottom in ((273.2, 19.973, 1.2005109), (273.15, 19.9273, 1.005109)):
        ionic = ionic_top * s / (1000.0 - ionic_bottom * s)
        pk = 0.0901821 + 2729.92 / (t_c + zero_k) + (0.1552 - 0.0003142 * t_c) * ionic
        lowest_pk = min(lowest_pk, pk)
    return 1.0 / (1.0 + math.pow(10.0, lowest_pk - ph))


def free_ammonia(
    total_n_mg_l: float, ph_nbs: float, temperature_c: float, salinity: float = 35.0
) -> FreeAmmonia:
    """Free ammonia as NH3, mg/L, from total ammonia in mg/L as N.

    Valid: total 0-100 mg/L as N, pH 6-9.5 (NBS), 5-35 deg C, salinity 5-40. Raises OutOfRange.
    Source: `nh3_fraction` and `nh3_fraction_upper`, times 17.0305/14.0067.
    """
    as_nh3 = species_mg_l_from_n(require("total ammonia", total_n_mg_l, 0.0, 100.0, "mg/L as N"), "NH3")
    shown = nh3_fraction(ph_nbs, temperature_c, salinity)
    return FreeAmmonia(shown, shown * as_nh3, nh3_fraction_upper(ph_nbs, temperature_c, salinity) * as_nh3)


_CW95 = "Clegg & Whitfield 1995, Geochim. Cosmochim. Acta 59:2403, eq. 18"
_UPPER = "Bower & Bidwell 1978, Trans. Am. Fish. Soc. 107:447; Khoo et al. 1977, J. Solution Chem. 6:281"
_FH = "fH of Takahashi et al. 1982, GEOSECS Pacific 3:80; Dickson 1990; Dickson & Riley 1979"
_RANGE = "pH 6 to 9.5 (NBS), 5 to 35 °C, 5 to 40 ppt"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "species_mg_l_from_n",
            "value = N x molar mass / 14.0067",
            "IUPAC atomic weights",
            "0 to 10 000 mg/L",
        ),
        Formula(
            "free_ammonia",
            "NH3 = total N x f x 17.0305/14.0067",
            f"{_CW95}; {_FH}; for warnings {_UPPER}",
            _RANGE,
        ),
    )
}

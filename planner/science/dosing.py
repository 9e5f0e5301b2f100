"""Doses: ammonia for the cycle, alkalinity, calcium and magnesium.

Masses are of the pure salt unless `purity` says otherwise; volumes are net litres of tank water.
Stoichiometry is exact, with molar masses from the IUPAC conventional atomic weights.
"""

from __future__ import annotations

from planner.science import molar
from planner.science.formula import Formula, require

__all__ = [
    "FORMULAS",
    "alkalinity_used_dkh",
    "ammonia_solution_ml",
    "ammonium_chloride_g",
    "bicarbonate_g",
    "caco3_mg_l_from_dkh",
    "calcium_chloride_g",
    "carbonate_g",
    "magnesium_chloride_g",
    "meq_l_from_dkh",
    "n_rise_mg_l",
]

_VOLUME_MAX_L = 100_000.0


def _litres(volume_l: float) -> float:
    return require("volume", volume_l, 0.0, _VOLUME_MAX_L, "L")


def _purity(purity: float) -> float:
    return require("purity", purity, 0.05, 1.0)


def ammonium_chloride_g(volume_l: float, rise_n_mg_l: float, purity: float = 1.0) -> float:
    """Grams of NH4Cl for a rise of total ammonia in mg/L as N (1 mg/L in 100 L: 0.3819 g).

    Valid: 0-100 000 L, rise 0-20 mg/L as N, purity 0.05-1. Raises OutOfRange. Source: stoichiometry,
    53.4914/14.0067.
    """
    rise = require("ammonia rise", rise_n_mg_l, 0.0, 20.0, "mg/L as N")
    return _litres(volume_l) * rise / 1000.0 * molar.NH4CL / molar.N / _purity(purity)


def n_rise_mg_l(ammonium_chloride_g: float, volume_l: float, purity: float = 1.0) -> float:
    """Rise of total ammonia, mg/L as N, that a mass of NH4Cl gives: the inverse of `ammonium_chloride_g`.

    Valid: mass 0-100 000 g, volume above 0. Raises OutOfRange. Source: stoichiometry.
    """
    grams = require("ammonium chloride", ammonium_chloride_g, 0.0, 100_000.0, "g")
    litres = require("volume", volume_l, 1e-9, _VOLUME_MAX_L, "L")
    return grams * _purity(purity) * molar.N / molar.NH4CL * 1000.0 / litres


def ammonia_solution_ml(
    volume_l: float, rise_n_mg_l: float, percent_by_mass: float, density_kg_l: float = 1.0
) -> float:
    """Millilitres of plain household ammonia (no perfume, no soap) for a rise in mg/L as N.

    `percent_by_mass` is g NH3 in 100 g of solution. Weak solutions are a little lighter than water (10 %:
    about 0.96 kg/L); the default of 1 doses that much too little, never too much.
    Valid: rise 0-20 mg/L as N, 1-10 % (stronger is no household product), density 0.9-1. Raises OutOfRange.
    Source: stoichiometry, 17.0305/14.0067.
    """
    rise = require("ammonia rise", rise_n_mg_l, 0.0, 20.0, "mg/L as N")
    share = require("ammonia in the solution", percent_by_mass, 1.0, 10.0, "% by mass") / 100.0
    density = require("density of the solution", density_kg_l, 0.9, 1.0, "kg/L")
    grams_nh3 = _litres(volume_l) * rise / 1000.0 * molar.NH3 / molar.N
    return grams_nh3 / (share * density)


def meq_l_from_dkh(alkalinity_dkh: float) -> float:
    """Alkalinity in meq/L from dKH. Valid: 0-50 dKH. Source: as `dkh_from_meq_l`."""
    return require("alkalinity", alkalinity_dkh, 0.0, 50.0, "dKH") / molar.DKH_PER_MEQ


def caco3_mg_l_from_dkh(alkalinity_dkh: float) -> float:
    """Alkalinity as mg/L CaCO3 from dKH. Valid: 0-50 dKH. Source: CaCO3/CaO x 10 = 17.848 mg/L per dKH."""
    return meq_l_from_dkh(alkalinity_dkh) * molar.CACO3_MG_PER_MEQ


def _alkali_g(volume_l: float, rise_dkh: float, grams_per_equivalent: float, purity: float) -> float:
    rise = require("alkalinity rise", rise_dkh, 0.0, 15.0, "dKH")
    return _litres(volume_l) * rise / molar.DKH_PER_MEQ / 1000.0 * grams_per_equivalent / _purity(purity)


def bicarbonate_g(volume_l: float, rise_dkh: float, purity: float = 1.0) -> float:
    """Grams of NaHCO3 for a rise in dKH (1 dKH in 100 L: 2.996 g). One mole is one equivalent.

    Valid: rise 0-15 dKH, purity 0.05-1. Raises OutOfRange. Source: stoichiometry, 84.0067 g per equivalent.
    """
    return _alkali_g(volume_l, rise_dkh, molar.NAHCO3, purity)


def carbonate_g(volume_l: float, rise_dkh: float, purity: float = 1.0) -> float:
    """Grams of Na2CO3 (anhydrous) for a rise in dKH (1 dKH in 100 L: 1.890 g).

    One mole is two equivalents. Unlike bicarbonate it lifts pH.

    Valid: rise 0-15 dKH, purity 0.05-1. Raises OutOfRange. Source: stoichiometry, 105.9885/2 g per
    equivalent.
    """
    return _alkali_g(volume_l, rise_dkh, molar.NA2CO3 / 2.0, purity)


def alkalinity_used_dkh(oxidised_n_mg_l: float) -> float:
    """Alkalinity in dKH that nitrification of `oxidised_n_mg_l` mg/L as N uses (0.400 dKH per mg/L).

    Valid: 0-100 mg/L as N. Raises OutOfRange.
    Source: NH4+ + 2 O2 -> NO3- + 2 H+ + H2O, two equivalents per mole, without growth (with it, 1 % less).
    """
    n_mg_l = require("oxidised ammonia", oxidised_n_mg_l, 0.0, 100.0, "mg/L as N")
    return n_mg_l / molar.N * 2.0 * molar.DKH_PER_MEQ


def calcium_chloride_g(volume_l: float, rise_ca_mg_l: float, purity: float = 1.0) -> float:
    """Grams of CaCl2.2H2O for a rise in calcium, mg/L (10 in 100 L: 3.668 g).

    Valid: rise 0-300 mg/L, purity 0.05-1. Raises OutOfRange. Source: stoichiometry, 147.0144/40.078.
    """
    rise = require("calcium rise", rise_ca_mg_l, 0.0, 300.0, "mg/L")
    return _litres(volume_l) * rise / 1000.0 * molar.CACL2_2H2O / molar.CA / _purity(purity)


def magnesium_chloride_g(volume_l: float, rise_mg_mg_l: float, purity: float = 1.0) -> float:
    """Grams of MgCl2.6H2O for a rise in magnesium, mg/L (10 in 100 L: 8.365 g).

    Valid: rise 0-1000 mg/L, purity 0.05-1. Raises OutOfRange. Source: stoichiometry, 203.3026/24.3051.
    """
    rise = require("magnesium rise", rise_mg_mg_l, 0.0, 1000.0, "mg/L")
    return _litres(volume_l) * rise / 1000.0 * molar.MGCL2_6H2O / molar.MG / _purity(purity)


_IUPAC = "stoichiometry; IUPAC conventional atomic weights"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula(
            "ammonium_chloride_g",
            "g = litres x rise(N) / 1000 x 53.4914/14.0067 / purity",
            _IUPAC,
            "rise 0 to 20 mg/L as N",
        ),
        Formula(
            "ammonia_solution_ml",
            "mL = litres x rise(N) / 1000 x 17.0305/14.0067 / (percent/100 x density)",
            _IUPAC,
            "rise 0 to 20 mg/L as N, 1 to 10 % NH3 by mass",
        ),
        Formula(
            "caco3_mg_l_from_dkh",
            "mg/L CaCO3 = dKH x 17.848",
            "1 dKH = 10 mg/L CaO; " + _IUPAC,
            "0 to 50 dKH",
        ),
        Formula(
            "bicarbonate_g",
            "g = litres x rise(dKH) / 2.8039 / 1000 x 84.0067 / purity",
            _IUPAC,
            "rise 0 to 15 dKH",
        ),
        Formula(
            "carbonate_g",
            "g = litres x rise(dKH) / 2.8039 / 1000 x 105.9885/2 / purity",
            _IUPAC,
            "rise 0 to 15 dKH",
        ),
        Formula(
            "alkalinity_used_dkh",
            "dKH = N oxidised / 14.0067 x 2 x 2.8039",
            "NH4+ + 2 O2 -> NO3- + 2 H+ + H2O; " + _IUPAC,
            "0 to 100 mg/L as N",
        ),
        Formula(
            "calcium_chloride_g",
            "g = litres x rise(Ca) / 1000 x 147.0144/40.078 / purity",
            _IUPAC,
            "rise 0 to 300 mg/L",
        ),
        Formula(
            "magnesium_chloride_g",
            "g = litres x rise(Mg) / 1000 x 203.3026/24.3051 / purity",
            _IUPAC,
            "rise 0 to 1000 mg/L",
        ),
    )
}

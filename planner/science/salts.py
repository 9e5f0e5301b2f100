"""Further salts, beside those of `dosing`: other forms of calcium and magnesium, lime, and what takes chlorine out.

Masses are of the pure salt; volumes are net litres. Which form a bag holds stands on its label: calcium chloride without water
weighed by the figure of the dihydrate is a third too much.
"""

from __future__ import annotations

from planner.science import molar
from planner.science.formula import Formula, require

__all__ = [
    "CALCIUM_MG_L_PER_DKH", "FORMULAS", "calcium_anhydrous_g", "calcium_with_alkalinity_mg_l", "lime_g", "magnesium_mix_g", "magnesium_sulfate_g", "thiosulfate_mg", "value_at_35",
]

SULFATE_SHARE_OF_MAGNESIUM = 0.0937516
"""Mole share of magnesium to give as sulfate, so that chloride and sulfate keep the proportion of sea water (0.5503396 and
0.0771319 by mass in reference sea salt, Millero 2008): x / (2 (1 - x)) = SO4/Cl in moles."""
CALCIUM_MG_L_PER_DKH = molar.CA / 2.0 / molar.DKH_PER_MEQ
"""Skeletons take one calcium for two equivalents; measured in corals 2.06 +- 0.19 (Murillo, Jokiel, Atkinson 2014, abstract)."""


def _g(volume_l: float, rise_mg_l: float, salt_per_ion: float, most: float) -> float:
    return require("volume", volume_l, 0.0, 100_000.0, "L") * require("rise", rise_mg_l, 0.0, most, "mg/L") / 1000.0 * salt_per_ion


def _equivalents_g(volume_l: float, rise_dkh: float, grams_per_equivalent: float) -> float:
    return require("volume", volume_l, 0.0, 100_000.0, "L") * require("alkalinity rise", rise_dkh, 0.0, 15.0, "dKH") / molar.DKH_PER_MEQ / 1000.0 * grams_per_equivalent


def lime_g(volume_l: float, rise_dkh: float) -> float:
    """Grams of Ca(OH)2 for a rise in dKH. Valid: rise 0-15 dKH. Source: stoichiometry, 74.0927/2 g per equivalent."""
    return _equivalents_g(volume_l, rise_dkh, molar.CAOH2 / 2.0)


def calcium_anhydrous_g(volume_l: float, rise_mg_l: float) -> float:
    """Grams of CaCl2 without water for a rise in calcium. Valid: rise 0-300 mg/L. Source: stoichiometry, 110.9838/40.078."""
    return _g(volume_l, rise_mg_l, molar.CACL2 / molar.CA, 300.0)


def calcium_with_alkalinity_mg_l(use_dkh: float) -> float:
    """Calcium that skeletons take with so much alkalinity, mg/L. Valid: 0-15 dKH. Source: one Ca for two equivalents."""
    return require("alkalinity", use_dkh, 0.0, 15.0, "dKH") * CALCIUM_MG_L_PER_DKH


def magnesium_sulfate_g(volume_l: float, rise_mg_l: float) -> float:
    """Grams of MgSO4.7H2O for a rise in magnesium. Valid: rise 0-1000 mg/L. Source: stoichiometry, 246.4745/24.3051."""
    return _g(volume_l, rise_mg_l, molar.MGSO4_7H2O / molar.MG, 1000.0)


def magnesium_mix_g(volume_l: float, rise_mg_l: float) -> tuple[float, float]:
    """(grams MgCl2.6H2O, grams MgSO4.7H2O) for a rise in magnesium that keeps sea water's chloride to sulfate, about 8 : 1.

    Valid: rise 0-1000 mg/L. Source: `SULFATE_SHARE_OF_MAGNESIUM`."""
    x = SULFATE_SHARE_OF_MAGNESIUM
    return _g(volume_l, rise_mg_l * (1 - x), molar.MGCL2_6H2O / molar.MG, 1000.0), magnesium_sulfate_g(volume_l, rise_mg_l * x)


def thiosulfate_mg(tap_l: float, chlorine_mg_l: float, *, least: bool = False) -> float:
    """Milligrams of Na2S2O3.5H2O against the chlorine of so much tap water: the safe end (two thiosulfate a chlorine), or the least.

    Valid: 0-1000 L, chlorine 0-10 mg/L. Source: 2 S2O3 + Cl2 -> S4O6 + 2 Cl; S2O3 + 4 Cl2 + 5 H2O -> 2 SO4 + 8 Cl."""
    chlorine = require("tap water", tap_l, 0.0, 1000.0, "L") * require("chlorine", chlorine_mg_l, 0.0, 10.0, "mg/L")
    return chlorine * molar.THIOSULFATE_5H2O / molar.CL2 * (0.25 if least else 2.0)


def value_at_35(value: float, salinity: float) -> float:
    """A salt of sea water as it would read at 35 ppt. Valid: salinity 5-60 ppt. Source: constant proportions."""
    return value * 35.0 / require("salinity", salinity, 5.0, 60.0, "ppt")


_IUPAC = "stoichiometry; IUPAC conventional atomic weights"
FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("calcium_anhydrous_g", "g = litres x rise / 1000 x 110.9838/40.078", _IUPAC, "rise 0 to 300 mg/L"),
        Formula("magnesium_mix_g", "nine tenths of the magnesium as chloride, 9.4 % as sulfate", "reference sea salt, Millero 2008; " + _IUPAC, "rise 0 to 1000 mg/L"),
        Formula("thiosulfate_mg", "mg = litres x chlorine x 7.0", "2 S2O3 + Cl2 -> S4O6 + 2 Cl; " + _IUPAC, "chlorine 0 to 10 mg/L"),
        Formula("lime_g", "g = litres x rise(dKH) / 2.8039 / 1000 x 74.0927/2", _IUPAC, "rise 0 to 15 dKH"),
    )
}

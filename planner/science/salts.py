"""Further salts, beside those of `dosing`: other forms of calcium and magnesium, lime, nutrients, and what they do to sea water.

Masses are of the pure salt; volumes are net litres. Which form a bag holds stands on its label: calcium chloride without water
weighed by the figure of the dihydrate is a third too much.
"""

from __future__ import annotations

from planner.science.dosing import CA_G_MOL, DKH_PER_MEQ_L, MG_G_MOL, MGCL2_6H2O_G_MOL
from planner.science.formula import Formula, require

__all__ = [
    "CALCIUM_MG_L_PER_DKH", "FORMULAS", "alkalinity_after_nitrate_dkh", "calcium_anhydrous_g", "calcium_hexahydrate_g", "calcium_with_alkalinity_mg_l", "carbonate_monohydrate_g", "chloramine_nitrogen_mg_l",
    "lime_g", "lime_rise_dkh", "magnesium_mix_g", "magnesium_sulfate_g", "nitrate_salt_g", "phosphate_from_phosphorus_mg_l", "phosphate_salt_mg", "salt_left_mg_l", "thiosulfate_mg",
    "value_at_35",
]

# g/mol, IUPAC conventional atomic weights as in `dosing`.
NA2CO3_H2O_G_MOL = 124.0038
CAOH2_G_MOL = 74.0927
CACL2_G_MOL = 110.9838
CACL2_6H2O_G_MOL = 219.0755
MGSO4_7H2O_G_MOL = 246.4745
NACL_G_MOL = 58.4427
NO3_G_MOL, NANO3_G_MOL = 62.0049, 84.9947
PO4_G_MOL, P_G_MOL, NA2HPO4_G_MOL = 94.9714, 30.97376, 141.9589
N_G_MOL, CL2_G_MOL, THIOSULFATE_G_MOL = 14.0067, 70.906, 248.1841

SULFATE_SHARE_OF_MAGNESIUM = 0.0937516
"""Mole share of magnesium to give as sulfate, so that chloride and sulfate keep the proportion of sea water (0.5503396 and
0.0771319 by mass in reference sea salt, Millero 2008): x / (2 (1 - x)) = SO4/Cl in moles."""
CALCIUM_MG_L_PER_DKH = CA_G_MOL / 2.0 / DKH_PER_MEQ_L
"""Skeletons take one calcium for two equivalents; measured in corals 2.06 +- 0.19 (Murillo, Jokiel, Atkinson 2014, abstract)."""
LIME_G_PER_L = 1.65
"""Saturated lime water at 25 °C, g Ca(OH)2 a litre (from memory)."""


def _g(volume_l: float, rise_mg_l: float, salt_per_ion: float, most: float) -> float:
    return require("volume", volume_l, 0.0, 100_000.0, "L") * require("rise", rise_mg_l, 0.0, most, "mg/L") / 1000.0 * salt_per_ion


def _equivalents_g(volume_l: float, rise_dkh: float, grams_per_equivalent: float) -> float:
    return require("volume", volume_l, 0.0, 100_000.0, "L") * require("alkalinity rise", rise_dkh, 0.0, 15.0, "dKH") / DKH_PER_MEQ_L / 1000.0 * grams_per_equivalent


def carbonate_monohydrate_g(volume_l: float, rise_dkh: float) -> float:
    """Grams of Na2CO3.H2O for a rise in dKH. Valid: rise 0-15 dKH. Source: stoichiometry, 124.0038/2 g per equivalent."""
    return _equivalents_g(volume_l, rise_dkh, NA2CO3_H2O_G_MOL / 2.0)


def lime_g(volume_l: float, rise_dkh: float) -> float:
    """Grams of Ca(OH)2 for a rise in dKH. Valid: rise 0-15 dKH. Source: stoichiometry, 74.0927/2 g per equivalent."""
    return _equivalents_g(volume_l, rise_dkh, CAOH2_G_MOL / 2.0)


def lime_rise_dkh(volume_l: float, lime_water_l: float) -> float:
    """What saturated lime water as top-up raises, dKH. Valid: volume above 0. Source: 1.65 g/L (from memory); stoichiometry."""
    grams = require("lime water", lime_water_l, 0.0, 1000.0, "L") * LIME_G_PER_L
    return grams / (CAOH2_G_MOL / 2.0) * 1000.0 / require("volume", volume_l, 1e-9, 100_000.0, "L") * DKH_PER_MEQ_L


def calcium_anhydrous_g(volume_l: float, rise_mg_l: float) -> float:
    """Grams of CaCl2 without water for a rise in calcium. Valid: rise 0-300 mg/L. Source: stoichiometry, 110.9838/40.078."""
    return _g(volume_l, rise_mg_l, CACL2_G_MOL / CA_G_MOL, 300.0)


def calcium_hexahydrate_g(volume_l: float, rise_mg_l: float) -> float:
    """Grams of CaCl2.6H2O for a rise in calcium. Valid: rise 0-300 mg/L. Source: stoichiometry, 219.0755/40.078."""
    return _g(volume_l, rise_mg_l, CACL2_6H2O_G_MOL / CA_G_MOL, 300.0)


def calcium_with_alkalinity_mg_l(use_dkh: float) -> float:
    """Calcium that skeletons take with so much alkalinity, mg/L. Valid: 0-15 dKH. Source: one Ca for two equivalents."""
    return require("alkalinity", use_dkh, 0.0, 15.0, "dKH") * CALCIUM_MG_L_PER_DKH


def magnesium_sulfate_g(volume_l: float, rise_mg_l: float) -> float:
    """Grams of MgSO4.7H2O for a rise in magnesium. Valid: rise 0-1000 mg/L. Source: stoichiometry, 246.4745/24.3051."""
    return _g(volume_l, rise_mg_l, MGSO4_7H2O_G_MOL / MG_G_MOL, 1000.0)


def magnesium_mix_g(volume_l: float, rise_mg_l: float) -> tuple[float, float]:
    """(grams MgCl2.6H2O, grams MgSO4.7H2O) for a rise in magnesium that keeps sea water's chloride to sulfate, about 8 : 1.

    Valid: rise 0-1000 mg/L. Source: `SULFATE_SHARE_OF_MAGNESIUM`."""
    x = SULFATE_SHARE_OF_MAGNESIUM
    return _g(volume_l, rise_mg_l * (1 - x), MGCL2_6H2O_G_MOL / MG_G_MOL, 1000.0), magnesium_sulfate_g(volume_l, rise_mg_l * x)


def salt_left_mg_l(dosed_dkh: float) -> float:
    """Table salt left in the water, mg/L, where bicarbonate and calcium chloride replace so much alkalinity and its calcium.

    Valid: 0-100 dKH. Source: 2 NaHCO3 + CaCl2 -> CaCO3 + 2 NaCl: one NaCl an equivalent."""
    return require("alkalinity dosed", dosed_dkh, 0.0, 100.0, "dKH") / DKH_PER_MEQ_L * NACL_G_MOL


def alkalinity_after_nitrate_dkh(nitrate_rise_mg_l: float) -> float:
    """Alkalinity that went as nitrate rose by so much (mg/L as NO3). Valid: 0-1000 mg/L. Source: nitrification, two equivalents a nitrogen."""
    return require("nitrate rise", nitrate_rise_mg_l, 0.0, 1000.0, "mg/L as NO3") / NO3_G_MOL * 2.0 * DKH_PER_MEQ_L


def nitrate_salt_g(volume_l: float, rise_mg_l: float) -> float:
    """Grams of NaNO3 for a rise of nitrate as NO3. Valid: rise 0-50 mg/L. Source: stoichiometry, 84.9947/62.0049."""
    return _g(volume_l, rise_mg_l, NANO3_G_MOL / NO3_G_MOL, 50.0)


def phosphate_salt_mg(volume_l: float, rise_mg_l: float) -> float:
    """Milligrams of Na2HPO4 without water for a rise of phosphate as PO4. Valid: rise 0-1 mg/L. Source: stoichiometry, 141.9589/94.9714."""
    return _g(volume_l, rise_mg_l, NA2HPO4_G_MOL / PO4_G_MOL, 1.0) * 1000.0


def phosphate_from_phosphorus_mg_l(phosphorus_mg_l: float) -> float:
    """mg/L as PO4 from mg/L as P. Valid: 0-10 mg/L. Source: 94.9714/30.97376."""
    return require("phosphorus", phosphorus_mg_l, 0.0, 10.0, "mg/L as P") * PO4_G_MOL / P_G_MOL


def thiosulfate_mg(tap_l: float, chlorine_mg_l: float, *, least: bool = False) -> float:
    """Milligrams of Na2S2O3.5H2O against the chlorine of so much tap water: the safe end (two thiosulfate a chlorine), or the least.

    Valid: 0-1000 L, chlorine 0-10 mg/L. Source: 2 S2O3 + Cl2 -> S4O6 + 2 Cl; S2O3 + 4 Cl2 + 5 H2O -> 2 SO4 + 8 Cl."""
    chlorine = require("tap water", tap_l, 0.0, 1000.0, "L") * require("chlorine", chlorine_mg_l, 0.0, 10.0, "mg/L")
    return chlorine * THIOSULFATE_G_MOL / CL2_G_MOL * (0.25 if least else 2.0)


def chloramine_nitrogen_mg_l(chloramine_mg_l_as_cl2: float) -> float:
    """Ammonia left, mg/L as N, once chloramine (mg/L as Cl2) is neutralised. Valid: 0-10 mg/L. Source: one N a Cl2."""
    return require("chloramine", chloramine_mg_l_as_cl2, 0.0, 10.0, "mg/L as Cl2") * N_G_MOL / CL2_G_MOL


def value_at_35(value: float, salinity: float) -> float:
    """A salt of sea water as it would read at 35 ppt. Valid: salinity 5-60 ppt. Source: constant proportions."""
    return value * 35.0 / require("salinity", salinity, 5.0, 60.0, "ppt")


_IUPAC = "stoichiometry; IUPAC conventional atomic weights"
FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("calcium_anhydrous_g", "g = litres x rise / 1000 x 110.9838/40.078", _IUPAC, "rise 0 to 300 mg/L"),
        Formula("calcium_hexahydrate_g", "g = litres x rise / 1000 x 219.0755/40.078", _IUPAC, "rise 0 to 300 mg/L"),
        Formula("calcium_with_alkalinity_mg_l", "mg/L Ca = dKH x 7.147", "one calcium for two equivalents; " + _IUPAC, "0 to 15 dKH"),
        Formula("magnesium_sulfate_g", "g = litres x rise / 1000 x 246.4745/24.3051", _IUPAC, "rise 0 to 1000 mg/L"),
        Formula("magnesium_mix_g", "nine tenths of the magnesium as chloride, 9.4 % as sulfate", "reference sea salt, Millero 2008; " + _IUPAC, "rise 0 to 1000 mg/L"),
        Formula("thiosulfate_mg", "mg = litres x chlorine x 7.0", "2 S2O3 + Cl2 -> S4O6 + 2 Cl; " + _IUPAC, "chlorine 0 to 10 mg/L"),
        Formula("lime_g", "g = litres x rise(dKH) / 2.8039 / 1000 x 74.0927/2", _IUPAC, "rise 0 to 15 dKH"),
        Formula("nitrate_salt_g", "g = litres x rise / 1000 x 84.9947/62.0049", _IUPAC, "rise 0 to 50 mg/L as NO3"),
        Formula("phosphate_salt_mg", "mg = litres x rise x 141.9589/94.9714", _IUPAC, "rise 0 to 1 mg/L as PO4"),
    )
}

"""Molar masses, g/mol, and what follows from them alone: known here once, for dosing, conversions and the units that people write.

IUPAC conventional atomic weights (CIAAW 2021): H 1.008, C 12.011, N 14.007, O 15.999, Na 22.990, Mg 24.305, P 30.974, S 32.06,
Cl 35.45, Ca 40.078, to one more digit.
"""

from __future__ import annotations

N = 14.0067
NH3, NH4, NO2, NO3 = 17.0305, 18.0385, 46.0055, 62.0049
P, PO4 = 30.97376, 94.9714
O2, CL2 = 31.9988, 70.906
CA, MG = 40.078, 24.3051
CAO, CACO3, CAOH2 = 56.0774, 100.087, 74.0927
NAHCO3, NA2CO3 = 84.0067, 105.9885
NH4CL = 53.4914
CACL2, CACL2_2H2O = 110.9838, 147.0144
MGCL2_6H2O, MGSO4_7H2O = 203.3026, 246.4745
THIOSULFATE_5H2O = 248.1841

DKH_PER_MEQ = CAO / 20.0
"""One German degree of hardness is 10 mg CaO per litre, two equivalents per mole: 2.8039 degrees per meq/L."""
CACO3_MG_PER_MEQ = CACO3 / 2.0

__all__ = [
    "CA", "CACL2", "CACL2_2H2O", "CACO3", "CACO3_MG_PER_MEQ", "CAO", "CAOH2", "CL2", "DKH_PER_MEQ", "MG", "MGCL2_6H2O", "MGSO4_7H2O", "N", "NA2CO3", "NAHCO3", "NH3", "NH4", "NH4CL", "NO2", "NO3", "O2",
    "P", "PO4", "THIOSULFATE_5H2O",
]

"""Writes data/computed.csv: check values worked out by libraries that the planner never loads.

Run by hand, with seawater, iapws, PyCO2SYS, molmass, scipy, CoolProp, PsychroLib and ht installed:
`python tests/truth/make_computed.py`. The tests read the table only, so they need none of these. Nothing here
imports the planner: a value of ours must not find its way into its own oracle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import CoolProp.CoolProp as coolprop
import iapws
import numpy as np
import PyCO2SYS
import seawater
from make_heat_rows import heat_rows
from make_rows import Row, Source, write_rows
from molmass import Formula
from PyCO2SYS import salts
from PyCO2SYS.equilibria import p1atm
from scipy.optimize import brentq

REFERENCE_SALT = (
    35.16504 / 35 / 1000
)  # kg of salt per kg of sea water and unit of salinity, Millero et al. 2008
OXYGEN_G_PER_L = 1.42905  # density of oxygen gas at 0 deg C and 1 atm

EOS = Source("EOS-80 (UNESCO Tech. Pap. Mar. Sci. 36, 1981)", "one-atmosphere equation", "seawater")
PSS = Source("PSS-78 (UNESCO Tech. Pap. Mar. Sci. 36, 1981)", "salinity from conductivity ratio", "seawater")
WEISS = Source("Weiss 1970, Deep-Sea Res. 17:721", "eq. 4", "seawater")
IAPWS08 = Source("IAPWS-08 sea water (IAPWS R13-08)", "Gibbs function, with IAPWS-95", "iapws")
MIT = Source("Sharqawy, Lienhard & Zubair 2010, Desalin. Water Treat. 16:354", "correlations", "CoolProp")
INVERSE = Source("EOS-80 specific gravity, inverted", "Brent root of the density ratio", "scipy")
CW95 = Source("Clegg & Whitfield 1995", "eq. 18", "PyCO2SYS")
FH82 = Source("Takahashi et al. 1982, GEOSECS Pacific 3", "p. 80, fH", "PyCO2SYS")
CO2SYS = Source("CO2SYS, ammonia on the NBS scale", "k_ammonia, opt_pH_scale=4", "PyCO2SYS")
YM95 = Source("Yao & Millero 1995, Aquat. Geochem. 1:53", "ammonium, carried to the total scale", "PyCO2SYS")
IUPAC = Source("IUPAC conventional atomic weights", "molar masses", "molmass")
MILLERO = Source("Millero et al. 2008, Deep-Sea Res. I 55:50", "Table 4 = TEOS-10 Table D.3", "molmass")

DENSITIES = ((0, 15), (0, 25), (10, 20), (20, 25), (25, 30), (30, 20), (33, 25), (35, 15), (35, 20), (35, 24))
DENSITIES += ((35, 25), (35, 28), (35, 35), (38, 25), (40, 22), (42, 30))
IAPWS_DENSITIES = (
    (5, 10),
    (10, 30),
    (20, 20),
    (30, 25),
    (33, 28),
    (35, 10),
    (35, 20),
    (35, 25),
    (35, 30),
    (40, 25),
)
PAIRS = (
    (25, 25),
    (20, 20),
    (15.56, 15.56),
    (15.6, 15.6),
    (20, 4),
    (25, 4),
    (15, 4),
    (17.5, 17.5),
    (24, 24),
    (26, 26),
)
READINGS = tuple((1.026, t, ref) for t, ref in PAIRS)
READINGS += (
    (1.020, 25, 25),
    (1.022, 25, 25),
    (1.025, 25, 25),
    (1.028, 25, 25),
    (1.023, 25, 4),
    (1.0269, 15.56, 15.56),
)
SHIFTS = (
    (25, 20),
    (25, 28),
    (30, 20),
    (30, 30),
    (33, 25),
    (35, 18),
    (35, 20),
    (35, 22),
    (35, 24),
    (35, 25),
    (35, 26),
)
SHIFTS += ((35, 28), (35, 30), (36, 25), (40, 25))
CONSTANTS = (
    (25, 20),
    (25, 25),
    (30, 22),
    (30, 26),
    (33, 24),
    (33, 28),
    (35, 20),
    (35, 25),
    (35, 26),
    (40, 30),
)


def relative_density(s: float, t: float, reference_c: float) -> float:
    return float(seawater.dens0(s, t) / seawater.dens0(0, reference_c))


def sea_water_rows() -> Iterator[Row]:
    for s, t in DENSITIES:
        yield Row("density", (s, t), float(seawater.dens0(s, t)), "kg/m3", 0.006, "abs", EOS)
    for s, t, ref in ((0, 15, 15), (35, 25, 25), (35, 20, 20), (36, 25, 25)):
        yield Row(
            "sg", (s, t, ref), relative_density(s, t, ref), "1", 1e-5, "abs", EOS.at("ratio of densities")
        )
    for s, t in ((s, t) for s in (5, 15, 25, 30, 35, 40) for t in (15, 20, 25)):
        ms_cm = round(float(np.ravel(seawater.cndr(s, t, 0))[0]) * seawater.constants.c3515, 6)
        back = float(np.ravel(seawater.salt(ms_cm / seawater.constants.c3515, t, 0))[0])
        yield Row("salinity_from_conductivity", (ms_cm, t), back, "ppt", 1e-5, "abs", PSS)
    for s, t in IAPWS_DENSITIES:
        sea = iapws.SeaWater(T=t + 273.15, P=0.101325, S=s * REFERENCE_SALT)
        yield Row("density", (s, t), sea.rho, "kg/m3", 2e-5, "abs", IAPWS08)
    for s, t in ((10, 20), (20, 25), (30, 25), (35, 20), (35, 25), (35, 30)):
        sea = iapws.SeaWater(T=t + 273.15, P=0.101325, S=s * REFERENCE_SALT)
        yield Row("heat_capacity", (s, t), sea.cp * 1000, "J/(kg K)", 0.05, "abs", IAPWS08)
    for s in (30, 35, 36):
        sea = iapws.SeaWater(T=298.15, P=0.101325, S=s * REFERENCE_SALT)
        yield Row("grams_per_litre", (s, 25), sea.rho * s * REFERENCE_SALT, "g/L", 1e-5, "abs", IAPWS08)
    for s, t in ((10, 20), (20, 25), (30, 20), (35, 15), (35, 20), (35, 25), (35, 30), (40, 25)):
        fluid = f"INCOMP::MITSW[{s * REFERENCE_SALT:.8f}]"
        rho, cp = (coolprop.PropsSI(x, "T", t + 273.15, "P", 101325, fluid) for x in "DC")
        yield Row("density", (s, t), rho, "kg/m3", 1e-3, "rel", MIT.at("density"))
        yield Row("heat_capacity", (s, t), cp, "J/(kg K)", 5e-3, "rel", MIT.at("heat capacity"))
    for sg, t, ref in READINGS:
        s = brentq(lambda x, sg=sg, t=t, ref=ref: relative_density(x, t, ref) - sg, 0, 42, xtol=1e-10)
        yield Row("salinity_from_sg", (sg, t, ref), s, "ppt", 0.008, "abs", INVERSE)
    for s, t in ((s, t) for s in (0, 20, 30, 35, 40) for t in (15, 20, 25, 30)):
        yield Row("oxygen", (s, t), float(seawater.satO2(s, t)) * OXYGEN_G_PER_L, "mg/L", 4e-3, "rel", WEISS)


def carbonate_system(ph: float, s: float, t: float, scale: int) -> dict[str, float]:
    out = PyCO2SYS.sys(
        par1=2300, par2=ph, par1_type=1, par2_type=3, salinity=s, temperature=t, opt_pH_scale=scale
    )
    return {name: float(out[name]) for name in ("pH_nbs", "pH_sws", "pH_total", "k_ammonia")}


def ammonia_rows() -> Iterator[Row]:
    for s, t in CONSTANTS:
        pk = -math.log10(float(p1atm.kNH3_TOT_CW95(t + 273.15, float(s))))
        yield Row("pk_total", (t, s), pk, "1", 1e-6, "abs", CW95)
    for s, t in SHIFTS:
        out = carbonate_system(8.1, s, t, scale=1)
        yield Row("nbs_minus_total", (t, s), out["pH_nbs"] - out["pH_total"], "1", 1e-5, "abs", FH82)
    for s, t, ph in ((s, t, ph) for s in (30, 35) for t in (20, 24, 25, 26, 28) for ph in (7.8, 8.2)):
        pk = -math.log10(carbonate_system(ph, s, t, scale=4)["k_ammonia"])
        yield Row("percent_nh3", (ph, t, s), 100 / (1 + 10 ** (pk - ph)), "%", 1e-4, "rel", CO2SYS)
    # 0.025 in pK is 6 %: the accuracy of 5 % that Clegg & Whitfield state, and a little for the older fit
    for s, t in ((25, 20), (25, 25), (30, 20), (30, 25), (35, 10), (35, 20), (35, 25), (35, 30)):
        out = carbonate_system(8.1, s, t, scale=1)
        pk_seawater = -math.log10(float(p1atm.kNH3_SWS_YM95(t + 273.15, float(s))))
        pk = pk_seawater - (out["pH_sws"] - out["pH_total"])
        yield Row("pk_total", (t, s), pk, "1", 0.025, "abs", YM95)


def m(formula: str) -> float:
    return float(Formula(formula).mass)


def mass_rows() -> Iterator[Row]:
    meq_per_dkh = 20 / m("CaO")
    for species in ("NH3", "NH4", "NO2", "NO3"):
        yield Row("species_from_n", (1, species), m(species) / m("N"), "mg/L", 1e-4, "rel", IUPAC)
        yield Row("n_from_species", (2, species), 2 * m("N") / m(species), "mg/L as N", 1e-4, "rel", IUPAC)
    for quantity, inputs, expected, unit in (
        ("ammonium_chloride", (100, 1), 0.1 * m("NH4Cl") / m("N"), "g"),
        ("ammonium_chloride", (165, 2), 0.33 * m("NH4Cl") / m("N"), "g"),
        ("ammonia_solution", (100, 2, 5), 0.2 * m("NH3") / m("N") / 0.05, "mL"),
        ("dkh_from_meq", (1,), 1 / meq_per_dkh, "dKH"),
        ("caco3_from_dkh", (1,), meq_per_dkh * m("CaCO3") / 2, "mg/L"),
        ("bicarbonate", (100, 1), 0.1 * meq_per_dkh * m("NaHCO3"), "g"),
        ("bicarbonate", (250, 2.5), 0.25 * 2.5 * meq_per_dkh * m("NaHCO3"), "g"),
        ("carbonate", (100, 1), 0.1 * meq_per_dkh * m("Na2CO3") / 2, "g"),
        ("alkalinity_used", (1,), 2 / m("N") / meq_per_dkh, "dKH"),
        ("calcium_chloride", (100, 10), m("CaCl2(H2O)2") / m("Ca"), "g"),
        ("magnesium_chloride", (100, 10), m("MgCl2(H2O)6") / m("Mg"), "g"),
    ):
        yield Row(quantity, inputs, expected, unit, 1e-4, "rel", IUPAC)
    # Ions from older analyses, against Reference Salinity times the mass fractions of TEOS-10 Table D.3.
    for ion, fraction, analysis, source, tolerance in (
        ("Ca", 0.0117186, salts.calcium_RT67, "Riley & Tongudai 1967, Chem. Geol. 2:263", 2e-3),
        ("SO4", 0.0771319, salts.sulfate_MR66, "Morris & Riley 1966, Deep-Sea Res. 13:699", 2e-3),
        ("F", 0.0000369, salts.fluoride_R65, "Riley 1965, Deep-Sea Res. 12:219", 1e-2),
    ):
        for s in (30, 35):
            mg_kg = float(analysis(float(s))) * m(ion) * 1000
            place = Source(source, f"total {ion}", "PyCO2SYS")
            yield Row("ion_mg_per_kg", (s, fraction), mg_kg, "mg/kg", tolerance, "rel", place)
    # The heaviest mix chemistry allows: Mg, Ca and Sr salts as their usual hydrates, per litre at 25 deg C.
    crystal_water = m("H2O") * (6 * 0.0365055 / m("Mg") + 2 * 0.0117186 / m("Ca") + 6 * 0.000226 / m("Sr"))
    anhydrous = 35 * REFERENCE_SALT * iapws.SeaWater(T=298.15, P=0.101325, S=35 * REFERENCE_SALT).rho
    heaviest = anhydrous * (1 + crystal_water)
    yield Row("salt_upper_bound", (), heaviest, "g/L", 0.01, "rel", MILLERO.at("Table 4, salts as hydrates"))
    yield Row(
        "salt_lower_bound", (), anhydrous, "g/L", 0.01, "rel", MILLERO.at("Reference Salinity, anhydrous")
    )


if __name__ == "__main__":
    write_rows([*sea_water_rows(), *ammonia_rows(), *mass_rows(), *heat_rows()])

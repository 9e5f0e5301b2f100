"""Writes data/computed.csv: check values worked out by libraries that the planner never loads.

Run by hand, in an environment that has seawater, iapws, PyCO2SYS, molmass, scipy, CoolProp, PsychroLib and
ht: `python tests/truth/make_computed.py`. The tests read the table only, so they need none of these. Nothing
here imports the planner: a value of ours must not find its way into its own oracle.
"""

from __future__ import annotations

import csv
import math
from importlib.metadata import version
from pathlib import Path

import CoolProp.CoolProp as coolprop
import ht
import iapws
import molmass
import numpy as np
import psychrolib
import PyCO2SYS
import scipy.constants
import seawater
from iapws.iapws97 import _PSat_T
from PyCO2SYS import salts
from PyCO2SYS.equilibria import p1atm
from scipy.optimize import brentq

COLUMNS = ["quantity", "inputs", "expected", "unit", "tolerance", "kind", "source", "place", "obtained"]
ROWS: list[list[object]] = []
REFERENCE_SALT = 35.16504  # g/kg at practical salinity 35, Millero et al. 2008


def by(library: str) -> str:
    return f"computed: {library} {version(library)}"


def row(
    quantity: str,
    inputs: tuple[object, ...],
    expected: float,
    unit: str,
    tolerance: float,
    kind: str,
    source: str,
    place: str,
    library: str,
) -> None:
    text = ";".join(f"{x:g}" if isinstance(x, (int, float)) else str(x) for x in inputs)
    ROWS.append([quantity, text, f"{expected:.10g}", unit, tolerance, kind, source, place, by(library)])


def sea_water() -> None:
    eos = "EOS-80 (UNESCO Tech. Pap. Mar. Sci. 36, 1981)"
    for s, t in [
        (0, 15),
        (0, 25),
        (10, 20),
        (20, 25),
        (25, 30),
        (30, 20),
        (33, 25),
        (35, 15),
        (35, 20),
        (35, 24),
        (35, 25),
        (35, 28),
        (35, 35),
        (38, 25),
        (40, 22),
        (42, 30),
    ]:
        row(
            "density",
            (s, t),
            float(seawater.dens0(s, t)),
            "kg/m3",
            0.006,
            "abs",
            eos,
            "one-atmosphere equation",
            "seawater",
        )
    for s, t, p in [(0, 15, 15), (35, 25, 25), (35, 20, 20), (36, 25, 25)]:
        row(
            "sg",
            (s, t, p),
            float(seawater.dens0(s, t) / seawater.dens0(0, p)),
            "1",
            1e-5,
            "abs",
            eos,
            "ratio of two densities",
            "seawater",
        )
    pss = "PSS-78 (UNESCO Tech. Pap. Mar. Sci. 36, 1981)"
    for s in (5, 15, 25, 30, 35, 40):
        for t in (15, 20, 25):
            c = round(float(np.ravel(seawater.cndr(s, t, 0))[0]) * seawater.constants.c3515, 6)
            back = float(np.ravel(seawater.salt(c / seawater.constants.c3515, t, 0))[0])
            row(
                "salinity_from_conductivity",
                (f"{c:.6f}", t),
                back,
                "ppt",
                1e-5,
                "abs",
                pss,
                "salinity from conductivity ratio",
                "seawater",
            )
    iapws08 = "IAPWS-08 sea water (IAPWS R13-08)"
    for s, t in [
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
    ]:
        sea = iapws.SeaWater(T=t + 273.15, P=0.101325, S=s * REFERENCE_SALT / 35 / 1000)
        row(
            "density",
            (s, t),
            sea.rho,
            "kg/m3",
            2e-5,
            "abs",
            iapws08,
            "Gibbs function, with IAPWS-95",
            "iapws",
        )
    for s, t in [(10, 20), (20, 25), (30, 25), (35, 20), (35, 25), (35, 30)]:
        sea = iapws.SeaWater(T=t + 273.15, P=0.101325, S=s * REFERENCE_SALT / 35 / 1000)
        row(
            "heat_capacity",
            (s, t),
            sea.cp * 1000,
            "J/(kg K)",
            0.05,
            "abs",
            iapws08,
            "Gibbs function",
            "iapws",
        )
    for s in (30, 35, 36):
        sea = iapws.SeaWater(T=298.15, P=0.101325, S=s * REFERENCE_SALT / 35 / 1000)
        row(
            "grams_per_litre",
            (s, 25),
            sea.rho * s * REFERENCE_SALT / 35 / 1000,
            "g/L",
            1e-5,
            "abs",
            iapws08,
            "density times Reference Salinity",
            "iapws",
        )
    for s, t in [(10, 20), (20, 25), (30, 20), (35, 15), (35, 20), (35, 25), (35, 30), (40, 25)]:
        fluid = f"INCOMP::MITSW[{s * REFERENCE_SALT / 35 / 1000:.8f}]"
        mit = "Sharqawy, Lienhard & Zubair 2010, Desalin. Water Treat. 16:354"
        rho, cp = (coolprop.PropsSI(x, "T", t + 273.15, "P", 101325, fluid) for x in "DC")
        row("density", (s, t), rho, "kg/m3", 1e-3, "rel", mit, "density correlation", "CoolProp")
        row(
            "heat_capacity", (s, t), cp, "J/(kg K)", 5e-3, "rel", mit, "heat capacity correlation", "CoolProp"
        )
    # Specific gravity turned round by a general root finder on EOS-80, for each pair of temperatures in use.
    for sg, t, p in [
        (1.020, 25, 25),
        (1.022, 25, 25),
        (1.025, 25, 25),
        (1.026, 25, 25),
        (1.028, 25, 25),
        (1.026, 20, 20),
        (1.026, 15.56, 15.56),
        (1.026, 15.6, 15.6),
        (1.026, 20, 4),
        (1.026, 25, 4),
        (1.026, 15, 4),
        (1.026, 17.5, 17.5),
        (1.026, 24, 24),
        (1.026, 26, 26),
        (1.023, 25, 4),
        (1.0269, 15.56, 15.56),
    ]:
        s = brentq(
            lambda x, t=t, p=p, sg=sg: float(seawater.dens0(x, t) / seawater.dens0(0, p)) - sg,
            0,
            42,
            xtol=1e-10,
        )
        row(
            "salinity_from_sg",
            (sg, t, p),
            s,
            "ppt",
            0.008,
            "abs",
            "EOS-80 specific gravity, inverted",
            "Brent root of the density ratio",
            "scipy",
        )


def oxygen() -> None:
    weiss = "Weiss 1970, Deep-Sea Res. 17:721"
    for s in (0, 20, 30, 35, 40):
        for t in (15, 20, 25, 30):
            # 1.42905 g/L: density of oxygen at 0 deg C and 1 atm
            row(
                "oxygen",
                (s, t),
                float(seawater.satO2(s, t)) * 1.42905,
                "mg/L",
                4e-3,
                "rel",
                weiss,
                "eq. 4",
                "seawater",
            )


def ammonia() -> None:
    for s, t in [
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
    ]:
        k = float(p1atm.kNH3_TOT_CW95(t + 273.15, float(s)))
        row(
            "pk_total",
            (t, s),
            -math.log10(k),
            "1",
            1e-6,
            "abs",
            "Clegg & Whitfield 1995",
            "eq. 18",
            "PyCO2SYS",
        )
    for s, t in [
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
        (35, 28),
        (35, 30),
        (36, 25),
        (40, 25),
    ]:
        out = PyCO2SYS.sys(
            par1=2300, par2=8.1, par1_type=1, par2_type=3, salinity=s, temperature=t, opt_pH_scale=1
        )
        row(
            "nbs_minus_total",
            (t, s),
            float(out["pH_nbs"] - out["pH_total"]),
            "1",
            1e-5,
            "abs",
            "Takahashi et al. 1982, GEOSECS Pacific 3",
            "p. 80, fH",
            "PyCO2SYS",
        )
    for s in (30, 35):
        for t in (20, 24, 25, 26, 28):
            for ph in (7.8, 8.2):
                out = PyCO2SYS.sys(
                    par1=2300, par2=ph, par1_type=1, par2_type=3, salinity=s, temperature=t, opt_pH_scale=4
                )
                percent = 100 / (1 + 10 ** (-math.log10(float(out["k_ammonia"])) - ph))
                row(
                    "percent_nh3",
                    (ph, t, s),
                    percent,
                    "%",
                    1e-4,
                    "rel",
                    "CO2SYS, ammonia on the NBS scale",
                    "k_ammonia, opt_pH_scale=4",
                    "PyCO2SYS",
                )
    for s, t in [(25, 20), (25, 25), (30, 20), (30, 25), (35, 10), (35, 20), (35, 25), (35, 30)]:
        k_sws = float(p1atm.kNH3_SWS_YM95(t + 273.15, float(s)))
        out = PyCO2SYS.sys(
            par1=2300, par2=8.1, par1_type=1, par2_type=3, salinity=s, temperature=t, opt_pH_scale=1
        )
        pk = -math.log10(k_sws) - float(out["pH_sws"] - out["pH_total"])
        row(
            "pk_total",
            (t, s),
            pk,
            "1",
            0.025,
            "abs",
            "Yao & Millero 1995, Aquat. Geochem. 1:53",
            "ammonium, sea-water scale carried to the total scale",
            "PyCO2SYS",
        )


def masses() -> None:
    def m(formula: str) -> float:
        return float(molmass.Formula(formula).mass)

    iupac = "IUPAC conventional atomic weights"
    meq_per_dkh = 20 / m("CaO")
    for species in ("NH3", "NH4", "NO2", "NO3"):
        row(
            "species_from_n",
            (1, species),
            m(species) / m("N"),
            "mg/L",
            1e-4,
            "rel",
            iupac,
            "molar masses",
            "molmass",
        )
        row(
            "n_from_species",
            (2, species),
            2 * m("N") / m(species),
            "mg/L as N",
            1e-4,
            "rel",
            iupac,
            "molar masses",
            "molmass",
        )
    for quantity, inputs, expected, unit in [
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
    ]:
        row(quantity, inputs, expected, unit, 1e-4, "rel", iupac, "molar masses", "molmass")
    # Ions of sea water from older analyses, against Reference Salinity times the mass fractions of TEOS-10
    # Table D.3.
    for ion, fraction, table, source, name, tolerance in [
        ("Ca", 0.0117186, salts.calcium_RT67, "Riley & Tongudai 1967, Chem. Geol. 2:263", "calcium", 2e-3),
        ("SO4", 0.0771319, salts.sulfate_MR66, "Morris & Riley 1966, Deep-Sea Res. 13:699", "sulfate", 2e-3),
        ("F", 0.0000369, salts.fluoride_R65, "Riley 1965, Deep-Sea Res. 12:219", "fluoride", 1e-2),
    ]:
        for s in (30, 35):
            mg_kg = float(table(float(s))) * m(ion) * 1000
            row("ion_mg_per_kg", (s, fraction), mg_kg, "mg/kg", tolerance, "rel", source, name, "PyCO2SYS")
    # Heaviest mix that chemistry allows: Mg, Ca and Sr salts as their usual hydrates, in one finished litre
    # at 25 deg C.
    crystal_water = m("H2O") * (6 * 0.0365055 / m("Mg") + 2 * 0.0117186 / m("Ca") + 6 * 0.000226 / m("Sr"))
    sea = iapws.SeaWater(T=298.15, P=0.101325, S=REFERENCE_SALT / 1000)
    row(
        "salt_upper_bound",
        (),
        REFERENCE_SALT * (1 + crystal_water) * sea.rho / 1000,
        "g/L",
        0.01,
        "rel",
        "Millero et al. 2008, Deep-Sea Res. I 55:50",
        "Table 4 = TEOS-10 Table D.3, salts as hydrates",
        "molmass",
    )
    row(
        "salt_lower_bound",
        (),
        REFERENCE_SALT * sea.rho / 1000,
        "g/L",
        0.01,
        "rel",
        "Millero et al. 2008, Deep-Sea Res. I 55:50",
        "Reference Salinity, anhydrous",
        "iapws",
    )


def air_and_heat() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    for t in (5, 8, 10, 12, 15, 16, 18, 20, 21, 22, 24, 25, 26, 28, 30, 35):
        row(
            "vapour_pressure",
            (t,),
            float(psychrolib.GetSatVapPres(t)),
            "Pa",
            1e-3,
            "rel",
            "ASHRAE Handbook Fundamentals 2017, ch. 1",
            "eq. 6",
            "PsychroLib",
        )
    for t in (5, 15, 20, 25, 30, 40):
        pure = coolprop.PropsSI("P", "T", t + 273.15, "Q", 0, "Water")
        row("vapour_pressure", (t,), pure, "Pa", 5e-4, "rel", "IAPWS-95", "saturation line", "CoolProp")
        latent = coolprop.PropsSI("H", "T", t + 273.15, "Q", 1, "Water") - coolprop.PropsSI(
            "H", "T", t + 273.15, "Q", 0, "Water"
        )
        row("latent_heat", (t,), latent, "J/kg", 1e-3, "rel", "IAPWS-95", "saturation line", "CoolProp")
    for t in (20, 26):
        row(
            "vapour_pressure",
            (t,),
            _PSat_T(t + 273.15) * 1e6,
            "Pa",
            1e-9,
            "rel",
            "IAPWS-IF97",
            "eq. 30",
            "iapws",
        )
    # A pane between water and a room: free convection and radiation outside, conduction, a water film of 300
    # W/m2K.
    panes = [(24, 20, 6), (24, 20, 10), (24, 20, 15), (25, 20, 8), (25, 20, 12), (26, 22, 8), (26, 22, 10)]
    panes += [(26, 20, 6), (26, 20, 8), (26, 20, 10), (26, 20, 12), (26, 20, 15), (28, 20, 10), (30, 20, 12)]
    for t_w, t_a, mm in panes:
        row(
            "wall_u",
            (mm,),
            pane_u(t_w, t_a, mm),
            "W/m2K",
            0.10,
            "rel",
            "Churchill & Chu 1975 with grey-body radiation",
            f"water {t_w}, room {t_a} deg C, height 0.5 m",
            "ht",
        )
    # Warm open water under cooler air, dry part: McAdams' plate facing up, and radiation; 1.0 x 0.5 m.
    for t_w, t_a in [(25, 20), (26, 18), (26, 20), (26, 22)]:
        row(
            "surface_heat",
            (100, 50, t_w, t_a),
            surface_w(1.0, 0.5, t_w, t_a),
            "W",
            0.10,
            "rel",
            "McAdams 1954, Heat Transmission, 3rd ed.",
            "level plate facing up, with grey-body radiation",
            "ht",
        )
    g = scipy.constants.g
    row(
        "floor_force",
        (337,),
        337 * g / 1000,
        "kN",
        1e-9,
        "rel",
        "standard gravity, CODATA",
        "9.80665 m/s2",
        "scipy",
    )
    psf = 40 * scipy.constants.pound * g / scipy.constants.foot**2 / 1000
    area = 337 * g / 1000 / psf
    row(
        "spread_area",
        (337, f"{psf:.8f}"),
        area,
        "m2",
        1e-5,
        "rel",
        "standard gravity, CODATA",
        "40 lb/ft2",
        "scipy",
    )


def pane_u(t_w: float, t_a: float, mm: float) -> float:
    def outer(surface_k: float) -> float:
        air_k, film_k, height = t_a + 273.15, (surface_k + t_a + 273.15) / 2, 0.5
        rho, mu, cp, k = (coolprop.PropsSI(x, "T", film_k, "P", 101325, "Air") for x in ("D", "V", "C", "L"))
        grashof = 9.80665 / film_k * max(surface_k - air_k, 1e-6) * height**3 * (rho / mu) ** 2
        h = float(ht.Nu_vertical_plate_Churchill(cp * mu / k, grashof)) * k / height
        return h + 0.84 * scipy.constants.sigma * (surface_k**2 + air_k**2) * (surface_k + air_k)

    resistance = 1 / 300 + mm / 1000 / 1.0

    def gap(surface_k: float) -> float:
        return (t_w + 273.15 - surface_k) / resistance - outer(surface_k) * (surface_k - t_a - 273.15)

    surface_k = brentq(gap, t_a + 273.15, t_w + 273.15)
    return 1 / (resistance + 1 / outer(surface_k))


def surface_w(length_m: float, width_m: float, t_w: float, t_a: float) -> float:
    film_k, size_m = (t_w + t_a) / 2 + 273.15, length_m * width_m / (2 * (length_m + width_m))
    rho, mu, cp, k = (coolprop.PropsSI(x, "T", film_k, "P", 101325, "Air") for x in ("D", "V", "C", "L"))
    grashof = 9.80665 / film_k * (t_w - t_a) * size_m**3 * (rho / mu) ** 2
    h = float(ht.Nu_horizontal_plate_McAdams(cp * mu / k, grashof, buoyancy=True)) * k / size_m
    radiation = 0.95 * scipy.constants.sigma * ((t_w + 273.15) ** 4 - (t_a + 273.15) ** 4)
    return length_m * width_m * (h * (t_w - t_a) + radiation)


def main() -> None:
    for fill in (sea_water, oxygen, ammonia, masses, air_and_heat):
        fill()
    with (Path(__file__).parent / "data" / "computed.csv").open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(ROWS)


if __name__ == "__main__":
    main()

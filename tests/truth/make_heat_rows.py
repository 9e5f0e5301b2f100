"""Computed check values for vapour, panes, open water and floors (see make_computed.py)."""

from __future__ import annotations

from collections.abc import Iterator

import CoolProp.CoolProp as coolprop
import ht
import psychrolib
from iapws.iapws97 import _PSat_T
from make_rows import Row, Source
from scipy import constants
from scipy.optimize import brentq

ASHRAE = Source("ASHRAE Handbook Fundamentals 2017, ch. 1", "eq. 6", "PsychroLib")
IAPWS95 = Source("IAPWS-95", "saturation line", "CoolProp")
IF97 = Source("IAPWS-IF97", "eq. 30", "iapws")
PANE = Source("Churchill & Chu 1975 with grey-body radiation", "", "ht")
LEVEL = Source(
    "McAdams 1954, Heat Transmission, 3rd ed.", "level plate facing up, with grey-body radiation", "ht"
)
GRAVITY = Source("standard gravity, CODATA", "9.80665 m/s2", "scipy")

PANES = ((24, 20, 6), (24, 20, 10), (24, 20, 15), (25, 20, 8), (25, 20, 12), (26, 22, 8), (26, 22, 10))
PANES += ((26, 20, 6), (26, 20, 8), (26, 20, 10), (26, 20, 12), (26, 20, 15), (28, 20, 10), (30, 20, 12))


def convection_w_m2_k(shape: str, warm_k: float, air_k: float, size_m: float) -> float:
    film_k = (warm_k + air_k) / 2
    rho, mu, cp, k = (coolprop.PropsSI(x, "T", film_k, "P", 101325, "Air") for x in ("D", "V", "C", "L"))
    grashof = constants.g / film_k * max(warm_k - air_k, 1e-6) * size_m**3 * (rho / mu) ** 2
    if shape == "upright":
        nusselt = ht.Nu_vertical_plate_Churchill(cp * mu / k, grashof)
    else:
        nusselt = ht.Nu_horizontal_plate_McAdams(cp * mu / k, grashof, buoyancy=True)
    return float(nusselt) * k / size_m


def radiation_w_m2(emissivity: float, warm_k: float, air_k: float) -> float:
    return emissivity * constants.sigma * (warm_k**4 - air_k**4)


def pane_u_w_m2_k(water_c: float, room_c: float, glass_mm: float) -> float:
    """Pane 0.5 m high, glass 1.0 W/mK with emissivity 0.84, water film 300 W/m2K."""
    water_k, room_k = water_c + 273.15, room_c + 273.15
    resistance = 1 / 300 + glass_mm / 1000

    def gap(surface_k: float) -> float:
        convection = convection_w_m2_k("upright", surface_k, room_k, 0.5) * (surface_k - room_k)
        return (water_k - surface_k) / resistance - convection - radiation_w_m2(0.84, surface_k, room_k)

    surface_k = brentq(gap, room_k, water_k)
    return float((water_k - surface_k) / resistance / (water_k - room_k))


def surface_w(length_m: float, width_m: float, water_c: float, room_c: float) -> float:
    water_k, room_k = water_c + 273.15, room_c + 273.15
    size_m = length_m * width_m / (2 * (length_m + width_m))
    convection = convection_w_m2_k("level", water_k, room_k, size_m) * (water_k - room_k)
    return length_m * width_m * (convection + radiation_w_m2(0.95, water_k, room_k))


def heat_rows() -> Iterator[Row]:
    psychrolib.SetUnitSystem(psychrolib.SI)
    for t in (5, 8, 10, 12, 15, 16, 18, 20, 21, 22, 24, 25, 26, 28, 30, 35):
        yield Row("vapour_pressure", (t,), float(psychrolib.GetSatVapPres(t)), "Pa", 1e-3, "rel", ASHRAE)
    for t in (5, 15, 20, 25, 30, 40):
        saturated = [
            coolprop.PropsSI(x, "T", t + 273.15, "Q", q, "Water") for x, q in (("P", 0), ("H", 1), ("H", 0))
        ]
        yield Row("vapour_pressure", (t,), saturated[0], "Pa", 5e-4, "rel", IAPWS95)
        yield Row("latent_heat", (t,), saturated[1] - saturated[2], "J/kg", 1e-3, "rel", IAPWS95)
    for t in (20, 26):
        yield Row("vapour_pressure", (t,), _PSat_T(t + 273.15) * 1e6, "Pa", 1e-9, "rel", IF97)
    for water_c, room_c, mm in PANES:
        place = PANE.at(f"water {water_c}, room {room_c} deg C, height 0.5 m")
        yield Row("wall_u", (mm,), pane_u_w_m2_k(water_c, room_c, mm), "W/m2K", 0.10, "rel", place)
    for water_c, room_c in ((25, 20), (26, 18), (26, 20), (26, 22)):
        watts = surface_w(1.0, 0.5, water_c, room_c)
        yield Row("surface_heat", (100, 50, water_c, room_c), watts, "W", 0.10, "rel", LEVEL)
    yield Row("floor_force", (337,), 337 * constants.g / 1000, "kN", 1e-9, "rel", GRAVITY)

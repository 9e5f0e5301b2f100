"""The box: volumes, displacement, masses and what they put on the floor; flow, lamp and RO time that go with its size.

Lengths are cm, glass mm, volumes L, masses kg. The floor functions report a load and say whom to ask. They
never judge a floor: that takes somebody who has seen the building.
"""

from __future__ import annotations

from typing import Literal

from planner.frozen import dataclass
from planner.science.formula import Formula, OutOfRange, require

__all__ = [
    "FORMULAS", "Floor", "FloorLoad", "Masses", "circulation_l_per_h", "displaced_l", "floor_load", "glass_mass_kg", "gross_volume_l", "inside_volume_l",
    "net_volume_l", "ro_hours", "sand_mass_kg", "tank_masses", "water_depth_cm",
]  # fmt: skip

Floor = Literal["solid", "suspended", "unknown"]

GRAVITY_M_S2 = 9.80665  # standard acceleration of free fall, 3rd CGPM 1901
GLASS_KG_M3 = 2500.0  # soda-lime, ASHRAE building materials table and EN 572-1


@dataclass(frozen=True, slots=True)
class Masses:
    """What stands on the floor, kg: rock and sand in full, water without the part they displace."""

    glass_kg: float
    water_kg: float
    rock_kg: float
    sand_kg: float
    stand_kg: float
    other_kg: float

    @property
    def total_kg(self) -> float:
        """Sum of all parts, kg."""
        return self.glass_kg + self.water_kg + self.rock_kg + self.sand_kg + self.stand_kg + self.other_kg


@dataclass(frozen=True, slots=True)
class FloorLoad:
    """Load of the whole system over its footprint, with the advice that belongs to it."""

    force_kn: float
    footprint_m2: float
    pressure_kn_m2: float
    advice: str


def _length(name: str, value: float) -> float:
    return require(name, value, 5.0, 1000.0, "cm")


def _mass(name: str, value: float) -> float:
    return require(name, value, 0.0, 50_000.0, "kg")


def gross_volume_l(length_cm: float, width_cm: float, height_cm: float) -> float:
    """Nominal volume from outside dimensions, L: what the shop calls the tank, more than it ever holds.

    Valid: 5-1000 cm each. Raises OutOfRange. Source: volume of a cuboid.
    """
    return _length("length", length_cm) * _length("width", width_cm) * _length("height", height_cm) / 1000.0


def water_depth_cm(height_cm: float, glass_mm: float, waterline_cm: float) -> float:
    """Depth of water, cm: outside height less the base pane less the distance of the waterline below the rim.

    Valid: height 5-1000 cm, glass 2-40 mm, waterline 0 up to what is left. Raises OutOfRange. Source:
    geometry.
    """
    inside_cm = _length("height", height_cm) - require("glass", glass_mm, 2.0, 40.0, "mm") / 10.0
    return inside_cm - require("waterline below the rim", waterline_cm, 0.0, inside_cm, "cm")


def inside_volume_l(
    length_cm: float, width_cm: float, height_cm: float, glass_mm: float, waterline_cm: float
) -> float:
    """Litres up to the waterline in the empty box, from outside dimensions and glass thickness.

    Valid: 5-1000 cm, glass 2-40 mm, waterline 0 up to the inside height. Raises OutOfRange.
    Source: geometry, (L - 2g)(W - 2g) x water depth.
    """
    glass_cm = require("glass", glass_mm, 2.0, 40.0, "mm") / 10.0
    inner_length_cm = _length("length", length_cm) - 2.0 * glass_cm
    inner_width_cm = _length("width", width_cm) - 2.0 * glass_cm
    if inner_length_cm <= 0.0 or inner_width_cm <= 0.0:
        raise OutOfRange("glass", glass_mm, 2.0, 5.0 * min(length_cm, width_cm), "mm")
    return inner_length_cm * inner_width_cm * water_depth_cm(height_cm, glass_mm, waterline_cm) / 1000.0


def sand_mass_kg(area_cm2: float, depth_cm: float, bulk_density_kg_l: float = 1.4) -> float:
    """Mass of a sand bed, kg.

    `bulk_density_kg_l` is that of dry loose sand (1.4: common practice, no source).

    Valid: area 0-1e6 cm2, depth 0-30 cm, density 0.8-2.2. Raises OutOfRange. Source: area x depth x density.
    """
    area, depth = require("area", area_cm2, 0.0, 1e6, "cm2"), require("sand depth", depth_cm, 0.0, 30.0, "cm")
    return area * depth / 1000.0 * require("sand bulk density", bulk_density_kg_l, 0.8, 2.2, "kg/L")


def displaced_l(
    rock_kg: float,
    sand_kg: float,
    *,
    rock_displacement_l_per_kg: float = 0.5,
    sand_displacement_l_per_kg: float = 0.38,
) -> float:
    """Water that rock and sand push out, L.

    Both factors are inputs (defaults: common practice, no source; 0.38 is the inverse of 2.65 kg/L).

    Valid: masses 0-50 000 kg, factors 0.3-1 L/kg. Raises OutOfRange. Source: mass x displacement per kg.
    """
    rock_l = _mass("rock", rock_kg) * require(
        "rock displacement", rock_displacement_l_per_kg, 0.3, 1.0, "L/kg"
    )
    return rock_l + _mass("sand", sand_kg) * require(
        "sand displacement", sand_displacement_l_per_kg, 0.3, 1.0, "L/kg"
    )


def net_volume_l(
    inside_l: float,
    rock_kg: float = 0.0,
    sand_kg: float = 0.0,
    sump_l: float = 0.0,
    *,
    rock_displacement_l_per_kg: float = 0.5,
    sand_displacement_l_per_kg: float = 0.38,
) -> float:
    """Litres of water in the running system: inside volume plus sump water less what rock and sand push out.

    Litres counted while filling are better than this figure and replace it.
    Valid: 0-100 000 L; what is pushed out must be less than what there is. Raises OutOfRange.
    Source: geometry; displacement factors as in `displaced_l`.
    """
    whole_l = require("inside volume", inside_l, 0.0, 100_000.0, "L") + require(
        "sump", sump_l, 0.0, 100_000.0, "L"
    )
    out_l = displaced_l(
        rock_kg,
        sand_kg,
        rock_displacement_l_per_kg=rock_displacement_l_per_kg,
        sand_displacement_l_per_kg=sand_displacement_l_per_kg,
    )
    return whole_l - require("volume of rock and sand", out_l, 0.0, whole_l, "L")


def glass_mass_kg(
    length_cm: float, width_cm: float, height_cm: float, glass_mm: float, density_kg_m3: float = GLASS_KG_M3
) -> float:
    """Mass of a five-pane box (base, two long, two short panes; no braces, no lid), kg.

    Valid: 5-1000 cm, glass 2-40 mm, density 1100-2700 kg/m3 (acrylic 1180). Raises OutOfRange.
    Source: outside volume less inside volume, times density.
    """
    outside_l = gross_volume_l(length_cm, width_cm, height_cm)
    inside_l = inside_volume_l(length_cm, width_cm, height_cm, glass_mm, 0.0)
    return (
        (outside_l - inside_l)
        * require("density of the panes", density_kg_m3, 1100.0, 2700.0, "kg/m3")
        / 1000.0
    )


def tank_masses(
    glass_kg: float,
    water_l: float,
    *,
    water_density_kg_l: float,
    rock_kg: float = 0.0,
    sand_kg: float = 0.0,
    stand_kg: float = 0.0,
    other_kg: float = 0.0,
) -> Masses:
    """All that stands on the floor; `water_l` is net water, without what rock and sand displace.

    Valid: masses 0-50 000 kg, water 0-100 000 L, density 0.95-1.1 kg/L. Raises OutOfRange. Source: mass =
    volume x density.
    """
    litres = require("water", water_l, 0.0, 100_000.0, "L")
    return Masses(
        glass_kg=_mass("glass", glass_kg),
        water_kg=litres * require("density of the water", water_density_kg_l, 0.95, 1.1, "kg/L"),
        rock_kg=_mass("rock", rock_kg),
        sand_kg=_mass("sand", sand_kg),
        stand_kg=_mass("stand", stand_kg),
        other_kg=_mass("other equipment", other_kg),
    )


def floor_load(
    total_kg: float, footprint_length_cm: float, footprint_width_cm: float, floor: Floor = "unknown", units: str = "metric"
) -> FloorLoad:
    """Force and mean pressure of the whole system on its footprint, and whom to ask, in words in `units` (metric or us).

    Feet carry the same force on a smaller area: the pressure under them is higher than this mean.
    Valid: 0-50 000 kg, footprint 5-1000 cm a side. Raises OutOfRange.
    Source: F = m g with g = 9.80665 m/s2 (3rd CGPM 1901); p = F/A, the form in which EN 1991-1-1 states
    floor loads.
    """
    mass = _mass("total mass", total_kg)
    area_m2 = (
        _length("footprint length", footprint_length_cm)
        * _length("footprint width", footprint_width_cm)
        / 1e4
    )
    force_kn = mass * GRAVITY_M_S2 / 1000.0
    pressure = force_kn / area_m2
    figures = f"{mass:.0f} kg on {area_m2:.2f} m² is {pressure:.1f} kN/m² under the base, as if {mass / area_m2:.0f} kg stood on each square metre."
    if units == "us":  # 0.45359237 kg/lb and 0.09290304 m²/ft², NIST SP 811
        feet = area_m2 / 0.09290304
        figures = f"{mass / 0.45359237:.0f} lb on {feet:.1f} ft² is {mass / 0.45359237 / feet:.0f} lb/ft² under the base."
    if floor == "solid":
        advice = (
            f"{figures} That is more than rooms are commonly built for. On a sound slab on the ground this plan goes on"
            " without an engineer. If the slab has cracks, or a cellar or a hollow below it, or you are not sure, have a structural engineer look first. Local building rules come first."
        )
    else:
        word = "suspended" if floor == "suspended" else "of unknown build"
        advice = (
            f"{figures} The floor is {word}. Have a structural engineer judge it with these figures before"
            " anything is filled. Local building rules come first."
        )
    return FloorLoad(force_kn, area_m2, pressure, advice)


def circulation_l_per_h(volume_l: float, turnover_per_h: float) -> float:
    """Flow for a turnover, L/h. The turnover is common practice and always an input.

    Valid: 0-100 000 L, turnover 0-100 per hour. Raises OutOfRange. Source: flow = volume x turnover.
    """
    litres = require("volume", volume_l, 0.0, 100_000.0, "L")
    return litres * require("turnover", turnover_per_h, 0.0, 100.0, "per hour")


def ro_hours(litres: float, nameplate_l_per_day: float, cold_factor: float = 1.5) -> float:
    """Hours that a reverse-osmosis unit needs for `litres`.

    Cold water slows it by `cold_factor` (1.5: common practice, no source).

    Valid: 0-100 000 L, nameplate 10-5000 L/day, factor 1-4. Raises OutOfRange. Source: time = volume/rate x
    factor.
    """
    rate = require("nameplate rate", nameplate_l_per_day, 10.0, 5000.0, "L/day")
    factor = require("cold factor", cold_factor, 1.0, 4.0)
    return require("volume", litres, 0.0, 100_000.0, "L") / rate * 24.0 * factor


_GEOMETRY = "geometry"
_PRACTICE = "factor: common practice, no source"

FORMULAS: dict[str, Formula] = {
    f.name: f
    for f in (
        Formula("gross_volume_l", "L = length x width x height / 1000", _GEOMETRY, "5 to 1000 cm"),
        Formula("net_volume_l", "net = inside + sump - displaced by rock and sand", f"{_GEOMETRY}; {_PRACTICE}", "net 0 or more"),
        Formula("floor_load", "kN/m2 = kg x 9.80665 / 1000 / footprint", "F = m g (3rd CGPM 1901), stated as in EN 1991-1-1", "footprint 5 to 1000 cm"),
        Formula("ro_hours", "h = litres / nameplate x 24 x cold factor", _PRACTICE, "10 to 5000 L/day"),
    )
}

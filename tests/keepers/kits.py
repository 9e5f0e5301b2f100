"""Test kits and meters as a keeper has them: coarse colours, their own basis, a scale that ends, and an unsteady eye."""

from __future__ import annotations

import random
from dataclasses import dataclass

from tests.keepers.tank import Water

ION = {"ammonia": 17.031 / 14.007, "nitrite": 46.005 / 14.007, "nitrate": 62.004 / 14.007}
"""From mg/L as N to the molecule that the leaflet counts; molar masses of NH3, NO2 and NO3."""
PLAIN = {"tds": (1.0, 2.0), "chlorine": (0.05, 0.0), "phosphate": (0.05, 0.01), "oxygen": (0.5, 0.2), "calcium": (10.0, 8.0), "magnesium": (30.0, 25.0)}


@dataclass
class Kits:
    """`colour` is the spread of a colour reading as a share of its value; `units` metric or us."""

    described: dict[str, dict[str, object]]
    units: str
    colour: float
    luck: random.Random

    def read(self, name: str, water: Water, where: str, diluted: bool = False) -> str:
        """What the keeper types after `NAME=`."""
        if name == "salinity":
            value = water.salinity + self.luck.gauss(0, 0.15)
            return f"{1.0264 + (value - 35.0) * 0.000755:.4f} SG 25/25" if self.units == "us" else f"{value:.1f}ppt"
        if name == "temperature":
            value = water.temperature + self.luck.gauss(0, 0.1)
            return f"{value * 1.8 + 32:.1f}F" if self.units == "us" else f"{value:.1f}C"
        if name == "ph":
            return f"{self.stepped('ph', water.ph + self.luck.gauss(0, 0.04)):g}"
        if name == "alkalinity":
            return f"{self.stepped('alkalinity', water.alkalinity + self.luck.gauss(0, 0.15)):g}dKH"
        if name in PLAIN:
            step, spread = PLAIN[name]
            true = {"tds": 1.0 if where == "source" else 35000.0, "chlorine": water.chlorine, "phosphate": water.phosphate, "oxygen": water.oxygen, "calcium": water.calcium * water.salinity / 35, "magnesium": water.magnesium * water.salinity / 35}[name]
            shown = max(0.0, round((true + (self.luck.gauss(0, spread) if true else 0.0)) / step) * step)
            unit = {"chlorine": "mg/L", "phosphate": "mg/L", "tds": "ppm"}.get(name, "")
            return f"{shown:g}{unit}"
        return self.nitrogen(name, getattr(water, {"ammonia": "tan"}.get(name, name)), diluted)

    def nitrogen(self, name: str, value: float, diluted: bool = False) -> str:
        """A colour: the true value on the kit's basis, seen with an unsteady eye, rounded to a field of the card."""
        kit = self.described[name]
        step, highest = float(kit["step"]), float(kit["highest"])  # type: ignore[arg-type]
        shown = value * (1.0 if kit["basis"] == "N" else ION[name]) / (5 if diluted else 1)
        if shown > 0.02 * step:
            shown *= self.luck.lognormvariate(0, self.colour)
        shown += float(kit.get("blank", 0.0))  # type: ignore[arg-type]
        field = round(shown / step) * step
        if field >= highest:
            return f"over{highest * (5 if diluted else 1):g}" if shown > highest else f"{highest * (5 if diluted else 1):g}"
        return f"{field * (5 if diluted else 1):g}"

    def stepped(self, name: str, value: float) -> float:
        step = float(self.described.get(name, {}).get("step", 0.1))  # type: ignore[arg-type]
        return round(round(value / step) * step, 3)

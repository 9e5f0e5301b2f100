"""The constants of the carbonate system against the check values that its handbook prints for 25 degrees C and 35: Dickson, Sabine and Christian
2007, Guide to best practices for ocean CO2 measurements, PICES Special Publication 3, chapter 5 (values from memory); aragonite by Mucci 1983."""

from __future__ import annotations

import math

import pytest

from planner.science.reef_air import _constants


@pytest.mark.parametrize(("place", "log", "printed"), [(0, math.log, -3.5617), (1, math.log10, -5.8472), (2, math.log10, -8.9660), (3, math.log, -19.7964), (4, math.log, -30.434), (6, math.log10, -6.19)],
                         ids=["K0", "K1", "K2", "KB", "KW", "aragonite"])
def test_each_constant_of_sea_water_is_as_the_handbook_prints_it(place: int, log: object, printed: float) -> None:
    assert log(_constants(25.0, 35.0)[place]) == pytest.approx(printed, abs=0.01 if place == 6 else 0.0006)  # type: ignore[operator]

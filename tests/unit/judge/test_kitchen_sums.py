"""The sums of the kitchen by hand, and where they end."""

from __future__ import annotations

import pytest

from planner.judge import mix_answers as mix
from planner.science.formula import OutOfRange

# --- sums of the kitchen


def result(worked: mix.Worked) -> dict[str, float]:
    return {name: amount.value for name, amount in worked.result}


def test_salt_of_a_mix_and_of_a_correction() -> None:
    """38 g a litre at 35; only a mix from nothing begins with fresh water."""
    whole, more = result(mix.salt_for(100, 35)), result(mix.salt_for(100, 35, salinity_now=34))
    assert whole["salt"] == pytest.approx(3800) and 98 < whole["fresh_water"] < 100 and "fresh_water" not in more and more["salt"] == pytest.approx(3800 / 35, rel=0.03)


def test_a_salinity_is_told_in_every_unit() -> None:
    """C(35, 15, 0) = 42.914 mS/cm, 53.06 at 25 °C; 1.0264 at 25/25, 1.0266 at 20/20 (from memory); below 2 no conductivity is known."""
    found = result(mix.salinity_everywhere(35))
    assert found["conductivity_25c"] == pytest.approx(53.06, abs=0.05) and found["specific_gravity_25/25"] == pytest.approx(1.0264, abs=2e-4) and found["specific_gravity_20/20"] == pytest.approx(1.0266, abs=2e-4) and found["salt_by_mass"] == pytest.approx(35.165, abs=1e-3)
    assert found["specific_gravity_60F/60F"] > found["specific_gravity_25/25"] > found["specific_gravity_20/4"] and {"conductivity_25c"} == {k for k in found if k.startswith("cond")}
    assert "conductivity_25c" not in result(mix.salinity_everywhere(1.9)) and "conductivity_25c" in result(mix.salinity_everywhere(2))
    assert result(mix.salinity_by_hydrometer(1.0264, "25/25", 25))["salinity"] == pytest.approx(35, abs=0.1)


@pytest.mark.parametrize(("per_day", "days"), [(1, 3), (3, 1), (1.5, 2), (2.9, 2)])
def test_salinity_is_corrected_by_the_day(per_day: float, days: int) -> None:
    up, down = mix.raise_salinity(100, 32, 35, per_day=per_day), mix.lower_salinity(100, 38, 35, per_day=per_day)
    assert len(up.steps) == len(down.steps) == days == result(up)["days"] == result(down)["days"]
    assert result(up)["salt_in_all"] == pytest.approx(sum(dict(step)["salt"].value for step in up.steps)) and result(down)["swap_in_all"] == pytest.approx(sum(dict(step)["swap"].value for step in down.steps))


def test_ammonia_by_weight_or_by_the_spoon() -> None:
    """3.819 g for 10 mg/L in 100 L; half as pure takes twice as much; 5 % ammonia by mass of 0.98 kg/L: 17.03/14.007 g of NH3 in 49 g/L."""
    assert result(mix.ammonia_dose(100, 10))["ammonium_chloride"] == pytest.approx(3.819, rel=1e-3) and result(mix.ammonia_dose(100, 10, purity=0.5))["ammonium_chloride"] == pytest.approx(7.638, rel=1e-3)
    assert result(mix.ammonia_dose(100, 10, solution_percent=5))["ammonia_solution"] == pytest.approx(17.031 / 14.007 / 49, rel=0.03)
    free = result(mix.free_ammonia_of(1, 8.2, 25, 35))
    assert free["free_share"] == pytest.approx(100 * free["free_ammonia"] / (17.031 / 14.007), rel=1e-4) and free["free_ammonia_for_warnings"] > free["free_ammonia"]


@pytest.mark.parametrize(("name", "bases"), [("ammonia", {"as_NH3": 17.031, "as_NH4": 18.039}), ("nitrite", {"as_NO2": 46.005}), ("nitrate", {"as_NO3": 62.004})])
def test_nitrogen_is_told_on_every_basis(name: str, bases: dict[str, float]) -> None:
    """IUPAC weights, from memory; up to 10 000 mg/L."""
    assert result(mix.nitrogen_everywhere(name, 2)) == pytest.approx({"as_nitrogen": 2} | {k: 2 * mass / 14.007 for k, mass in bases.items()}, rel=1e-4)
    mix.nitrogen_everywhere(name, 0)
    mix.nitrogen_everywhere(name, 10_000)
    for beyond in (-0.1, 10_001):
        with pytest.raises(OutOfRange):
            mix.nitrogen_everywhere(name, beyond)


@pytest.mark.parametrize(("per_day", "days"), [(None, 0), (3, 0), (2.9, 2), (1.5, 2), (1, 3), (0.1, 30), (15, 0)])
def test_alkalinity_is_lifted_by_the_day(per_day: float | None, days: int) -> None:
    worked = mix.alkalinity_dose(100, 3, per_day=per_day)
    assert len(worked.steps) == days and result(worked)["sodium_bicarbonate"] == pytest.approx(3 * 2.996, rel=1e-3)
    assert not days or sum(dict(step)["sodium_bicarbonate"].value for step in worked.steps) == pytest.approx(3 * 2.996, rel=1e-3)


def test_carbonate_and_minerals_by_their_molecules() -> None:
    """105.988/2 g an equivalent; CaCl2.2H2O 147.01/40.078, MgCl2.6H2O 203.30/24.305 (IUPAC weights, from memory)."""
    assert result(mix.alkalinity_dose(100, 3, carbonate=True))["sodium_carbonate"] == pytest.approx(3 * 1.890, rel=1e-3)
    assert result(mix.mineral_dose("calcium", 100, 10))["calcium_chloride_dihydrate"] == pytest.approx(3.668, rel=1e-3) and result(mix.mineral_dose("magnesium", 100, 10))["magnesium_chloride_hexahydrate"] == pytest.approx(8.365, rel=1e-3)
    assert result(mix.mineral_dose("calcium", 100, 10, purity=0.5))["calcium_chloride_dihydrate"] == pytest.approx(7.336, rel=1e-3)
    assert result(mix.alkalinity_everywhere(2.8039)) == pytest.approx({"alkalinity": 2.8039, "alkalinity_meq": 1, "alkalinity_caco3": 50.04}, rel=1e-3)
    for beyond in (0.09, 15.1):
        with pytest.raises(OutOfRange):
            mix.alkalinity_dose(100, 3, per_day=beyond)


def test_a_change_of_water_at_once_or_by_the_bin() -> None:
    """20 to 10 with new water of nothing is half of 100 L; two bins of 30 L leave 9.8."""
    assert result(mix.water_change(100, 20, 10, "mg/L")) == {"share_at_once": 50, "litres_at_once": 50}
    by_bin = mix.water_change(100, 20, 10, "mg/L", bin_l=30)
    assert result(by_bin)["changes"] == 2 == len(by_bin.steps) and dict(by_bin.steps[-1])["after"].value == pytest.approx(10, abs=0.3)
    assert result(mix.water_change(100, 20, 10, "mg/L", bin_l=500))["changes"] == 1
    assert result(mix.oxygen_at(35, 25))["oxygen"] == pytest.approx(6.75, abs=0.03)  # Benson & Krause 1984, from memory

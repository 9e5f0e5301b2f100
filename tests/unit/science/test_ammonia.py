"""Free ammonia: direction of every input, the two values, and the units."""

import pytest

from planner.science.ammonia import (
    free_ammonia,
    nh3_fraction,
    nh3_fraction_upper,
    species_mg_l_from_n,
)
from planner.science.formula import OutOfRange


def test_the_warning_never_lies_below_the_value_shown() -> None:
    for ph in (7.0, 7.8, 8.2, 8.6):
        for t in (5, 15, 25, 35):
            for s in (5, 20, 35, 40):
                assert nh3_fraction_upper(ph, t, s) >= nh3_fraction(ph, t, s)


def test_ph_and_warmth_raise_free_ammonia_and_salt_lowers_it_a_little() -> None:
    base = nh3_fraction(8.2, 26, 35)
    assert nh3_fraction(8.3, 26, 35) / base == pytest.approx(1.238, abs=0.002)
    assert nh3_fraction(8.2, 27, 35) / base == pytest.approx(1.070, abs=0.002)
    assert nh3_fraction(8.2, 26, 30) / base == pytest.approx(1.009, abs=0.002)


def test_free_ammonia_is_given_as_nh3_and_total_as_nitrogen() -> None:
    found = free_ammonia(1.0, 8.2, 26)
    assert found.shown_nh3_mg_l == pytest.approx(found.shown_fraction * 17.0305 / 14.0067)
    assert found.warning_nh3_mg_l > found.shown_nh3_mg_l


@pytest.mark.parametrize(
    ("ph", "t", "s"), [(5.9, 25, 35), (9.6, 25, 35), (8, 4, 35), (8, 36, 35), (8, 25, 4), (8, 25, 41)]
)
def test_water_outside_the_measurements_is_refused(ph: float, t: float, s: float) -> None:
    with pytest.raises(OutOfRange):
        nh3_fraction(ph, t, s)
    with pytest.raises(OutOfRange):
        nh3_fraction_upper(ph, t, s)


def test_units_of_nitrogen_are_those_of_the_molar_masses() -> None:
    """g/mol by IUPAC: N 14.0067, NH3 17.0305, NH4 18.0385, NO2 46.0055, NO3 62.0049."""
    for species, mass in (("N", 14.0067), ("NH3", 17.0305), ("NH4", 18.0385), ("NO2", 46.0055), ("NO3", 62.0049)):
        assert species_mg_l_from_n(1.7, species) == pytest.approx(1.7 * mass / 14.0067)
    with pytest.raises(KeyError):
        species_mg_l_from_n(1.0, "N2")  # type: ignore[arg-type]

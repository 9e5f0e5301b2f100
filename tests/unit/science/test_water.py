"""Sea water: what goes in comes back, and what lies outside the range is refused."""

import pytest

from planner.science.formula import OutOfRange
from planner.science.water import (
    conductivity_from_salinity,
    density_kg_m3,
    grams_per_kg_from_salinity,
    salinity_from_conductivity,
    salinity_from_hydrometer,
    salinity_from_sg,
    sg_from_salinity,
)
from tests.truth.ways_back import hydrometer_reading

PAIRS = [(25, 25), (20, 20), (15.56, 15.56), (20, 4), (25, 4), (15, 4)]


@pytest.mark.parametrize(("sample", "reference"), PAIRS)
@pytest.mark.parametrize("salinity", [0.0, 5.0, 30.0, 35.0, 42.0])
def test_a_salinity_comes_back_from_its_specific_gravity(
    salinity: float, sample: float, reference: float
) -> None:
    sg = sg_from_salinity(salinity, sample, reference)
    assert salinity_from_sg(sg, sample, reference) == pytest.approx(salinity, abs=1e-8)


def test_the_same_reading_means_different_water_on_different_scales() -> None:
    assert salinity_from_sg(1.026, 25, 4) - salinity_from_sg(1.026, 15.56, 15.56) > 4.5


@pytest.mark.parametrize("salinity", [2.0, 20.0, 35.0, 42.0])
@pytest.mark.parametrize("temperature", [0.0, 15.0, 25.0, 35.0])
def test_a_salinity_comes_back_from_its_conductivity(salinity: float, temperature: float) -> None:
    back = salinity_from_conductivity(conductivity_from_salinity(salinity, temperature), temperature)
    assert back == pytest.approx(salinity, abs=1e-7)


def test_grams_per_kilogram_are_those_of_reference_sea_water() -> None:
    assert grams_per_kg_from_salinity(33.3) == pytest.approx(33.3 * 35.16504 / 35, abs=1e-9)  # TEOS-10, eq. 2.4.1


def test_a_hydrometer_at_its_own_temperature_shows_the_specific_gravity() -> None:
    shown = hydrometer_reading(35, 20, 20)
    assert shown == pytest.approx(sg_from_salinity(35, 20, 20), abs=1e-12)


def test_a_cold_scale_in_warm_water_is_corrected() -> None:
    shown = hydrometer_reading(35, 25, 15.56)
    uncorrected = salinity_from_sg(shown, 15.56, 15.56)
    corrected = salinity_from_hydrometer(shown, 25, scale_temperature_c=15.56, reference_temperature_c=15.56)
    assert corrected == pytest.approx(35, abs=1e-8)
    assert 35 - uncorrected > 2.5


@pytest.mark.parametrize(
    ("salinity", "temperature"), [(-0.1, 25), (42.1, 25), (35, -1), (35, 41), (float("nan"), 25)]
)
def test_water_outside_the_range_is_refused(salinity: float, temperature: float) -> None:
    with pytest.raises(OutOfRange):
        density_kg_m3(salinity, temperature)


def test_the_refusal_says_what_was_wanted() -> None:
    with pytest.raises(OutOfRange) as caught:
        salinity_from_sg(1.5)
    error = caught.value
    assert (error.name, error.value, error.low) == ("specific gravity", 1.5, 1.0)
    assert "1.5" in str(error)
    with pytest.raises(OutOfRange):
        salinity_from_conductivity(100.0, 25)


def test_a_float_that_has_grown_in_the_warmth_reads_too_high() -> None:
    rigid, grown = hydrometer_reading(35, 25, 15.56, 0), hydrometer_reading(35, 25, 15.56)
    assert rigid == pytest.approx(1.02435, abs=5e-6)
    assert grown == pytest.approx(1.02459, abs=5e-6)


def test_the_two_ends_of_the_scale_come_back_as_they_went() -> None:
    for salinity in (0.0, 42.0):
        assert salinity_from_sg(sg_from_salinity(salinity)) == pytest.approx(salinity, abs=1e-9)

"""Doses and dilution: bounds, inverses, and series that end where they should."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.science.box import ro_hours
from planner.science.dilution import (
    change_fraction,
    changes_needed,
    concentration_after_changes,
    equal_change_fraction,
    water_change_series,
)
from planner.science.dosing import (
    alkalinity_used_dkh,
    ammonia_solution_ml,
    ammonium_chloride_g,
    bicarbonate_g,
    caco3_mg_l_from_dkh,
    carbonate_g,
    meq_l_from_dkh,
    n_rise_mg_l,
)
from planner.science.formula import OutOfRange


@given(rise=st.floats(0.01, 20), litres=st.floats(1, 5000), purity=st.floats(0.1, 1))
def test_a_dose_of_ammonium_chloride_gives_the_rise_it_was_weighed_for(
    rise: float, litres: float, purity: float
) -> None:
    assert n_rise_mg_l(ammonium_chloride_g(litres, rise, purity), litres, purity) == pytest.approx(rise)


def test_an_impure_salt_is_dosed_more() -> None:
    assert bicarbonate_g(100, 1, purity=0.8) == pytest.approx(1.25 * bicarbonate_g(100, 1))


def test_household_ammonia_holds_the_same_nitrogen_as_the_salt() -> None:
    grams_n = 100 * 2 / 1000
    ml = ammonia_solution_ml(100, 2, 10, density_kg_l=0.958)
    assert ml * 0.958 * 0.10 * 14.0067 / 17.0305 == pytest.approx(grams_n)
    assert ammonia_solution_ml(100, 2, 10) < ml


@pytest.mark.parametrize("percent", [0.5, 11, 25])
def test_ammonia_that_is_no_household_product_is_refused(percent: float) -> None:
    with pytest.raises(OutOfRange):
        ammonia_solution_ml(100, 1, percent)


def test_a_rise_that_would_be_a_slip_of_the_decimal_point_is_refused() -> None:
    with pytest.raises(OutOfRange, match="mg/L as N"):
        ammonium_chloride_g(100, 40)


def test_units_of_alkalinity_are_those_of_chalk() -> None:
    """One German degree is 10 mg CaO a litre (56.0774 g/mol), 17.85 mg CaCO3 (100.087 g/mol)."""
    assert meq_l_from_dkh(1.0) == pytest.approx(20 / 56.0774)
    assert caco3_mg_l_from_dkh(8) == pytest.approx(8 * 10 * 100.087 / 56.0774)


def test_carbonate_is_stronger_than_bicarbonate_by_weight() -> None:
    assert carbonate_g(100, 1) / bicarbonate_g(100, 1) == pytest.approx(105.9885 / 2 / 84.0067)


def test_a_cycle_of_ten_milligrams_uses_four_degrees() -> None:
    assert alkalinity_used_dkh(10) == pytest.approx(4.0, abs=0.01)


def test_a_change_lands_on_its_target() -> None:
    f = change_fraction(40, 15, make_up=5)
    assert concentration_after_changes(40, f, 1, make_up=5) == pytest.approx(15)


def test_new_water_worse_than_the_target_is_refused() -> None:
    with pytest.raises(OutOfRange):
        change_fraction(40, 15, make_up=20)


@given(now=st.floats(1, 100), share=st.floats(0.05, 0.95), f=st.floats(0.05, 0.9), make_up=st.floats(0, 0.9))
def test_the_number_of_changes_is_enough_and_one_fewer_is_not(
    now: float, share: float, f: float, make_up: float
) -> None:
    target = make_up + share * (now - make_up)
    n = changes_needed(now, target, f, make_up)
    assert concentration_after_changes(now, f, n, make_up) <= target * (1 + 1e-9)
    assert n == 0 or concentration_after_changes(now, f, n - 1, make_up) > target * (1 - 1e-6)


def test_a_target_equal_to_the_new_water_is_only_reached_by_a_full_change() -> None:
    assert changes_needed(10, 0, 1.0) == 1
    with pytest.raises(OutOfRange):
        changes_needed(10, 0, 0.5)


def test_three_quarters_of_a_tank_come_as_a_series_of_bins() -> None:
    steps = water_change_series(165, 4.0, 1.0, bin_l=40)
    assert len(steps) == 5
    assert all(s.litres <= 40 + 1e-9 for s in steps)
    assert steps[-1].litres < 40
    assert steps[-1].after == pytest.approx(1.0)
    assert [a.after for a in steps[:-1]] == [b.before for b in steps[1:]]
    # in batches it takes more water than in one change of 124 L
    assert sum(s.litres for s in steps) > 165 * change_fraction(4.0, 1.0)


def test_the_last_bin_of_a_series_is_only_as_large_as_needed() -> None:
    last = water_change_series(100, 10, 8, bin_l=50)[-1]
    assert last.litres == pytest.approx(20)


@pytest.mark.parametrize(("now", "target", "count", "make_up"), [(40, 12, 2, 0), (40, 12, 1, 0), (8, 5, 3, 1), (4, 4, 3, 0)])
def test_equal_changes_end_at_the_target(now: float, target: float, count: int, make_up: float) -> None:
    """Checked by mixing step by step."""
    level = float(now)
    for _ in range(count):
        level += equal_change_fraction(now, target, count, make_up) * (make_up - level)
    assert level == pytest.approx(target)


def test_already_at_the_target_is_no_change() -> None:
    assert water_change_series(100, 5, 5, bin_l=20) == ()


def test_regular_changes_settle_at_the_steady_peak() -> None:
    level = 0.0
    for _ in range(200):
        level = concentration_after_changes(level, 0.2, 1) + 3.0
    assert level == pytest.approx(3.0 / 0.2)  # the sum of the geometric series


def test_reverse_osmosis_takes_half_as_long_again_in_cold_water() -> None:
    assert ro_hours(100, 240) == pytest.approx(15)
    assert ro_hours(100, 240, cold_factor=1) == pytest.approx(10)

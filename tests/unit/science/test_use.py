"""Use of what a tank takes up: the line through readings, the belief carried on, and what holds a level. Worked by hand."""

from __future__ import annotations

import math

import pytest

from planner.science.formula import OutOfRange
from planner.science.use import (
    Change,
    Dose,
    Sample,
    State,
    combined,
    fit_use,
    follow,
    leak_l_day,
    level_band,
    median_and_spread,
    most_use_held,
    next_dose,
    top_up_most,
    trough,
)


def test_two_readings_make_a_line_and_one_makes_none() -> None:
    fit = fit_use([Sample(0, 8.0, 0.1), Sample(4, 7.0, 0.1)])
    assert fit is not None and (fit.level, fit.use) == (pytest.approx(8.0), pytest.approx(0.25))
    assert (fit.readings, fit.span, fit.misfit) == (2, 4.0, None)
    assert fit.use_se == pytest.approx(0.1 * math.sqrt(2) / 4)
    assert fit_use([Sample(0, 8.0, 0.1)]) is None
    assert fit_use([Sample(3, 8.0, 0.1), Sample(3, 7.9, 0.1)]) is None, "two at one time say nothing of a day"


def test_three_readings_on_a_line_fit_it_and_one_beside_it_does_not() -> None:
    on_it = fit_use([Sample(t, 8.0 - 0.2 * t, 0.1) for t in (0, 2, 4)])
    off = fit_use([Sample(0, 8.0, 0.1), Sample(2, 7.9, 0.1), Sample(4, 7.2, 0.1)])
    assert on_it is not None and on_it.misfit == pytest.approx(0, abs=1e-9)
    # The middle one lies 0.3 above the line between the others, which least squares parts into residuals of -0.1, 0.2, -0.1: chi-square 1 + 4 + 1.
    assert off is not None and off.misfit == pytest.approx(6.0) and off.use == pytest.approx(0.2)


def test_a_dose_counts_after_the_reading_of_its_instant_and_what_came_before_the_first_reading_does_not() -> None:
    read = [Sample(0, 8.0, 0.1), Sample(4, 8.0, 0.1)]
    assert fit_use(read, [Dose(0, 1.0)]).use == pytest.approx(0.25)  # type: ignore[union-attr]
    assert fit_use(read, [Dose(-1, 1.0)]).use == pytest.approx(0.0)  # type: ignore[union-attr]
    assert fit_use(read, [Dose(4, 1.0)]).use == pytest.approx(0.0)  # type: ignore[union-attr]


def test_a_change_of_half_the_water_halves_what_was_used_before_it() -> None:
    """8 falls to 7 in four days, becomes 7.5 with half of new water of 8, and falls to 6.5 in four more."""
    fit = fit_use([Sample(0, 8.0, 0.1), Sample(8, 6.5, 0.1)], changes=[Change(4, 0.5, 8.0)])
    assert fit is not None and fit.use == pytest.approx(0.25)
    with pytest.raises(OutOfRange):
        fit_use([Sample(0, 8.0, 0.1), Sample(8, 6.5, 0.1)], changes=[Change(4, 1.5, 8.0)])


def test_new_water_and_doses_that_are_not_known_exactly_widen_the_error() -> None:
    read = [Sample(0, 8.0, 0.1), Sample(4, 8.0, 0.1)]
    plain = fit_use(read, [Dose(1, 1.0)])
    doubtful = fit_use(read, [Dose(1, 1.0)], dose_error=0.1)
    assert plain is not None and doubtful is not None
    assert doubtful.use_se == pytest.approx(math.hypot(plain.use_se, 0.1 / 4)) and doubtful.use == plain.use
    changed = fit_use(read, changes=[Change(2, 0.5, 8.0, 0.2)])
    exact = fit_use(read, changes=[Change(2, 0.5, 8.0)])
    # y(4) = L/2 + 4 - 3 use: the error of the new water is worth half of it over three days.
    assert changed is not None and exact is not None and changed.use_se == pytest.approx(math.hypot(exact.use_se, 0.5 * 0.2 / 3))


def test_the_error_of_the_use_is_that_of_a_line_through_these_times() -> None:
    """Of a straight line by least squares the slope has the error sd / sqrt(sum (t - mean)^2)."""
    fit = fit_use([Sample(t, 8.0, 0.3) for t in (0.0, 3.0, 6.0)])
    assert fit is not None and fit.use_se == pytest.approx(0.3 / math.sqrt(18))


BEGUN = State(0, 8.0, 0.2, 0.01, 0.0, 0.0025)


def test_a_belief_falls_by_the_use_and_widens_with_time() -> None:
    """Kalman's prediction by hand: p_level + t^2 p_use + q t^3 / 3 with q = 0.02^2."""
    later = follow(BEGUN, (), until=5)
    assert later.level == pytest.approx(7.0) and later.p_level == pytest.approx(0.01 + 25 * 0.0025 + 0.0004 * 125 / 3)
    assert later.p_use == pytest.approx(0.0025 + 0.0004 * 5) and later.level_sd == math.sqrt(later.p_level)


def test_a_reading_draws_the_belief_towards_itself_by_the_share_of_the_errors() -> None:
    read = follow(BEGUN, [Sample(0, 8.2, 0.1)])
    assert read.level == pytest.approx(8.1) and read.p_level == pytest.approx(0.005) and read.doubted == ()


def test_a_reading_far_off_is_kept_apart_and_a_second_that_agrees_sets_the_level() -> None:
    far = follow(BEGUN, [Sample(0, 6.0, 0.1)])
    assert far.level == 8.0 and [s.value for s in far.doubted] == [6.0]
    again = follow(BEGUN, [Sample(0, 6.0, 0.1), Sample(1, 5.8, 0.1)])
    assert again.level == 5.8 and again.doubted == () and again.p_use >= 0.04
    other = follow(BEGUN, [Sample(0, 6.0, 0.1), Sample(1, 10.0, 0.1)])
    assert len(other.doubted) == 2


def test_a_dose_and_a_change_move_the_level() -> None:
    assert follow(BEGUN, (), [Dose(0, 1.0)]).level == pytest.approx(9.0)
    changed = follow(BEGUN, (), changes=[Change(0, 0.25, 4.0, 0.2)])
    assert changed.level == pytest.approx(7.0) and changed.p_level == pytest.approx(0.75**2 * 0.01 + 0.05**2)
    assert follow(BEGUN, (), [Dose(-1, 1.0)]).level == 8.0


def test_two_guesses_meet_by_the_inverse_of_their_squares() -> None:
    value, error = combined((1.0, 0.1), (2.0, 0.2))
    assert value == pytest.approx(1.2) and error == pytest.approx(1 / math.sqrt(125))


def test_the_next_dose_begins_with_a_share_and_goes_on_by_steps() -> None:
    def dose(use: float, given: float | None, most: float = 9.0) -> float:
        return next_dose(use, given, first_share=0.5, most_step=0.25, most=most)

    assert dose(1.0, None) == 0.5 and dose(1.0, 0.0) == 0.5 and dose(0.0, 1.0) == 0.0 and dose(-1.0, None) == 0.0
    assert dose(2.0, 1.0) == 1.25 and dose(0.1, 1.0) == 0.75 and dose(1.1, 1.0) == pytest.approx(1.1) and dose(2.0, 1.0, most=1.2) == 1.2


def test_a_level_to_come_has_the_width_of_both_errors() -> None:
    low, middle, high = level_band(8.0, 0.3, 0.25, 0.1, 0.05, 4)
    assert middle == pytest.approx(7.2) and high - middle == pytest.approx(1.0) and middle - low == pytest.approx(1.0)


def test_changes_alone_hold_a_level_down_to_their_trough() -> None:
    assert trough(8.0, 0.1, 0.1) == pytest.approx(1.0)
    assert most_use_held(8.0, 7.0, 0.1) == pytest.approx(0.1 / 7) and most_use_held(8.0, 9.0, 0.1) == 0.0
    assert trough(8.0, most_use_held(8.0, 7.0, 0.2, 14), 0.2, 14) == pytest.approx(7.0)


def test_what_tops_up_out_of_the_ordinary_and_what_a_leak_loses() -> None:
    assert median_and_spread([1, 2, 4]) == (2, 1) and median_and_spread([1, 2, 3, 6]) == (2.5, 1.0)
    assert top_up_most([2.0, 2.0, 2.0]) == 3.0 and top_up_most([1, 2, 4]) == pytest.approx(2 + 3 * 1.4826)
    with pytest.raises(OutOfRange):
        median_and_spread([])
    assert leak_l_day(200, 35, 0.35) == pytest.approx(2.0)

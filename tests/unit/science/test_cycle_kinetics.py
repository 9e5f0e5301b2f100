"""What the kinetics mean, one at a time: each default shown by what a guild does, beside what is published of it.

Half saturations, oxygen and decay lie inside the ranges that Sin et al. 2008 (Water Sci. Technol. 58:1155) gather from the
literature; the inhibition is that of Hiatt & Grady 2008 (Water Environ. Res. 80:2145), as the module cites them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.science.cycle.run import Dose, Kinetics, Track, clear_days, effective_growth_per_d, integrate
from planner.science.cycle.step import REFERENCE_TEMPERATURE_C
from planner.science.evaporation import oxygen_saturation_mg_l
from tests.unit.science.test_cycle_run import one

SOON = 1e-4


def used(kind: str, mg_n_l: float, kinetics: Kinetics) -> float:
    """What a large guild uses in the first moments of so much ammonia or nitrite, per day."""
    track = integrate(one(bacteria=1.0), kinetics, SOON, doses=[Dose(0.0, mg_n_l, kind)])  # type: ignore[arg-type]
    return float((mg_n_l - (track.ammonia if kind == "ammonia" else track.nitrite)[-1, 0]) / SOON)


@pytest.mark.parametrize("kind", ["ammonia", "nitrite"])
def test_at_half_a_milligram_a_guild_works_at_half_its_speed(kind: str) -> None:
    assert used(kind, 0.5, Kinetics()) / used(kind, 5e4, Kinetics()) == pytest.approx(0.5, rel=2e-3)


def test_a_fifth_of_a_milligram_of_free_ammonia_halves_the_second_step_and_leaves_the_first() -> None:
    def growth(free: float) -> tuple[float, float]:
        track = integrate(one(bacteria=1.0), Kinetics(nh3_fraction=free / 100.0), SOON, doses=[Dose(0.0, 100.0), Dose(0.0, 1e4, "nitrite")])
        return float(track.ammonia[-1, 0]), float(1e4 - track.nitrite[-1, 0] + 100.0 - track.ammonia[-1, 0])

    (ammonia, clean), (same, inhibited) = growth(0.0), growth(0.2)
    assert same == pytest.approx(ammonia) and inhibited / clean == pytest.approx(0.5, rel=2e-2)


def test_both_guilds_fade_by_a_twentieth_a_day_without_food() -> None:
    bacteria = integrate(one(bacteria=3.0), Kinetics(), 14.0).bacteria[-1, :, 0]
    assert bacteria == pytest.approx([3.0 * np.exp(-0.05 * 14)] * 2, rel=1e-9)


def test_the_second_guild_feels_a_lack_of_oxygen_earlier() -> None:
    def growth(oxygen: float) -> np.ndarray:
        return effective_growth_per_d(one(), replace(Kinetics(), oxygen_mg_l=oxygen))[:, 0]

    assert growth(0.5)[0] / growth(1e9)[0] == pytest.approx(0.5) and growth(0.9)[1] / growth(1e9)[1] == pytest.approx(0.5)


def test_the_oxygen_taken_for_granted_is_that_of_a_stirred_reef_tank() -> None:
    """Just under saturation by Garcia & Gordon 1992."""
    assert 0.95 < Kinetics().oxygen_mg_l / oxygen_saturation_mg_l(35.0, REFERENCE_TEMPERATURE_C) <= 1.0
    assert Kinetics().nh3_fraction == 0.0 and Kinetics().temperature_c == 25.0


@pytest.mark.parametrize("name", ["half_saturation_a_mg_n_l", "half_saturation_n_mg_n_l", "inhibition_nh3_n_mg_l"])
def test_what_stands_below_a_line_is_never_nought(name: str) -> None:
    Kinetics(**{name: 1e-6})
    with pytest.raises(ValueError, match="positive"):
        Kinetics(**{name: 0.0})


@pytest.mark.parametrize("name", ["decay_a_per_d", "decay_n_per_d", "oxygen_mg_l", "nh3_fraction"])
def test_what_may_be_nought_is_never_below(name: str) -> None:
    Kinetics(**{name: 0.0})
    with pytest.raises(ValueError, match="negative"):
        Kinetics(**{name: -1e-6})


def track_of(days: list[float], ammonia: list[list[float]], nitrite: list[list[float]], dosed: list[int] | None = None) -> Track:
    """A course written by hand: rows of time, a column for each tank."""
    a, n = np.array(ammonia, dtype=float), np.array(nitrite, dtype=float)
    given = np.zeros(a.shape, dtype=bool)
    given[dosed or []] = True
    zeros = np.zeros(a.shape[1])
    return Track(np.array(days), a, n, a * 0, a * 0, np.zeros((len(days), 2, a.shape[1])), given, zeros, zeros, zeros)


def test_clear_is_where_the_logarithm_of_the_fall_crosses_the_limit() -> None:
    """From 0.4 to 0.025 in two days is halved four times, so 0.1 is passed after one; each tank has its own day."""
    track = track_of([0.0, 2.0, 4.0], [[0.4, 1.6], [0.025, 0.4], [0.0, 0.025]], [[0.0, 0.0], [0.4, 0.4], [0.025, 0.4]])
    ammonia, nitrite = clear_days(track, 0.1)
    assert ammonia == pytest.approx([1.0, 3.0]) and nitrite[0] == pytest.approx(3.0) and np.isinf(nitrite[1])


def test_exactly_the_limit_is_clear_and_a_level_that_comes_back_is_not() -> None:
    track = track_of([0.0, 1.0, 2.0, 3.0], [[1.0, 1.0], [0.1, 0.05], [0.1, 0.2], [0.1, 0.1]], [[0.0, 0.0]] * 4)
    ammonia, nitrite = clear_days(track, 0.1)
    assert ammonia == pytest.approx([1.0, 3.0])
    assert nitrite == pytest.approx(ammonia), "nitrite that never showed is clear once ammonia is"


def test_a_dose_ends_what_must_last() -> None:
    track = track_of([0.0, 1.0, 1.0, 2.0], [[1.0], [0.05], [2.0], [1.5]], [[0.0]] * 4, dosed=[1])
    assert clear_days(track, 0.1)[0][0] == pytest.approx(np.log(10) / np.log(20), rel=1e-9)

"""Ammonia after a stage against the world outside: the same equations written once more and solved by SciPy (LSODA,
rtol 1e-8), and the share of free ammonia beside PyCO2SYS.

Equations: Monod growth on ammonia with decay, as at the head of `planner/science/cycle/step.py` (Sin et al. 2008; Hiatt & Grady
2008). Written here from that page with its constants, without its code."""

from __future__ import annotations

import itertools
import math
from statistics import NormalDist

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from planner.stock.stages.ammonia import TANKS, Ahead, Proof, Water, nh3_after_stage, resting_mg_n_l, slow_strength, tanks_ahead

PROOF = Proof(dose_mg_n_l=1.0, left_mg_n_l=0.25, feed_mg_n_l=1.0, feed_every_d=7.0)
WATER = Water(net_l=100.0, ph=8.2, temperature_c=25.5, salinity=35.0)
HALF, DECAY = 0.5, 0.05  # mg N/L and per day


def growth(quantile: float, celsius: float) -> float:
    """0.53 per day at 25 °C in the median tank, log-normal with 0.30; 10 % more a degree; 6.6 mg/L of oxygen over 0.5."""
    return 0.53 * math.exp(0.30 * NormalDist().inv_cdf(quantile)) * 1.10 ** (celsius - 25.0) * 6.6 / (0.5 + 6.6)


def solved(rate: float, ammonia: float, bacteria: float, load: float, days: float) -> tuple[float, float, float]:
    """Ammonia and bacteria at the end, and the highest ammonia on the way; mg N/L, load in mg N/L a day."""
    def slope(_t: float, y: np.ndarray) -> list[float]:
        eaten = rate * y[0] / (HALF + y[0]) * y[1]
        return [load - eaten, eaten - DECAY * y[1]]

    found = solve_ivp(slope, (0.0, days), [ammonia, bacteria], method="LSODA", rtol=1e-8, atol=1e-10, dense_output=True)
    path = found.sol(np.linspace(0.0, days, 2001))[0]
    return float(found.y[0, -1]), float(found.y[1, -1]), float(path.max())


def fed(water: Water) -> float:
    """Bacteria just before a feed of 1 mg/L that comes every seven days: each feed becomes as much, and decays."""
    kept = math.exp(-7 * DECAY)
    return kept / (1 - kept)


STORIES = [
    ("crew, a pair, two fish, a tang", ((14, 2.0), (14, 14.0), (45, 7.0), (14, 30.0))),
    ("a long time with snails alone", ((120, 1.5), (14, 9.0))),
    ("much at once", ((14, 45.0), (14, 20.0))),
]


@pytest.mark.parametrize(("story", "celsius", "ph"), [pytest.param(s, c, p, marks=() if c == 27.5 else pytest.mark.slow) for (_, s), (c, p) in itertools.product(STORIES, ((25.5, 8.2), (27.5, 8.4), (23.0, 8.0)))])
def test_free_ammonia_after_each_stage_is_that_of_a_tight_solver_within_two_hundredths(story: tuple[tuple[int, float], ...], celsius: float, ph: float) -> None:
    water = Water(100.0, ph, celsius, 35.0)
    ahead, load = tanks_ahead(PROOF, water), 0.0
    tanks = [(growth((i + 0.5) / TANKS, celsius), 0.0, fed(water)) for i in range(TANKS)]
    for wait, added in story:
        load += added
        rise, ahead = nh3_after_stage(ahead, load, 14)
        ahead = ahead.live(wait - 14, load)
        highest, later = [], []
        for rate, ammonia, bacteria in tanks:
            ammonia, bacteria, peak = solved(rate, ammonia, bacteria, load / 100.0, 14)
            highest.append(peak)
            if wait > 14:
                ammonia, bacteria, _ = solved(rate, ammonia, bacteria, load / 100.0, wait - 14)
            later.append((rate, ammonia, bacteria))
        tanks = later
        expected = [sorted(highest)[math.ceil(q * TANKS) - 1] for q in (0.1, 0.5, 0.9)]
        assert rise.total_mg_n_l == pytest.approx(expected, rel=0.02)
        assert rise.nh3_mg_l == pytest.approx([x * water.nh3_per_n for x in expected], rel=0.02)


@pytest.mark.parametrize("dose", [1.0, 1.5, 2.0])
def test_the_bacteria_taken_for_granted_pass_the_proof_and_a_tenth_fewer_would_not(dose: float) -> None:
    """Fed so often that the proof, not the feeding, sets the figure: what is left after two days of it is what LSODA finds
    for the fewest bacteria that leave one kit step after each day. The table of tried numbers is 9 % apart."""
    ahead = tanks_ahead(Proof(dose, 0.25, 1.0, 0.5), WATER)
    for i in (2, TANKS // 2, TANKS - 3):
        rate = growth((i + 0.5) / TANKS, WATER.temperature_c)

        def two_days(bacteria: float, rate: float = rate) -> tuple[bool, float]:
            ammonia, passed = 0.0, True
            for _ in range(2):
                ammonia, bacteria, _peak = solved(rate, ammonia + dose, bacteria, 0.0, 1.0)
                passed = passed and ammonia <= 0.25
            return passed, bacteria

        low, high = 0.01, 60.0
        for _ in range(40):
            middle = math.sqrt(low * high)
            low, high = (low, middle) if two_days(middle)[0] else (middle, high)
        least_after = two_days(high)[1]
        assert least_after * 0.99 <= ahead.tanks.bacteria[0][i] <= least_after * 1.1


def test_weekly_feeding_keeps_at_least_the_bacteria_that_the_sum_counts() -> None:
    for quantile in (0.1, 0.5, 0.9):
        rate, ammonia, bacteria = growth(quantile, 25.5), 0.0, 3.0
        for _ in range(40):
            ammonia, bacteria, _ = solved(rate, ammonia + 1.0, bacteria, 0.0, 7.0)
        assert fed(WATER) <= bacteria <= fed(WATER) * 1.15
    assert tanks_ahead(PROOF, WATER).tanks.bacteria[0] == pytest.approx(fed(WATER), rel=1e-9)


def test_the_table_of_the_search_holds_for_the_tight_solver_too() -> None:
    """At the largest load of the table the slow tank just reaches the limit, by LSODA as well."""
    limit = 0.05
    table = slow_strength(PROOF, WATER, limit, 14, 14)
    rate, start = growth(0.1, WATER.temperature_c), resting_mg_n_l(WATER.kinetics)
    for bacteria, most in list(zip(table.strengths, table.most, strict=True))[3:20:4]:
        peak = solved(rate, start, bacteria, most, 14)[2]
        assert peak * WATER.nh3_per_n == pytest.approx(limit, rel=0.03)


def test_ammonia_under_any_steady_load_comes_to_rest_where_growth_makes_good_the_decay() -> None:
    """S* = K b / (mu - b), the textbook result for Monod growth without wash-out."""
    rate = growth(0.1, WATER.temperature_c)
    assert resting_mg_n_l(WATER.kinetics) == pytest.approx(HALF * DECAY / (rate - DECAY), rel=1e-9)
    for load in (0.02, 0.2):
        assert solved(rate, 0.0, 2.0, load, 2000)[0] == pytest.approx(resting_mg_n_l(WATER.kinetics), rel=1e-3)


@pytest.mark.parametrize(("ph", "celsius", "salinity"), [(8.0, 24.0, 33.0), (8.2, 25.5, 35.0), (8.4, 28.0, 36.0)])
def test_the_share_of_free_ammonia_lies_on_the_careful_side_of_pyco2sys(ph: float, celsius: float, salinity: float) -> None:
    """PyCO2SYS 1.8.3.4 on the NBS scale (Clegg & Whitfield 1995) is the value shown; warnings and stages use the upper
    published forms, which lie up to a tenth above it (Bower & Bidwell 1978)."""
    import PyCO2SYS as pyco2

    k = pyco2.sys(par1=2300, par2=ph, par1_type=1, par2_type=3, salinity=salinity, temperature=celsius, opt_pH_scale=4)["k_ammonia"]
    shown = 1 / (1 + 10 ** (-math.log10(k) - ph)) * 17.0305 / 14.0067
    here = Water(100.0, ph, celsius, salinity).nh3_per_n
    assert shown <= here <= 1.12 * shown


def test_tanks_carried_on_are_new_ones() -> None:
    first: Ahead = tanks_ahead(PROOF, WATER)
    one, _ = nh3_after_stage(first, 20.0)
    two, _ = nh3_after_stage(first, 20.0)
    assert one == two

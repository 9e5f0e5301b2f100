"""The nitrogen model against solutions by a general-purpose solver, and against what was published.

One figure was fitted: the prior of a start without seed was set so that its median lies near the 35 days of Manthe & Malone,
and the test of it only shows that it still does. Nothing else here was fitted to what it is compared with. Data files name
their source in a column.
"""

import csv
import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares
from ways_back import lag_time_d

from planner.science.cycle.prior import Start, climate_from_start, kinetics_at, kinetics_from_start, members_from_z
from planner.science.cycle.records import Seeding, Water
from planner.science.cycle.run import (
    ALKALINITY_DKH_PER_MG_N,
    DEFAULT_STEP_D,
    Dose,
    Kinetics,
    Load,
    Members,
    clear_days,
    effective_growth_per_d,
    integrate,
)
from planner.science.cycle.step import Stepper, alkalinity_factor, ph_factor

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    with (DATA / f"nitrogen_{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def reference_set(row: dict[str, str]) -> tuple[Kinetics, Members]:
    """One parameter set of the reference solutions, and its single member."""
    p = next(x for x in table("ode_parameters") if x["set"] == row["set"])
    kinetics = Kinetics(
        float(p["KA"]),
        float(p["KN"]),
        float(p["bA"]),
        float(p["bN"]),
        float(p["KOA"]),
        float(p["KON"]),
        oxygen_mg_l=float(p["O2"]),
        nh3_fraction=float(p["fnh3"] or 0),
        inhibition_nh3_n_mg_l=float(p["KIFA"] or 1),
    )
    xa, xn = (row.get("XA0") or row["XA0_mgCOD_L"]), (row.get("XN0") or row["XN0_mgCOD_L"])
    bacteria = [[float(xa) / float(p["YA"])], [float(xn) / float(p["YN"])]]
    growth = [[float(p["muA"])], [float(p["muN"])]]
    return kinetics, Members(np.array(growth), np.array(bacteria), np.zeros(1), np.ones(1))


def prior(count: int, start: Start, seed: int = 2) -> Members:
    return members_from_z(start, np.random.default_rng(seed).standard_normal((count, start.dimensions)))


# --- against solvers -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("step_d", "tolerance"), [(DEFAULT_STEP_D, 1.2e-2), (1 / 16, 3e-4)])
def test_trajectories_match_the_reference_solutions(step_d: float, tolerance: float) -> None:
    # SciPy Radau, rtol 1e-11, cross-checked with DOP853. Doses are 2 and 4 mg/L as N.
    rows = table("ode_trajectories")
    runs = {(r["set"], r["S0_mgN_L"], r["XA0_mgCOD_L"]): r for r in rows}
    assert len(runs) == 9
    worst = 0.0
    for key, first in runs.items():
        mine = [r for r in rows if (r["set"], r["S0_mgN_L"], r["XA0_mgCOD_L"]) == key]
        kinetics, members = reference_set(first)
        days = np.array([float(r["t_d"]) for r in mine])
        dose = Dose(0.0, float(first["S0_mgN_L"]))
        track = integrate(members, kinetics, float(days[-1]), doses=[dose], at_d=days.tolist(), step_d=step_d)
        at = track.rows_after(days)
        for level, column in ((track.ammonia, "TAN"), (track.nitrite, "NO2N"), (track.nitrate, "NO3N")):
            worst = max(worst, float(np.abs(level[at, 0] - [float(r[column]) for r in mine]).max()))
    assert worst < tolerance


def test_event_dates_match_the_reference_solutions() -> None:
    # The table gives the dates on a grid of 0.005 d.
    rows = table("ode_events")
    assert len(rows) == 9
    for row in rows:
        kinetics, members = reference_set(row)
        track = integrate(members, kinetics, 100.0, doses=[Dose(0.0, float(row["S0"]))])
        ammonia, nitrite = clear_days(track, 0.1)
        assert ammonia[0] == pytest.approx(float(row["t_TAN<0.1_d"]), abs=0.01)
        assert nitrite[0] == pytest.approx(float(row["t_NO2<0.1_d"]), abs=0.01)
        assert track.nitrite.max() == pytest.approx(float(row["NO2_peak"]), abs=0.004)  # seen every third of a day


def largest_difference_from_lsoda(count: int) -> float:
    """Over `count` prior members with three doses: largest difference in ammonia or nitrite, mg N/L."""
    start = Start(temperature_c=26.0)
    kinetics, members = kinetics_from_start(start), prior(count, start)
    doses = {0.0: 2.0, 17.3: 1.0, 30.0: 2.0}
    days = np.arange(0.5, 60.0, 0.5)
    track = integrate(
        members, kinetics, 60.0, doses=[Dose(t, s) for t, s in doses.items()], at_d=days.tolist()
    )
    at = track.row_before
    growth = effective_growth_per_d(members, kinetics)
    nh3, k_i = kinetics.nh3_fraction, kinetics.inhibition_nh3_n_mg_l
    worst = 0.0
    for j in range(count):
        mu_a, mu_n = growth[:, j]

        def rhs(_t: float, y: np.ndarray, mu_a: float = mu_a, mu_n: float = mu_n) -> list[float]:
            tan, no2 = max(y[0], 0.0), max(y[1], 0.0)
            first = mu_a * tan / (0.5 + tan) * y[2]
            second = mu_n * no2 / (0.5 + no2) * k_i / (k_i + nh3 * tan) * y[3]
            return [-first, first - second, first - 0.05 * y[2], second - 0.05 * y[3]]

        y = np.array([0.0, 0.0, *members.bacteria_mg_n_l[:, j]])
        for begin, end in zip(doses, [*list(doses)[1:], 60.0], strict=True):
            y[0] += doses[begin]
            inside = days[(days > begin) & (days <= end)]
            out = solve_ivp(
                rhs, (begin, end), y, method="LSODA", rtol=1e-8, atol=1e-11, t_eval=np.union1d(inside, [end])
            )
            y = out.y[:, -1].copy()
            for k, day in enumerate(inside):
                row = at(float(day))
                worst = max(
                    worst, abs(track.ammonia[row, j] - out.y[0, k]), abs(track.nitrite[row, j] - out.y[1, k])
                )
    return worst


def test_twenty_prior_members_stay_within_a_hundredth_of_the_dose_of_lsoda() -> None:
    assert largest_difference_from_lsoda(20) < 0.01 * 2.0


@pytest.mark.slow
def test_two_hundred_prior_members_stay_within_a_hundredth_of_the_dose_of_lsoda() -> None:
    assert largest_difference_from_lsoda(200) < 0.01 * 2.0


def test_the_lag_time_matches_the_closed_form_table() -> None:
    rows = table("zero_order_times")
    assert len(rows) >= 30
    for row in rows:
        ratio, mu = float(row["Y*S0/X0"]), float(row["mu_net_per_d"])
        expected = float(row["t_exhaust_d=ln(1+Y S0/X0)/mu"])
        assert lag_time_d(mu, 2.0 / ratio, 2.0) == pytest.approx(expected, abs=1e-4)


def test_the_rate_parameters_of_a_batch_with_known_truth_are_recovered() -> None:
    # Inputs of the data: mu 1.5 and 0.5 per day, K 0.5 and 1.5 mg N/L, oxygen constants 0.7 and 1.5, biomass
    # 75 and 25 mg COD/L, yields 0.15 and 0.05 (Sin et al. 2008). A SciPy fit of the plain ODE returned
    # 1.494, 0.505, 0.502 and 1.469 (standard errors 0.6, 0.7, 1.5 and 2.2 %).
    rows = table("batch_known_truth")
    time_d = np.array([float(r["time_h"]) for r in rows]) / 24
    smooth_oxygen = PchipInterpolator(time_d, [float(r["DO_mg_L"]) for r in rows])
    seen = np.array([[float(r["NH4_mgN_L"]), float(r["NO2_mgN_L"]), float(r["NO3_mgN_L"])] for r in rows])

    def simulated(p: np.ndarray) -> np.ndarray:
        bacteria = np.array([[75 / 0.15], [25 / 0.05]])
        dissolved, nitrate = np.array([[20.0], [0.0]]), 0.13
        lines = [[20.0, 0.0, nitrate]]
        growth = np.array([[p[0]], [p[1]]])
        for begin, end in zip(time_d, time_d[1:], strict=False):
            for part in range(4):  # oxygen is the one measured, smooth between its points
                o2 = float(smooth_oxygen(begin + (part + 0.5) / 4 * (end - begin)))
                k = Kinetics(p[2], p[3], 0.10, 0.12, 0.7, 1.5, oxygen_mg_l=o2)
                step = Stepper(Members(growth, bacteria, np.zeros(1), np.ones(1)), k)
                step.dissolved = dissolved
                step.advance((end - begin) / 4)
                bacteria, dissolved = step.bacteria, step.dissolved
                nitrate += float(step.nitrate[0])
            lines.append([float(dissolved[0, 0]), float(dissolved[1, 0]), nitrate])
        return np.array(lines)

    fit = least_squares(
        lambda p: ((simulated(p) - seen) / 0.05).ravel(), [1.0, 1.0, 1.0, 1.0], bounds=(0.05, 5)
    )
    assert fit.x[0] == pytest.approx(1.5, rel=0.03)
    assert fit.x[1] == pytest.approx(0.5, rel=0.03)
    assert fit.x[2] == pytest.approx(0.5, rel=0.10)
    assert fit.x[3] == pytest.approx(1.5, rel=0.07)
    # Noise is 0.05; oxygen between the points is interpolated here, which costs the rest.
    assert 0.05 * math.sqrt(2 * fit.cost / seen.size) < 0.09


# --- against what was published --------------------------------------------------------------------------


def spread(start: Start, doses: list[Dose], loads: list[Load] | None = None) -> tuple[np.ndarray, np.ndarray]:
    """10, 50 and 90 % points of the days on which ammonia and nitrite are clear (0.1 mg N/L)."""
    track = integrate(prior(600, start), kinetics_from_start(start), 120.0, doses=doses, loads=loads or [])
    ammonia, nitrite = clear_days(track, 0.1)
    return np.quantile(ammonia, [0.1, 0.5, 0.9]), np.quantile(nitrite, [0.1, 0.5, 0.9])


ONE_DOSE = [Dose(0.0, 2.0)]


def test_an_unseeded_sea_water_start_takes_about_thirty_five_days() -> None:
    # Manthe & Malone 1987, Aquac. Eng. 6:227 (abstract): 35 d to baseline in a saline system. Practice, no
    # source: ammonia gone at 14 to 25 d, nitrite at 28 to 45, up to 60. The prior was set to these figures, so this is no
    # check from outside: it holds the prior to what it was set to.
    ammonia, nitrite = spread(Start(), ONE_DOSE)
    assert 35 * 0.8 < nitrite[1] < 35 * 1.25
    assert 14 < ammonia[1] < 25
    assert 20 < nitrite[0] < 35
    assert 45 < nitrite[2] < 70


def test_nitrite_given_with_the_ammonia_shortens_the_start() -> None:
    # Manthe & Malone 1987: 28 % less time (10 of 35 d).
    plain, helped = (
        spread(Start(), doses)[1][1] for doses in (ONE_DOSE, [*ONE_DOSE, Dose(0.0, 2.0, "nitrite")])
    )
    assert 0.15 < 1 - helped / plain < 0.40


def test_more_ammonia_alone_does_not_shorten_the_start() -> None:
    # Manthe & Malone 1987: ammonia alone had no effect.
    plain, more = (spread(Start(), [Dose(0.0, dose)])[1][1] for dose in (2.0, 4.0))
    assert abs(more / plain - 1) < 0.10


def test_a_bottle_keeps_the_unseeded_median_and_widens_the_early_tail() -> None:
    # Manthe & Malone 1987: a commercial concentrate had no significant effect. The tail: practice, no source.
    for plain, bottled in zip(
        spread(Start(), ONE_DOSE), spread(Start(seed="bottled"), ONE_DOSE), strict=True
    ):
        assert bottled[1] == pytest.approx(plain[1], rel=0.12)
        assert bottled[0] < 0.85 * plain[0]


def test_media_from_salt_water_brings_the_dates_to_a_fifth_to_a_half() -> None:
    # Range of practice (0.2 to 0.5); fresh-water RAS media: > 20 d unseeded, 7 d seeded (Chemosphere 2022, 135097).
    for plain, seeded in zip(
        spread(Start(), ONE_DOSE), spread(Start(seed="media_marine"), ONE_DOSE), strict=True
    ):
        assert 0.2 < seeded[1] / plain[1] < 0.5


def test_fresh_water_media_is_worth_nothing_in_full_salt_water() -> None:
    # Kinyage, Pedersen & Pedersen 2019: activity about zero from 25 ppt on. Gonzalez-Silva et al. 2021: no recovery.
    z = np.random.default_rng(3).standard_normal((50, 4))
    plain = members_from_z(Start(), z)
    for salinity in (25.0, 35.0):
        fresh = members_from_z(Start(seed="media_fresh", salinity_sp=salinity), z)
        np.testing.assert_array_equal(fresh.bacteria_mg_n_l, plain.bacteria_mg_n_l)
    brackish = members_from_z(Start(seed="media_fresh", salinity_sp=5.0), z)
    assert np.median(brackish.bacteria_mg_n_l) > 10 * np.median(plain.bacteria_mg_n_l)


def test_two_to_three_degrees_warmer_is_quicker() -> None:
    # DeLong & Losordo 2012, SRAC 4502: 2 to 3 degrees warmer helps at start-up.
    usual, warm = (spread(Start(temperature_c=t), ONE_DOSE)[1][1] for t in (25.0, 27.5))
    assert 0.6 < warm / usual < 0.95


def test_free_ammonia_slows_the_second_step_and_more_so_at_high_doses() -> None:
    # Anthonisen 1976 (onset for nitrite oxidisers 0.1 to 1.0 mg NH3/L); K_I 0.2 mg NH3-N/L of Hiatt & Grady 2008:
    # at 1, 2, 4 mg N/L, 26 degrees C and probe pH 8.2, rate factors 0.75, 0.60 and 0.43.
    start = Start(temperature_c=26.0)
    kinetics = kinetics_from_start(start)
    for dose, factor in ((1.0, 0.75), (2.0, 0.60), (4.0, 0.43)):
        nh3, k_i = dose * kinetics.nh3_fraction, kinetics.inhibition_nh3_n_mg_l
        assert k_i / (k_i + nh3) == pytest.approx(factor, abs=0.015)  # two formulas for the share of NH3
    delays = []
    for dose in (1.0, 4.0):
        days = []
        for chosen in (kinetics, replace(kinetics, nh3_fraction=0.0)):
            track = integrate(prior(300, start), chosen, 120.0, doses=[Dose(0.0, dose)])
            days.append(float(np.median(clear_days(track, 0.1)[1])))
        delays.append(days[0] - days[1])
    assert 0 < delays[0] < delays[1]


def test_a_filter_that_was_fed_once_does_not_pass_a_challenge() -> None:
    # Model run of another solver: after one dose of 2 mg/L and a wait for nitrite zero, a challenge of 2 mg/L
    # still showed about 1.7 next day (set marine_slow_illustrative).
    row = next(r for r in table("ode_events") if r["set"] == "marine_slow_illustrative")
    kinetics, members = reference_set(row)
    track = integrate(members, kinetics, 45.0, doses=[Dose(0.0, 2.0), Dose(42.0, 2.0)], at_d=[43.0])
    assert track.ammonia[track.row_before(43.0), 0] == pytest.approx(1.7, abs=0.15)


def test_alkalinity_per_milligram_of_nitrogen() -> None:
    # Without growth, from molar masses.
    values = {r["quantity"]: float(r["value"]) for r in table("stoichiometry")}
    assert pytest.approx(values["dKH per mg N/L (no synthesis)"], rel=1e-3) == ALKALINITY_DKH_PER_MG_N
    track = integrate(prior(50, Start(seed="media_marine")), Kinetics(), 60.0, doses=[Dose(0.0, 4.0)])
    assert ALKALINITY_DKH_PER_MG_N * float(np.median(track.oxidised[-1])) == pytest.approx(1.6, abs=0.02)
    assert math.isclose(float(np.median(track.oxidised[-1])), 4.0, abs_tol=0.02)


def test_the_published_range_holds_for_small_unseeded_tanks() -> None:
    # FAO aquaponics glossary: one to six weeks; Mnyoro et al. 2022: six to seven weeks with dosed salts.
    days = [
        float(r["days"].split("-")[-1])
        for r in table("startup_times")
        if r["days"] and "-" not in r["days"][:1]
    ]
    assert max(days) == 49.0
    effects = {r["event"]: r["days"] for r in table("startup_times") if r["source"].startswith("Manthe")}
    assert effects == {"acclimation to baseline water quality": "35", "acclimation reduced by": "-10", "no significant effect on acclimation time": ""}  # held by the tests above
    nitrite = spread(Start(), ONE_DOSE)[1]
    assert nitrite[0] < 42 < nitrite[2]
    assert nitrite[0] < 49 < nitrite[2]


def test_a_cold_week_and_late_seed_stay_within_a_hundredth_of_the_dose_of_lsoda() -> None:
    """The same equations, with constants that change by day and bacteria that are put in, in one piece for SciPy."""
    start = Start(temperature_c=25.0, waters=(Water(6.0, 18.0, 35.0, 6.8, 3.0), Water(13.4, 27.0, 35.0, 8.2, 8.0)), later_seeds=(Seeding(9.7, "media_marine"),))
    members, climate = prior(12, start), climate_from_start(start)
    track = integrate(members, kinetics_from_start(start), 50.0, doses=[Dose(0.0, 2.0), Dose(20.0, 1.0)], at_d=np.arange(1.0, 50.0).tolist(), climate=climate)
    ((seeded_d, more),) = members.inocula
    worst = 0.0
    for j in range(members.count):
        y = np.array([0.0, 0.0, *members.bacteria_mg_n_l[:, j]])
        for begin, end in itertools.pairwise((0.0, 6.0, seeded_d, 13.4, 20.0, 50.0)):
            kinetics = kinetics_at(start, begin)
            (mu_a, mu_n), nh3, k_i = effective_growth_per_d(members, kinetics)[:, j], kinetics.nh3_fraction, kinetics.inhibition_nh3_n_mg_l

            def rhs(_t: float, y: np.ndarray, mu_a: float = mu_a, mu_n: float = mu_n, nh3: float = nh3, k_i: float = k_i) -> list[float]:
                tan, no2 = max(y[0], 0.0), max(y[1], 0.0)
                first = mu_a * tan / (0.5 + tan) * y[2]
                second = mu_n * no2 / (0.5 + no2) * k_i / (k_i + nh3 * tan) * y[3]
                return [-first, first - second, first - 0.05 * y[2], second - 0.05 * y[3]]

            y[0] += {0.0: 2.0, 20.0: 1.0}.get(begin, 0.0)
            y[2:] += more[:, j] if begin == seeded_d else 0.0
            days = [d for d in range(1, 50) if begin < d <= end and d != 20]
            out = solve_ivp(rhs, (begin, end), y, method="LSODA", rtol=1e-8, atol=1e-11, t_eval=[*days, *([end] if end not in days else [])])
            y = out.y[:, -1].copy()
            for k, day in enumerate(days):
                row = track.row_before(float(day))
                worst = max(worst, abs(track.ammonia[row, j] - out.y[0, k]), abs(track.nitrite[row, j] - out.y[1, k]))
    assert worst < 0.01 * 2.0


def test_ph_and_alkalinity_take_off_what_the_published_lines_say() -> None:
    # 1 - 0.833 (7.2 - pH) below 7.2 (Downing et al. 1964; US EPA 1975) and Monod with 0.5 meq/L = 1.4 dKH (Henze et al. 1999), both from memory.
    assert [ph_factor(ph) for ph in (8.2, 7.2, 6.2, 5.0)] == pytest.approx([1.0, 1.0, 0.167, 0.05])
    assert [alkalinity_factor(dkh) for dkh in (None, 8.0, 11.0)] == pytest.approx([1.0, 1.0, 1.0])
    assert alkalinity_factor(1.4) == pytest.approx(0.5 / (8.0 / 9.4))

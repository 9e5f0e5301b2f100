"""What a forecast costs, and what the ensemble integrator saves against one-by-one solving.

Run: python tests/bench/forecast_cost.py

Tests of both kits every two days. Times are the best of ten warm runs; the processor time is printed too, which a
busy machine disturbs less. Wanted: a full forecast (conditioning and 60 days of curves, default number of members)
under 80 ms, and at least fifty times less than SciPy's LSODA member by member. The plan looks 120 days beyond today;
that is the second table, with few to many readings of the same thirty days.

Last measured:

A forecast (warm, two cores under a load of 3): 60 days in all 23 ms without a reading, 33 ms with 12, 43 ms with 24 and 55 ms with 30 (at most 80 is met; the aim of 40 only up to
about 20 readings); the 120 days beyond day 30 that a plan asks for 68 ms with 2 readings, 83 with 30, 97 with 60. The same members one by one with LSODA take 2.7 s, 275 times the ensemble.
"""

import time
from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from planner.science.cycle.forecast import forecast_cycle
from planner.science.cycle.kit import KitReading
from planner.science.cycle.prior import Start, kinetics_from_start, members_from_z
from planner.science.cycle.run import Dose, Policy, effective_growth_per_d, integrate
from planner.science.cycle.weigh import DEFAULT_MEMBERS, condition

START = Start()
DOSES = [Dose(0.0, 2.0), Dose(22.0, 1.0), Dose(28.0, 1.0)]


def best(call: Callable[[], object], repeats: int = 10) -> tuple[float, float]:
    """Best wall and processor time of a warm call, s."""
    call()
    wall, cpu = [], []
    for _ in range(repeats):
        a, b = time.perf_counter(), time.process_time()
        call()
        wall.append(time.perf_counter() - a)
        cpu.append(time.process_time() - b)
    return min(wall), min(cpu)


def journal(z: list[float], last: int, every: int = 2) -> list[KitReading]:
    """A colour kit's readings, every so many days, of the tank at these prior coordinates."""
    track = integrate(
        members_from_z(START, np.array([z])), kinetics_from_start(START), 60.0, doses=DOSES, at_d=range(61)
    )
    made = []
    for day in range(every, last + 1, every):
        for name, level in (("ammonia", track.ammonia), ("nitrite", track.nitrite)):
            middle = round(float(level[track.row_before(day), 0]) / 0.25) * 0.25
            made.append(KitReading(float(day), name, max(middle - 0.125, 0.0), middle + 0.125))
    return made


def lsoda(members, kinetics) -> None:
    """The same members one by one, 60 days, daily output, rtol 1e-6 (looser than the truth tests use)."""
    growth = effective_growth_per_d(members, kinetics)
    nh3, k_i = kinetics.nh3_fraction, kinetics.inhibition_nh3_n_mg_l
    ends = [d.t_d for d in DOSES[1:]] + [60.0]
    for j in range(members.count):
        mu_a, mu_n = growth[:, j]

        def rhs(_t, y, mu_a=mu_a, mu_n=mu_n):
            tan, no2 = max(y[0], 0.0), max(y[1], 0.0)
            first = mu_a * tan / (0.5 + tan) * y[2]
            second = mu_n * no2 / (0.5 + no2) * k_i / (k_i + nh3 * tan) * y[3]
            return [-first, first - second, first - 0.05 * y[2], second - 0.05 * y[3]]

        y = np.array([0.0, 0.0, *members.bacteria_mg_n_l[:, j]])
        for dose, end in zip(DOSES, ends, strict=True):
            y[0] += dose.rise_mg_n_l
            days = np.arange(dose.t_d, end + 1)
            y = solve_ivp(rhs, (dose.t_d, end), y, method="LSODA", rtol=1e-6, atol=1e-9, t_eval=days).y[:, -1]


def main() -> None:
    print("full forecast, 60 days, default members:          wall     processor")
    for label, readings, now in (
        ("no readings", [], 0.0),
        ("readings to day 12", journal([0.3, 0.2, 0.4, -0.3], 12), 12.0),
        ("readings to day 24", journal([0.3, 0.2, 0.4, -0.3], 24), 24.0),
        ("readings to day 30", journal([-0.5, 0.4, 0.6, 0.5], 30), 30.0),
    ):
        doses = [d for d in DOSES if d.t_d <= now]

        def full(readings=readings, now=now, doses=doses):
            return forecast_cycle(START, doses, [], readings, now, 60.0, Policy(), 0.1)

        def half(readings=readings, doses=doses):
            return condition(START, doses, [], readings)

        wall, cpu = best(full)
        only, _ = best(half)
        print(
            f"  {label:20s} ({len(readings):2d} readings)  {1e3 * wall:10.1f} ms {1e3 * cpu:8.1f} ms"
            f"   of which conditioning {1e3 * only:.1f} ms"
        )
    print("120 days beyond day 30, by the number of readings:   wall     processor   ratio to the fewest")
    fewest = 0.0
    for every in (30, 15, 6, 3, 2, 1):
        readings = journal([-0.5, 0.4, 0.6, 0.5], 30, every)
        wall, cpu = best(lambda readings=readings: forecast_cycle(START, DOSES, [], readings, 30.0, 150.0, Policy(), 0.1))
        fewest = fewest or cpu
        print(f"  {len(readings):3d} readings {1e3 * wall:38.1f} ms {1e3 * cpu:8.1f} ms {cpu / fewest:12.2f}")
    z = np.random.default_rng(4).standard_normal((DEFAULT_MEMBERS, START.dimensions))
    members, kinetics = members_from_z(START, z), kinetics_from_start(START)
    _, ours = best(lambda: integrate(members, kinetics, 60.0, doses=DOSES))
    few = members.take(np.arange(40))
    begin = time.process_time()
    lsoda(few, kinetics)
    theirs = (time.process_time() - begin) * DEFAULT_MEMBERS / few.count
    print(
        f"{DEFAULT_MEMBERS} members over 60 days: ensemble {1e3 * ours:.1f} ms (within 1 % of a dose), "
        f"LSODA one by one at rtol 1e-6 {theirs:.2f} s (from {few.count}), ratio {theirs / ours:.0f}"
    )


if __name__ == "__main__":
    main()

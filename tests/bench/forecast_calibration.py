"""How good are the forecast's dates? Tanks from an independent simulator, forecast blind, and scored.

Run: python tests/bench/forecast_calibration.py [--first 0] [--tanks 2000] [--exact 80] [--seed 1] [--jobs 2] [--scores FILE]

Every tank is drawn from the same belief as the forecast's prior but by other code (SciPy LSODA, another
generator), is tested every two days with a coarse colour kit and a human eye, and is dosed by those readings.
The eye errs, and the keeper slips, as the forecast believes them to; the law is written out again in `look`.
After the last reading the keeper follows the policy. Scored is the day nitrite is clear for good. Tanks that
are clear already are left out, and so are members that would be. Seeds are not tuned.

Last measured:

With `--tanks 4000` (tanks from an independent SciPy simulator, seed 1, 19,340 forecasts; p is the chi-square test
of the probability integral transform in tenths, for tanks 1 to 2,000 and for 2,001 to 4,000, which `--first 2000` prints):

| last reading, day | 80 % band covers: all | first half | second half | p, first half | p, second half | mean absolute error of the median | of a fixed date (day 40) |
|---|---:|---:|---:|---:|---:|---:|---:|
| 6 | 81.5 % | 82.2 % | 80.8 % | 0.003 | 0.34 | 8.8 d | 10.0 d |
| 12 | 81.0 % | 82.1 % | 79.9 % | 0.21 | 0.94 | 8.1 d | 10.0 d |
| 18 | 81.3 % | 82.0 % | 80.5 % | 0.54 | 0.32 | 7.8 d | 10.0 d |
| 24 | 80.1 % | 81.5 % | 78.6 % | 0.22 | 0.033 | 7.4 d | 9.7 d |
| 30 | 80.2 % | 81.8 % | 78.6 % | 0.015 | 0.25 | 6.9 d | 9.3 d |

Coverage lies within the 77 to 83 % aimed at on every day. Uniformity (p above 0.01) holds on nine of the ten counts; the first half misses it on day 6, and all 4,000 tanks together have p = 0.003
there (0.54 to 0.81 on the other days). For the first half the cause is mostly the tanks drawn: their spread is 0.96 of the prior's in three of the four coordinates (standard error 0.016), and
plain importance sampling with 16,384 draws and 4,000 members misses day 6 on the same tanks as well (p = 0.002). What the forecast adds is about 0.005 of unevenness. On 374
forecasts where 200,000 prior members still have an effective size of 400, the error of the median is 0.998 times that of sampling with them (aim: at most 1.05).

Two faults were found on the way. The ensemble's draws are the same for every tank, so its unevenness does not average out: with 512 draws and 400 members one tenth of the band
held up to a fifth too many tanks. It is now 4,096 draws and 1,000 members, picked evenly from quick to slow. And a colour's chance took its noise from the width of the colour that was read, so that over a card with unequal steps the
chances did not sum to one; noise now belongs to the edge between two colours.
"""

import argparse
import json
import math
import multiprocessing
from dataclasses import astuple, dataclass
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.stats import chisquare

from planner.science.cycle import prior
from planner.science.cycle.forecast import carry_belief
from planner.science.cycle.kit import KitReading, log_likelihood, probabilities
from planner.science.cycle.prior import Start, kinetics_from_start, members_from_z
from planner.science.cycle.run import Dose, Policy, clear_days, integrate

LAST_DAYS = (6, 12, 18, 24, 30)
HORIZON_D = 90.0
POINTS = 12  # of fine output per day
CLEAR = 0.1
FIRST_DOSE = 2.0
LEAFLET_D = 40.0  # the fixed date that a leaflet would print: the middle of all un-seeded tanks
AMMONIA_COLOURS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0)  # mg N/L
NITRITE_COLOURS = tuple(c / 3.28454 for c in (0.0, 0.25, 0.5, 1.0, 2.0, 5.0))  # as the ion on the card
START = Start()
POLICY = Policy()


@dataclass(frozen=True)
class Tank:
    growth_a: float
    growth_n: float
    bacteria_a: float
    bacteria_n: float


def draw_tank(rng: np.random.Generator) -> Tank:
    z = rng.standard_normal(4)
    return Tank(
        prior.GROWTH_PER_D[0] * math.exp(prior.GROWTH_LOG_SD[0] * z[0]),
        prior.GROWTH_PER_D[1] * math.exp(prior.GROWTH_LOG_SD[1] * z[1]),
        prior.UNSEEDED_MG_N_L[0] * math.exp(prior.UNSEEDED_LOG_SD * z[2]),
        prior.UNSEEDED_MG_N_L[1] * math.exp(prior.UNSEEDED_LOG_SD * z[3]),
    )


def right_hand_side(tank: Tank):
    """The equations written out again, member by member, for SciPy."""
    o2, t, s, ph = START.oxygen_mg_l, START.temperature_c, START.salinity_sp, START.ph
    nh3 = 1 / (1 + 10 ** (10.0423 - 0.0315536 * t + 0.003071 * s - ph))
    grow_a = tank.growth_a * 1.10 ** (t - 25) * o2 / (0.5 + o2)
    grow_n = tank.growth_n * 1.07 ** (t - 25) * o2 / (0.9 + o2)

    def rhs(_t, y):
        tan, no2, xa, xn = y
        tan, no2 = max(tan, 0.0), max(no2, 0.0)
        ma = tan / (0.5 + tan)
        mn = no2 / (0.5 + no2) * 0.2 / (0.2 + nh3 * tan)
        ra, rn = grow_a * ma * xa, grow_n * mn * xn
        return [-ra, ra - rn, ra - 0.05 * xa, rn - 0.05 * xn]

    return rhs


def run(rhs, y, t0, t1, points=POINTS):
    """From t0 to t1 with fine output: (times, ammonia, nitrite), and the state at the end."""
    grid = np.linspace(t0, t1, max(int((t1 - t0) * points), 2) + 1)
    out = solve_ivp(rhs, (t0, t1), y, method="LSODA", rtol=1e-7, atol=1e-10, t_eval=grid)
    return grid, np.maximum(out.y[0], 0), np.maximum(out.y[1], 0), out.y[:, -1].copy()


def look(rng, name: str, true: float, t: float) -> KitReading:
    """A keeper compares the water with two colours at a time; once in a hundred tests the answer is a slip.

    Half way between two colours the eye errs by a quarter of their distance and a tenth of what is there.
    """
    colours = AMMONIA_COLOURS if name == "ammonia" else NITRITE_COLOURS
    edges = [(a + b) / 2 for a, b in zip(colours, colours[1:], strict=False)]
    edges.append(colours[-1] * 4 / 3)  # stronger than the last colour by a third: off the card
    distance = [b - a for a, b in zip(colours, colours[1:], strict=False)] + [edges[-1] / 2]
    eye = rng.standard_normal()
    at = sum(
        true + math.hypot(0.10 * true, max(0.25 * d, 0.02)) * eye > e for e, d in zip(edges, distance, strict=True)
    )
    if rng.random() < 0.01:
        at = int(rng.integers(len(colours) + 1))
    if at == len(colours):
        return KitReading(t, name, edges[-1], math.inf)
    return KitReading(t, name, [0.0, *edges][at], edges[at], colours[at])


def middle(reading: KitReading) -> float:
    return reading.low if math.isinf(reading.high) else (reading.low + reading.high) / 2


def simulate_past(rng, tank: Tank):
    """Thirty days of tests every two days, dosing by the kit: readings, doses, and the state after each."""
    rhs = right_hand_side(tank)
    y = np.array([FIRST_DOSE, 0.0, tank.bacteria_a, tank.bacteria_n])
    readings, doses, states, pieces = [], [Dose(0.0, FIRST_DOSE)], {}, []
    given = FIRST_DOSE
    for day in range(0, max(LAST_DAYS), 2):
        t, a, n, y = run(rhs, y, day, day + 2)
        pieces.append((t, a, n))
        seen_a = look(rng, "ammonia", a[-1], day + 2.0)
        seen_n = look(rng, "nitrite", n[-1], day + 2.0)
        readings += [seen_a, seen_n]
        if (
            given < POLICY.total_mg_n_l
            and middle(seen_a) < 0.5
            and middle(seen_n) < POLICY.nitrite_below_mg_n_l
        ):
            doses.append(Dose(day + 2.0, 1.0))
            given += 1.0
            y[0] += 1.0
        states[day + 2] = (y.copy(), given)
    return rhs, readings, doses, states, pieces


def simulate_future(rhs, y, given, now: int, nitrite_shown: bool):
    """The keeper follows the policy by the water itself, until nitrite has had its say.

    Solved in stretches of up to six days; a stretch is cut at the first day on which something is given.
    """
    pieces, dosed_on, challenged, tried, failed, passes, done = [], [], False, False, False, 0, False
    day, y = now, y.copy()
    while day < HORIZON_D:
        ahead = min(day + (1 if challenged else 6), int(HORIZON_D))
        out = solve_ivp(
            rhs,
            (day, ahead),
            y,
            method="LSODA",
            rtol=1e-7,
            atol=1e-10,
            t_eval=np.linspace(day, ahead, (ahead - day) * POINTS + 1),
        )
        levels = np.maximum(out.y[:2], 0)
        dose = 0.0
        for stop in range(day + 1, ahead + 1):
            at = (stop - day) * POINTS
            a, n = levels[:, at]
            ok = a <= POLICY.pass_mg_n_l and n <= POLICY.pass_mg_n_l
            failed = failed or (challenged and not ok)
            if challenged:
                passes = passes + 1 if ok else 0
                done = ok and passes >= POLICY.passes_needed
                challenged = False
                if ok and not done:
                    dose, challenged = POLICY.challenge_mg_n_l, True
            if not dose and (stop % POLICY.test_every_d == 0 or (tried and not done)):
                hungry = a < POLICY.ammonia_below_mg_n_l and n < POLICY.nitrite_below_mg_n_l
                if done:
                    dose = POLICY.redose_mg_n_l if ok and hungry else 0.0
                elif given >= POLICY.total_mg_n_l - 1e-9 and not failed:
                    if ok:
                        dose, challenged, tried = POLICY.challenge_mg_n_l, True, True
                elif hungry:
                    dose = POLICY.redose_mg_n_l
            if dose:
                break
        pieces.append((out.t[: at + 1], levels[0, : at + 1], levels[1, : at + 1]))
        nitrite_shown = nitrite_shown or bool(np.any(levels[1, : at + 1] > CLEAR))
        if dose and n <= CLEAR and nitrite_shown:
            break  # clear up to this dose: the day is in hand
        y = out.y[:, at].copy()
        if dose:
            failed = False
            given += dose
            y[0] += dose
            dosed_on.append(float(stop))
        day = stop
    return pieces, dosed_on


def first_clear(pieces, dose_days, which: int) -> float:
    """Clear for good until the next dose, found by walking the fine output between doses."""
    bounds = sorted({0.0, *dose_days, HORIZON_D + 1})
    t = np.concatenate([p[0] for p in pieces])
    level = np.concatenate([p[which] for p in pieces])
    shown = False
    for a, b in zip(bounds, bounds[1:], strict=False):
        rows = np.flatnonzero((t >= a - 1e-9) & (t <= b + 1e-9))
        if a in dose_days and len(rows) > 1 and t[rows[0]] == t[rows[1]]:
            rows = rows[1:]  # the earlier twin is from before the dose
        if b in dose_days and len(rows) > 1 and t[rows[-1]] == t[rows[-2]]:
            rows = rows[:-1]  # the later twin is from after the next one
        if not len(rows):
            continue
        above = np.flatnonzero(level[rows] > CLEAR)
        last = above[-1] if len(above) else -1
        shown = shown or len(above) > 0
        if shown and last < len(rows) - 1:
            if last < 0:
                return float(t[rows[0]])
            (t0, t1), (c0, c1) = t[rows[last : last + 2]], np.maximum(level[rows[last : last + 2]], 1e-12)
            return float(t0 + (t1 - t0) * math.log(c0 / CLEAR) / math.log(c0 / c1))
    return math.inf


def exact_median(z, chance, past_doses, now) -> float:
    """Plain importance sampling of the whole prior: the best value a median can have; nan if too thin."""
    log_weight = log_likelihood(chance)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    if 1 / np.sum(weight**2) < 400:
        return math.nan
    ladder = (np.arange(6000) + 0.5) / 6000
    picked = np.minimum(np.searchsorted(np.cumsum(weight), ladder), len(weight) - 1)
    single, times = np.unique(picked, return_counts=True)
    track = integrate(
        members_from_z(START, z[single]),
        kinetics_from_start(START),
        HORIZON_D,
        doses=past_doses,
        policy=POLICY,
        policy_from_d=now,
    )
    days = np.repeat(clear_days(track, CLEAR)[1], times)
    days = days[days > now]
    return float(np.median(days)) if len(days) else math.nan


def exact_chances(z, readings, doses):
    chances = []
    for part in np.array_split(z, 50):
        track = integrate(
            members_from_z(START, part),
            kinetics_from_start(START),
            float(max(LAST_DAYS)),
            doses=doses,
            at_d=[r.t_d for r in readings],
            only_at_d=True,
        )
        chances.append(probabilities(readings, track))
    return np.concatenate(chances, axis=1)


@dataclass(frozen=True)
class Score:
    last: int
    truth: float
    low: float
    mid: float
    high: float
    pit: float
    covered: float
    effective: float
    exact: float  # the median by plain sampling; nan where not asked or too few members carry the weight


def score_tank(job: tuple[int, int, bool]) -> list[Score]:
    """One tank, forecast at each last day on which it is not clear yet."""
    seed, number, with_exact = job
    rng = np.random.default_rng([seed, 777, number])
    rhs, readings, doses, states, pieces = simulate_past(rng, draw_tank(rng))
    big, chances = None, None
    if with_exact:
        big = np.random.default_rng(seed + 10**6).standard_normal((200_000, START.dimensions))
        chances = exact_chances(big, readings, doses)
    scores = []
    for last in LAST_DAYS:
        y, given = states[last]
        past = [p for p in pieces if p[0][-1] <= last + 1e-9]
        past_doses = [d for d in doses if d.t_d <= last]
        shown = any(np.any(p[2] > CLEAR) for p in past)
        future, dosed_on = simulate_future(rhs, y, given, last, shown)
        truth = first_clear(past + future, [d.t_d for d in past_doses if d.t_d > 0] + dosed_on, 2)
        if truth <= last:
            continue
        heard = [r for r in readings if r.t_d <= last]
        now = last + 0.01  # today's test and dose are in the journal; the policy begins tomorrow
        belief, track = carry_belief(START, past_doses, [], heard, now, HORIZON_D, POLICY)
        days = clear_days(track, CLEAR)[1]
        days = np.sort(days[days > last])
        if not len(days):
            scores.append(Score(last, truth, last, last, last, 1.0, 0.0, belief.effective, math.nan))
            continue
        low, mid, high = (float(days[math.ceil(q * len(days)) - 1]) for q in (0.1, 0.5, 0.9))
        if math.isinf(truth):
            known = float(np.mean(np.isfinite(days)))
            pit = known + (1 - known) * rng.random()
        else:
            pit = (np.sum(days < truth) + rng.random() * (1 + np.sum(days == truth))) / (len(days) + 1)
        exact = math.nan
        if chances is not None:
            keep = [i for i, r in enumerate(readings) if r.t_d <= last]
            exact = exact_median(big, chances[keep], past_doses, now)
        covered = float(low <= truth <= high)
        scores.append(Score(last, truth, low, mid, high, float(pit), covered, belief.effective, exact))
    return scores


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--tanks", type=int, default=2000)
    options.add_argument("--first", type=int, default=0, help="number of the first tank; --tanks is the one after the last")
    options.add_argument("--exact", type=int, default=80, help="tanks also judged by 200,000-member sampling")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--jobs", type=int, default=1)
    options.add_argument(
        "--scores", type=Path, help="keep each tank's scores here; tanks already in it are not run again"
    )
    args = options.parse_args()
    known: dict[int, list[Score]] = {}
    if args.scores and args.scores.exists():
        for line in args.scores.read_text().splitlines():
            number, rows = json.loads(line)
            if args.first <= number < args.tanks:
                known[number] = [Score(*row) for row in rows]
    jobs = [(args.seed, n, n < args.exact) for n in range(args.first, args.tanks) if n not in known]
    with multiprocessing.Pool(args.jobs) as pool:
        for (_, number, _), tank in zip(jobs, pool.imap(score_tank, jobs, chunksize=2), strict=True):
            known[number] = tank
            if args.scores:
                with args.scores.open("a") as file:
                    file.write(json.dumps([number, [astuple(score) for score in tank]]) + "\n")
    report([score for number in sorted(known) for score in known[number]], len(known))


def report(scores: list[Score], tanks: int) -> None:
    print(f"{tanks} tanks")
    print("last day   n   80 % band covers   PIT chi2 p   MAE median   MAE leaflet   band width")
    for last in (*LAST_DAYS, None):
        mine = [x for x in scores if last in (x.last, None)]
        ok = [x for x in mine if math.isfinite(x.truth) and math.isfinite(x.mid)]
        tenths = np.histogram([x.pit for x in mine], bins=10, range=(0, 1))[0]
        p = chisquare(tenths).pvalue if last else math.nan  # one tank's five days are not independent
        print(
            f"{last or 'pooled'!s:>8} {len(mine):5d} {100 * np.mean([x.covered for x in mine]):12.1f} %"
            f"     {p:10.3f} {np.mean([abs(x.mid - x.truth) for x in ok]):10.2f} d"
            f" {np.mean([abs(LEAFLET_D - x.truth) for x in ok]):10.2f} d"
            f" {np.median([x.high - x.low for x in ok]):9.1f} d   PIT tenths {' '.join(str(n) for n in tenths)}"
        )
    pairs = [(x.mid, x.exact, x.truth) for x in scores if math.isfinite(x.exact + x.mid + x.truth)]
    if pairs:
        mid, exact, truth = np.array(pairs).T
        ours, best = np.abs(mid - truth).mean(), np.abs(exact - truth).mean()
        print(
            f"against exact Bayesian sampling ({len(pairs)} forecasts with effective size >= 400): "
            f"MAE {ours:.3f} d against {best:.3f} d, ratio {ours / best:.3f}, "
            f"medians differ by {np.abs(mid - exact).mean():.2f} d on average"
        )
    sizes = [x.effective for x in scores]
    print(
        f"effective sample size: smallest {min(sizes):.0f}, 1 % {np.quantile(sizes, 0.01):.0f}, "
        f"5 % {np.quantile(sizes, 0.05):.0f}, median {np.median(sizes):.0f}"
    )


if __name__ == "__main__":
    main()

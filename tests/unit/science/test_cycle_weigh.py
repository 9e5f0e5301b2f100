"""Beliefs after test-kit readings, and the forecast made of them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.science.cycle.forecast import CycleForecast, carry_belief, forecast_cycle
from planner.science.cycle.kit import KitReading, normal_cdf, reading_probabilities, usable
from planner.science.cycle.prior import Start, kinetics_from_start, members_from_z
from planner.science.cycle.run import Change, Dose, Policy, Track, clear_days, integrate
from planner.science.cycle.weigh import _spread_normals, condition

START = Start()


def reading_probability(reading: KitReading, water: np.ndarray) -> np.ndarray:
    """The chance of one reading."""
    return np.asarray(reading_probabilities([reading], water[None, :])[0])

DOSES = (Dose(0.0, 2.0),)


def tank(z: tuple[float, ...] = (0.5, -0.4, 0.3, 0.2), doses: tuple[Dose, ...] = DOSES) -> Track:
    """One tank at these prior coordinates, day by day."""
    members = members_from_z(START, np.array([z]))
    return integrate(members, kinetics_from_start(START), 90.0, doses=doses, at_d=range(91))


def reading(track: Track, name: str, day: float, step: float = 0.25) -> KitReading:
    """What a perfect eye reads off a kit with this colour step."""
    level = {"ammonia": track.ammonia, "nitrite": track.nitrite, "nitrate": track.nitrate}[name]
    true = float(level[track.row_before(day), 0])
    middle = round(true / step) * step
    return KitReading(day, name, max(middle - step / 2, 0.0), middle + step / 2)  # type: ignore[arg-type]


def journal(track: Track, last: int) -> list[KitReading]:
    return [reading(track, name, float(d)) for d in range(2, last + 1, 2) for name in ("ammonia", "nitrite")]


def forecast(readings: list[KitReading], now: float, **changed: object) -> CycleForecast:
    arguments: dict[str, object] = {
        "start": START,
        "doses": DOSES,
        "changes": (),
        "readings": readings,
        "now_d": now,
        "horizon_d": 90.0,
        "policy": None,
        "clear_mg_n_l": 0.1,
    } | changed
    return forecast_cycle(**arguments)  # type: ignore[arg-type]


def width(made: CycleForecast) -> float:
    q = made.nitrite_clear
    assert q.p10 is not None and q.p90 is not None
    return q.p90 - q.p10


# --- the likelihood --------------------------------------------------------------------------------------


def test_the_normal_distribution_function_matches_the_library_one() -> None:
    x = np.linspace(-6, 6, 241)
    expected = [0.5 * math.erfc(-v / math.sqrt(2)) for v in x]
    np.testing.assert_allclose(normal_cdf(x), expected, atol=1e-7)


def test_a_colour_is_most_likely_from_water_inside_its_interval() -> None:
    half = KitReading(5.0, "ammonia", 0.375, 0.625)
    inside, near, far = reading_probability(half, np.array([0.5, 0.8, 2.0]))
    assert inside > 0.8
    assert 0.001 < near < 0.3
    assert far < 1e-4


def test_off_the_scale_is_a_lower_bound_and_less_than_is_an_upper_bound() -> None:
    over = reading_probability(KitReading(5.0, "nitrite", 5.0, math.inf), np.array([1.0, 8.0, 30.0]))
    assert over[0] < 1e-3
    assert over[1] > 0.95
    assert over[2] > 0.99
    under = reading_probability(KitReading(5.0, "ammonia", 0.0, 0.25), np.array([0.0, 0.1, 1.0]))
    assert under[0] > 0.97
    assert under[1] > 0.85
    assert under[2] < 1e-3


EQUAL_STEPS = tuple(0.25 * i for i in range(17))
DOUBLING = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0)
FINE_AT_FIRST = (0.0, 0.076, 0.15, 0.30, 0.61, 1.52)


@pytest.mark.parametrize("colours", [EQUAL_STEPS, DOUBLING, FINE_AT_FIRST])
def test_over_a_whole_card_the_chances_of_all_answers_sum_to_one(colours: tuple[float, ...]) -> None:
    edges = [(a + b) / 2 for a, b in zip(colours, colours[1:], strict=False)]
    top = colours[-1] + (colours[-1] - edges[-1])
    bounds = zip([0.0, *edges], [*edges, top], colours, strict=True)
    answers = [KitReading(5.0, "ammonia", low, high, colour) for low, high, colour in bounds]
    water = np.linspace(0.0, 0.6 * colours[-1], 60)  # below the end of the card
    total = sum(reading_probability(answer, water) for answer in answers)
    np.testing.assert_allclose(total, 1.0, atol=2e-3)


def test_a_card_without_printed_values_has_its_colours_in_the_middle() -> None:
    water = np.linspace(0.0, 3.0, 50)
    for low, high, colour in ((0.0, 0.125, 0.0), (0.875, 1.125, 1.0)):
        plain = reading_probability(KitReading(5.0, "ammonia", low, high), water)
        np.testing.assert_array_equal(
            plain, reading_probability(KitReading(5.0, "ammonia", low, high, colour), water)
        )


def test_nitrate_is_believed_only_beside_a_nitrite_reading_of_nothing() -> None:
    nitrate = KitReading(20.0, "nitrate", 8.0, 12.0)
    present, absent = KitReading(20.0, "nitrite", 0.4, 0.6), KitReading(20.0, "nitrite", 0.0, 0.05)
    assert usable([nitrate]) == ()
    assert usable([nitrate, present]) == (1,)
    assert usable([nitrate, absent]) == (0, 1)
    assert usable([nitrate, absent, replace(present, t_d=19.0)]) == (0, 1, 2)
    assert usable([nitrate, present, replace(absent, t_d=19.0)]) == (1, 2)


@pytest.mark.parametrize(
    "wrong",
    [
        (-1.0, "ammonia", 0.0, 1.0),
        (1.0, "pH", 8.0, 8.2),
        (1.0, "nitrite", 2.0, 1.0),
        (1.0, "nitrite", math.inf, math.inf),
        (1.0, "nitrite", 1.0, 2.0, 2.5),
    ],
)
def test_an_impossible_reading_is_refused(wrong: tuple[float, str, float, float] | tuple[float, str, float, float, float]) -> None:
    with pytest.raises(ValueError):
        KitReading(*wrong)  # type: ignore[arg-type]


# --- the population --------------------------------------------------------------------------------------


def test_without_a_reading_the_population_is_the_prior() -> None:
    belief = condition(START, DOSES, [], [])
    np.testing.assert_allclose(belief.z.mean(axis=0), 0.0, atol=0.05)
    np.testing.assert_allclose(belief.z.std(axis=0), 1.0, atol=0.06)
    assert belief.used == ()


def test_every_tenth_of_the_band_holds_a_tenth_of_the_tanks() -> None:
    # 20,000 tanks by another generator. The draws behind a forecast never change, so their unevenness is no noise that
    # averages out; it bends every date the same way. A share counted from 20,000 is good to 0.002.
    def nitrite_days(z: np.ndarray) -> np.ndarray:
        track = integrate(members_from_z(START, z), kinetics_from_start(START), 150.0, doses=DOSES, step_d=0.5)
        return clear_days(track, 0.1)[1]

    others = np.random.default_rng(99).standard_normal((20_000, START.dimensions))
    days = np.concatenate([nitrite_days(part) for part in np.array_split(others, 10)])
    edges = np.quantile(nitrite_days(condition(START, DOSES, [], []).z), np.arange(0.1, 1.0, 0.1))
    shares = np.bincount(np.searchsorted(edges, days), minlength=10) / len(days)
    np.testing.assert_allclose(shares, 0.1, atol=0.01)


def test_readings_bring_the_known_truth_back() -> None:
    # Growth and biomass are confounded; what the journal fixes is when ammonia and nitrite go, and it does.
    for z in ((0.5, -0.4, 0.3, 0.2), (-0.8, 0.6, 0.9, -0.5), (0.2, 1.0, -1.0, 1.2)):
        truth = tank(z)
        ammonia, nitrite = (float(day[0]) for day in clear_days(truth, 0.1))
        made = forecast(journal(truth, 40), 40.0)
        assert made.ammonia_clear.p50 == pytest.approx(ammonia, abs=1.5)
        assert made.nitrite_clear.p50 == pytest.approx(nitrite, abs=2.5)
        assert made.unexplained == ()


def test_more_readings_narrow_the_band() -> None:
    truth = tank()
    none, some, many = (forecast(journal(truth, last), 30.0) for last in (0, 16, 30))
    assert width(many) < 0.5 * width(none)
    assert width(many) < width(some) < width(none)


def test_the_population_agrees_with_plain_sampling_of_the_whole_prior() -> None:
    # 40,000 prior members weighed outright: another sampler, another generator, the fine step.
    readings = journal(tank(), 16)
    z = np.random.default_rng(99).standard_normal((40_000, 4))
    track = integrate(
        members_from_z(START, z),
        kinetics_from_start(START),
        16.0,
        doses=DOSES,
        at_d=[r.t_d for r in readings],
        only_at_d=True,
    )
    levels = {"ammonia": track.ammonia, "nitrite": track.nitrite}
    log_weight = np.zeros(len(z))
    for r in readings:
        chance = reading_probability(r, levels[r.name][track.row_before(r.t_d)])
        log_weight += np.log(0.99 * chance + 0.001)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    assert 1 / np.sum(weight**2) > 300
    mean = weight @ z
    sd = np.sqrt(weight @ (z - mean) ** 2)
    belief = condition(START, DOSES, [], readings)
    np.testing.assert_allclose(belief.z.mean(axis=0), mean, atol=0.2)
    np.testing.assert_allclose(belief.z.std(axis=0), sd, atol=0.15)


def test_many_readings_do_not_leave_a_handful_of_members() -> None:
    truth = tank()
    daily = [reading(truth, name, float(d)) for d in range(1, 46) for name in ("ammonia", "nitrite")]
    belief = condition(START, DOSES, [], daily)
    assert belief.effective > 100
    assert len(np.unique(belief.z[:, 0])) > 100


def test_the_same_journal_gives_the_same_forecast_in_any_order() -> None:
    readings = journal(tank(), 20)
    first = forecast(readings, 20.0)
    assert first == forecast(readings, 20.0)
    turned = forecast(readings[::-1], 20.0)
    assert turned.nitrite_clear == first.nitrite_clear
    assert turned.nitrite == first.nitrite


def test_what_is_ignored_changes_nothing() -> None:
    truth = tank()
    readings = journal(truth, 20)
    with_nitrate = [*readings, KitReading(20.0, "nitrate", 20.0, 40.0)]
    plain, more = forecast(readings, 20.0), forecast(with_nitrate, 20.0)
    assert set(more.readings_used) == set(range(len(readings)))
    assert more.nitrite == plain.nitrite
    later = [*readings, KitReading(25.0, "ammonia", 0.0, 0.1)]
    assert forecast(later, 20.0) == plain, "a reading from after today is unseen"


def test_a_day_without_a_reading_does_not_shake_the_dates() -> None:
    readings = journal(tank(), 20)
    assert forecast(readings, 21.0).nitrite_clear == forecast(readings, 20.0).nitrite_clear


def test_a_reading_that_no_member_can_explain_is_reported_and_pulls_on_nothing() -> None:
    readings = journal(tank(), 20)
    plain = forecast(readings, 20.0)
    typo = [*readings, KitReading(6.0, "ammonia", 30.0, 34.0)]
    made = forecast(typo, 20.0)
    assert made.unexplained == (len(readings),)
    assert made.nitrite_clear.p50 == pytest.approx(plain.nitrite_clear.p50, abs=2.0)


def test_a_reading_that_contradicts_the_others_is_reported() -> None:
    readings = journal(tank(), 20)
    at = next(i for i, r in enumerate(readings) if r.t_d == 10.0 and r.name == "ammonia")
    wrong = [*readings[:at], KitReading(10.0, "ammonia", 0.0, 0.125), *readings[at + 1 :]]
    assert at in forecast(wrong, 20.0).unexplained


def test_a_surprise_widens_the_band_and_is_a_mistake_only_once_the_next_test_says_so() -> None:
    """On day 30, when the readings have narrowed the band: before that it is nearly as wide as without any, and cannot widen."""
    readings = journal(tank(), 30)
    plain = forecast(readings, 31.0)
    surprised = [*readings, KitReading(31.0, "ammonia", 30.0, 34.0)]
    open_still = forecast(surprised, 31.0)
    assert (open_still.unexplained, open_still.mistakes) == ((len(readings),), ())
    assert width(open_still) > 1.2 * width(plain)
    nothing = KitReading(31.5, "ammonia", 0.0, 0.125)
    settled = forecast([*surprised, nothing], 31.5)
    assert settled.mistakes == (len(readings),)
    assert width(settled) < width(open_still) / 1.2
    both = forecast([*surprised, KitReading(31.5, "ammonia", 30.0, 34.0)], 31.5)
    assert both.mistakes == ()


def test_a_water_change_in_the_journal_explains_a_sudden_fall() -> None:
    members = members_from_z(START, np.array([[0.0, 0.0, 0.0, 0.0]]))
    change = Change(5.0, 0.5)
    truth = integrate(
        members, kinetics_from_start(START), 30.0, doses=DOSES, changes=[change], at_d=range(31)
    )
    readings = [reading(truth, "ammonia", float(d)) for d in (2, 4, 6, 8, 10)]
    told = forecast(readings, 10.0, changes=[change])
    untold = forecast(readings, 10.0)
    assert told.unexplained == ()
    assert told.ammonia_clear.p50 == pytest.approx(clear_days(truth, 0.1)[0][0], abs=6.0)
    assert told.ammonia_clear != untold.ammonia_clear


def test_a_reading_dated_like_a_dose_may_be_from_before_or_after_it() -> None:
    before, after = KitReading(0.0, "ammonia", 0.0, 0.125), KitReading(0.0, "ammonia", 1.75, 2.25)
    neither = KitReading(0.0, "ammonia", 0.75, 1.25)
    for seen, unexplained in ((before, ()), (after, ()), (neither, (0,))):
        made = forecast([seen], 1.0)
        assert made.unexplained == unexplained
        assert made.readings_used == (0,)


# --- the forecast ----------------------------------------------------------------------------------------


def test_quantiles_and_bands_are_in_order_and_begin_with_the_first_dose() -> None:
    made = forecast(journal(tank(), 12), 12.0, policy=Policy())
    assert made.days == tuple(range(91))
    for band in (made.ammonia, made.nitrite, made.nitrate):
        assert len(band.p50) == 91
        assert all(0 <= a <= b <= c for a, b, c in zip(band.p10, band.p50, band.p90, strict=True))
    assert made.ammonia.p50[0] == pytest.approx(2.0)
    assert made.nitrite.p50[0] == 0.0


def test_a_point_beyond_the_horizon_is_none_not_a_number() -> None:
    made = forecast([], 0.0, horizon_d=30.0)
    assert made.ammonia_clear.p10 is not None
    assert made.nitrite_clear.p90 is None
    assert made.nitrite_clear.p50 is None


def test_the_forecast_predicts_a_nitrite_peak_near_what_was_dosed() -> None:
    for dose, peak, within in ((2.0, 1.9, 0.1), (4.0, 3.9, 0.15)):
        _, track = carry_belief(START, [Dose(0.0, dose)], [], [], 0.0, 90.0, None)
        assert float(np.median(track.nitrite.max(axis=0))) == pytest.approx(peak, abs=within)


def test_alkalinity_and_doses_to_come_agree() -> None:
    policy = Policy(challenge_mg_n_l=1.0)
    made = forecast([], 0.0, policy=policy, horizon_d=150.0)
    _, track = carry_belief(START, DOSES, [], [], 0.0, 150.0, policy)
    to_come = float(np.median(track.policy_dose_mg_n_l))
    assert 6.0 <= to_come <= 14.0
    assert made.alkalinity_to_come_dkh.p50 == pytest.approx(0.40 * (to_come + 2.0), rel=0.1)


def test_capacity_fades_in_a_week_without_food() -> None:
    made = forecast(journal(tank(), 40), 40.0)
    now, later = made.capacity_mg_n_l_d.p50, made.capacity_unfed_week_mg_n_l_d.p50
    assert now is not None and later is not None
    assert now > 0.1
    assert later / now == pytest.approx(math.exp(-0.05 * 7), rel=1e-6)


def test_a_tank_that_shows_nothing_for_a_month_is_a_likely_stall() -> None:
    flat = [KitReading(float(d), "ammonia", 1.75, 2.25) for d in range(2, 30, 2)]
    flat += [KitReading(float(d), "nitrite", 0.0, 0.08) for d in range(2, 30, 2)]
    stuck, fresh = forecast(flat, 29.0), forecast([], 0.0)
    assert stuck.nitrite.p50[21] < 0.25 < fresh.nitrite.p50[21]
    assert stuck.ammonia_clear.p10 is None or stuck.ammonia_clear.p10 > 29.0


def test_live_rock_is_its_own_source_of_ammonia() -> None:
    made = forecast_cycle(Start("rock", rock_kind="live"), (), (), (), 0.0, 60.0, None, 0.1)
    assert made.ammonia.p50[0] == 0.0
    assert max(made.ammonia.p50) > 0.5
    assert made.nitrite_clear.p50 is not None
    assert made.nitrite_clear.p50 < 42, "1 to 6 weeks for rock to cure: common practice, no source"


def test_seeded_tanks_are_expected_sooner() -> None:
    plain, seeded = forecast([], 0.0), forecast([], 0.0, start=Start(seed="media_marine"))
    assert seeded.nitrite_clear.p50 is not None and plain.nitrite_clear.p50 is not None
    assert seeded.nitrite_clear.p50 < 0.5 * plain.nitrite_clear.p50


@pytest.mark.parametrize("wrong", [{"horizon_d": 5.0}, {"now_d": -1.0}, {"clear_mg_n_l": 0.0}])
def test_an_impossible_question_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError):
        forecast([], 5.0, **wrong)


@pytest.mark.parametrize(
    "wrong", [{"temperature_c": 2.0}, {"salinity_sp": 60.0}, {"ph": 3.0}, {"volume_l": 0.0}]
)
def test_an_impossible_start_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError):
        Start(**wrong)  # type: ignore[arg-type]


def test_the_tanks_are_drawn_evenly_by_the_first_primes() -> None:
    """Halton 1960: the second point of the sequence of a prime lies 1/p beyond the first, whatever all of them are shifted by."""
    first, second = _spread_normals(8, 0, 2)
    step = [(normal_cdf(float(b)) - normal_cdf(float(a))) % 1.0 for a, b in zip(first, second, strict=True)]
    assert step == pytest.approx([0.25 - 0.5 + 1, *(1 / p for p in (3, 5, 7, 11, 13, 17, 19))], abs=1e-6)

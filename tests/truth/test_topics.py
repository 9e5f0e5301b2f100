"""More than one number against another: bounds, agreement between methods, older habits beside ours."""

import pytest
from truth_table import checks_in

from planner.science import ammonia, evaporation, heat, salt, water
from tests.rulecases import rulebook

# Shah 2014 is left out: its coefficients are from memory.
METHODS = ("ASHRAE pool form", "Ryan & Harleman 1973")


def test_forgetting_the_1968_temperature_scale_would_be_noticed() -> None:
    published = next(c for c in checks_in("printed.csv") if c.quantity == "salinity_from_ratio_ipts68")
    ratio, t68 = published.numbers
    wrong = water.salinity_from_conductivity(ratio * 42.9140, t68)
    assert not published.agrees(wrong)
    assert published.agrees(water.salinity_from_conductivity(ratio * 42.9140, t68 / 1.00024))


def test_the_range_of_grams_per_litre_encloses_what_chemistry_allows() -> None:
    bounds = {c.quantity: c.expected for c in checks_in("computed.csv") if c.quantity.startswith("salt_")}
    assert salt.SALT_PER_LITRE_MIN_G < bounds["salt_lower_bound"] < salt.SALT_PER_LITRE_DEFAULT_G
    assert salt.SALT_PER_LITRE_DEFAULT_G < bounds["salt_upper_bound"] < salt.SALT_PER_LITRE_MAX_G


def test_the_warning_is_nearer_to_the_classical_tables_than_the_value_shown() -> None:
    rows = [c for c in checks_in("printed.csv") if c.quantity == "percent_nh3_upper"]
    assert len(rows) == 29
    for c in rows:
        ph, t, s = c.numbers
        upper, shown = 100 * ammonia.nh3_fraction_upper(ph, t, s), 100 * ammonia.nh3_fraction(ph, t, s)
        assert abs(upper - c.expected) < abs(shown - c.expected)
        assert shown <= upper


def test_mean_deviation_from_the_classical_tables_is_small() -> None:
    rows = [c for c in checks_in("printed.csv") if c.quantity == "percent_nh3_upper"]
    deviations = [100 * ammonia.nh3_fraction_upper(*c.numbers) / c.expected - 1 for c in rows]
    assert abs(sum(deviations) / len(deviations)) < 0.006


def test_the_published_methods_of_evaporation_stay_within_a_quarter_of_ours() -> None:
    compared = 0
    for c in checks_in("evaporation.csv"):
        if c.source in METHODS:
            ours = evaporation.evaporation_kg_m2_d(*c.numbers)
            assert abs(c.expected / ours - 1) <= 0.25, c
            compared += 1
    assert compared >= 40


@pytest.mark.parametrize("salinity", [0.0, 20.0, 35.0, 40.0])
def test_oxygen_of_two_fits_to_the_same_measurements_agrees(salinity: float) -> None:
    rows = [c for c in checks_in("formula.csv") if c.quantity == "oxygen" and c.numbers[0] == salinity]
    assert rows
    for c in rows:
        assert evaporation.oxygen_saturation_mg_l(*c.numbers) == pytest.approx(c.expected, rel=5e-4)


def test_a_room_near_22_degrees_calls_for_a_heater_below_25() -> None:
    practice = {c.place: c.expected for c in checks_in("trade_practice.csv") if c.quantity == "statement"}
    loss = heat.heat_loss(
        80,
        40,
        40,
        8,
        water_c=practice["heater switches on below"],
        room_c=practice["room near"],
        relative_humidity=0.5,
    )
    assert loss.total_w > 0


# What practice says, beside the number of ours: "least" says that ours is at least as much, "most" at most as much.
STATEMENTS = {
    "leak test with fresh water, at least (older habit; 48 h here is stricter)": ("leak_watch", "least"), "light, lower": ("light_target", "least"), "light, upper": ("light_most", "most"),
    "rinse the mechanical sponge while cycling, every": ("care_floss", "least"), "activated carbon, good for at least (older; 3 to 5 weeks here)": ("carbon_every", "most"),
    "free space behind the tank": ("clearance_behind", "least"), "pump before the first look, lower": ("mix_first_look", "least"), "pump before the first look, upper": ("mix_first_look", "most"),
}
MINUTES = {"min": 1, "h": 60, "h/day": 60, "d": 1440, "months": 43830}
OF_THE_HEATER = {"room near", "heater switches on below"}


@pytest.mark.parametrize(("place", "number", "way"), [(place, *rest) for place, rest in STATEMENTS.items()])
def test_a_number_of_the_rules_is_as_strict_as_practice_says(place: str, number: str, way: str) -> None:
    said = next(c for c in checks_in("trade_practice.csv") if c.quantity == "statement" and c.place == place)
    ours = rulebook().numbers[number]
    mine, theirs = ours.value * MINUTES.get(ours.unit, 1), said.expected * MINUTES.get(said.unit, 1)
    assert mine >= theirs if way == "least" else mine <= theirs


def test_every_statement_of_practice_is_compared_with_something() -> None:
    assert {c.place for c in checks_in("trade_practice.csv") if c.quantity == "statement"} == set(STATEMENTS) | OF_THE_HEATER


def test_the_accepted_band_of_specific_gravity_holds_the_aim() -> None:
    low, high = water.salinity_from_sg(1.022), water.salinity_from_sg(1.028)
    assert low < 35 < high
    assert (round(low, 1), round(high, 1)) == (29.2, 37.1)

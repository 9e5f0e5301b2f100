"""Amounts with units, against published definitions of the units and an independent table of molar masses."""

from __future__ import annotations

import math

import molmass
import pytest
from scipy import constants as const

from planner.terms.amounts import format_amount
from planner.terms.readings import READINGS, question_reading, read_reading, to_internal_factor, unit_factor, unusual_reading
from planner.terms.records import Amount
from planner.terms.units import DIMENSIONS, Refusal, fold_unit
from planner.terms.written_amounts import nitrogen_factor, parse_amount, system_of, told_unit
from planner.terms.written_numbers import parse_number


def value(text: str, dimension: str, **more: str) -> float:
    found = parse_amount(text, dimension, **more)  # type: ignore[arg-type]
    assert isinstance(found, Amount), found
    assert found.unit == DIMENSIONS[dimension].internal
    return found.value


def refusal(found: object) -> Refusal:
    assert isinstance(found, Refusal), found
    return found


# The sizes of units are those of scipy.constants, an independent table; metric ones by the meaning of their prefixes.
@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("1 cm", "length", 1),
        ("1 in", "length", const.inch * 100),
        ("2 ft", "length", const.foot * 200),
        ("2 ft 6 in", "length", const.foot * 200 + const.inch * 600),
        ('24"', "length", const.inch * 2400),
        ("1/4 in", "length", const.inch * 25),
        ("3/8in", "length", const.inch * 37.5),
        ("1 1/2 in", "length", const.inch * 150),
        ('31 3/16"', "length", const.inch * 3118.75),
        ("1½ in", "length", const.inch * 150),
        ("2 ft 6 1/2 in", "length", const.foot * 200 + const.inch * 650),
        ("2 1/2 gal", "volume", const.gallon * 2500),
        ("3/4 lb", "mass", const.pound * 750),
        ("800 mm", "length", 80),
        ("1.2m", "length", 120),
        ("20 gal", "volume", const.gallon * 20_000),
        ("20 imp gal", "volume", const.gallon_imp * 20_000),
        ("1 fl oz", "volume", const.fluid_ounce * 1000),
        ("0.2 m3", "volume", 200),
        ("250 mL", "volume", 0.25),
        ("10 lb", "mass", const.pound * 10_000),
        ("1 oz", "mass", const.oz * 1000),
        ("12 kg", "mass", 12000),
        ("764 mg", "mass", 0.764),
        ("78 °F", "temperature", const.convert_temperature(78, "F", "C")),
        ("32F", "temperature", 0),
        ("25.5C", "temperature", 25.5),
        ("25,5 °C", "temperature", 25.5),
        ("0.3 kW", "power", 300),
        ("100 gph", "flow", const.gallon * 100_000),
        ("10 L/min", "flow", 600),
        ("50 gal/day", "daily_flow", const.gallon * 50_000),
        ("1 m3/h", "flow", 1000),
        ("1 gph", "daily_flow", const.gallon * 24_000),
        ("1 L/h", "daily_flow", 24),
        ("2 d", "duration", 48),
        ("1 week", "duration", 168),
        ("15 min", "duration", 0.25),
        ("8.1", "ph", 8.1),
        ("10 %", "percent", 10),
    ],
)
def test_units_have_their_defined_size(text: str, dimension: str, expected: float) -> None:
    assert value(text, dimension) == pytest.approx(expected, rel=1e-6)


# Molar masses from the independent library molmass (IUPAC weights); tolerance covers the table's year.
@pytest.mark.parametrize(
    ("reading", "basis", "formula"),
    [("ammonia", "NH3", "NH3"), ("ammonia", "NH4", "NH4"), ("ammonia", "ion", "NH4"), ("nitrite", "NO2", "NO2"),
     ("nitrite", "ion", "NO2"), ("nitrate", "NO3", "NO3"), ("nitrate", "ion", "NO3")],
)
def test_nitrogen_bases_follow_molar_masses(reading: str, basis: str, formula: str) -> None:
    per_n = molmass.Formula(formula).mass / molmass.Formula("N").mass
    assert nitrogen_factor(reading, basis) == pytest.approx(per_n, rel=2e-5)
    for spelled in (f"1 mg/L as {basis}", f"1 ppm {basis}", f"1mg/l {basis.lower()}", f"1 mg {basis}/L"):
        assert value(spelled, reading) == pytest.approx(1 / per_n, rel=2e-5), spelled


@pytest.mark.parametrize("spelled", ["mg/L as N", "mg/L N", "ppm N", "ppm as N", "mg N/L", "mg/L NO2-N", "MG/L  AS  N"])
def test_as_nitrogen_in_every_spelling(spelled: str) -> None:
    assert value(f"0.25 {spelled}", "nitrite") == 0.25


def test_hardness_follows_molar_masses() -> None:
    caco3_mg_per_meq = molmass.Formula("CaCO3").mass / 2
    dkh_per_meq = molmass.Formula("CaO").mass / 2 / 10  # one German degree is 10 mg CaO per litre (DIN 38409-6)
    assert value("1 meq/L", "alkalinity") == pytest.approx(dkh_per_meq, rel=2e-5)
    assert value("100 mg/L CaCO3", "alkalinity") == pytest.approx(100 / caco3_mg_per_meq * dkh_per_meq, rel=2e-5)


def test_phosphorus_becomes_phosphate() -> None:
    expected = molmass.Formula("PO4").mass / molmass.Formula("P").mass
    assert value("1 mg/L as P", "phosphate") == pytest.approx(expected, rel=2e-5)


# Computed with gsw 3.6.23 (TEOS-10) by root finding of rho(SP, sample)/rho(0, reference), independent of our code.
@pytest.mark.parametrize(
    ("text", "salinity"),
    [("1.026 SG 25/25", 34.507), ("1.026 SG 20/20", 34.206), ("1.026 SG 60F/60F", 33.881), ("1.026 SG 20/4", 36.584),
     ("1.0245 sg 25C/25C", 32.525), ("1.025 25/25", 33.186)],
)
def test_specific_gravity_with_its_pair(text: str, salinity: float) -> None:
    assert value(text, "salinity") == pytest.approx(salinity, abs=0.002)


def test_conductivity_of_standard_seawater() -> None:
    # C(35, 15, 0) = 42.914 mS/cm, read from the constants of the independent library seawater 3.3.5 (its `c3515`).
    assert value("42.914 mS/cm at 15 C", "salinity") == pytest.approx(35, abs=0.01)
    assert value("42914 µS/cm at 59 F", "salinity") == pytest.approx(35, abs=0.01)


def test_grams_per_kilogram_are_reference_salinity() -> None:
    # Millero et al. 2008: practical salinity 35 is 35.16504 g/kg.
    assert value("35.16504 g/kg", "salinity") == pytest.approx(35)


def test_a_bare_specific_gravity_asks_for_its_pair_and_names_the_usual_ones() -> None:
    for text in ("1.026", "1.026 SG"):
        found = refusal(parse_amount(text, "salinity"))
        assert found.code == "sg-pair-missing"
        for pair in ("25/25", "20/20", "20/4", "60F/60F"):
            assert pair in found.fix


@pytest.mark.parametrize(
    ("text", "dimension", "code"),
    [
        ("80", "length", "unit-missing"),
        ("35", "salinity", "unit-missing"),
        ("0.25", "ammonia", "basis-missing"),
        ("0.25 ppm", "ammonia", "basis-missing"),
        ("0.25 mg/L as NO3", "nitrite", "unit-unknown"),
        ("80 kg", "length", "unit-unknown"),
        ("1/4", "length", "unit-missing"),
        ("11/4 in", "length", "ambiguous-number"),
        ("4/4 in", "length", "ambiguous-number"),
        ("1/7 in", "length", "not-a-number"),
        ("1/0 in", "length", "not-a-number"),
        ("1.5/2 in", "length", "not-a-number"),
        ("1/2/4 in", "length", "not-a-number"),
        ("1-1/2 in", "length", "not-a-number"),
        ("-1/2 in", "length", "not-a-number"),
        ("1/2 SG 25/25", "salinity", "unit-unknown"),
        ("12 m/s", "length", "unit-unknown"),
        ("120 ppm", "alkalinity", "unit-unknown"),
        ("53 mS/cm", "salinity", "temperature-missing"),
        ("1.5 SG 25/25", "salinity", "impossible-value"),
        ("1,000 L", "volume", "ambiguous-number"),
        ("much", "length", "not-a-number"),
        ("nan cm", "length", "not-a-number"),
        ("1e99 cm", "length", "impossible-value"),
    ],
)
def test_what_cannot_be_told_is_refused(text: str, dimension: str, code: str) -> None:
    found = refusal(parse_amount(text, dimension))
    assert found.code == code
    assert found.fix


def test_a_kit_basis_settles_plain_mg_per_litre() -> None:
    assert value("1.28785 ppm", "ammonia", basis="ion") == pytest.approx(1, rel=1e-4)
    assert value("1.28785", "ammonia", basis="ion") == pytest.approx(1, rel=1e-4)
    # A unit that says its own basis wins over the kit's.
    assert value("1 mg/L as N", "ammonia", basis="ion") == 1


@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [("temperature", "25", 25), ("temperature", "78", 25.5555556), ("alkalinity", "8", 8), ("salinity", "35", 35), ("salinity", "0", 0),
     ("alkalinity", "140", 7.8438), ("calcium", "420", 420), ("ph", "8.1", 8.1), ("tds", "0", 0)],
)
def test_a_bare_reading_is_taken_where_one_unit_alone_is_probable(name: str, text: str, expected: float) -> None:
    found = read_reading(name, text, "")
    assert found == pytest.approx((expected, expected), rel=1e-4)


@pytest.mark.parametrize(("name", "text"), [("alkalinity", "3"), ("alkalinity", "80"), ("alkalinity", "70"), ("alkalinity", "120"), ("alkalinity", "1.5"), ("ammonia", "0.5"), ("salinity", "1.025"), ("salinity", "53")])
def test_a_bare_reading_that_may_mean_two_things_is_asked_about(name: str, text: str) -> None:
    assert refusal(read_reading(name, text, "")).code in ("unit-missing", "basis-missing", "sg-pair-missing")


def test_an_alkalinity_that_may_have_lost_its_point_is_never_guessed() -> None:
    """80 may be 8.0 dKH or 80 mg/L of CaCO3, 4.5 dKH: a dose would rest on the guess."""
    assert refusal(read_reading("alkalinity", "80", "")).fix == "if the point got lost write `8 dKH`, else write `80 mg/L CaCO3`"
    assert read_reading("alkalinity", "80", "mg/L CaCO3") == pytest.approx((4.482, 4.482), rel=1e-3)
    assert read_reading("alkalinity", "125", "") == pytest.approx((7.003, 7.003), rel=1e-3)


def test_values_off_the_scale_become_bounds() -> None:
    assert read_reading("nitrite", ">5", "mg/L as N") == (5, math.inf)
    assert read_reading("nitrite", "over5", "mg/L as N") == (5, math.inf)
    assert read_reading("ammonia", "<0.25", "mg/L as N") == (0, 0.25)
    assert read_reading("ammonia", "under 0.25", "mg/L as N") == (0, 0.25)


@pytest.mark.parametrize(
    ("name", "text", "unit"), [("ph", "15", ""), ("temperature", "60", "C"), ("ammonia", "-1", "mg/L as N"), ("salinity", "90", "ppt")]
)
def test_impossible_readings_are_refused(name: str, text: str, unit: str) -> None:
    assert refusal(read_reading(name, text, unit)).code == "impossible-value"


def test_an_empty_reading_is_refused() -> None:
    assert refusal(read_reading("ph", "", "")).code == "empty-value"
    assert refusal(read_reading("ph", ">", "")).code == "empty-value"


def test_unusual_readings_are_questioned_and_usual_ones_are_not() -> None:
    assert question_reading("ph", 8.1, 8.1) is None
    assert "7.5 to 8.7" in (question_reading("ph", 6.9, 6.9) or "")
    assert question_reading("nitrite", 5, math.inf) is None


@pytest.mark.parametrize(("name", "value", "unit", "told"), [
    ("ammonia", "25", "mg/L as ion", "25 mg/L as NH4 is unusual: ammonia is usually 0 to 10 on that scale."),
    ("nitrite", ">50", "mg/L as ion", "50 mg/L as NO2 is unusual: nitrite is usually 0 to 49 on that scale."),
    ("nitrate", "266", "mg/L as ion", "266 mg/L as NO3 is unusual: nitrate is usually 0 to 260 on that scale."),
    ("ammonia", "9", "mg/L as N", "9 mg/L as N is unusual: ammonia is usually 0 to 8 on that scale."),
    ("temperature", "50", "°F", "50 °F is unusual: temperature is usually 59 to 95 °F."),
    ("ph", "6.1", "", "6.1 is unusual: pH is usually 7.5 to 8.7."),
    ("salinity", "1.010", "SG 25/25", "13.3 ppt is unusual: salinity is usually 25 to 42 ppt."),
])
def test_an_unusual_reading_and_what_is_usual_are_told_on_the_scale_on_which_it_was_read(name: str, value: str, unit: str, told: str) -> None:
    """8, 15 and 60 mg/L as N are 10.3 as NH4, 49.3 as NO2 and 265.6 as NO3, by molmass; 15 and 35 °C are 59 and 95 °F. No end of the range is told beyond itself, so that nothing usual is asked about."""
    nitrogen = molmass.Formula("N").mass
    assert [round(most * molmass.Formula(ion).mass / nitrogen, 1) for most, ion in ((8, "NH4"), (15, "NO2"), (60, "NO3"))] == [10.3, 49.3, 265.6]
    read = read_reading(name, value, unit)
    assert not isinstance(read, Refusal)
    assert unusual_reading(name, *read, value, unit) == told


def test_every_reading_has_an_internal_unit_and_sane_ranges() -> None:
    for reading in READINGS.values():
        assert reading.unit == DIMENSIONS[reading.dimension].internal
        assert reading.possible[0] <= reading.probable[0] < reading.probable[1] <= reading.possible[1]
        assert to_internal_factor(reading.name, reading.unit) == 1


def test_the_unit_of_the_house_is_one_of_itself() -> None:
    assert {d.name: d.units[fold_unit(d.internal)].to_internal(1.0) for d in DIMENSIONS.values()} == dict.fromkeys(DIMENSIONS, 1.0)


def test_nothing_is_nothing_in_every_unit_but_fahrenheit() -> None:
    """A unit has no zero of its own, save the two scales of temperature: 0 °F is -17.8 °C."""
    zeros = {(d.name, unit.name): unit.to_internal(0.0) for d in DIMENSIONS.values() for unit in set(d.units.values())}
    assert zeros.pop(("temperature", "°F")) == pytest.approx(const.convert_temperature(0, "F", "C"))
    assert set(zeros.values()) == {0.0}


# What water round a tank can show, from RO water over the display to a curing bin, and what a display usually shows: common practice,
# no source. A figure beyond the first pair is a slip, one beyond the second is asked about.
BOUNDS = {
    "ammonia": (0, 50, 0, 8), "nitrite": (0, 100, 0, 15), "nitrate": (0, 300, 0, 60), "salinity": (0, 60, 25, 42), "temperature": (0, 45, 15, 35), "ph": (4, 12, 7.5, 8.7),
    "alkalinity": (0, 40, 2, 15), "calcium": (0, 2000, 250, 600), "magnesium": (0, 4000, 900, 1700), "phosphate": (0, 20, 0, 2), "oxygen": (0, 30, 4, 12),
    "tds": (0, 60_000, 0, 600), "chlorine": (0, 20, 0, 3),
}


@pytest.mark.parametrize("name", READINGS)
def test_a_reading_is_taken_to_its_bounds_asked_about_beyond_the_usual_and_refused_beyond_the_possible(name: str) -> None:
    least, most, usual_least, usual_most = BOUNDS[name]
    unit, little = READINGS[name].unit, (most - least) / 1000
    for value in (least, most):
        assert read_reading(name, f"{value:g}", unit) == (value, value)
    for value in (most + little, *((least - little,) if least > 0 else ())):
        assert refusal(read_reading(name, f"{value:g}", unit)).code == "impossible-value"
    for value in (usual_least, usual_most):
        assert question_reading(name, value, value) is None
    for value in (usual_most + little, *((usual_least - little,) if usual_least > 0 else ())):
        assert question_reading(name, value, value) is not None


def test_a_specific_gravity_that_was_typed_as_ppt_is_named_as_one() -> None:
    """Sea water of 35 ppt has a specific gravity of about 1.026 (common practice, no source)."""
    assert "specific gravity" in (question_reading("salinity", 1.0264, 1.0264) or "")
    assert "specific gravity" not in (question_reading("salinity", 12.0, 12.0) or "") and "specific gravity" not in (question_reading("ph", 1.02, 1.02) or "")


def test_a_unit_that_is_more_than_a_factor_has_none() -> None:
    assert to_internal_factor("alkalinity", "meq/L") == pytest.approx(2.8039, rel=1e-4)
    for name, unit in (("temperature", "°F"), ("salinity", "SG 25/25"), ("ph", "dKH")):
        with pytest.raises(KeyError):
            to_internal_factor(name, unit)


@pytest.mark.parametrize(
    ("amount", "unit", "metric", "us"),
    [
        (165.3, "L", "165 L", "43.7 gal"),
        (0.25, "L", "250 mL", "8.5 fl oz"),
        (6270, "g", "6.27 kg", "13.8 lb"),
        (0.764, "g", "0.76 g", "0.76 g"),
        (100, "g", "100 g", "3.53 oz"),
        (80, "cm", "80 cm", "31.5 in"),
        (25.5, "°C", "25.5 °C", "77.9 °F"),
        (190, "L/day", "190 L/day", "50.2 gal/day"),
        (0.19412, "mg/L as N", "0.19 mg/L as N", "0.19 mg/L as N"),
        (8.1, "pH", "pH 8.1", "pH 8.1"),
        (35.02, "ppt", "35 ppt", "35 ppt"),
        (421.7, "mg/L", "422 mg/L", "422 mg/L"),
        (72, "h", "3 days", "3 days"),
        (-0.0001, "dKH", "0 dKH", "0 dKH"),
    ],
)
def test_amounts_are_shown_as_a_keeper_can_measure_them(amount: float, unit: str, metric: str, us: str) -> None:
    assert format_amount(amount, unit) == metric
    assert format_amount(amount, unit, "us") == us


def test_a_temperature_that_lost_its_point_is_offered_with_it() -> None:
    found = read_reading("temperature", "254", "")
    assert isinstance(found, Refusal) and "write `25.4`" in found.fix
    slipped = read_reading("temperature", "500", "")
    assert isinstance(slipped, Refusal) and "point" not in slipped.fix


@pytest.mark.parametrize(("said", "system"), [(["36 in", "18in"], "us"), (["20gal"], "us"), (["78 °F"], "us"), (["80 cm", "30 kg"], "metric"), (["80 cm", "20 lb"], None), (["dry", "yes"], None)])
def test_the_system_is_the_one_in_which_somebody_wrote(said: list[str], system: str | None) -> None:
    assert system_of(said) == system


@pytest.mark.parametrize(("reading", "unit", "told"), [("ammonia", "mg/L as ion", "mg/L as NH4"), ("nitrite", "mg/L as ion", "mg/L as NO2"), ("ammonia", "mg/L as N", "mg/L as N"), ("calcium", "mg/L as ion", "mg/L as ion")])
def test_a_kit_that_counts_the_ion_is_told_by_its_molecule(reading: str, unit: str, told: str) -> None:
    assert told_unit(reading, unit) == told


@pytest.mark.parametrize("unit", ["", " "])
def test_a_number_alone_is_counted_as_the_kit_counts_where_that_is_known(unit: str) -> None:
    assert read_reading("ammonia", "2", unit, basis="N") == (2, 2)
    assert refusal(read_reading("ammonia", "2", unit)).code == "basis-missing"
    assert refusal(read_reading("salinity", "1.02", unit, basis="N")).code == "sg-pair-missing"


@pytest.mark.parametrize(("text", "code"), [("0.98", "unit-missing"), ("0.99", "sg-pair-missing"), ("1.08", "sg-pair-missing"), ("1.081", "unit-missing"), ("1.2", "unit-missing")])
def test_a_bare_salinity_is_taken_for_a_specific_gravity_between_fresh_water_and_brine(text: str, code: str) -> None:
    assert refusal(read_reading("salinity", text, "")).code == code


def test_what_nitrogen_is_counted_as_is_looked_up_in_the_leaflet_and_nothing_else_is() -> None:
    assert "leaflet" in refusal(read_reading("nitrite", "0.5", "")).fix
    assert "leaflet" not in refusal(read_reading("alkalinity", "3", "")).fix


# 20 °C is 68 °F and 25 °C is 77 °F (the definition of the scale), so each writing is the same pair.
@pytest.mark.parametrize(("pair", "same_as"), [("68f/68f", "20/20"), ("68/68f", "20/20"), ("68f/68", "20/20"), ("77f/77f", "25/25"), ("68f/4", "20/4"), ("20c/39.2f", "20/4"), ("20/39.2f", "20/4"), ("25c/25c", "25/25")])
def test_a_pair_of_temperatures_with_one_letter_is_read_with_it(pair: str, same_as: str) -> None:
    assert value(f"1.025 SG {pair}", "salinity") == pytest.approx(value(f"1.025 SG {same_as}", "salinity"), abs=0.001)


def test_a_conductivity_is_read_at_the_temperature_that_was_written() -> None:
    # C(35, 15, 0) = 42.914 mS/cm, read from the constants of the independent library seawater 3.3.5; 1 mS is 1000 µS.
    for text in ("42.914 mS/cm @ 15", "42.914 mS/cm at 15 C", "42914 uS/cm at 15 deg C", "42914 uS/cm at 59 F"):
        assert value(text, "salinity") == pytest.approx(35, abs=0.01)


@pytest.mark.parametrize("text", ["1000000000000 L", "1e12 L"])
def test_a_number_is_read_up_to_a_million_millions(text: str) -> None:
    assert value(text, "volume") == 1e12
    assert refusal(parse_amount("1.1e12 L", "volume")).code == refusal(parse_amount("-1.1e12 L", "volume")).code == "impossible-value"


@pytest.mark.parametrize(("text", "expected"), [("1,5", 1.5), ("0,125", 0.125), ("1,00", 1.0), ("12,3456", 12.3456), ("-1", -1), ("−2,5", -2.5), (".5", 0.5), ("5.", 5)])
def test_a_comma_is_a_decimal_point_where_it_cannot_part_thousands(text: str, expected: float) -> None:
    assert parse_number(text) == expected


@pytest.mark.parametrize("text", ["1,000", "12,345", "999,999"])
def test_a_comma_that_may_part_thousands_is_asked_about_unless_the_file_writes_decimal_commas(text: str) -> None:
    assert refusal(parse_number(text)).code == "ambiguous-number"
    assert parse_number(text, comma_is_decimal=True) == float(text.replace(",", "."))


def test_an_alkalinity_is_guessed_to_be_in_another_unit_from_seven_degrees_on() -> None:
    """125 mg/L of CaCO3 are 7.00 dKH, 124 are 6.95: one German degree is 17.848 mg/L of CaCO3 (DIN 38409-6)."""
    assert refusal(read_reading("alkalinity", "124", "")).code == "unit-missing"
    assert read_reading("alkalinity", "125", "") == pytest.approx((125 / 17.848,) * 2, rel=1e-3)
    assert read_reading("alkalinity", "15", "") == (15, 15)


@pytest.mark.parametrize(("name", "unit", "factor"), [("ammonia", "", 1), ("ammonia", "mg/L", 1), ("ammonia", "mg/L as N", 1), ("temperature", "K", 1), ("temperature", "C", 1), ("temperature", "°C", 1), ("calcium", "ppm", 1), ("alkalinity", "dKH", 1)])
def test_a_number_of_the_rules_counts_nitrogen_as_n_and_a_step_of_warmth_in_degrees(name: str, unit: str, factor: float) -> None:
    assert unit_factor(name, unit) == factor


def test_a_number_of_the_rules_in_another_unit_is_turned_into_the_house_unit() -> None:
    assert unit_factor("alkalinity", "meq/L") == pytest.approx(2.8039, rel=1e-4)
    assert unit_factor("ammonia", "mg/L as NH4") == pytest.approx(14.007 / 18.039, rel=1e-4)  # IUPAC weights, from memory
    with pytest.raises(KeyError):
        unit_factor("ph", "K")


@pytest.mark.parametrize(("text", "inches"), [("2 ft 6 in", 30), ("2' 6\"", 30), ("0 ft 6 in", 6), ("1 ft 0.5 in", 12.5), ("3 ft 1/4 in", 36.25)])
def test_feet_and_inches_make_one_length(text: str, inches: float) -> None:
    assert value(text, "length") == pytest.approx(inches * 2.54)


@pytest.mark.parametrize(("text", "expected"), [("1/2 in", 1.27), ("31/32 in", 31 / 32 * 2.54), ("63/64 in", 63 / 64 * 2.54), ("2/3 in", 2 / 3 * 2.54)])
def test_a_fraction_of_a_tape_is_below_one(text: str, expected: float) -> None:
    assert value(text, "length") == pytest.approx(expected)
    assert refusal(parse_amount("32/32 in", "length")).code == "ambiguous-number" and refusal(parse_amount("0/4 in", "length")).code == "not-a-number"


def test_an_unknown_unit_is_told_from_one_of_another_kind_and_from_a_slip() -> None:
    unknown, other, slip = (refusal(parse_amount(text, "length")) for text in ("3 zzz", "3 ppt", "3 metrs"))
    assert "unknown unit" in unknown.message and "cm" in unknown.fix
    assert "a unit of salinity" in other.message
    assert "unknown unit" in slip.message


def test_a_text_without_a_number_is_no_amount() -> None:
    assert refusal(parse_amount("", "volume")).code == refusal(parse_amount("litres", "volume")).code == "not-a-number"


def test_an_amount_may_stand_bare_where_that_is_allowed() -> None:
    assert value("80", "length", bare=True) == 80  # type: ignore[arg-type]
    assert refusal(parse_amount("80", "length")).code == "unit-missing"

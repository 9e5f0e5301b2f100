"""Every unit there and back, and no amount of text that breaks a parser."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.terms.amounts import format_amount
from planner.terms.readings import READINGS, read_reading
from planner.terms.records import Amount
from planner.terms.units import DIMENSIONS, Refusal, fold_unit
from planner.terms.written_amounts import parse_amount
from planner.terms.written_numbers import split_amount

every_unit = [(dimension.name, alias) for dimension in DIMENSIONS.values() for alias in dimension.units]
values = st.floats(1e-3, 1e5).map(lambda x: float(f"{x:.6g}"))


@given(values)
@settings(max_examples=8, deadline=None)
def test_every_unit_goes_there_and_back(value: float) -> None:
    for dimension, spelled in every_unit:
        there_and_back(dimension, spelled, value)


def there_and_back(dimension: str, spelled: str, value: float) -> None:
    unit = DIMENSIONS[dimension].units[spelled]
    found = parse_amount(f"{value!r} {spelled}", dimension)
    assert isinstance(found, Amount)
    assert found.unit == DIMENSIONS[dimension].internal
    assert found.value / unit.factor - unit.shift == pytest.approx(value, rel=1e-9, abs=1e-9)
    glued = parse_amount(f" {value!r}{unit.name.upper()} ", dimension)
    assert glued == found


@given(st.sampled_from(every_unit), st.floats(0.01, 1e4), st.floats(1.001, 10))
def test_more_of_a_unit_is_more(unit: tuple[str, str], value: float, times: float) -> None:
    dimension, spelled = unit
    less, more = (DIMENSIONS[dimension].units[spelled].to_internal(v) for v in (value, value * times))
    assert less < more


@pytest.mark.parametrize("pair", ["25/25", "20/20", "20/4", "60F/60F", "15C/15C"])
@given(salinity=st.floats(5, 41))
@settings(max_examples=15, deadline=None)
def test_specific_gravity_comes_back_from_the_formula(pair: str, salinity: float) -> None:
    from planner.science.water import sg_from_salinity

    first, second = (((float(t[:-1]) - 32) / 1.8 if t.endswith("F") else float(t.rstrip("C"))) for t in pair.split("/"))
    found = parse_amount(f"{sg_from_salinity(salinity, first, second)!r} SG {pair}", "salinity")
    assert isinstance(found, Amount)
    assert found.value == pytest.approx(salinity, abs=1e-6)


@given(salinity=st.floats(5, 41), temperature=st.floats(10, 34).map(lambda t: round(t, 1)))
@settings(max_examples=30, deadline=None)
def test_conductivity_comes_back_from_the_formula(salinity: float, temperature: float) -> None:
    from planner.science.water import conductivity_from_salinity

    found = parse_amount(f"{conductivity_from_salinity(salinity, temperature)!r} mS/cm at {temperature} C", "salinity")
    assert isinstance(found, Amount)
    assert found.value == pytest.approx(salinity, abs=1e-6)


@settings(deadline=None)
@given(st.text(max_size=20), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_is_an_amount_or_a_refusal_with_a_fix(text: str, dimension: str) -> None:
    found = parse_amount(text, dimension)
    if isinstance(found, Refusal):
        assert found.code and found.message and found.fix
    else:
        assert math.isfinite(found.value)


@settings(deadline=None)
@given(st.sampled_from(sorted(READINGS)), st.sampled_from(["", ">", "<", "over", "under"]), values, st.sampled_from([a for _, a in every_unit] + [""]))
def test_a_reading_has_ordered_bounds_within_what_is_possible(name: str, sign: str, value: float, unit: str) -> None:
    found = read_reading(name, f"{sign}{value}", unit)
    if not isinstance(found, Refusal):
        low, high = found
        assert READINGS[name].possible[0] <= low <= high
        assert high == math.inf or high <= READINGS[name].possible[1] + 1e-6


@given(values, st.sampled_from(["L", "g", "cm", "°C", "L/h", "L/day"]), st.sampled_from(["metric", "us"]))
def test_what_is_shown_can_be_read_again(value: float, internal: str, units: str) -> None:
    dimension = next(d.name for d in DIMENSIONS.values() if d.internal == internal)
    found = parse_amount(format_amount(value, internal, units), dimension)
    assert isinstance(found, Amount)
    assert found.value == pytest.approx(value, rel=0.05, abs=0.15 if internal in ("cm", "°C") else 0.4 if internal.startswith("L/") else 0.006)


@given(values, st.sampled_from([a for _, a in every_unit]))
def test_a_number_and_its_unit_are_told_apart(value: float, unit: str) -> None:
    number, rest = split_amount(f"{value!r}{unit}")
    assert (float(number), fold_unit(rest)) == (value, fold_unit(unit))

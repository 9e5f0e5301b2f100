"""The tables themselves: enough values, from enough places, none of them ours and none of them remembered."""

from collections import Counter

from answers import NUMERIC
from truth_table import NO_ORACLES, ORACLES, Check, all_checks, checks_in

from tests.each import over

MOST_PER_SOURCE = 20
LOADED_AT_RUN_TIME = ("gsw", "numpy")


def oracles() -> list[Check]:
    found = [c for c in all_checks() if c.how in ORACLES]
    return [c for c in found if not any(library in c.obtained for library in LOADED_AT_RUN_TIME)]


def distinct_value(check: Check) -> tuple[object, ...]:
    # one printed number tested against two of our functions is still one number
    quantity = check.quantity.removesuffix("_upper")
    return (check.source, quantity, check.inputs, check.expected)


def capped(keys: Counter[str]) -> int:
    return sum(min(MOST_PER_SOURCE, count) for count in keys.values())


def library_or_source(check: Check) -> str:
    return check.obtained.split()[1] if check.how == "computed" else check.source


def test_at_least_200_values_from_at_least_15_sources() -> None:
    values = {distinct_value(c): c for c in oracles()}.values()
    sources = Counter(c.source for c in values)
    assert len(sources) >= 15
    assert capped(sources) >= 200


def test_the_floor_holds_when_all_that_one_library_computes_counts_as_one_source() -> None:
    values = {distinct_value(c): c for c in oracles()}.values()
    sources = Counter(library_or_source(c) for c in values)
    assert len(sources) >= 15
    assert capped(sources) >= 200


def test_no_computed_value_comes_from_a_library_the_planner_loads() -> None:
    for check in all_checks():
        assert not any(library in check.obtained for library in LOADED_AT_RUN_TIME), check


@over("check", all_checks(), ids=lambda c: f"{c.quantity}({','.join(c.inputs)})")
def test_every_row_says_whose_it_is_and_how_it_was_obtained(check: Check) -> None:
    assert check.source and check.place and check.unit
    assert check.how in ORACLES + NO_ORACLES
    assert check.kind in ("abs", "rel", "of_ours")
    assert check.tolerance > 0 or check.quantity == "statement"
    if check.how == "computed":
        name_and_version = check.obtained.split()[1:]
        assert len(name_and_version) == 2 and name_and_version[1][0].isdigit()


def test_trade_facts_are_marked_as_practice_and_never_as_a_source() -> None:
    trade = checks_in("trade_practice.csv")
    assert len(trade) >= 20
    assert {c.source for c in trade} == {"common practice, no source"}
    assert {c.how for c in trade} == {"practice"}
    assert all(c.how != "practice" for c in all_checks() if c.source != "common practice, no source")


def test_no_answer_is_without_a_check() -> None:
    asked = {c.quantity for c in all_checks()}
    assert set(NUMERIC) <= asked

"""The shipped rules hang together, and every gate or alert number is held by a case."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import yaml

from planner.judge.figures import RESTS_ON
from planner.rulebook.check import check_numbers, check_rules
from planner.rulebook.names import condition_names, names_used
from planner.rulebook.read import load_rules
from planner.rulebook.shapes import Rulebook
from planner.show.words.numbers import backing
from planner.stock.catalogue import load_catalogue, stock_numbers
from tests.each import over
from tests.rulecases import RULES, Case, all_cases, failures, rulebook

STEPS = {"h": 1, "d": 1, "wk": 1, "months": 1, "%": 1, "ppt": 0.1, "C": 0.1, "dKH": 0.1, "pH": 0.1, "": 0.01, "mg/L": 0.01, "°C": 0.1, "K": 0.1}


def test_the_shipped_rules_have_no_problem() -> None:
    book, problems = load_rules(RULES, figures=RESTS_ON)
    assert [str(p) for p in (*problems, *check_rules(book))] == []


def deciding_numbers() -> dict[str, set[str]]:
    """Numbers that open, lapse or hold a gate, or raise an alert, with the gates that use them."""
    book = rulebook()
    found: dict[str, set[str]] = {}
    for phase in book.phases:
        for condition in (phase.gate.opens_when, phase.gate.lapses_when, *(h.when for h in phase.gate.holds)):
            for use in condition_names(condition, phase.phase) if condition else ():
                if use.kind == "number":
                    found.setdefault(use.name, set()).add(phase.phase)
    for alert in book.alerts:
        for use in condition_names(alert.when, alert.alert):
            if use.kind == "number":
                found.setdefault(use.name, set()).add(alert.alert)
    return found


def nudged(name: str, step: float) -> Rulebook:
    book = rulebook()
    number = book.numbers[name]
    return replace(book, numbers={**book.numbers, name: number.model_copy(update={"value": number.value + step})})


def spoken_of(case: Case) -> set[str]:
    """The gates and alerts of which a case says what it expects."""
    expect = case.expect
    return {*expect.gates, *(key.partition("/")[0] for key in (*expect.due, *expect.not_due, *expect.present, *expect.absent, *expect.on_hold, *expect.tells))}


@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize("name", sorted(deciding_numbers()))
def test_moving_a_deciding_number_by_one_step_breaks_a_case(name: str) -> None:
    number = rulebook().numbers[name]
    step = STEPS.get(number.unit, 0.01)
    owners = deciding_numbers()[name]
    near_first = sorted(all_cases(), key=lambda case: owners.isdisjoint(spoken_of(case)))
    for change in (step, -step):
        book = nudged(name, change)
        if any(failures(case, book) for case in near_first):
            return
    raise AssertionError(f"no case changes when {name} moves by {step} {number.unit}")


def test_every_number_is_used_by_a_rule_or_the_engine() -> None:
    book = rulebook()
    used = {use.name for use in names_used(book) if use.kind in ("number", "figure")}
    assert set(book.numbers) - used == set()


def test_every_source_is_cited_by_a_rule_an_animal_or_a_number() -> None:
    """By its key as `source`, or in a `where` or note, which readers see, by its authors and year; the bibliography itself does not count."""
    texts = [path.read_text(encoding="utf-8") for path in RULES.rglob("*.yaml") if path.name != "sources.yaml"]
    written = yaml.safe_load((RULES / "sources.yaml").read_text(encoding="utf-8"))

    def named(key: str) -> str:
        entry = written[key]
        return f"{str(entry['authors']).split(';')[0]} {entry.get('year', '')}".strip() if "authors" in entry else str(entry["title"])

    assert [key for key in rulebook().sources if not any(re.search(rf"\b{key}\b", text) or named(key) in text for text in texts)] == []


def test_at_least_eighty_numbers_rest_on_a_source() -> None:
    numbers = [*rulebook().numbers.values(), *stock_numbers(load_catalogue([RULES / "livestock"]).figures).values()]
    assert sum(backing(n) < 3 for n in numbers) >= 80


def test_the_numbers_of_the_animals_are_backed_as_they_say() -> None:
    assert check_numbers(stock_numbers(load_catalogue([RULES / "livestock"]).figures), rulebook()) == ()


def test_the_fallow_time_is_one_figure() -> None:
    assert load_catalogue([RULES / "livestock"]).figures.value("fallow_days") == rulebook().number("ich_fallow")


def test_a_book_knows_the_group_of_each_animal_of_the_catalogue() -> None:
    assert rulebook().groups == {a.id: a.group for a in load_catalogue([RULES / "livestock"]).animals}


STAYS_OFF = {
    "floor-not-settled/empty": "the tank stays empty",
    "leak-test/restart": "nothing electric runs in this test",
    "leak-test/fill": "nothing electric runs in this test",
    "site/electrician": "nothing stands in the water yet",
    "sting/first-aid": "only where it leaks, and the repair of the leak switches on again",
    "palytoxin/help": "only where it leaks, and the repair of the leak switches on again",
    "chemical-splash/helped": "only where it leaks, and the repair of the leak switches on again",
}
"""Tasks that switch off and leave it off, with the reason."""


def tasks_told_together() -> list[tuple[str, list[str], str]]:
    """Each task that a keeper reads, its steps in each variant, and what its alarm says of switching on again in other tasks."""
    book = rulebook()
    found = []
    for key, task in book.tasks.items():
        beside = " ".join(str(text) for other, rule in book.tasks.items() if other != key and other.split("/")[0] == key.split("/")[0] and other.split("/")[0] in {a.alert for a in book.alerts} for text in rule.steps)
        found += [(key, [str(text) for text in steps], beside) for steps in (task.steps, *(v.steps for v in task.variants if v.steps))]
    return found


@over(("key", "steps", "beside"), [told for told in tasks_told_together() if any(re.search(r"\b[Ss]witch\b[^.]*\boff\b|\b[Uu]nplug\b[^.]*\bheater", s) for s in told[1])])
def test_what_a_task_switches_off_is_switched_on_again(key: str, steps: list[str], beside: str) -> None:
    """A heater or pump that nobody switches on again harms animals in a night (common practice, no source)."""
    first = next(n for n, step in enumerate(steps) if re.search(r"\b[Ss]witch\b[^.]*\boff\b|\b[Uu]nplug\b[^.]*\bheater", step))
    later = " ".join(steps[first:]) + " " + beside
    again = re.search(r"\b[Ss]witch (?:\w+ ){0,3}on\b|\b[Pp]lug\b[^.]* in\b", later)
    if key in STAYS_OFF:
        assert again is None, "it is switched on again after all, so it needs no reason to stay off"
    else:
        assert again, f"{key} switches off and never on again"


def test_a_heater_that_was_switched_off_comes_on_only_under_water() -> None:
    """A heater that runs dry cracks, and then stands under mains voltage in the water."""
    tasks = [(key, " ".join(steps)) for key, steps, _ in tasks_told_together() if re.search(r"Switch off heaters? and pumps", " ".join(steps))]
    assert len(tasks) > 5
    assert [key for key, text in tasks if not re.search(r"under water|still covered", text)] == []

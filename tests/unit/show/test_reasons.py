"""`why` prints the chain and adds nothing: rule, numbers with grade and source, readings with dates, forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import jsonschema
import pytest

from planner.judge.conditions import Scene, judge_condition
from planner.judge.facts import gather
from planner.judge.figures.figure import text_of
from planner.rulebook.nodes import Condition
from planner.rulebook.provenance import Number, Source
from planner.rulebook.shapes import PhaseRule, Rulebook
from planner.show.json.output_schema import schema_of
from planner.show.terminal.reasons import reason_document, reason_lines, why_gate, why_task
from planner.show.terminal.taskcard import shown_words
from planner.show.words.conditions import evidence_words
from planner.show.words.words import plain_text
from planner.terms.problems import Place
from planner.terms.records import Amount, Answer, Event, Forecast, Need, Plan, Row, Trace
from planner.terms.texts import ByUnits
from planner.terms.traces import Asked, Joined, NoReading
from tests.engine_desk import journal_of, plan_with, tank_with
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, phase, plan, quantity, task, window

CYCLE = PhaseRule.model_validate({
    "phase": "cycle", "title": "Grow the filter", "order": 50, "intro": "Bacteria have to settle.",
    "tasks": [{"id": "test", "title": "Test ammonia", "anchor": {"milestone": "ammonia_clear"}, "every": "test_every", "reads": ["ammonia"], "cites": ["ammonia_most"],
               "because": ["A test shows what no date can."]},
              {"id": "dose", "title": "Dose", "anchor": {"task": "cycle/test"}, "wait": "test_every"}],
    "gate": {"title": "The filter works", "opens_when": {"reading": {"name": "ammonia", "at_most": "ammonia_most"}}, "expect": {"milestone": "cycle_done"}},
})
NUMBERS = {
    "test_every": Number(value=2, unit="d", grade="practice", note="tightened near the end"),
    "ammonia_most": Number(value=0.1, unit="mg/L as N", grade="review", source="handbook", where="table 3", says="within", range_published=(0, 0.2), of="quiet water"),
}
SOURCES = {"handbook": Source(authors="Somebody", year=1999, title="Water for fish", read="part")}
PLACES = {"cycle": Place("rules/setup/cycle.yaml", 1, 8), "cycle/test": Place("rules/setup/cycle.yaml", 12, 5), "number/ammonia_most": Place("rules/setup/cycle.yaml", 7, 5)}
RULES = Rulebook((CYCLE,), (), NUMBERS, SOURCES, {}, PLACES, tasks={f"cycle/{t.id}": t for t in CYCLE.tasks})
ROW = Row(date(2026, 3, 1), None, "reading", "ammonia", "2", "mg/L as N", "display", "", 14, 2.0, 2.0, 0.0, 1.0)


def sample() -> Plan:
    leaf = Trace(Asked(), Answer.NO, (ROW,), (ROW,), say="ammonia at most 0.1 mg/L as N")
    other = Trace(Asked(), Answer.UNKNOWN, (NoReading(),), gap=NoReading(), say="salinity 33 to 36 ppt")
    events = {"ammonia_clear": Event(window(date(2026, 3, 20), date(2026, 4, 1), date(2026, 4, 20))), "nitrite_clear": Event(window(None), date(2026, 2, 28))}
    made = replace(quantity("ammonia_dose", 1.26, "g"), inputs=(("rise", "2 mg/L as N"),), formula="g = litres x rise", source="stoichiometry")
    tested = task("cycle/test#3", date(2026, 3, 4), title="Test ammonia", because=("A test shows what no date can.",), amounts=(("ammonia_dose", made),), depends_on="start-up", tentative=True)
    return plan(phase("cycle", title="Grow the filter", state="open", started=ON), tested, task("cycle/dose", date(2026, 3, 6)),
                traces={"gate/cycle": Trace(Joined(how="all"), Answer.NO, (), (), (leaf, other))}, forecast=Forecast(events, basis="an ensemble", readings_used=3))


def told(what: str) -> str:
    p = sample()
    found = p.task(what)
    reason = why_task(p, RULES, found) if found else why_gate(p, RULES, what)
    return " ".join(plain_text(reason_lines(reason, p, 80)).split())


def test_the_rule_is_named_with_its_line() -> None:
    assert "rules/setup/cycle.yaml:12:5" in told("cycle/test#3") and "rules/setup/cycle.yaml:1:8" in told("cycle")


def test_a_number_of_practice_is_aimed_for_and_never_called_a_standard() -> None:
    assert "test every: aim for 2 days, common practice, no source tightened near the end" in told("cycle/test#3")


def test_a_number_with_a_source_names_authors_year_title_and_table() -> None:
    text = told("cycle/test#3")
    assert "ammonia: at most 0.1 mg/L as N, a review of the literature, within 0 to 0.2 mg/L as N of quiet water Source: Somebody 1999, Water for fish (read in part); table 3" in text
    assert "aim for 0.1" not in text


def test_what_backs_a_number_stands_under_it_further_in() -> None:
    p = sample()
    found = p.task("cycle/test#3")
    assert found is not None
    lines = plain_text(reason_lines(why_task(p, RULES, found), p, 80)).splitlines()
    at = lines.index("  test every: aim for 2 days, common practice, no source")
    assert lines[at + 1] == "    tightened near the end"
    assert any(line.startswith("    Source: ") for line in lines)


def test_a_gate_lists_the_numbers_of_its_conditions() -> None:
    assert "ammonia: at most 0.1 mg/L as N" in told("cycle") and "test every" not in told("cycle")


def test_the_readings_stand_with_their_day_and_line_under_their_condition() -> None:
    p = sample()
    lines = plain_text(reason_lines(replace(why_gate(p, RULES, "cycle"), needs=()), p, 80)).splitlines()
    at = lines.index("  no      ammonia at most 0.1 mg/L as N")
    assert lines[at + 1].strip() == "- 2026-03-01 ammonia 2 mg/L as N, line 14"
    assert "  unknown salinity 33 to 36 ppt" in lines


def test_where_each_need_says_what_is_seen_of_it_the_tree_does_not_say_it_again() -> None:
    p = sample()
    leaf = p.traces["gate/cycle"].parts[0]
    p = replace(p, phases=tuple(replace(x, needs=(Need(leaf),)) for x in p.phases))
    text = " ".join(plain_text(reason_lines(why_gate(p, RULES, "cycle"), p, 80)).split())
    assert "needs not yet: ammonia at most 0.1 mg/L as N (so far: 2026-03-01 ammonia 2 mg/L as N, line 14)" in text
    assert text.count("ammonia 2 mg/L as N, line 14") == 1


def test_the_reason_and_the_day_stand_before_the_sources_and_ids_last() -> None:
    text = told("cycle/test#3")
    assert text.index("why A test shows") < text.index("when ") < text.index("Amounts, for this tank") < text.index("Numbers it rests on") < text.index("name cycle/test#3")


def test_no_more_than_three_terms_are_explained() -> None:
    p = sample()
    page = plain_text(reason_lines(replace(why_gate(p, RULES, "cycle"), because=("RO water of 35 ppt and 8 dKH, a siphon, a sump and a refractometer.",)), p, 80, rulebook().words))
    assert page.count("meaning   ") == 3


def test_an_amount_shows_formula_inputs_and_source() -> None:
    assert "ammonium chloride: 1.26 g formula g = litres x rise from rise 2 mg/L as N source stoichiometry" in told("cycle/test#3")


def test_what_went_into_an_amount_is_told_in_the_buyers_units() -> None:
    """A US gallon is 3.785411784 L (NIST SP 811)."""
    inputs = (("net water", text_of(Amount(231.0, "L"))), ("room", text_of(Amount(20.0, "°C"), ", a cold night")), ("base", text_of(ByUnits("0.56 m²", "6.0 ft²"))))
    for units, told_as in (("us", "from net water 61 gal; room 68 °F, a cold night; base 6.0 ft²"), ("metric", "from net water 231 L; room 20 °C, a cold night; base 0.56 m²")):
        p = replace(sample(), units=units)
        reason = replace(why_gate(p, RULES, "cycle"), figures=(replace(quantity("ammonia_dose", 1.26, "g"), inputs=inputs),))
        assert told_as in " ".join(plain_text(reason_lines(reason, p, 80)).split())


def test_an_alarms_job_counts_from_the_alarm() -> None:
    rules = rulebook()
    made = plan_with(rules, "2026-03-01,event,leak", on="2026-03-01")
    reason = why_task(made, rules, next(t for t in made.tasks if t.phase in {a.alert for a in rules.alerts} and rules.tasks[t.key].when is rules.tasks[t.key].anchor is None))
    assert "the start of the alarm" in reason.hangs_on


def test_readings_from_before_the_dose_are_not_called_none() -> None:
    asked = Condition.model_validate({"reading": {"name": "ammonia", "clear": True, "since": "dosed:ammonia"}})
    for rows, said in ((("2026-03-01,reading,ammonia,0",), "none since the last dose"), ((), "no reading yet")):
        facts = gather(tank_with(), journal_of(*rows, "2026-03-02T10:00+00:00,dosed,ammonia,2,mg/L as N"), date(2026, 3, 3))
        trace = judge_condition(asked, Scene(facts, rulebook(), {}))
        assert evidence_words(trace) == [said] and shown_words(Need(trace)) == f" (so far: {said})"


def test_what_is_seen_of_a_need_is_told_with_its_day_and_without_the_journals_line() -> None:
    need = Need(Trace(Asked(), Answer.YES, (ROW,), (ROW,), say="ammonia at most 0.1 mg/L as N"))
    day = f"{ROW.day.day} Mar"
    assert shown_words(need, ON).startswith(f" ({day} ") and "line" not in shown_words(need, ON) and f"line {ROW.line}" in shown_words(need)


def test_what_dates_a_task_is_said_in_words() -> None:
    assert "2 days after the day on which “Test ammonia” is done" in told("cycle/dose")
    assert "first from the day that the forecast gives for “ammonia clear”, then 2 days after you last did it" in told("cycle/test#3")


def test_a_task_behind_a_gate_names_the_gate() -> None:
    assert "waits for all ticks and tests of start-up, so its date may move. What is still missing there: `newtank why start-up`" in told("cycle/test#3")


def test_the_forecast_is_told_where_a_date_rests_on_it_and_nowhere_else() -> None:
    assert "Rests on an ensemble." in told("cycle") and "nitrite clear: shown by readings on Sat 28 Feb 2026." in told("cycle")
    assert "Rests on an ensemble" in told("cycle/test#3") and "Rests on an ensemble" not in told("cycle/dose")


@pytest.mark.parametrize("what", ["cycle/test#3", "cycle/dose", "cycle"])
def test_the_chain_follows_its_schema(what: str) -> None:
    p = sample()
    found = p.task(what)
    document = reason_document(why_task(p, RULES, found) if found else why_gate(p, RULES, what), p)
    jsonschema.validate(document, schema_of("why"))


def test_the_object_keeps_the_tree_and_the_journal_rows() -> None:
    p = sample()
    document = reason_document(why_gate(p, RULES, "cycle"), p)
    leaf = document["trace"]["parts"][0]
    assert (leaf["answer"], leaf["rows"][0]["line"], leaf["rows"][0]["value"]) == ("no", 14, "2")
    assert document["numbers"][0] | {"rule": ""} == {"name": "ammonia_most", "value": 0.1, "unit": "mg/L as N", "grade": "review", "where": "table 3", "says": "within", "published": [0.0, 0.2], "of": "quiet water", "note": "", "rule": "",
                                                     "source": "Somebody 1999, Water for fish (read in part)", "house": None}


def test_every_line_fits() -> None:
    p = sample()
    for width in (60, 80, 120):
        assert max(len(line) for line in plain_text(reason_lines(why_gate(p, RULES, "cycle"), p, width)).splitlines()) <= width


def test_the_way_to_what_is_missing_is_typed_for_this_folder() -> None:
    p = sample()
    found = p.task("cycle/test#3")
    assert found is not None
    assert "`newtank why my/reef start-up`" in " ".join(plain_text(reason_lines(why_task(p, RULES, found), p, 80, folder="my/reef")).split())

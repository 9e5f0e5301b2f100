"""The machine form: the fields other tools rely on, dates as ISO 8601, amounts with their unit."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import jsonschema
import pytest

from planner.plan.day_jobs import Day
from planner.rulebook.provenance import Caution
from planner.rulebook.shapes import Rulebook
from planner.show.json.output_schema import SCHEMAS, schema_of
from planner.show.json.plan_document import plan_document, today_document
from planner.show.json.record_objects import figure, forecast_document
from planner.show.terminal.effect import Effect, effect_document
from planner.terms.records import Answer, CurvePoint, Event, Forecast, Hold, Moved, Place, Plan, Problem, Row, State, Waiting
from tests.unit.plan_builder import ON, jobs_of_plan, need, phase, plan, quantity, task, window

RULES = Rulebook((), (), {}, {}, {"mains": Caution(title="Mains", text="Conducts.", defer="Ask an electrician.")})

# Written down by hand from the product's description, so that the schema cannot quietly lose one.
PLAN = {"on", "tank", "quantities", "phases", "tasks", "holds", "waiting_for", "problems"}
TODAY = {"on", "late", "due", "next", "waiting_for", "holds"}
PHASE = {"id", "title", "state", "started", "earliest", "likely", "latest", "reason", "needs"}
TASK = {"id", "occurrence", "phase", "title", "due", "date", "time", "earliest", "latest", "state", "tentative", "amounts", "steps", "cautions", "because"}


def full_plan() -> Plan:
    """One of everything."""
    late = task("water/mix#2", date(2026, 3, 2), due=date(2026, 2, 27), state=State.LATE, time="18:00", cautions=("mains",), because=("Salt needs time.",),
                amounts=(("salt_first_fill", quantity("salt_first_fill", 6270.1234567, "g")),), window=window(ON, ON, date(2026, 3, 4)))
    due = task("water/measure", ON, state=State.DUE)
    soon = task("cycle/dose", date(2026, 3, 5), state=State.WAITING, tentative=True, depends_on="scape")
    far = task("cycle/test", date(2026, 5, 5))
    gone = task("site/level", date(2026, 2, 20), state=State.DONE, closed_on=date(2026, 2, 21))
    never = phase("fish", window=window(None), reason="no date within two years")
    return plan(
        phase("water", state="open", started=ON, needs=(need(seen=("2026-03-01 ammonia 2, line 3",)), need("b", Answer.UNKNOWN))), never, late, due, soon, far, gone,
        Hold("water", ON, "It leaked.", ("water/measure",)), quantities=(quantity("net_volume", 203.184, "L"), quantity("gross_volume", 250.0, "L")),
        waiting_for=(Waiting("water", "Water", (need(),), window(date(2026, 3, 9))),), problems=(Problem(Place("tank.yaml", 3, 5), "unit-unknown", "unknown unit", "write `cm`"),))


def objects(value: Any) -> list[dict[str, Any]]:
    found = [value] if isinstance(value, dict) else []
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        found += objects(inner)
    return found


def test_the_plan_has_every_field_that_other_tools_rely_on() -> None:
    document = plan_document(full_plan(), RULES)
    assert document.keys() >= PLAN
    assert document["tank"].keys() >= {"name", "net_volume_l", "gross_volume_l"}
    assert all(p.keys() >= PHASE for p in document["phases"]) and all(t.keys() >= TASK for t in document["tasks"])
    assert all(n.keys() >= {"text", "met", "evidence"} for p in document["phases"] for n in p["needs"])
    assert document["holds"][0].keys() >= {"gate", "since", "because", "instead"} and document["waiting_for"][0].keys() >= {"gate", "needs"}
    assert document["problems"] == [{"file": "tank.yaml", "line": 3, "column": 5, "code": "unit-unknown", "message": "unknown unit", "fix": "write `cm`"}]


def test_the_plan_and_the_day_follow_their_schema() -> None:
    jsonschema.validate(plan_document(full_plan(), RULES), schema_of("plan"))
    jsonschema.validate(today_document(Day(full_plan(), jobs_of_plan(full_plan(), RULES)), RULES), schema_of("today"))


@pytest.mark.parametrize("field", sorted(PLAN))
def test_the_schema_misses_a_field_that_is_gone(field: str) -> None:
    document = plan_document(full_plan(), RULES)
    del document[field]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema_of("plan"))


@pytest.mark.parametrize("field", sorted(TASK))
def test_the_schema_misses_a_field_that_is_gone_from_a_task(field: str) -> None:
    document = plan_document(full_plan(), RULES)
    del document["tasks"][0][field]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema_of("plan"))


@pytest.mark.parametrize("command", sorted(SCHEMAS))
def test_every_schema_is_sound_json_schema(command: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema_of(command))


def test_dates_are_iso_and_null_where_there_is_none() -> None:
    document = plan_document(full_plan(), RULES)
    fish = next(p for p in document["phases"] if p["id"] == "fish")
    assert (fish["earliest"], fish["likely"], fish["latest"], fish["reason"]) == (None, None, None, "no date within two years")
    first = document["tasks"][0]
    assert (first["due"], first["date"], first["earliest"], first["latest"]) == ("2026-02-27", "2026-03-02", "2026-03-02", "2026-03-04")
    for found in objects(document):
        for name in ("due", "date", "since", "started", "earliest", "likely", "latest"):
            assert found.get(name) is None or date.fromisoformat(found[name])


def test_an_amount_is_a_number_with_its_unit() -> None:
    task_object = plan_document(full_plan(), RULES)["tasks"][0]
    assert task_object["amounts"] == {"salt_first_fill": {"value": 6270.12, "unit": "g"}}
    assert (task_object["id"], task_object["occurrence"]) == ("water/mix#2", 2)


def test_an_answer_is_one_of_three_words() -> None:
    needs = plan_document(full_plan(), RULES)["phases"][0]["needs"]
    assert [n["met"] for n in needs] == ["no", "unknown"] and needs[0]["evidence"] == ["2026-03-01 ammonia 2, line 3"]


def test_the_day_holds_what_is_late_due_and_next() -> None:
    document = today_document(Day(full_plan(), jobs_of_plan(full_plan(), RULES)), RULES)
    assert document.keys() >= TODAY
    assert [[t["id"] for t in document[k]] for k in ("late", "due", "next")] == [["water/mix#2"], ["water/measure"], ["cycle/dose"]]


def test_cautions_are_given_in_full_beside_the_tasks_that_name_them() -> None:
    assert plan_document(full_plan(), RULES)["cautions"] == {"mains": {"title": "Mains", "text": "Conducts.", "defer": "Ask an electrician."}}


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert json.dumps(plan_document(full_plan(), RULES)) == json.dumps(plan_document(full_plan(), RULES))


def test_no_figure_is_infinite_or_not_a_number() -> None:
    assert figure(float("inf")) is None and figure(float("nan")) is None and figure(1 / 3) == 0.333333
    json.dumps(plan_document(full_plan(), RULES), allow_nan=False)


def test_the_forecast_has_events_and_a_curve_with_bands() -> None:
    band = (0.1, 0.5, 1.0)
    forecast = Forecast({"ammonia_clear": Event(window(ON, date(2026, 3, 9), date(2026, 3, 20)))}, (CurvePoint(ON, band, band, band),), 4, 200)
    document = forecast_document(forecast)
    jsonschema.validate(document, schema_of("forecast"))
    assert document["events"]["ammonia_clear"] == {"earliest": "2026-03-02", "likely": "2026-03-09", "latest": "2026-03-20", "happened": None}
    assert document["curve"][0] == {"date": "2026-03-02", "ammonia": {"p10": 0.1, "p50": 0.5, "p90": 1.0}, "nitrite": {"p10": 0.1, "p50": 0.5, "p90": 1.0},
                                    "nitrate": {"p10": 0.1, "p50": 0.5, "p90": 1.0}}


def test_what_was_written_comes_with_what_it_moved() -> None:
    row = Row(ON, None, "reading", "ammonia", ">5", "mg/L as N", "display", "", 7, 5.0, float("inf"), 0.0, 1.0)
    document = effect_document(Effect((row,), (Moved("cycle/dose", "Dose", ON, None, "line 7"),), (), (), (), (), ()))
    jsonschema.validate(document, schema_of("written"))
    assert document["written"][0]["value"] == ">5" and document["moved"] == [{"id": "cycle/dose", "title": "Dose", "from": "2026-03-02", "to": None, "because": "line 7"}]

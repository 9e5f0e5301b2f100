"""No face loses a protective sentence: what each shows of every task's cautions is compared with what the rule names."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from planner.plan.day_jobs import Day
from planner.show.json.plan_document import plan_document, today_document
from planner.show.terminal.checklist import plan_lines
from planner.show.terminal.joblines import caution_keyword
from planner.show.terminal.today import task_lines, today_lines
from planner.show.words.words import plain_text
from planner.terms.records import Plan, State
from tests.rulecases import rulebook
from tests.unit.plan_builder import ON, jobs_of_plan, phase, plan, task

RULES = rulebook()
GUARDED = {key: rule.cautions for key, rule in RULES.tasks.items() if rule.cautions}


def page_of(*keys: str) -> Plan:
    """A plan on which these tasks are due, as their rules write them."""
    owners = dict.fromkeys(key.partition("/")[0] for key in keys if any(p.phase == key.partition("/")[0] for p in RULES.phases))
    return plan(*(phase(o, state="open", started=ON) for o in owners),
                *(task(key, ON, state=State.DUE, title=f"Task {key}", role=RULES.tasks[key].role, cautions=GUARDED[key]) for key in keys))


def one_line(text: str) -> str:
    return " ".join(text.split())


def day(p: Plan, known: bool = True) -> Day:
    return Day(p, jobs_of_plan(p, RULES, {t.key for t in p.tasks} if known else ()))


def in_full(caution: str) -> str:
    found = RULES.cautions[caution]
    return one_line(f"{found.title}. {found.text} {found.defer}")


FACES: dict[str, Callable[[Plan], str]] = {
    "today --steps": lambda p: plain_text(today_lines(day(p), RULES, 80, steps=True)),
    "today JOB": lambda p: plain_text(task_lines(p, RULES, p.tasks[0], 80)),
    "plan": lambda p: plain_text(plan_lines(p, RULES, 80, phase=p.phases[0].id) if p.phases else today_lines(day(p), RULES, 80, steps=True)),
    "today --json": lambda p: " ".join(f"{c['title']}. {c['text']} {c['defer']}" for c in today_document(day(p), RULES)["cautions"].values()),
    "plan --json": lambda p: " ".join(f"{c['title']}. {c['text']} {c['defer']}" for c in plan_document(p, RULES)["cautions"].values()),
}


@pytest.mark.parametrize("face", FACES)
def test_each_caution_that_a_rule_names_stands_in_full(face: str) -> None:
    lost = {key: missing for key, names in GUARDED.items() if (missing := [n for n in names if in_full(n) not in one_line(FACES[face](page_of(key)))])}
    assert lost == {}


def never_done(key: str) -> str:
    return one_line(plain_text(today_lines(day(page_of(key), known=False), RULES, 80)))


def test_a_job_never_done_before_stands_behind_all_its_cautions_in_full_or_behind_a_line_of_each_and_says_where_they_are() -> None:
    alarms = {a.alert for a in RULES.alerts}
    whole = 0
    for key, names in GUARDED.items():
        if key.partition("/")[0] not in alarms:
            text = never_done(key)
            before, _, after = text.partition(f"Task {key}")
            if all(in_full(n) in before for n in names):
                whole += 1
            else:
                assert [n for n in names if RULES.cautions[n].line not in before] == []
                assert "Read all steps and cautions first: newtank today 1" in after
    assert whole > 30


def test_a_job_of_an_alarm_that_was_never_done_before_stands_behind_one_line_of_each_caution() -> None:
    alarms = {a.alert for a in RULES.alerts}
    for key, names in GUARDED.items():
        if key.partition("/")[0] in alarms:
            before = never_done(key).partition(f"Task {key}")[0]
            assert [n for n in names if RULES.cautions[n].line not in before] == []
            assert [n for n in names if RULES.cautions[n].text in before] == []


def test_each_caution_has_its_line_before_a_job_known_by_heart() -> None:
    lost = []
    for key, names in GUARDED.items():
        text = one_line(plain_text(today_lines(day(page_of(key)), RULES, 80)))
        before = text[: text.index(f"Task {key}")]
        lost += [(key, n) for n in names if RULES.cautions[n].line not in before]
    assert lost == []


def test_on_a_page_of_several_jobs_each_has_all_its_cautions_by_line_or_keyword() -> None:
    # Ordinary jobs, and those of nutrients, wait in one line beside an alarm's, so each kind has pages of its own.
    alarms = {a.alert for a in RULES.alerts if a.place != "nutrients"}
    keys = sorted(GUARDED, key=lambda key: key.partition("/")[0] in alarms)
    first_alarm = next(n for n, key in enumerate(keys) if key.partition("/")[0] in alarms)
    for n in (*range(0, first_alarm, 10), *range(first_alarm, len(keys), 10)):
        ten = keys[n : min(n + 10, first_alarm if n < first_alarm else len(keys))]
        lines = plain_text(today_lines(day(page_of(*ten)), RULES, 200)).splitlines()
        said: list[str] = []
        guarded: dict[str, list[str]] = {}
        for line in lines:
            key = next((k for k in ten if line.rstrip().endswith(f"Task {k}")), None)
            if key is not None:
                guarded[key], said = [*said, line], []
            else:
                said.append(line)
        assert set(guarded) == set(ten)
        lost = [(k, c) for k in ten for c in GUARDED[k]
                if not any(RULES.cautions[c].line in line for line in guarded[k]) and caution_keyword(c) not in guarded[k][-1].partition(")")[0]]
        assert lost == []


def test_the_list_in_json_names_the_cautions_of_each_job() -> None:
    document = json.loads(json.dumps(today_document(day(page_of(*GUARDED)), RULES)))
    assert {j["id"]: tuple(j["cautions"]) for j in document["jobs"]} == GUARDED


def test_every_shipped_caution_has_a_line_of_its_own_and_what_kills_is_danger() -> None:
    told = [c.line for c in RULES.cautions.values()]
    assert all(told) and len(set(told)) == len(told)
    # What has killed people who kept aquaria or handled their goods is no less than Danger (common practice, no source).
    assert {k for k, c in RULES.cautions.items() if c.weight == "danger"} >= {"mains", "shock", "wet_floor", "weight", "bleach", "ammonia", "palytoxin", "gas"}

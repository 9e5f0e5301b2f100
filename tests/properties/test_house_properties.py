"""Whatever a shop writes: what is accepted never opens a gate earlier, loses a hold or lets a held task go on, and no plan
breaks."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.plan.make import make_plan
from planner.plan.rule_cases import loosened_cases
from planner.rulebook.house.overlay import load_house
from planner.rulebook.provenance import HOURS_IN
from planner.rulebook.shapes import Rulebook
from planner.terms.readings import READINGS
from planner.terms.records import Plan, State
from tests.rulecases import all_cases
from tests.story_facts import all_facts, names, rulebook, story_of

BOOK = rulebook()
PHASES = [p.phase for p in BOOK.phases]
TASKS = sorted(BOOK.tasks)
TIMES = sorted(name for name, number in BOOK.numbers.items() if number.unit in HOURS_IN)
SINCE = st.sampled_from([*TASKS[::7], *PHASES, "dosed:ammonia", "event:leak"])


@st.composite
def leaves(draw: st.DrawFn) -> dict[str, Any]:
    time, task = draw(st.sampled_from(TIMES)), draw(st.sampled_from(TASKS))
    name = draw(st.sampled_from(sorted(READINGS)))
    limits = sorted(n for n, x in BOOK.numbers.items() if n.startswith((name, f"alarm_{name}", f"gate_{name}", f"reef_{name}")))
    reading: dict[str, Any] = {"name": name, "times": draw(st.integers(1, 3)), "fresh": time}
    if limits:
        reading[draw(st.sampled_from(["at_least", "at_most", "above", "below"]))] = draw(st.sampled_from(limits))
    return draw(st.sampled_from([
        {"reading": reading}, {"reading": {"name": name, "any_age": "yes", "since": draw(SINCE)}}, {"done": {"task": task, "within": time}}, {"done": task},
        {"event": draw(st.sampled_from(["leak", "smell", "shop_visit"]))}, {"age": {"of": draw(SINCE), "at_least": time}}, {"animal": {}},
        {"tank": {"key": "rock.kind", "is": ["dry"]}}, {"fact": {"kind": "changed_water", "within": time}}, {"challenge": {"dose": "challenge_full", "hours": "challenge_hours", "times": 2}},
    ]))


CONDITIONS = st.recursive(leaves(), lambda inner: st.one_of(
    st.lists(inner, min_size=1, max_size=2).map(lambda c: {"all": c}), st.lists(inner, min_size=1, max_size=2).map(lambda c: {"any": c}), inner.map(lambda c: {"not": c})), max_leaves=4)


@st.composite
def tasks(draw: st.DrawFn) -> dict[str, Any]:
    task: dict[str, Any] = {"id": f"house-{draw(st.integers(1, 9))}", "title": "Ours", "role": draw(st.sampled_from(["step", "test", "remedy", "care", "shopping"]))}
    task["anchor"] = draw(st.sampled_from([{"phase": draw(st.sampled_from(PHASES))}, {"gate": draw(st.sampled_from(PHASES))}, {"task": draw(st.sampled_from(TASKS))}, {"start": "yes"}]))
    if draw(st.booleans()):
        task[draw(st.sampled_from(["wait", "every"]))] = draw(st.sampled_from(TIMES))
    if draw(st.booleans()):
        task["reads"] = draw(st.lists(st.sampled_from(sorted(READINGS)), min_size=1, max_size=2, unique=True))
    if draw(st.integers(0, 3)) == 0:
        task["when"] = draw(CONDITIONS)
    return task


@st.composite
def folders(draw: st.DrawFn) -> dict[str, Any]:
    phase = draw(st.sampled_from(PHASES))
    hold = {"when": draw(CONDITIONS), "because": "Ours.", "any_time": draw(st.sampled_from(["yes", "no"])), "unknown_holds": draw(st.sampled_from(["yes", "no"]))}
    file = {"phase": phase, "tasks": draw(st.lists(tasks(), max_size=2)), "gate": {"needs_too": draw(st.lists(CONDITIONS, max_size=2)), "holds": [hold], "stuck": [{"when": draw(CONDITIONS), "say": "Ours."}]}}
    alert = {"alert": "ours", "title": "Ours", "when": draw(CONDITIONS), "holds": [draw(st.sampled_from(PHASES))], "say": "Ours.", "tasks": draw(st.lists(tasks(), max_size=1))}
    return {f"setup/{phase}.yaml": file, "alerts/ours.yaml": {"alerts": [alert]}}


def laid(files: dict[str, Any]) -> Rulebook:
    with tempfile.TemporaryDirectory() as name:
        for path, data in files.items():
            (Path(name) / path).parent.mkdir(exist_ok=True)
            (Path(name) / path).write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
        return load_house(Path(name), BOOK, "house")[0]


@cache
def before(story: str, day: int) -> Plan:
    return plan_of(story, day, BOOK)


def plan_of(story: str, day: int, book: Rulebook) -> Plan:
    days = sorted({f.on for f in all_facts() if f.story == story})
    told = story_of(story)
    return make_plan(told.tank, told.journal, book, days[day % len(days)])


@pytest.mark.parametrize("examples", [8, pytest.param(60, marks=pytest.mark.slow)])
def test_nothing_that_is_accepted_loosens_a_plan(examples: int) -> None:
    @given(folders(), st.sampled_from(names()), st.integers(0, 20))
    @settings(max_examples=examples, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
    def holds(files: dict[str, Any], story: str, day: int) -> None:
        loosens_nothing(files, story, day)

    holds()


def loosens_nothing(files: dict[str, Any], story: str, day: int) -> None:
    ours, theirs = before(story, day), plan_of(story, day, laid(files))
    opened = {p.id: p.opened for p in theirs.phases if p.opened is not None}
    for phase in ours.phases:
        assert phase.id not in opened or (phase.opened is not None and phase.opened <= opened[phase.id])
    assert {h.gate for h in ours.holds} & set(opened) <= {h.gate for h in theirs.holds}
    held = {t.id for t in ours.tasks if t.state == State.ON_HOLD}
    assert not held & {t.id for t in theirs.tasks if t.state in (State.DUE, State.LATE, State.PLANNED)}


@pytest.mark.slow
@pytest.mark.parametrize("factor", [0.5, *(pytest.param(factor, marks=pytest.mark.long) for factor in (0.9, 1.1, 2.0))])
def test_all_numbers_moved_at_once_as_far_as_they_may_keep_the_protection_of_every_shipped_case(factor: float) -> None:
    book = laid({"numbers.yaml": {"numbers": {name: {"value": f"{number.value * factor:.6g}"} for name, number in BOOK.numbers.items() if number.value}}})
    assert len(book.house) > 50
    assert loosened_cases(all_cases(), BOOK, book) == ()

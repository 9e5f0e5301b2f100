"""What a rule may be, and what a shop may make of one of ours, on both sides of each limit. Contract of this project; no outside figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pydantic import ValidationError

from planner.files.checked import Checked
from planner.rulebook.contradictions import contradictions
from planner.rulebook.endings import early_endings, ended_by_tick
from planner.rulebook.nodes import Condition
from planner.rulebook.phase_graph import descendants, proof_to_animals
from planner.rulebook.provenance import HOURS_IN, Number, Source, cited_text, cites
from planner.rulebook.shapes import AlertRule, Stuck
from planner.rulebook.strictness import HIGHER, LOWER, UNCLEAR, deciding_way, doses, strict_way
from planner.rulebook.task_rule import Anchor, StageGuard, TaskRule, TextVariant
from planner.rulebook.waits import new_ring, waits_of
from planner.rulebook.walk import asked_for, inside, leaves, met_once, ways_to_meet
from planner.rulebook.what_jobs_do import Apart, Spoils, acts_of
from tests.engine_desk import book_with, small_book
from tests.rulecases import rulebook

LEAK = {"event": "leak"}
NUMBER = {"value": 5, "grade": "practice"}
BACKED = {"value": 5, "grade": "measured", "source": "s", "says": "states"}
TASK = {"id": "a", "title": "A"}
LINE = {"id": "a", "first": ("feeds",), "yields": ("changes_water",), "how": "postpone", "say": "x"}
ALERT = {"alert": "a", "title": "A", "when": LEAK, "say": "x", "tasks": ({"id": "b", "title": "B", "steps": ("One.", "Two."), "acts": ("switches_on",), "act_steps": {"switches_on": (2,)}},)}


def ok(model: type[Checked], **keys: Any) -> bool:
    try:
        model.model_validate(keys)
    except (ValidationError, ValueError):
        return False
    return True


@pytest.mark.parametrize(
    ("model", "keys", "fits"),
    [
        (Number, NUMBER, True), (Number, NUMBER | {"value": float("inf")}, False), (Number, BACKED, True), (Number, BACKED | {"source": None}, False), (Number, BACKED | {"says": None}, False), (Number, NUMBER | {"says": "states"}, False), (Number, NUMBER | {"source": "s", "says": "states"}, True),
        (Number, BACKED | {"says": "within"}, False), (Number, BACKED | {"range_published": (1, 9)}, False), (Number, BACKED | {"says": "within", "range_published": (5, 9)}, True), (Number, BACKED | {"says": "within", "range_published": (1, 5)}, True), (Number, BACKED | {"says": "within", "range_published": (5.1, 9)}, False), (Number, BACKED | {"says": "within", "range_published": (1, 4.9)}, False),
        (Anchor, {}, True), (Anchor, {"phase": "a"}, True), (Anchor, {"phase": "a", "gate": "b"}, False), (Anchor, {"start": True, "task": "a/b"}, False), (Anchor, {"start": True}, True), (Anchor, {"before": "a", "milestone": "cycle_done"}, False),
        (StageGuard, {"groups": ("fish",), "task": "a/b"}, True), (StageGuard, {"groups": ("fish",)}, False), (StageGuard, {"groups": ("fish",), "task": "a/b", "when": LEAK}, False), (StageGuard, {"groups": ("fish",), "when": LEAK, "wait": "w"}, True), (StageGuard, {"groups": ("fish",), "task": "a/b", "wait": "w"}, False),
        (TextVariant, {"groups": ("fish",)}, True), (TextVariant, {"only_when": LEAK}, True), (TextVariant, {}, False), (TextVariant, {"groups": ("fish",), "only_when": LEAK}, False),
        (TaskRule, TASK, True), (TaskRule, TASK | {"id": "A"}, False), (TaskRule, TASK | {"id": "1a"}, False), (TaskRule, TASK | {"short": "x" * 24}, True), (TaskRule, TASK | {"short": "x" * 25}, False), (TaskRule, TASK | {"minutes": 1}, True), (TaskRule, TASK | {"minutes": 0}, False), (TaskRule, TASK | {"minutes": 1440}, True), (TaskRule, TASK | {"minutes": 1441}, False),
        (TaskRule, TASK | {"per_stage": "fish"}, True), (TaskRule, TASK | {"per_stage": "fish", "every": "w"}, False), (TaskRule, TASK | {"per_stage": "fish", "when": LEAK}, False), (TaskRule, TASK | {"every": "w", "when": LEAK}, True), (TaskRule, TASK | {"ahead": "w"}, False), (TaskRule, TASK | {"ahead": "w", "per_stage": "fish"}, True), (TaskRule, TASK | {"ahead": "w", "per_stage": "fish", "wait": "v"}, False),
        (TaskRule, TASK | {"times": "n"}, False), (TaskRule, TASK | {"times": "n", "every": "w"}, True), (TaskRule, TASK | {"times": "n", "every": "w", "when": LEAK}, False),
        (TaskRule, TASK | {"steps": ("One.",), "acts": ("feeds",), "act_steps": {"feeds": (1,)}}, True), (TaskRule, TASK | {"steps": ("One.",), "acts": ("feeds",), "act_steps": {"feeds": (0,)}}, False), (TaskRule, TASK | {"steps": ("One.",), "acts": ("feeds",), "act_steps": {"feeds": (2,)}}, False), (TaskRule, TASK | {"steps": ("One.",), "act_steps": {"feeds": (1,)}}, False),
        (TaskRule, TASK | {"steps": ("One.",), "besides": (1,)}, True), (TaskRule, TASK | {"steps": ("One.",), "besides": (2,)}, False), (TaskRule, TASK | {"steps": ("One.",), "besides": (0,)}, False), (TaskRule, TASK | {"steps": ("One.",), "acts": ("feeds",), "act_steps": {"feeds": (1,)}, "variants": ({"groups": ("fish",), "steps": ("Two.",)},)}, False),
        (TaskRule, TASK | {"steps": ("One.",), "acts": ("feeds",), "act_steps": {"feeds": (1,)}, "variants": ({"groups": ("fish",), "title": "B"},)}, True), (TaskRule, TASK | {"steps": ("One.",), "variants": ({"groups": ("fish",), "steps": ("Two.",)},)}, True),
        (Spoils, {"of": ("ph",), "hours": "w"}, True), (Spoils, {"of": (), "hours": "w"}, False),
        (Apart, LINE, True), (Apart, LINE | {"first": ()}, False), (Apart, LINE | {"while_animals": True}, False), (Apart, LINE | {"first": (), "while_animals": True}, True), (Apart, LINE | {"first": (), "first_ranks": ("people",)}, True), (Apart, LINE | {"first": (), "after_absence": True}, True), (Apart, LINE | {"yields": ()}, False), (Apart, LINE | {"hands_out": True}, False),
        (Apart, LINE | {"first": (), "yields": (), "while_alerts": ("a",), "hands_out": True}, True), (Apart, LINE | {"first": (), "yields": (), "while_alerts": ("a",), "hands_out": True, "how": "leave_out"}, False), (Apart, LINE | {"yields": (), "hands_out": True}, False), (Apart, LINE | {"own_water": True}, False), (Apart, LINE | {"first": (), "yields": (), "while_alerts": ("a",), "hands_out": True, "own_water": True}, True),
        (Apart, LINE | {"lasting": True}, False), (Apart, LINE | {"lasting": True, "how": "leave_out"}, True), (Apart, LINE | {"how": "merge"}, False), (Apart, LINE | {"how": "merge", "yields": ("feeds",)}, True), (Apart, LINE | {"id": "A"}, False),
        (Stuck, {"when": LEAK, "say": "x"}, True), (Stuck, {"when": LEAK, "say": "x", "sign": True}, True), (Stuck, {"when": LEAK, "say": "x", "sign": True, "cause": "c"}, False), (Stuck, {"when": LEAK, "say": "x", "sign": True, "beside_sign": True}, False), (Stuck, {"when": LEAK, "say": "x", "cause": "c", "look": "y"}, True), (Stuck, {"when": LEAK, "say": "x", "look": "y"}, False), (Stuck, {"when": LEAK, "say": "x", "cause": "c"}, True),
        (Stuck, {"when": LEAK, "say": "x", "late": "nitrite_clear"}, False), (Stuck, {"when": LEAK, "say": "x", "behind": "nitrite_clear"}, False), (Stuck, {"when": LEAK, "say": "x", "late": "nitrite_clear", "sign": True}, True), (Stuck, {"when": LEAK, "say": "x", "rests": "w"}, False), (Stuck, {"when": LEAK, "say": "x", "rest_step": 1, "do": ("One.",)}, False),
        (Stuck, {"when": LEAK, "say": "x", "rests": "w", "rest_step": 1, "do": ("One.",)}, True), (Stuck, {"when": LEAK, "say": "x", "rests": "w", "rest_step": 2, "do": ("One.",)}, False), (Stuck, {"when": LEAK, "say": "x", "rests": "w", "rest_step": 0, "do": ("One.",)}, False),
        (AlertRule, ALERT, True), (AlertRule, ALERT | {"first_aid": {"heading": "H", "task": "b", "steps": (1, 2)}}, True), (AlertRule, ALERT | {"first_aid": {"heading": "H", "task": "b", "steps": (1,)}}, False), (AlertRule, ALERT | {"first_aid": {"heading": "H", "task": "b", "steps": (2, 3)}}, False), (AlertRule, ALERT | {"first_aid": {"heading": "H", "task": "c", "steps": (1, 2)}}, False), (AlertRule, ALERT | {"first_aid": {"heading": "H", "task": "b", "steps": (0, 2)}}, False),
        (Condition, LEAK, True), (Condition, {}, False), (Condition, LEAK | {"done": "a/b"}, False), (Condition, {"say": "x"}, False), (Condition, {"all": (LEAK, LEAK), "say": "x"}, True), (Condition, {"reading": {"name": "ph", "times": 6}}, True), (Condition, {"reading": {"name": "ph", "times": 7}}, False), (Condition, {"reading": {"name": "ph", "times": 0}}, False), (Condition, {"not": LEAK}, True),
    ],
)
def test_a_rule_has_a_whole_form_or_is_refused(model: type[Checked], keys: dict[str, Any], fits: bool) -> None:
    assert ok(model, **keys) is fits


# --- what follows from a form


def alert(rank: str | None = None, *roles: str, **keys: Any) -> AlertRule:
    return AlertRule.model_validate(ALERT | {"rank": rank, "tasks": tuple({"id": f"t{n}", "title": "T", "role": role, "protects": keys.pop("protects", False)} for n, role in enumerate(roles))} | keys)


@pytest.mark.parametrize(("made", "grave"), [(alert("people"), True), (alert("ammonia", "remedy"), True), (alert("ammonia", "test", "remedy"), True), (alert("ammonia", "test"), False), (alert("ammonia", "test", "test"), False), (alert("salinity", "remedy"), False), (alert("rest"), False), (alert(None, "remedy", protects=True), True), (alert(None, "remedy"), False)])
def test_an_alarm_is_grave_where_it_may_kill_and_asks_for_more_than_a_test(made: AlertRule, grave: bool) -> None:
    assert made.is_grave is grave


def test_alarms_stand_by_rank_then_by_who_is_hurt_then_by_what_may_kill() -> None:
    ordered = [alert("people", at_once=True), alert("people"), alert("oxygen", at_once=True), alert("oxygen", "remedy"), alert("oxygen", "test"), alert("ammonia"), alert("rest")]
    assert [a.order for a in ordered] == sorted(a.order for a in ordered) and len({a.order for a in ordered}) == 7
    assert alert(None).place == "rest" and alert(None, "remedy", protects=True).place == "people"


@pytest.mark.parametrize(("value", "unit", "days"), [(24, "h", 1), (24.1, "h", 2), (30, "h", 2), (23, "h", 1), (0, "h", 0), (2, "d", 2), (1, "wk", 7), (90, "min", 1), (1, "months", 31)])
def test_a_time_is_told_in_whole_days_rounded_up(value: float, unit: str, days: int) -> None:
    """A mean month has 365.25 / 12 = 30.44 days."""
    book = book_with(w=(value, unit))
    assert book.days("w") == days and book.hours("w") == pytest.approx(value * {"h": 1, "d": 24, "wk": 168, "min": 1 / 60, "months": 365.25 * 2}[unit]) and set(HOURS_IN) == {"h", "d", "wk", "min", "months"}


CHAIN = "[{phase: a}, {phase: b, after: [a]}, {phase: c, after: [b]}, {phase: d, beside: [c]}, {phase: e}]"


def test_phases_wait_for_a_gate_directly_or_by_way_of_others() -> None:
    phases = small_book(CHAIN).phases
    assert [sorted(descendants(gate, phases)) for gate in "abcde"] == [["b", "c", "d"], ["c", "d"], ["d"], [], []]
    proof = proof_to_animals(rulebook())
    assert proof and proof[-1] == rulebook().phase_as("opens_to_animals") and rulebook().phase_as("proves_filter") not in proof and set(proof) <= descendants(rulebook().phase_as("proves_filter"), rulebook().phases)


def test_a_ring_of_waiting_is_found_where_a_new_line_closes_it() -> None:
    before = waits_of(small_book(CHAIN))
    assert new_ring(before, before) is None and new_ring(before, before | {"gate/e": ("gate/a",)}) is None
    ring = new_ring(before, before | {"start/a": ("gate/d",)})
    assert ring is not None and ring[0] == "start/a" and set(ring) <= set(before) and len(ring) == len(set(ring))
    assert new_ring({"x": ("x",)}, {"x": ("x",)}) is None and new_ring({"x": ()}, {"x": ("x",)}) == ("x",)


def test_the_pieces_of_a_condition_are_told_apart() -> None:
    made = Condition.model_validate({"all": ({"event": "leak"}, {"not": {"any": ({"done": "a/b"}, {"not": {"event": "smell"}})}}, {"any": ({"event": "ill"}, {"done": "c/d"})})})
    assert [(type(leaf).__name__, turned) for leaf, turned in leaves(made)] == [("EventNode", False), ("DoneNode", True), ("EventNode", False), ("EventNode", False), ("DoneNode", False)]
    assert len(list(inside(made))) == 10 and len(list(asked_for(made))) == 3 and len(ways_to_meet(made)) == 2 and [len(way) for way in ways_to_meet(made)] == [4, 4]
    twice = Condition.model_validate({"all": ({"reading": {"name": "ph", "times": 2}}, {"not": {"reading": {"name": "ph", "times": 2}}})})
    assert [leaf.times for leaf, _ in leaves(met_once(twice))] == [1, 2]  # type: ignore[attr-defined]


def test_sources_are_named_by_their_authors() -> None:
    sources = {"s": Source(authors="Moras", year=2022, title="T", read="abstract"), "t": Source(title="Tables", read="memory")}
    assert cited_text("by {cite:s} and {cite:t}, not {cite:u}", sources) == "by Moras 2022 and Tables, not u"
    assert cites(Number(value=1, grade="practice", where="see {cite:s}", note="{cite:t}")) == ("s", "t") and cites(Number(value=1, grade="review", source="u", says="states")) == ("u",)


# --- what makes a rule stricter


READS = "reading: {name: ammonia, at_most: n}"


@pytest.mark.parametrize(
    ("phase", "alerts", "way"),
    [(f"gate: {{opens_when: {{{READS}}}}}", "[]", LOWER), (f"gate: {{opens_when: {{not: {{{READS}}}}}}}", "[]", HIGHER), (f"gate: {{holds: [{{when: {{{READS}}}, because: x}}]}}", "[]", HIGHER), (f"gate: {{lapses_when: {{{READS}}}}}", "[]", HIGHER), ("order: 1", f"[{{alert: z, title: Z, when: {{{READS}}}, say: x}}]", HIGHER), ("order: 1", "[{alert: z, title: Z, when: {reading: {name: ammonia, above: n}}, say: x}]", LOWER),
     (f"gate: {{opens_when: {{{READS}}}, holds: [{{when: {{{READS}}}, because: x}}]}}", "[]", UNCLEAR)],
)
def test_a_number_is_stricter_by_what_its_condition_does(phase: str, alerts: str, way: str) -> None:
    book = small_book(f"[{{phase: a, {phase}}}]", alerts, n=(1, "mg/L as N"))
    assert strict_way("n", book) == way == deciding_way("n", book)


@pytest.mark.parametrize(("keys", "is_dose"), [({"writes": {"kind": "dosed", "what": "ammonia"}}, True), ({"writes": {"kind": "event", "what": "fed"}}, False), ({"counts": "dosed:ammonia"}, True), ({"counts": "event:fed"}, False), ({}, False)])
def test_a_dose_is_safer_neither_sooner_nor_later(keys: dict[str, Any], is_dose: bool) -> None:
    assert doses(TaskRule.model_validate(TASK | keys)) is is_dose


def test_a_fact_is_an_act_unless_it_only_holds_what_is_there() -> None:
    def acts(**keys: Any) -> set[str]:
        return set(acts_of(TaskRule.model_validate(TASK | keys)))

    dose = {"kind": "dosed", "what": "Bicarbonate"}
    assert acts(writes=dose) == {"moves_alkalinity"} and acts(writes=dose, acts=("keeps_alkalinity",)) == {"keeps_alkalinity"} and acts(writes={"kind": "poured", "what": "water"}) == set() and acts(writes={"kind": "changed_water", "what": "x"}, acts=("feeds",)) == {"changes_water", "feeds"} and acts() == set()


# --- how an alarm ends


@pytest.mark.parametrize(
    ("over", "one", "early"),
    [(None, False, True), (None, True, False), ("{reading: {name: ammonia, at_most: low, times: 2}}", False, False), ("{reading: {name: ammonia, at_most: low}}", False, True), ("{reading: {name: nitrite, at_most: low, times: 2}}", False, True), ("{reading: {name: ammonia, where: mixing, at_most: low, times: 2}}", False, True), ("{reading: {name: ammonia, at_most: same, times: 2}}", False, True), ("{reading: {name: ammonia, at_most: more, times: 2}}", False, True), ("{not: {reading: {name: ammonia, at_most: low, times: 2}}}", False, True)],
)
def test_an_alarm_of_a_reading_ends_by_two_readings_stricter_than_what_raised_it(over: str | None, one: bool, early: bool) -> None:
    book = small_book("[]", f"[{{alert: z, title: Z, say: x, when: {{reading: {{name: ammonia, above: same}}}}{f', over: {over}' if over else ''}{', one_is_enough: true' if one else ''}}}]", low=(0.1, "mg/L"), same=(0.2, "mg/L"), more=(0.3, "mg/L"))
    assert bool(list(early_endings(book))) is early


@pytest.mark.parametrize(("over", "early"), [("more", False), ("same", True), ("low", True)])
def test_an_alarm_of_something_too_low_ends_above_what_raised_it(over: str, early: bool) -> None:
    book = small_book("[]", f"[{{alert: z, title: Z, say: x, when: {{reading: {{name: ph, below: same}}}}, over: {{reading: {{name: ph, at_least: {over}, times: 2}}}}}}]", low=(7.5, ""), same=(7.8, ""), more=(8.0, ""))
    assert bool(list(early_endings(book))) is early


def test_an_alarm_of_an_event_ends_by_the_tick_that_it_names() -> None:
    book = small_book("[]", "[{alert: z, title: Z, say: x, when: {event: {what: leak, ended_by: z/t}}}, {alert: y, title: Y, say: x, when: {not: {event: {what: smell, ended_by: z/t}}}}]")
    assert [a.alert for a, _ in ended_by_tick(book, "z/t")] == ["z"] and ended_by_tick(book, "z/u") == () and list(early_endings(book)) == []


# --- orders that shut each other out


def clash(one: str, other: str, line: dict[str, Any]) -> int:
    book = small_book(f"[{{phase: a, tasks: [{one}{f', {other}' if other else ''}]}}]")
    return len(list(contradictions(replace(book, apart=(Apart.model_validate(LINE | line),)))))


ONE, TWO = "{id: one, anchor: {phase: a}, acts: [feeds]", "{id: two, anchor: {phase: a}, acts: [changes_water]"


@pytest.mark.parametrize(
    ("one", "other", "line", "found"),
    [(f"{ONE}}}", f"{TWO}}}", {}, 1), (f"{TWO}}}", f"{ONE}}}", {}, 1), ("{id: one, anchor: {phase: a}, acts: [feeds, changes_water]}", "", {}, 1), (f"{ONE}, wait: mix_wait}}", f"{TWO}}}", {}, 0), (f"{ONE}, where: quarantine}}", f"{TWO}}}", {}, 0), (f"{ONE}, when: {{event: leak}}}}", f"{TWO}}}", {}, 0), (f"{ONE}, unless: {{event: leak}}}}", f"{TWO}}}", {}, 0), (f"{ONE}}}", "{id: two, anchor: {task: a/one}, acts: [changes_water]}", {}, 1), (f"{ONE}}}", "{id: two, anchor: {task: a/one}, wait: mix_wait, acts: [changes_water]}", {}, 0),
     (f"{ONE}}}", "{id: two, anchor: {gate: a}, acts: [changes_water]}", {}, 0), (f"{ONE}, every: mix_wait}}", f"{TWO}}}", {}, 0), (f"{ONE}}}", f"{TWO}}}", {"how": "merge", "yields": ("feeds",)}, 0), (f"{ONE}}}", "{id: two, anchor: {phase: a}, acts: [feeds]}", {"yields": ("feeds",)}, 1), (f"{ONE}}}", "", {"yields": ("feeds",)}, 0), (f"{ONE}}}", "{id: two, anchor: {phase: a}, acts: [tops_up]}", {}, 0)],
)
def test_two_orders_of_one_day_that_shut_each_other_out_are_found(one: str, other: str, line: dict[str, Any], found: int) -> None:
    assert clash(one, other, line) == found

"""A plan to follow with a pencil names no command, no key of a file and no id."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from planner.files.checked import Checked
from planner.files.tank import known_paths, read_tank
from planner.judge.kinds.age import AgeAsked
from planner.judge.kinds.done import DoneAsked
from planner.plan.texts import GIVEN_BY, text_filler
from planner.rulebook.lines import Conditional
from planner.rulebook.provenance import Number
from planner.rulebook.texts import parse_text
from planner.show.paper.needs import need_text
from planner.show.words.conditions import need_words
from planner.show.words.numbers import cite_number
from planner.terms.records import Answer, Need, Trace
from planner.terms.texts import Text, joined, on_day
from planner.terms.traces import Joined
from tests.engine_desk import journal_of
from tests.rulecases import rulebook
from tests.unit.handout_reader import case_of, pencil_of

INNER = re.compile(r"`|\bnewtank\b|--|\w_\w|#|\btank file\b|\b[a-z]+/[a-z]+-[a-z]+|\b\d{4}-\d\d-\d\d\b|\b(?:room|rock|water|equipment)\.(?-i:[a-z])|[{}]", re.IGNORECASE)


def texts(thing: Any) -> Iterator[str]:
    """Every sentence in the rules, wherever it stands. What a number says of its source has a way of its own (`cite_number`)."""
    if isinstance(thing, Number):
        return
    if isinstance(thing, str):
        yield from (thing,) if " " in thing else ()
    elif isinstance(thing, Checked):
        yield from texts([getattr(thing, name) for name in type(thing).model_fields])
    elif isinstance(thing, dict):
        yield from texts(list(thing.values()))
    elif isinstance(thing, (list, tuple)):
        for part in thing:
            yield from texts(part)


def test_no_text_of_any_rule_brings_a_command_or_an_id_onto_paper() -> None:
    case = case_of("shop-handover", house="house-rules")
    fill, write = text_filler(case.tank, case.journal, case.rules, case.plan.on), pencil_of(case)
    said = [fill(text) for text in texts([case.rules.tasks, case.rules.phases, case.rules.alerts, [(c.title, c.text, c.defer) for c in case.rules.cautions.values()], [t for name, n in case.rules.numbers.items() for made in (cite_number(name, n, case.rules).number,) for t in (made.note, made.where) if t]])]
    assert len(said) > 1000 and len([text for text in said if INNER.search(text)]) > 40
    listed = {fill(step) for rule in case.rules.tasks.values() if rule.role == "shopping" for step in (*rule.steps, *(s for v in rule.variants for s in (*v.steps, *v.watch)))}  # what the shopping list says stands there alone
    assert [text for text in said if INNER.search(write(text)) or not (write(text) or text in listed)] == []


@pytest.mark.parametrize(("rule", "typed", "written"), [
    ("Note the failed check with {failed:leak-test/watch}.", "Note the failed check with `newtank note failed leak-test/watch`.", "Note the failed check on the log sheet."),
    ("Once more note {failed:leak-test/watch}.", "Once more note `newtank note failed leak-test/watch`.", "Once more note it on the log sheet."),
    ("Note it with {note:ill quarantine}, and ask a vet.", "Note it with `newtank note event ill --where quarantine`, and ask a vet.", "Note it on the log sheet, and ask a vet."),
    ("Log both with {where:mixing}.", "Log both as mixing water (add --where mixing).", "Log both as mixing water."),
    ("Log what they read, with {where:curing}.", "Log what they read as curing water (add --where curing).", "Log what they read as curing water."),
    ("Write it into {tank file}. The {tank file} is short.", "Write it into your description (tank.yaml). Your description (tank.yaml) is short.", "Write it on the log sheet. The description of the tank is short."),
    ("Is {key:room.temperature} right?", "Is `temperature` under `room:` right?", "Is temperature right?"),
    ("Write {key:room.floor=solid/suspended} in {tank file}.", "Write `floor: solid` or `floor: suspended` under `room:` in your description (tank.yaml).", "Write floor: solid or suspended in the description of the tank."),
    ("Tick {task:site/level} again.", "Tick “Set the stand level and support the whole base” again.", "Tick “Set the stand level and support the whole base” again."),
    ("{type:take it back with {do:undo}|strike it out}.", "take it back with `newtank undo`.", "strike it out."),
    ("Wait {leak_watch}.", "Wait 48 h.", "Wait 48 h."),
    ("Take {no_such_figure}.", "Take an amount that is not known yet.", "Take (not known yet)."),
])
def test_each_face_says_a_part_in_its_own_way(rule: str, typed: str, written: str) -> None:
    case = case_of("shop-handover")
    said = text_filler(case.tank, case.journal, case.rules, case.plan.on)(parse_text(rule))
    assert (said, pencil_of(case)(said)) == (typed, written)


def test_a_figure_that_one_key_would_give_says_which_key() -> None:
    """Of a tank described by its volume alone; every text of every rule, for any of them may come onto a page."""
    tank, _ = read_tank("start: 2026-03-02\ntank: {volume: 100 L}\nwater: {source: ro}\n", "tank.yaml")
    assert tank is not None
    book = rulebook()
    fill = text_filler(tank, journal_of(tank=tank), book, date(2026, 3, 2))
    said = [fill(text.told if isinstance(text, Conditional) else text) for text in texts([book.tasks, book.phases, book.alerts])]  # also lines that this tank does without
    assert any("an amount not known yet (write what your RO unit makes a day as `ro_rate` under `equipment:` in your description (tank.yaml))" in text for text in said)
    assert [text for text in said if re.search(r"describe the tank|further\)|: said\)|[{}]", text)] == []
    assert {f"{block}.{key}" for text in said for key, block in re.findall(r"not known yet \(write [^`]+ as `([a-z_]+)` under `([a-z_]+):`", text)} == set(GIVEN_BY)
    assert set(GIVEN_BY) <= known_paths()


def test_a_day_to_come_is_about_while_the_gate_of_the_animals_is_shut() -> None:
    case = case_of("shop-handover")
    said = joined("They enter ", on_day(date(2026, 8, 1), "on "), ", not before ", on_day(date(2027, 2, 1)), ".")
    write = pencil_of(case)
    assert said == "They enter on 2026-08-01, not before 2027-02-01."
    assert write(joined("They came ", on_day(date(2026, 5, 2), "on "), ".")) == "They came on Sat 2 May."
    assert write(said) == "They enter about Sat 1 Aug, not before about Mon 1 Feb 2027."
    assert write(on_day(date(2026, 8, 1), sure=True)) == "Sat 1 Aug"
    later = replace(case, plan=replace(case.plan, phases=tuple(replace(p, opened=case.plan.on - timedelta(days=1)) for p in case.plan.phases)))
    assert pencil_of(later)(said) == "They enter on Sat 1 Aug, not before Mon 1 Feb 2027."
    assert date(2026, 8, 1).strftime("%a") == "Sat"


def test_somebodys_own_words_stay_as_they_are() -> None:
    case = case_of("shop-handover")
    said = "Not everything in tank.yaml could be read, 3 mg/L and/or {pH}."
    filled = text_filler(case.tank, case.journal, case.rules, case.plan.on)(said)
    assert (filled, isinstance(filled, Text), pencil_of(case)(filled)) == (said, False, said)


def test_a_list_to_tick_names_tasks_by_their_titles_alone() -> None:
    def done(title: str, *also: str) -> Trace:
        return Trace(DoneAsked(title=title, task="site/place", also=also), Answer.NO)

    both = Need(Trace(Joined(how="any"), Answer.NO, parts=(done("Choose the place"), done("Ask the engineer", "site/floor"))))
    assert need_text(both) == "Choose the place or Ask the engineer"
    aged = Need(Trace(AgeAsked(hours=24.0, of="site/place", title="Choose the place", task=DoneAsked(title="Choose the place", task="site/place")), Answer.NO))
    assert need_text(aged) == "At least 24 hours since Choose the place"
    assert need_words(aged) == "at least 24 hours since Choose the place (site/place)"

"""A plan to follow with a pencil names no command, no key of a file and no id."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from pydantic import BaseModel

from planner.plan.make import text_filler
from tests.unit.handout_reader import DAYS, case_of, plain_of, read_scenario

INNER = re.compile(r"`|\bnewtank\b|--|\w_\w|#|\btank file\b|\b[a-z]+/[a-z]+-[a-z]+|\b\d{4}-\d\d-\d\d\b|\b(?:room|rock|water|equipment)\.[a-z]", re.IGNORECASE)


def texts(thing: Any) -> Iterator[str]:
    """Every sentence in the rules, wherever it stands."""
    if isinstance(thing, str):
        yield from (thing,) if " " in thing else ()
    elif isinstance(thing, BaseModel):
        yield from texts([getattr(thing, name) for name in type(thing).model_fields])
    elif isinstance(thing, dict):
        yield from texts(list(thing.values()))
    elif isinstance(thing, (list, tuple)):
        for part in thing:
            yield from texts(part)


def test_no_text_of_any_rule_brings_a_command_or_an_id_onto_paper() -> None:
    case = case_of("shop-handover", house="house-rules")
    fill, plain = text_filler(case.tank, case.journal, case.rules, case.plan.on), plain_of(case)
    said = [fill(text) for text in texts([case.rules.tasks, case.rules.phases, case.rules.alerts, case.rules.cautions, case.rules.numbers])]
    assert len(said) > 1000 and len([text for text in said if INNER.search(text)]) > 40
    assert [text for text in said if INNER.search(plain(text)) or not plain(text)] == []


@pytest.mark.parametrize(("scenario", "house"), [*((name, "") for name in DAYS), ("shop-handover", "house-rules")])
def test_nothing_on_any_page_is_an_inner_name(scenario: str, house: str) -> None:
    pages = read_scenario(scenario, house)
    assert [found[0] for page in pages for found in re.finditer(r".{0,40}(?:" + INNER.pattern + r").{0,40}", page, re.IGNORECASE)] == []


@pytest.mark.parametrize(("typed", "written"), [
    ("Empty it and note the failed check with `newtank note failed leak-test/watch`.", "Empty it and note the failed check on the log sheet."),
    ("If you see spots, note it with `newtank note event ill --where quarantine`, and ask a vet.", "If you see spots, note it on the log sheet, and ask a vet."),
    ("Log both with --where mixing. Salinity in ppt.", "Log both as mixing water. Salinity in ppt."),
    ("Tick this with `--amount` and the litres really poured.", "Write the litres really poured beside the tick."),
    ("Write equipment.quarantine_tank, yes or no, into the tank file.", "Write yes or no for a quarantine tank on the log sheet."),
    ("Corals ask for more light; `newtank stock` says how much each needs.", "Corals ask for more light."),
    ("Wait a day. `newtank why gate/fish` shows what it waits for. Then look.", "Wait a day. Then look."),
    ("Bring in the first fish (fish/stage-1 or fish/stage#1)", "Bring in the first fish"),
    ("It could be ocellaris clownfish (amphiprion-ocellaris). Write the id of the one you mean into the tank file.", "It could be ocellaris clownfish. Tell the shop which one is meant."),
    ("Not everything in tank.yaml could be read, 3 mg/L and/or pH.", "Not everything in tank.yaml could be read, 3 mg/L and/or pH."),
])
def test_a_command_becomes_what_a_pencil_does(typed: str, written: str) -> None:
    assert plain_of(case_of("shop-handover"))(typed) == written


def test_a_day_to_come_is_about_while_the_gate_of_the_animals_is_shut() -> None:
    case = case_of("shop-handover")
    plain = plain_of(case)
    assert plain("They came on 2026-05-02.") == "They came on Sat 2 May."
    assert plain("They enter on 2026-08-01, not before 2027-02-01.") == "They enter about Sat 1 Aug, not before about Mon 1 Feb 2027."
    later = replace(case, plan=replace(case.plan, phases=tuple(replace(p, opened=case.plan.on - timedelta(days=1)) for p in case.plan.phases)))
    assert plain_of(later)("They enter on 2026-08-01.") == "They enter on Sat 1 Aug."
    assert date(2026, 8, 1).strftime("%a") == "Sat"

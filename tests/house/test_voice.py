"""How the pages speak, by faces made of whole plans: everyday words, short sentences, one system of units, amounts as a
person measures them. Read off what is shown, not off the rule files."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from statistics import median

import pytest

from planner.files.tank import read_tank
from planner.plan.day_jobs import Day
from planner.plan.make import plan_with_stock
from planner.show.calendar.calendar import planned_entries
from planner.show.calendar.entries import full_text, summary
from planner.show.paper.handout import handout_data
from planner.show.terminal.overview import overview_lines
from planner.show.terminal.today import today_lines
from planner.show.words.words import plain_text
from planner.terms.records import index_journal
from tests.rulecases import rulebook
from tests.story_facts import all_facts, catalogue, names, story_of
from tests.unit.plan_builder import jobs_of_plan

LONGEST = 25
"""Words that the longest sentence may have; what is quoted from a source, or lists things, is not counted."""
USUAL = (8, 16)
"""Between these the middle of all sentences of the rules lies."""
DRAWN = {
    "a small metric tank": "start: 2026-01-05\ntimezone: Europe/London\nunits: metric\ntank: {volume: 60 L}\nrock: {kind: live, mass: 6 kg, cured_in: tank}\n",
    "a US tank on beams": "start: 2026-01-05\ntimezone: America/Chicago\nunits: us\ntank: {length: 36 in, width: 18 in, height: 18 in}\nrock: {kind: dry, mass: 30 lb}\nroom: {floor: suspended, temperature: 70 °F}\n"
                          "water: {source: tap}\nequipment: {quarantine_tank: 15 gal}\nwish_list: [{animal: amphiprion-ocellaris, count: 2}, {animal: bubble-tip anemone, count: 1}]\n",
    "a warm room with ready-mixed water": "start: 2026-01-05\ntimezone: Europe/Madrid\nunits: metric\ntank: {length: 100 cm, width: 50 cm, height: 50 cm, sump: 40 L}\nrock: {kind: cured, mass: 15 kg}\n"
                                          "water: {source: ready_mixed}\ncycle: {ammonia: food, seed: bottled}\nroom: {temperature: 28 °C, floor: solid}\n",
}
JARGON = re.compile(
    r"\b(?:gates?|provisional|occurrences?|the tank file|from its causes|is held|let one another|of which|it is to be|let .{1,30} be had|a stop-gap|in a slow filter, one in ten|"
    r"(?:second|third|first) rung|smells well|also not|also when|to be had)\b", re.IGNORECASE)
AT_A_KEYBOARD = re.compile(r"`[^`]*`|[Ww]rite [^.]*?(?:\.[a-z_]+[^.]*?)?tank\.yaml\)|[Cc]hange [^ ]+ to [^ ]+ in your description|write rock\.kind")
"""Commands, and keys of tank.yaml where the keeper is asked to write them."""
IDS = re.compile(r"[a-z]_[a-z]|\b[a-z][a-z-]+/[a-z]+-[a-z-]+|[{}]")
METRIC = re.compile(r"\d ?(?:°C|kg|cm|mm|m|L|mL)\b(?!/)|\bkN\b|\blitres\b")
US = re.compile(r"\d ?(?:°F|gal|lb|fl oz|oz|in|ft²|qt)\b(?!/)")
LONG_NUMBER = re.compile(r"(?<![\d.,/:-])(\d+\.\d+)(?![\d./:-])")
NUMBERS_SECTION = "sources"


@dataclass(frozen=True)
class Shown:
    """One text of one face."""

    tank: str
    units: str
    face: str
    text: str


@cache
def shown() -> tuple[Shown, ...]:
    return tuple(dict.fromkeys([*stories(), *drawn()]))


def stories() -> Iterator[Shown]:
    for name in names():
        days = sorted({f.on for f in all_facts() if f.story == name})
        for on in {days[0], days[len(days) // 2], days[-1]}:
            yield from faces(name, story_of(name).tank, story_of(name).journal, on)


def drawn() -> Iterator[Shown]:
    for name, text in DRAWN.items():
        tank, problems = read_tank(text.encode(), "tank.yaml")
        assert tank is not None and not problems, problems
        yield from faces(name, tank, index_journal((), (), "journal.csv"), date(2026, 1, 5))


def faces(name, tank, journal, on) -> Iterator[Shown]:  # type: ignore[no-untyped-def]
    rules = rulebook()
    plan, stock = plan_with_stock(tank, journal, rules, on, catalogue=catalogue() if tank.wish_list else None)
    data = handout_data(plan, tank, journal, rules, stock, catalogue(), None)
    for part, told in data.items():
        yield from (Shown(name, tank.units, f"paper {part}", text) for text in texts(told))
    day = Day(plan, jobs_of_plan(plan, rules, set()))
    for face, lines in (("today", today_lines(day, rules, 80)), ("the plan on one screen", overview_lines(day, rules, 80))):
        yield from (Shown(name, tank.units, f"terminal {face}", paragraph) for paragraph in paragraphs(plain_text(lines)))
    if plan.tank_id is None:
        return
    for entry in planned_entries(plan, rules, {}):
        yield from (Shown(name, tank.units, "calendar", text) for text in (summary(entry), full_text(entry)))


def paragraphs(page: str) -> Iterator[str]:
    """The lines of a page of the terminal; a sentence may go over several, so their length is not judged here."""
    yield from (line.strip().rstrip(".?!") for line in page.splitlines() if line.strip())


def texts(told: object) -> Iterator[str]:
    if isinstance(told, str):
        yield told
    elif isinstance(told, dict):
        for key, value in told.items():
            if key not in ("mark", "see"):  # places in the document, which nobody reads
                yield from texts(value)
    elif isinstance(told, (list, tuple)):
        for value in told:
            yield from texts(value)


def told(*, sources: bool = False) -> list[Shown]:
    return [s for s in shown() if sources or NUMBERS_SECTION not in s.face]


def offences(pattern: re.Pattern[str], where: list[Shown]) -> list[str]:
    return sorted({f"{s.face}, {s.tank}: …{s.text[max(0, m.start() - 30): m.end() + 30]}…" for s in where for m in pattern.finditer(s.text)})


def sentences(text: str) -> list[str]:
    """Sentences of a text, each line and each numbered step by itself."""
    lines = [re.sub(r"^(?:\d+\.|-|Danger:|Care:|Note:) ", "", line) for line in text.split("\n")]
    return [s for line in lines for s in re.split(r"(?<=[.?!:;]) +(?=\S)", line) if s]


def test_no_page_speaks_the_jargon_of_this_house() -> None:
    assert offences(JARGON, told()) == []


def test_no_page_shows_an_id_or_a_key() -> None:
    assert offences(IDS, [replace(s, text=AT_A_KEYBOARD.sub("", s.text)) for s in told()]) == []


def test_no_page_uses_a_word_that_the_sheet_of_terms_replaces() -> None:
    avoided = [said for word in rulebook().words.values() for said in word.avoid]
    assert len(avoided) > 20
    assert offences(re.compile(rf"\b(?:{'|'.join(map(re.escape, avoided))})\b", re.IGNORECASE), told()) == []


def test_a_us_page_has_no_metric_amount_and_a_metric_page_none_of_the_us() -> None:
    for units, other in (("us", METRIC), ("metric", US)):
        assert offences(other, [s for s in told() if s.units == units]) == []


def test_no_amount_has_more_than_three_digits_where_a_person_measures() -> None:
    long = [f"{s.face}, {s.tank}: {m[0]} in …{s.text[max(0, m.start() - 30): m.end() + 20]}…" for s in told() for m in LONG_NUMBER.finditer(s.text)
            if len(m[1].replace(".", "").lstrip("0")) > 3 and not re.match(r"1\.0\d", m[1])]  # specific gravity is read to four
    assert sorted(set(long)) == []


def test_no_sentence_of_a_page_is_longer_than_a_breath() -> None:
    long = {s for shown in told() for s in sentences(shown.text) if len(s.split()) > LONGEST}
    assert sorted(long) == []


def test_the_middle_of_all_sentences_is_short() -> None:
    lengths = [len(s.split()) for text in {s.text for s in told()} for s in sentences(text) if s.endswith((".", "?"))]
    assert USUAL[0] <= median(lengths) <= USUAL[1]


def test_every_task_has_a_short_title_for_the_phone() -> None:
    assert [key for key, task in rulebook().tasks.items() if not 0 < len(task.short) <= 24] == []


@pytest.mark.parametrize("key", sorted(rulebook().cautions))
def test_each_caution_has_one_short_line_that_protects(key: str) -> None:
    line = rulebook().cautions[key].line
    assert line.endswith(".") and 4 <= len(line.split()) <= 20


def test_no_task_lost_a_caution_that_it_once_had() -> None:
    """`cautions_kept.csv` is added to, never cut."""
    with (Path(__file__).parent / "cautions_kept.csv").open(encoding="utf-8") as kept:
        before = {row["task"]: set(row["cautions"].split()) for row in csv.DictReader(kept)}
    assert len(before) > 150
    tasks = rulebook().tasks
    assert {key: sorted(lost) for key, had in before.items() if (lost := had - set(tasks[key].cautions if key in tasks else ()))} == {}


@pytest.mark.parametrize(("words", "wanted"), [
    (r"\b(?:live rock|curing)\b.*\bsiphon|\bsiphon\b.*\b(?:off the rock|curing)\b", {"palytoxin", "stings", "infection", "gas"}),
    (r"\b(?:clownfish|fish|snails?|corals?|bag)\b.*\bfloat the closed bag\b|\bfloat the closed bag\b", {"gas", "infection", "stings"}),
    (r"\bdip it\b", {"chemicals", "palytoxin", "infection"}),
    (r"\bammonium chloride\b.*\bdissolve|\bweigh\b.*\bammonium chloride\b", {"ammonia", "chemicals"}),
    (r"\bheaters? and pumps at the wall\b", {"mains", "wet_floor"}),
    (r"\bbleach\b.*\bsoak|\bsoak\b.*\bbleach\b", {"bleach", "chemicals"}),
], ids=["curing rock is siphoned", "a bag is floated", "a coral is dipped", "ammonia is weighed", "water is changed", "rock is bleached"])
def test_work_of_one_kind_carries_its_cautions_wherever_it_stands(words: str, wanted: set[str]) -> None:
    found = {key: task for key, task in rulebook().tasks.items() if any(re.search(words, step, re.IGNORECASE) for step in task.steps)}
    assert found
    assert {key: sorted(wanted - set(task.cautions)) for key, task in found.items() if wanted - set(task.cautions)} == {}

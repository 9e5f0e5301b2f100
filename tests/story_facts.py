"""Reading the stories: tank, journal, the facts written by hand, and the pages that are kept beside them.

A fact names a day and one claim of the plan of that day. Which day a gate opened is claimed together with the journal
line that opened it, and is judged twice: with the line, and without it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import icalendar
import jsonschema
import yaml

from planner.files.calendar_log import ExportLog
from planner.files.journal import read_journal
from planner.files.tank import Tank, read_tank
from planner.judge.facts import zone_of
from planner.judge.figures import RESTS_ON
from planner.plan.day_jobs import Day, day_of
from planner.plan.make import make_plan
from planner.rulebook.read import load_rules, shipped
from planner.rulebook.shapes import Rulebook
from planner.show.calendar.calendar import calendar_from_plan
from planner.show.json.output_schema import schema_of
from planner.show.terminal.checklist import plan_lines
from planner.show.terminal.today import today_lines
from planner.show.words.causes import all_words
from planner.show.words.conditions import need_evidence, need_words
from planner.show.words.words import plain_text
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.suitability import TankForStock
from planner.stock.verdict import StockVerdict, Wish, judge_wishes
from planner.terms.records import Journal, Plan, Quantity, State, Task, Window, index_journal

STORIES = Path(__file__).parent.parent / "scenarios"
WIDTH = 80
NOW = (State.DUE, State.LATE)
CLOSED = (State.DONE, State.SKIPPED)


@dataclass(frozen=True, slots=True)
class Story:
    name: str
    folder: Path
    tank: Tank
    journal: Journal


@dataclass(frozen=True, slots=True)
class StoryFact:
    story: str
    on: date
    claim: dict[str, Any]
    say: str


@cache
def rulebook() -> Rulebook:
    book, problems = load_rules(shipped("rules"), figures=RESTS_ON)
    assert not problems, "\n".join(map(str, problems))
    return book


@cache
def story_of(name: str) -> Story:
    folder = STORIES / name
    tank, problems = read_tank((folder / "tank.yaml").read_bytes(), f"{name}/tank.yaml")
    assert tank is not None and not problems, "\n".join(map(str, problems))
    path = folder / "journal.csv"
    data = path.read_bytes() if path.exists() else b"when,kind,what,value,unit,where,note\n"
    journal, wrong = read_journal(data, f"{name}/journal.csv", tank, zone_of(tank))
    assert not wrong, "\n".join(map(str, wrong))
    return Story(name, folder, tank, journal)


@cache
def names() -> tuple[str, ...]:
    return tuple(sorted(p.parent.name for p in STORIES.glob("*/facts.yaml")))


@cache
def all_facts() -> tuple[StoryFact, ...]:
    return tuple(
        StoryFact(name, date.fromisoformat(str(raw["on"])), {k: v for k, v in raw.items() if k not in ("on", "say")}, raw["say"])
        for name in names() for raw in yaml.load((STORIES / name / "facts.yaml").read_text(encoding="utf-8"), Loader=yaml.CBaseLoader))


@cache
def catalogue() -> Catalogue:
    return load_catalogue([shipped("rules") / "livestock"])


@cache
def plan_of(name: str, on: date) -> Plan:
    story = story_of(name)
    return make_plan(story.tank, story.journal, rulebook(), on, catalogue=catalogue() if story.tank.wish_list else None)


@cache
def _validator(name: str) -> jsonschema.Draft202012Validator:
    """That a schema is sound is held in `test_document`."""
    return jsonschema.Draft202012Validator(schema_of(name))


def against_schema(document: dict[str, Any], name: str) -> list[str]:
    """What of a document breaks its schema."""
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message[:200]}" for e in _validator(name).iter_errors(document)]


def day_of_story(name: str, on: date) -> Day:
    """The page of a day as the command shows it."""
    story, animals = story_of(name), catalogue() if story_of(name).tank.wish_list else None
    return day_of(story.tank, story.journal, rulebook(), plan_of(name, on), lambda journal, day: make_plan(story.tank, journal, rulebook(), day, catalogue=animals))


def plan_without(name: str, on: date, line: int) -> Plan:
    """The plan as it would be had this journal line never been written."""
    story = story_of(name)
    kept = [r for r in story.journal.rows if r.line != line]
    assert len(kept) == len(story.journal.rows) - 1, f"{name}: journal line {line} holds no row"
    return make_plan(story.tank, index_journal(kept, story.journal.unreadable, story.journal.file), rulebook(), on, catalogue=catalogue() if story.tank.wish_list else None)


def failures(fact: StoryFact) -> list[str]:
    """What the plan says otherwise than the fact; empty if it holds."""
    claim, plan = dict(fact.claim), plan_of(fact.story, fact.on)
    wrong: list[str] = []
    if gate := claim.pop("gate", None):
        wrong += _gate(fact, plan, gate, claim)
    if (gate := claim.pop("hold", None)) and not any(h.gate == gate for h in plan.holds):
        wrong.append(f"nothing holds {gate}; on hold are {[h.gate for h in plan.holds]}")
    if gate := claim.pop("no_hold", None):
        wrong += [f"{gate} is on hold: {h.because}" for h in plan.holds if h.gate == gate]
    if name := claim.pop("amount", None):
        key = claim.get("due") or claim.get("firm")
        task = next((t for t in plan.tasks if t.key == key and t.state not in CLOSED), None)
        found_amount = dict(task.amounts).get(name) if task else None
        wrong += _figure(f"{name} of {key}", found_amount, float(claim.pop("value")), claim.pop("unit"), float(claim.pop("within", 0.005)))
    for word in ("due", "not_due", "late", "tentative", "firm", "absent", "waits"):
        if (key := claim.pop(word, None)) is not None:
            wrong += _task(plan, key, word)
    if key := claim.pop("date_of", None):
        wanted, found_day = date.fromisoformat(str(claim.pop("is"))), _date(plan, key)
        if found_day != wanted:
            wrong.append(f"{key} is on {found_day}, not {wanted}")
    if key := claim.pop("not_before", None):
        wanted, found_day = date.fromisoformat(str(claim.pop("is"))), _date(plan, key)
        if found_day is not None and found_day < wanted:
            wrong.append(f"{key} is on {found_day}, before {wanted}")
    if name := claim.pop("quantity", None):
        wrong += _figure(name, plan.quantity(name), float(claim.pop("value")), claim.pop("unit"), float(claim.pop("within", 0.005)))
    if animal := claim.pop("animal", None):
        wrong += _animal(fact, animal, claim.pop("lives") == "yes")
    if (pair := claim.pop("clash", None)) and not any(set(c.between) == set(pair) for c in stock_of(fact.story).conflicts):
        wrong.append(f"{' and '.join(pair)} do not clash; clashes are {[c.between for c in stock_of(fact.story).conflicts]}")
    if words := claim.pop("advice", None):
        said = [line for p in plan.phases for line in p.advice]
        if not any(words in line for line in said):
            wrong.append(f"no phase says {words!r}; said is {said}")
    if words := claim.pop("no_advice", None):
        wrong += [f"{p.id} says: {line}" for p in plan.phases for line in p.advice if words in line]
    assert not claim, f"no such claim: {claim}"
    return wrong


def _gate(fact: StoryFact, plan: Plan, gate: str, claim: dict[str, Any]) -> list[str]:
    phase = plan.phase(gate)
    if phase is None:
        return [f"there is no phase {gate}"]
    if claim.pop("shut", None):
        return [] if phase.opened is None else [f"{gate} opened on {phase.opened}"]
    wanted = date.fromisoformat(str(claim.pop("opened")))
    if phase.opened != wanted:
        needs = "; ".join(f"{need_words(n)}: {n.met} {need_evidence(n)}" for n in phase.needs if n.met != "yes")
        return [f"{gate} opened on {phase.opened}, not on {wanted} ({needs})"]
    line = int(claim.pop("by_line"))
    without = plan_without(fact.story, wanted, line).phase(gate)
    if without is not None and without.opened == wanted:
        return [f"{gate} opens on {wanted} without line {line} too"]
    return []


def _task(plan: Plan, key: str, word: str) -> list[str]:
    found = [t for t in plan.tasks if key in (t.key, t.id)]
    open_ones = [t for t in found if t.state not in CLOSED]
    told = ", ".join(f"{t.id} {t.state} {t.date}{' tentative' if t.tentative else ''}" for t in found[:4]) or "not in the plan"
    right = {
        "due": any(t.state in NOW for t in found), "not_due": not any(t.state in NOW for t in found), "late": any(t.state == State.LATE for t in found),
        "tentative": bool(open_ones) and all(t.tentative for t in open_ones), "firm": bool(open_ones) and not any(t.tentative for t in open_ones),
        "absent": not open_ones, "waits": any(t.state in (State.WAITING, State.ON_HOLD) for t in open_ones),
    }[word]
    return [] if right else [f"{key} is not {word.replace('_', ' ')}: {told}"]


def _date(plan: Plan, key: str) -> date | None:
    if key.startswith("gate/"):
        phase = plan.phase(key.removeprefix("gate/"))
        return (phase.opened or phase.window.likely) if phase else None
    return next((t.date for t in plan.tasks if key in (t.key, t.id) and t.state not in CLOSED), None)


def _figure(name: str, found: Quantity | None, value: float, unit: str, within: float) -> list[str]:
    if found is None:
        return [f"the plan has no {name}"]
    if found.unit != unit or abs(found.value - value) > within * abs(value):
        return [f"{name} is {found.value:.4g} {found.unit}, not {value:g} {unit} within {within:.1%}"]
    return []


@cache
def stock_of(name: str) -> StockVerdict:
    """The wish list of a story judged, before any filter has shown what it handles."""
    tank = story_of(name).tank
    litres = plan_of(name, tank.start or date(2026, 1, 1)).quantity("net_volume")
    assert litres is not None
    box = TankForStock(
        litres.value, tank.tank.length_cm, tank.tank.width_cm, sand_depth_cm=tank.sand.depth_cm, rock_kg=tank.rock.mass_kg,
        lid=tank.tank.lid, temperature_c=tank.water.temperature_c, light_par=tank.equipment.light.par if tank.equipment.light else None, experience="first")
    return judge_wishes(box, [Wish(w.animal, w.count) for w in tank.wish_list], load_catalogue([shipped("rules") / "livestock"]))


def _animal(fact: StoryFact, animal: str, lives: bool) -> list[str]:
    found = next((a for a in stock_of(fact.story).animals if a.animal_id == animal), None)
    if found is None:
        return [f"{animal} is not judged"]
    return [] if (found.verdict != "refused") == lives else [f"{animal} is {found.verdict}: {'; '.join(all_words((r.why for r in found.reasons), 'metric'))}"]


@dataclass(frozen=True, slots=True)
class Page:
    """One file kept beside a story. Of one story whole pages are kept (`plan-2026-03-10.txt`, `today-...txt`, `calendar-...ics`),
    of the others what they stand for: `states-...txt` (each gate and task with its state and dates) and `entries-...txt` (each
    entry of a calendar)."""

    path: Path
    story: str
    kind: str
    on: date


def page_of(path: Path) -> Page:
    kind, _, day = path.stem.partition("-")
    return Page(path, path.parent.parent.name, kind, date.fromisoformat(day))


@cache
def all_pages() -> tuple[Page, ...]:
    return tuple(page_of(path) for name in names() for path in sorted((STORIES / name / "expected").glob("*-*.*")))


def content_of(page: Page) -> bytes:
    """The page as the program writes it now, through the functions behind the commands, without a clock."""
    plan, rules = plan_of(page.story, page.on), rulebook()
    if page.kind == "calendar":
        return calendar_from_plan(plan, rules, ExportLog(), now=None)[0]
    if page.kind == "entries":
        return _listed(entries_told(calendar_from_plan(plan, rules, ExportLog(), now=None)[0]))
    if page.kind == "states":
        return _listed(states_told(plan))
    lines = plan_lines(plan, rules, WIDTH) if page.kind == "plan" else today_lines(day_of_story(page.story, page.on), rules, WIDTH)
    return (plain_text(lines).rstrip("\n") + "\n").encode("utf-8")


def _listed(lines: Iterable[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode("utf-8")


def states_told(plan: Plan) -> Iterator[str]:
    """One line for each gate and each task: state, likely day, quick and slow day. Of a task that comes again the next
    occurrence, else the last one that was closed."""
    for phase in plan.phases:
        yield f"{phase.state:8} {_day(phase.opened or phase.window.likely)} {_between(phase.window)}  gate/{phase.id}"
    for hold in plan.holds:
        yield f"{'hold':8} {hold.since} {'':24}  gate/{hold.gate}"
    told: dict[str, Task] = {}
    for task in plan.tasks:
        if task.key not in told or told[task.key].state in CLOSED:
            told[task.key] = task
    for task in told.values():
        yield f"{task.state:8} {_day(task.date)} {_between(task.window)}  {task.id}{' (tentative)' if task.tentative and task.state not in ('waiting', 'on_hold') else ''}"


def _day(day: date | None) -> str:
    return str(day) if day else "-".ljust(10)


def _between(window: Window) -> str:
    return f"{_day(window.earliest)} to {_day(window.latest)}"


def entries_told(ics: bytes) -> Iterator[str]:
    """One line for each entry of a calendar, as another program reads it: begin, start of the UID, sequence, title."""
    for event in icalendar.Calendar.from_ical(ics).walk("VEVENT"):
        yield f"{event.decoded('DTSTART').isoformat()[:16]:16}  {str(event['UID'])[:8]}  {event['SEQUENCE']}  {event['SUMMARY']}"


__all__ = ["Page", "Story", "StoryFact", "against_schema", "all_facts", "all_pages", "content_of", "day_of_story", "failures", "names", "plan_of", "rulebook", "story_of"]

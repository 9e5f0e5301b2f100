"""Entering tests: what is due first, the kit's own steps as buttons, how it was understood shown before anything is saved."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from markupsafe import Markup
from starlette.responses import Response

from planner.door.acts import Act, Desk, log_readings, vessel_questions
from planner.door.answered_tests import open_tests
from planner.door.entry_words import Entry
from planner.door.questions import task_key
from planner.door.write import desk_of
from planner.files.tank import Tank
from planner.judge.facts import animals_in, gather
from planner.plan.evening import LAST_READ, SETTLES_MINUTES
from planner.plan.one_test import off_scale
from planner.serve.asking import Ask, new_key
from planner.serve.entry import write
from planner.serve.markup import html, writer_for
from planner.serve.tanks import Seen
from planner.serve.test_form import DILUTED, SAMPLES, UNTOLD, USUAL_SAMPLE, WATER_WORDS, Result, entries_of, read_fields
from planner.serve.today_page import CautionShown, JobWriter, answer, wrong_words
from planner.show.words.understood import understood_words
from planner.show.words.words import short_day
from planner.terms.causes import Cause
from planner.terms.readings import READINGS, question_reading
from planner.terms.records import CLOSED, Row, Task
from planner.terms.row_words import in_words
from planner.terms.units import Refusal
from planner.terms.written_amounts import IONS, MOLECULES, NITROGEN

SENT = frozenset({"value", "unit", "off", "pick", "sample", "water", "day", "time", "shown"})
"""Fields of the form that the page of understanding sends on."""
CARD = (0, 1, 2, 4, 8, 16, 32)
"""The fields of a colour card as multiples of its smallest step (common practice, no source); what stands between is typed."""
UNITS: Mapping[str, tuple[str, ...]] = {
    "salinity": ("ppt", "SG 25/25", "SG 20/20", "SG 20/4", "SG 60F/60F", "mS/cm at 25 C"), "temperature": ("°C", "°F"), "ph": ("",), "alkalinity": ("dKH", "ppm", "meq/L"),
    "calcium": ("mg/L",), "magnesium": ("mg/L",), "phosphate": ("mg/L", "ppb P"), "oxygen": ("mg/L",), "tds": ("mg/L",), "chlorine": ("mg/L",),
}


@dataclass(frozen=True, slots=True)
class ReadingAsked:
    """One reading of the form: its name, title and water, the units to choose from with the usual one first, the steps of the kit's card,
    and the top of its scale."""

    field: str
    name: str
    title: str
    water: str
    units: tuple[str, ...]
    steps: tuple[str, ...]
    highest: str
    last: str
    settle: int
    samples: Mapping[str, str]
    """By how much a result counts, and how such a sample is mixed; none where nobody dilutes."""
    thinned: str = ""
    """The sample that the job asks for, chosen beforehand; empty for plain tank water, and UNTOLD where nobody but the keeper can tell."""


@dataclass(frozen=True, slots=True)
class TestShown:
    id: str
    title: Markup
    cautions: tuple[CautionShown, ...]
    reminders: str
    number: int
    amounts: tuple[Markup, ...]
    steps: tuple[Markup, ...]
    watch: tuple[Markup, ...]
    why_now: tuple[Markup, ...]
    known: bool
    reads: tuple[ReadingAsked, ...]


def tests(ask: Ask) -> Response:
    """Tests that are due, each with its readings; then every other reading."""
    return _tests(ask)


def _tests(ask: Ask, wrong: Sequence[Markup] = (), field: str = "") -> Response:
    """The page; after a refusal with what was filled in, what is wrong with it, and the reading that it is about."""
    seen = ask.look()
    with seen.lock:
        write_text = writer_for(seen, ask.base)
        day, jobs = seen.day, JobWriter(seen, seen.day, write_text)
        shown = []
        for job in (j for j in day.jobs if j.task.reads and j.standing == "open"):
            made = jobs.shown(job)
            shown.append(TestShown(job.task.id, made.words, made.cautions, made.reminders, job.number, made.amounts, made.steps, made.watch, made.why_now, job.known, readings_of(job.task, seen)))
        unsure = beyond_the_card(seen)
        others = [replace(asked_reading(name, "display", seen), thinned=UNTOLD if name in unsure else "") for name in READINGS]
    given = {name: values[-1] for name, values in ask.form.items()}
    return ask.show("test.html", 422 if wrong else 200, given=given, wrong=wrong, field=field, active="test", tank_name=seen.plan.name, tests=shown, others=others, waters=WATER_WORDS, water=the_only_water(seen))


def beyond_the_card(seen: Seen) -> frozenset[str]:
    """Readings whose next test in the tank may be of a diluted sample: the last lay at the end of the card, or a test to come asks for it."""
    coming = {name for t in seen.plan.tasks if t.state not in CLOSED and t.where == "display" for name in thinned_in(t, seen)}
    return DILUTED & (coming | set(off_scale(tuple(DILUTED), "display", gather(seen.tank, seen.folder.journal, seen.folder.on))))


def the_only_water(seen: Seen) -> str:
    """The tank, where no other water is asked for and no animal waits in one; else empty, since nobody but the keeper can tell."""
    others = any(t.where != "display" for t in open_tests(seen.plan, seen.folder.on)) or animals_in(gather(seen.tank, seen.folder.journal, seen.folder.on), "quarantine")
    return "" if others else "display"


def readings_of(task: Task, seen: Seen) -> tuple[ReadingAsked, ...]:
    """The readings of a test in the order to take them."""
    thinned = thinned_in(task, seen)
    return tuple(asked_reading(name, task.where, seen, name in thinned) for name in sorted(task.reads, key=lambda r: LAST_READ.index(r) if r in LAST_READ else -1))


def thinned_in(task: Task, seen: Seen) -> frozenset[str]:
    """The readings for which a test asks for a diluted sample."""
    rule = seen.folder.rules.tasks.get(task.key)
    if rule is not None and rule.diluted:
        return frozenset(task.reads)
    asked = [dict(why.values)["readings"] for why in task.steps if isinstance(why, Cause) and why.kind == "dilute"]
    return frozenset(name for names in asked if isinstance(names, tuple) for name in names if isinstance(name, str))


def asked_reading(name: str, water: str, seen: Seen, thinned: bool = False) -> ReadingAsked:
    kit = seen.tank.test_kits.get(name)
    units = units_of(name, seen.tank)
    rows = [r for r in seen.folder.journal.of("reading", name, seen.folder.on) if r.where == water]
    last = rows[-1] if rows else None
    if last is not None and last.unit in units:  # as it was written last
        units = (last.unit, *(u for u in units if u != last.unit))
    steps: tuple[str, ...] = ()
    highest = ""
    if kit is not None and kit.step and name in DILUTED:
        top = kit.highest if kit.highest else math.inf
        steps = tuple(f"{kit.step * n:g}" for n in CARD if kit.step * n < top)
        steps += (f"{top:g}",) if math.isfinite(top) else ()
        highest = f"{top:g}" if math.isfinite(top) else ""
    topped_up = name == "salinity" and any(r.kind == "done" and task_key(r.what) in seen.folder.rules.tasks_as("top_up") and r.day == seen.folder.on for r in seen.folder.journal.rows)
    return ReadingAsked(f"{name}.{water}", name, READINGS[name].title, "" if water == "display" else water, units, steps, highest, in_words(f"{last.value} {last.unit}".strip()) if last is not None else "", SETTLES_MINUTES if topped_up else 0, SAMPLES if name in DILUTED else {}, USUAL_SAMPLE if thinned and name in DILUTED else "")


def units_of(name: str, tank: Tank) -> tuple[str, ...]:
    """The units in which somebody may read it, the likely one first. Without a described kit a nitrogen unit has to be chosen."""
    if name in NITROGEN:
        kit = tank.test_kits.get(name)
        of = tuple(dict.fromkeys(("N", IONS[name], *MOLECULES[name])))
        if kit is not None and kit.basis is not None:
            own = IONS[name] if kit.basis == "ion" else kit.basis
            return (f"mg/L as {own}", *(f"mg/L as {o}" for o in of if o != own))
        return ("", *(f"mg/L as {o}" for o in of))
    units = UNITS[name]
    return tuple(reversed(units)) if name == "temperature" and tank.units == "us" else units


# --- what was sent


def check(ask: Ask) -> Response:
    """How the results were understood; nothing is written yet."""
    seen = ask.look()
    write_text = writer_for(seen, ask.base)
    read = _entries(ask, seen)
    if isinstance(read, Refusal):
        return _tests(ask, list(wrong_words(read, write_text)), _wrong_field(ask, seen))
    said, entries, at = read
    if not entries:
        return _tests(ask, [html("Enter at least one result, then go on.")])
    desk = desk_of(seen.folder, seen.tank, ask.said_at, seen.plan)
    vessels = [] if isinstance(desk, Refusal) else list(map(write_text.html, vessel_questions(desk, entries)))
    return ask.show("check.html", active="test", tank_name=seen.plan.name, key=ask.one("key") or new_key(), read=[_understood(e.row, one, seen) for one, e in zip(said, entries, strict=True)], when=at,
                    questions=[html(q) for e in entries if (q := _doubt(e.row))] + vessels, fields=[(f, v[-1]) for f, v in ask.form.items() if f.split(":")[0] in SENT and v[-1].strip()], next=ask.one("next"))


def save(ask: Ask) -> Response:
    """Write the results as the command `log` does; the keeper has seen how they were understood."""

    def act(desk: Desk) -> Act | Refusal:
        said = read_fields(ask.form)
        if not said:
            return Refusal("nothing-read", "There was no number in that form", "enter it again")
        read = said if isinstance(said, Refusal) else entries_of(desk, said)
        found = read if isinstance(read, Refusal) else log_readings(desk, read)
        # What is not probable was asked about on the page before.
        return found if isinstance(found, Refusal) else replace(found, questions=())

    return answer(ask, write(ask, act, sure=True), ask.one("next") or ask.base)


def _entries(ask: Ask, seen: Seen) -> tuple[list[Result], list[Entry], str] | Refusal:
    """What was sent, what will be written, and when it was if not now."""
    said = read_fields(ask.form)
    if isinstance(said, Refusal):
        return said
    desk = desk_of(seen.folder, seen.tank, ask.said_at, seen.plan)
    if isinstance(desk, Refusal):
        return desk
    read = entries_of(desk, said)
    when = desk.stamp.when
    at = short_day(desk.stamp.day, seen.folder.on) + (f", {when:%H:%M}" if isinstance(when, datetime) else ", no time given")
    return read if isinstance(read, Refusal) else (said, read, at if ask.said_at is not None else "")


def _wrong_field(ask: Ask, seen: Seen) -> str:
    """The reading of a refused form that is refused by itself."""
    for rest in dict.fromkeys(name.partition(":")[2] for name in ask.form if name.startswith(("value:", "pick:"))):
        alone = replace(ask, form={name: values for name, values in ask.form.items() if name.partition(":")[2] == rest})
        if isinstance(_entries(alone, seen), Refusal):
            return rest
    return ""


def _understood(row: Row, result: Result, seen: Seen) -> tuple[str, str, str]:
    """Title, value and how it was understood; that nothing was assumed is said too."""
    title = READINGS[row.what].title + ("" if row.where == "display" else f", {row.where} water")
    thinned = f"The diluted sample read {result.shown}, times {result.times}." if result.times != 1 else ""
    return title, in_words(f"{row.value} {row.unit}".strip()), in_words(" ".join(filter(None, (thinned, understood_words(row, result.unit, seen.tank.units, result.shown if result.times == 1 else "")))))


def _doubt(row: Row) -> str:
    return question_reading(row.what, row.low or 0.0, row.high if row.high is not None else 0.0, row.value, row.unit) or "" if row.low is not None and row.where in ("display", "quarantine", "mixing") else ""


__all__ = ["asked_reading", "check", "readings_of", "save", "tests", "thinned_in", "units_of"]

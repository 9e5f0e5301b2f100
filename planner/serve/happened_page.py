"""Emergency, one touch from everywhere: what to do at once, and writing down what happened. And any other fact that is no job."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup
from starlette.responses import Response

from planner.door import entry_words as entries
from planner.door.acts import Act, Desk, tick_of_dose
from planner.door.animal_warnings import of_arrival, of_loss
from planner.door.folder import read_animals
from planner.door.questions import collisions, doubt_of
from planner.door.write import desk_of
from planner.files.journal import confirmed
from planner.files.journal_form import NewRow
from planner.rulebook.events import FIRST_OF_ALL, event_called, event_leading, events_sharing, speaks_of_danger
from planner.rulebook.kinds.event import EventNode
from planner.rulebook.shapes import AlertRule, Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import leaves
from planner.rulebook.what_jobs_do import RANKS
from planner.serve.asking import Ask, Broken
from planner.serve.entry import write
from planner.serve.markup import Writer, html, writer_for
from planner.serve.tanks import Seen
from planner.serve.test_form import WATER_WORDS
from planner.serve.today_page import answer
from planner.show.terminal.eventlist import events_told
from planner.show.terminal.joblines import caution_keyword
from planner.show.terminal.taskcard import WEIGHTS
from planner.show.words.words import listed
from planner.terms.causes import Cause
from planner.terms.journal_words import DOSES
from planner.terms.records import CLOSED, URGENT, WATERS, index_journal
from planner.terms.units import Refusal

SHOCK = "shock"
OWN_TITLES = {"palytoxin": "A polyp squirted (zoa, palythoa): eye, skin, steam"}
"""What somebody sees, where the title of the alarm names what only a book knows."""
NOT_OPEN = "The tank is not open. Are they really in it?"
_BOTH = re.compile(r"([0-9.]+\s°C) \(([0-9.]+\s°F)\)")
"""A temperature that a rule writes in both units; a page has one."""
MOST_SAID = 120
NEEDS_A_VALUE = frozenset({"bought"})
"""What is no event without saying how much."""
ABOUT_WHAT = frozenset({"unknown-animal", "what-missing"})
"""Refusals of what it was; all others are of how much."""
CHANGES = ("changed_water", "poured", "dosed", "added", "lost")


@dataclass(frozen=True, slots=True)
class AtOnce:
    heading: str
    cautions: tuple[tuple[str, str, Markup], ...]
    """Weight, its word, and the line that protects; each stands once on the page, and by its keyword afterwards."""
    again: str
    say: Markup
    steps: tuple[Markup, ...]
    watch: tuple[Markup, ...]
    event: str


def emergency(ask: Ask) -> Response:
    """What to do at once, then what happened. It needs no paired device to be read. What endangers people stands on it in full, since
    a phone keeps this page for when there is no network."""
    try:
        seen = ask.look()
    except Broken as broken:
        # What stands in a file may be wrong on the very day on which the floor is wet.
        write_text = Writer(broken.folder, ask.base)
        return ask.show("emergency.html", active="emergency", at_once=_at_once(write_text), people=[one for event, title in titles_of(write_text.rules) if (one := _for_people(event, title, write_text)) is not None],
                        events=[], alarms=0, said="", found=[], first_of_all="", broken=True)
    said, write_text = ask.query.get("said", "").strip()[:MOST_SAID], writer_for(seen, ask.base)
    told = [(event, title) for event, title in titles_of(write_text.rules) if event not in NEEDS_A_VALUE]
    people = [one for event, title in told if any(a.place == "people" for a in _alarms_of(event, write_text.rules)) and (one := at_once_for(event, title, seen, ask.base)) is not None]
    shown = {one.event for one in people}
    urgent = [t for t in seen.plan.tasks if t.state in URGENT and t.phase in {a.alert for a in seen.folder.rules.alerts}]
    return ask.show("emergency.html", active="emergency", tank_name=seen.plan.name, broken=False, at_once=_at_once(write_text), people=people, events=[e for e in told if e[0] not in shown],
                    alarms=len(urgent), said=said, found=found_by(said, told), first_of_all=FIRST_OF_ALL if speaks_of_danger(entries.event_word(said)) else "")


def titles_of(rules: Rulebook) -> tuple[tuple[str, str], ...]:
    """(event, its title), with the words by which somebody in a hurry looks for it."""
    return tuple((event, OWN_TITLES.get(event, title)) for event, title in events_told(rules))


def found_by(said: str, told: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """Events of which a sentence may speak, the one that it names first."""
    word, titles = entries.event_word(said), dict(told)
    named = event_called(word, titles) if word else None
    leading = event_leading(said.split(), titles) if said else None
    return [(e, titles[e]) for e in dict.fromkeys([*([named] if named else []), *([leading[0]] if leading else []), *events_sharing(word, list(titles), 5)])] if word else []


def _at_once(write_text: Writer) -> list[AtOnce]:
    rules = write_text.rules
    found, warned = list[AtOnce](), set[str]()
    caution = rules.cautions.get(SHOCK)
    if caution is not None:
        found.append(AtOnce(caution.title, (), "", write_text.html(caution.line), (write_text.html(caution.text), write_text.html(caution.defer)), (), ""))
    for alert in sorted(rules.alerts, key=lambda a: a.order):
        if (aid := alert.first_aid) is not None:
            event = next((leaf.what for leaf, turned in leaves(alert.when) if isinstance(leaf, EventNode) and not turned), "")
            found.append(_first_aid(aid.heading, alert, next(t for t in alert.tasks if t.id == aid.task), event, write_text, warned))
    return found


def at_once_for(event: str, title: str, seen: Seen, base: str) -> AtOnce | None:
    """What to do first after an event, by the first job of the alarm that it raises; None where it raises none."""
    alerts = _alarms_of(event, seen.folder.rules)
    if not alerts:
        return None
    if len(alerts) > 1:  # which of them it is, this tank's own plan knows
        up = _raised(event, seen)
        alerts = [a for a in alerts if a.alert in up] or sorted(alerts, key=lambda a: RANKS.index(a.place))
    alert = alerts[0]
    return _first_aid(title, alert, alert.tasks[0], event, writer_for(seen, base), set())


def _for_people(event: str, title: str, write_text: Writer) -> AtOnce | None:
    """The same for what endangers people, whatever the tank is."""
    alert = next((a for a in _alarms_of(event, write_text.rules) if a.place == "people"), None)
    return _first_aid(title, alert, alert.tasks[0], event, write_text, set()) if alert is not None else None


def _alarms_of(event: str, rules: Rulebook) -> list[AlertRule]:
    """Alarms that listen to an event and ask for something."""
    return [a for a in rules.alerts if a.tasks and any(isinstance(leaf, EventNode) and not turned and leaf.what == event for leaf, turned in leaves(a.when))]


def _raised(event: str, seen: Seen) -> set[str]:
    """Alarms with open jobs once the event stands in the journal."""
    read, desk = seen.folder, desk_of(seen.folder, seen.tank, None, seen.plan)
    if isinstance(desk, Refusal):
        return set()
    made = entries.checked(NewRow(desk.stamp.text, "event", event, "", "", "display", ""), desk.tank, desk.facts.zone)
    if isinstance(made, Refusal):
        return set()
    return {t.phase for t in seen.make(index_journal((*read.journal.rows, made.row), read.journal.unreadable, read.journal.file), read.on).tasks if t.state not in CLOSED}


def _first_aid(heading: str, alert: AlertRule, task: TaskRule, event: str, write_text: Writer, warned: set[str]) -> AtOnce:
    rules = write_text.rules
    fresh = [c for c in task.cautions if c in rules.cautions and c not in warned]
    again = ", ".join(caution_keyword(c) for c in task.cautions if c in warned)
    warned.update(fresh)
    cautions = tuple((rules.cautions[c].weight, WEIGHTS[rules.cautions[c].weight], write_text.html(rules.cautions[c].line or rules.cautions[c].title)) for c in sorted(fresh, key=lambda c: list(WEIGHTS).index(rules.cautions[c].weight)))

    def filled(texts: Sequence[str]) -> tuple[Markup, ...]:
        return tuple(html(_BOTH.sub(r"\2" if write_text.units == "us" else r"\1", write_text(said))) for t in texts if (said := write_text.fill(t)))

    return AtOnce(heading, cautions, again, write_text.html(write_text.fill(alert.say)), filled(task.steps), filled(task.watch), event)


def happened(ask: Ask) -> Response:
    """What to do first after one thing that happened, named in the address, and the form for it; writing it down is a touch of its own."""
    seen, what = ask.look(), ask.query.get("what", "")
    titles = dict(titles_of(seen.folder.rules))
    if what not in titles:
        return ask.go(f"{ask.base}/emergency")
    where = ask.query.get("where", "display")
    with seen.lock:
        first = at_once_for(what, titles[what], seen, ask.base)
    return ask.show("happened.html", active="emergency", tank_name=seen.plan.name, what=what, title=titles[what], where=where if where in WATERS else "display", first=first)


def note_event(ask: Ask) -> Response:
    """Write an event down."""
    what, where = ask.one("what"), ask.one("where") or "display"

    def act(desk: Desk) -> Act | Refusal:
        if what not in dict(events_told(desk.rules)) or where not in WATERS:
            return Refusal("unknown-event", "This page is out of date", "open it again")
        return _row(desk, NewRow(desk.stamp.text, "event", what, "", "", where, entries.safe_text(ask.one("remark"))))

    return answer(ask, write(ask, act), ask.base)


def failed(ask: Ask) -> Response:
    """The form for a check that failed."""
    seen, job = ask.look(), ask.query.get("job", "")
    rule = seen.folder.rules.tasks.get(job)
    if rule is None:
        return ask.go(ask.base)
    write_text = writer_for(seen, ask.base)
    return ask.show("failed.html", tank_name=seen.plan.name, job=job, title=write_text.html(write_text.fill(rule.title)))


def note_failed(ask: Ask) -> Response:
    """Write down that a check failed."""
    job = ask.one("job")

    def act(desk: Desk) -> Act | Refusal:
        key = job.partition("#")[0]
        if key not in desk.rules.tasks:
            return Refusal("unknown-task", "That job is not in this plan", "look at today's list")
        return _row(desk, NewRow(desk.stamp.text, "event", "failed", "", "", desk.rules.tasks[key].where, f"{job} {entries.safe_text(ask.one('remark'))}".strip()))

    return answer(ask, write(ask, act), ask.base)


# --- any other fact


def more(ask: Ask) -> Response:
    """Other things that were done, the calendar, paper, devices."""
    return _more(ask)


def _more(ask: Ask, wrong: Sequence[Markup] = (), field: str = "") -> Response:
    """The page; after a refusal with what was filled in, what is wrong with it, and the field that it is about."""
    seen, given = ask.look(), {name: values[-1] for name, values in ask.form.items()}
    return ask.show("more.html", 422 if wrong else 200, active="more", tank_name=seen.plan.name, doses=sorted(DOSES), waters=WATER_WORDS, units=seen.tank.units, given=given, wrong=wrong, field=field)


def note_fact(ask: Ask) -> Response:
    """A water change, a dose, a top-up, animals that came or died."""
    kind, what, value = ask.one("kind"), ask.one("what"), ask.one("value")
    sure = ask.one("sure") == "yes"

    def act(desk: Desk) -> Act | Refusal:
        if kind not in CHANGES or (ask.one("where") or "display") not in WATERS:
            return Refusal("unknown-kind", "This page is out of date", "open it again")
        if kind == "poured" and what not in ("water", "fresh"):
            # What is topped up is no more water than was there before; salt water is, and every dose follows.
            return Refusal("what-missing", "Which water was it?", "choose mixed salt water, or pure water for a top-up")
        found = entries.split_fact([kind, what if kind != "changed_water" else "water", *([value] if value else [])], entries.known_events(desk.rules))
        if isinstance(found, Refusal):
            return found
        _, said, number, unit = found
        where = ask.one("where") or "display"
        questions: list[str] = []
        warnings: list[str | Cause] = []
        if kind in ("added", "lost"):
            catalogue = desk.catalogue or read_animals(ask.look().folder.livestock)
            match = catalogue.find(said)
            if match.animal is None:
                return Refusal("unknown-animal", f"We do not know “{said}”" + (f". It may be {listed(near, 'or')}" if (near := [a.name for id in match.candidates[:4] if (a := catalogue.get(id)) is not None]) else ""), "write its common or scientific name")
            said = match.animal.id
            count = max(1, round(float(number))) if number else 1
            if kind == "lost":
                told = of_loss(desk, catalogue, said, count, where)
                if isinstance(told, Refusal):
                    return told
                questions += [told] if told else []
            elif where == "display":
                gate = desk.plan.phase_as("opens_to_animals")
                questions += [NOT_OPEN] if gate is not None and gate.opened is None else []
                warnings += list(of_arrival(desk, catalogue, said, count))
        if kind == "dosed" and not number:
            return Refusal("amount-missing", "How much was it?", "write the rise, such as 2 mg/L as N, or the mass, such as 4.1 g")
        row = NewRow(desk.stamp.text, kind, said, number, unit, where, "")
        return _row(desk, row, [*questions, *collisions(desk, row)], warnings)

    done = write(ask, act, sure)
    about = "what" if done.refusal is not None and done.refusal.code in ABOUT_WHAT else "value"
    return answer(ask, done, ask.base, lambda wrong: _more(ask, wrong, about))


def _row(desk: Desk, row: NewRow, questions: Sequence[str] = (), warnings: Sequence[str | Cause] = ()) -> Act | Refusal:
    """One row as an act, with what it has to be asked about."""
    made = entries.checked(row, desk.tank, desk.facts.zone)
    if isinstance(made, Refusal):
        return made
    asked = list(questions)
    if (doubt := doubt_of(desk, made.row)) is not None:
        asked.append(doubt)
        made = entries.Entry(replace(made.new, note=confirmed(made.new.note)), replace(made.row, note=confirmed(made.row.note)))
    tick = tick_of_dose(desk, made)
    ticked = entries.checked(tick, desk.tank, desk.facts.zone) if tick is not None else None
    return Act((made, *((ticked,) if isinstance(ticked, entries.Entry) else ())), tuple(asked), tuple(warnings))


__all__ = ["emergency", "failed", "happened", "more", "note_event", "note_fact", "note_failed"]

"""Today: what is dangerous, where we are, what must not happen yet, today's jobs with their ticks, what changed, what comes soon."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from markupsafe import Markup
from starlette.responses import Response

from planner.door.acts import Act, Desk, tick_tasks, writes_an_amount
from planner.door.put_off import postpone_tasks, skip_tasks, stands_with_its_alarm
from planner.plan.day_jobs import Day, Job
from planner.plan.evening import endangered, is_rescue
from planner.plan.places import asks_first
from planner.serve.asking import Ask
from planner.serve.did import did
from planner.serve.entry import Outcome, key_of, undo, write
from planner.serve.markup import Writer, html, sheet_for, writer_for
from planner.serve.tanks import Seen
from planner.show.terminal.agenda import next_tasks
from planner.show.terminal.joblines import as_printed, asked_if_done, caution_keyword, count_words, job_words, maybe_words, standing_words
from planner.show.terminal.taskcard import WEIGHTS, amount_words
from planner.show.terminal.today import long_day, write_alarm_sentences, write_not_yet, write_where_we_are
from planner.show.terminal.today_tail import changed_words, notices_of_day, when_next_words
from planner.show.words.causes import cause_words
from planner.show.words.hand import plan_by_hand
from planner.show.words.together import yielded_words
from planner.show.words.words import late_words, short_day
from planner.terms.causes import Cause
from planner.terms.records import State, Yielded
from planner.terms.units import Refusal

COUNTED = frozenset({"added", "lost"})
"""Facts whose amount is a number of animals: what is asked about them is never a slip of the amount."""


@dataclass(frozen=True, slots=True)
class CautionShown:
    """A caution before the step it guards: its weight as a word, the line that protects, and the rest of it."""

    weight: str
    word: str
    line: Markup
    more: Markup


@dataclass(frozen=True, slots=True)
class JobShown:
    number: int
    id: str
    words: Markup
    marks: str
    standing: str
    is_test: bool
    with_amount: bool
    known: bool
    cautions: tuple[CautionShown, ...]
    reminders: str
    amounts: tuple[Markup, ...]
    steps: tuple[Markup, ...]
    watch: tuple[Markup, ...]
    why_now: tuple[Markup, ...]
    rescues: bool = False
    """Help against what may kill: its steps are read at once."""
    waits: bool = True
    """Whether it may be left out; what helps people may not."""
    moves: bool = True
    """Whether it may be put off; what an alarm asks for may not."""


def today(ask: Ask) -> Response:
    """The page of this day."""
    seen = ask.look()
    with seen.lock:
        return _page(ask, seen)


def _page(ask: Ask, seen: Seen) -> Response:
    write_text = writer_for(seen, ask.base)
    day = seen.day
    shown = replace(day, plan=plan_by_hand(day.plan, write_text))
    rules = seen.folder.rules
    sheet, page = sheet_for(shown.plan, rules, ask.base, {j.task.id: j.number for j in day.jobs})
    said = write_alarm_sentences(sheet, rules)
    alarms, page.entries = page.groups(), []
    write_where_we_are(sheet, day.standing)
    where, page.entries = page.groups(), []
    write_not_yet(sheet, shown, said, rules)
    not_yet, page.entries = page.groups(), []
    now, wait, closed = as_printed(day, rules)
    jobs = JobWriter(seen, day, write_text)
    changed = changed_words(shown, 10_000)
    notices = notices_of_day(shown.plan, said)
    coming = next_tasks(shown.plan)
    maybe = maybe_words(coming, day)
    came = [t for t in shown.plan.tasks if any(y.way == "asked" for y in t.yielded) and t.state not in (State.DONE, State.SKIPPED) and (t.due is None or t.due <= day.plan.on)]
    return ask.show(
        "today.html", active="today", tank_name=day.plan.name, day=long_day(day.plan.on), cycle_day=day.standing.day if day.standing is not None else None,
        problems=len(day.plan.problems), danger=endangered(day, rules), alarms=shown_groups(alarms), where=shown_groups(where), not_yet=shown_groups(not_yet),
        did_they_come=[(t.id, t.title) for t in came],
        now=[jobs.shown(j) for j in now], wait=[jobs.shown(j) for j in wait], closed=[jobs.shown(j) for j in closed],
        count=count_words(now, wait) if now else "", nothing=("All done. " if day.jobs else "Nothing to do. ") + when_next_words(shown.plan) if not now else "",
        changed=html(changed), notices=[write_text.html(cause_words(n, day.plan.units)) for n in notices],
        soon=[(when, [(maybe[t.id] + write_text(job_words(t, rules, day.plan.units)), t.minutes) for t in jobs])
              for when, jobs in groupby(coming, lambda t: short_day(t.date, day.plan.on).rpartition(" ")[0] if t.date else "")],
        did=did(ask, seen, write_text, shown.plan))


def shown_groups(groups: Sequence[tuple[str, Sequence[tuple[str, str]]]]) -> list[tuple[str, list[tuple[Markup, str]]]]:
    return [(label, [(html(text), role) for text, role in texts]) for label, texts in groups]


class JobWriter:
    """The jobs of a day for the page. A caution stands in full before the first job that needs it, and by its keyword before others."""

    def __init__(self, seen: Seen, day: Day, write_text: Writer) -> None:
        self.seen, self.day, self.write = seen, day, write_text
        self.numbers = {j.task.id: j.number for j in day.jobs}
        self.warned: set[str] = set()
        self.taken_in = {str(title): j.task for j in day.jobs for why in j.task.because if isinstance(why, Cause) and why.kind == "tests_too" and isinstance(titles := dict(why.values)["titles"], tuple) for title in titles}
        self.for_people = {a.alert for a in seen.folder.rules.alerts if a.place == "people"}

    def shown(self, job: Job) -> JobShown:
        task, rules, units = job.task, self.seen.folder.rules, self.day.plan.units
        rule = rules.tasks.get(task.key)
        marks = [] if job.known or job.standing != "open" else ["new to you"]
        marks += [late] if job.standing == "open" and (late := late_words(task, self.day.plan.on)) else []
        fresh = [key for key in task.cautions if key in rules.cautions and key not in self.warned] if job.standing == "open" else []
        again = [key for key in task.cautions if key in rules.cautions and key not in fresh] if job.standing == "open" else []
        self.warned.update(fresh)
        return JobShown(
            job.number, task.id, self.write.html(job_words(replace(task, title=self.write(task.title)), rules, units)), ", ".join(marks), standing_words(job, self.day.plan), task.by_readings,
            bool(task.animals) or (rule is not None and rule.writes is not None and rule.writes.kind != "event"), job.known, tuple(map(self._caution, fresh)), ", ".join(map(caution_keyword, again)),
            tuple(self.write.html(amount_words(name, made, units)) for name, made in task.amounts), tuple(map(self.write.html, task.steps)), tuple(map(self.write.html, task.watch)),
            tuple(self.write.html(yielded_words(self._as_listed(y), self.numbers)) for y in task.yielded if y.way != "asked"), is_rescue(job, rules), task.phase not in self.for_people, not stands_with_its_alarm(task.id, rules))

    def _as_listed(self, why: Yielded) -> Yielded:
        """A test that another one does today stands on the list under the other's name."""
        job = self.taken_in.get(str(why.title)) if why.to not in self.numbers else None
        return replace(why, to=job.id, title=self.write(job.title)) if job is not None else why

    def _caution(self, key: str) -> CautionShown:
        caution = self.seen.folder.rules.cautions[key]
        return CautionShown(caution.weight, WEIGHTS[caution.weight], self.write.html(caution.line or caution.title), self.write.html(f"{caution.title}.", caution.text, caution.defer))


# --- what a keeper does on it


def done(ask: Ask) -> Response:
    """Tick a job, with the amount if it was another one than planned."""
    ids = ask.all("job")
    amount, sure = ask.one("amount"), ask.one("sure") == "yes"

    def act(desk: Desk) -> Act | Refusal:
        known = _known(desk, ids)
        if isinstance(known, Refusal):
            return known
        found = tick_tasks(desk, known, amounts={id: amount for id in known if amount and writes_an_amount(desk, id)})
        if isinstance(found, Refusal) or found.questions:
            return found
        first = [t for id in known if (t := desk.plan.task(id)) is not None and asks_first(t, desk.rules)]
        return replace(found, questions=tuple(asked_if_done(t, desk.rules, desk.tank.units, found.amounts if amount else ()) for t in first)) if not sure else found

    return answer(ask, write(ask, act, sure), ask.one("next") or ask.base)


def skip(ask: Ask) -> Response:
    """Leave a job out."""
    return answer(ask, write(ask, lambda desk: _each(desk, ask.all("job"), lambda ids: skip_tasks(desk, ids))), ask.base)


def postpone(ask: Ask) -> Response:
    """Put a job off to a day."""
    try:
        to = date.fromisoformat(ask.one("to"))
    except ValueError:
        return ask.say("Which day?", "Choose the day to which you put it off.", 422)
    return answer(ask, write(ask, lambda desk: _each(desk, ask.all("job"), lambda ids: postpone_tasks(desk, ids, to))), ask.base)


def take_it_back(ask: Ask) -> Response:
    """Take an entry back by its tag."""
    outcome = undo(ask, ask.one("tag"))
    if outcome.problems:
        return answer(ask, outcome, ask.base)
    to = ask.one("next") if ask.one("next").startswith("/") and not ask.one("next").startswith("//") else ask.base
    return ask.go(to, did=ask.one("tag"))


def _each(desk: Desk, ids: Sequence[str], act: Callable[[list[str]], Act | Refusal]) -> Act | Refusal:
    known = _known(desk, ids)
    return known if isinstance(known, Refusal) else act(known)


def _known(desk: Desk, ids: Sequence[str]) -> list[str] | Refusal:
    """Jobs by their ids, as the page wrote them."""
    wrong = [id for id in ids if id.partition("#")[0] not in desk.rules.tasks or (desk.plan.task(id) is None and "#" in id and not id.partition("#")[2].isdigit())]
    return Refusal("unknown-task", "That job is not in this plan any more", "look at today's list again") if wrong or not ids else list(dict.fromkeys(ids))


def answer(ask: Ask, outcome: Outcome, to: str, again: Callable[[list[Markup]], Response] | None = None) -> Response:
    """Where an entry leads: on, to a question, or to why it was not written. `again`: the form that was filled in, with what is wrong in it."""
    to = to if to.startswith("/") and not to.startswith("//") else ask.base
    if outcome.written:
        return ask.go(to, **({"did": key_of(ask)} if ask.one("key") else {}))
    write_text = writer_for(ask.look(), ask.base)
    if outcome.questions:
        fields = [(name, value) for name, values in ask.form.items() for value in values if name != "sure"]
        amount = next((name for name in ("amount", "value") if ask.one(name) and ask.one("kind") not in COUNTED), "")
        return ask.show("sure.html", questions=[write_text.html(q) for q in outcome.questions], warnings=[write_text.html(w) for w in outcome.warnings], fields=fields, to=ask.path, amount=amount)
    if again is not None and outcome.refusal is not None:
        return again(list(wrong_words(outcome.refusal, write_text)))
    return refused(ask, outcome, write_text)


def refused(ask: Ask, outcome: Outcome, write_text: Writer) -> Response:
    if outcome.refusal is not None:
        amount = outcome.refusal.code == "amount-missing"
        fields = [(name, value) for name, values in ask.form.items() for value in values if name != "amount"]
        return ask.show("refused.html", 422, said=list(wrong_words(outcome.refusal, write_text)), asks_amount=amount, fields=fields, to=ask.path)
    busy = any(p.code in ("journal-busy", "journal-changed") for p in outcome.problems)
    return ask.show("refused.html", 503 if busy else 507, said=[write_text.sentences(p.message, p.fix) for p in outcome.problems], asks_amount=False, fields=[], to=ask.path)


def wrong_words(refusal: Refusal, write_text: Writer) -> Iterator[Markup]:
    """What is wrong, and what to do about it."""
    yield from filter(None, (write_text.sentences(refusal.message), write_text.sentences(refusal.fix)))


__all__ = ["JobWriter", "answer", "done", "postpone", "refused", "skip", "take_it_back", "today", "wrong_words"]

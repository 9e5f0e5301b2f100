"""The plan: the road with its dates, and each phase in full."""

from __future__ import annotations

from datetime import date

from starlette.responses import Response

from planner.serve.asking import Ask
from planner.serve.markup import html, writer_for
from planner.show.terminal.agenda import next_of_each
from planner.show.terminal.taskcard import MET, amount_words, state_words
from planner.show.terminal.today import about_words
from planner.show.words.causes import cause_words
from planner.show.words.conditions import need_seen, need_words, seen_words
from planner.show.words.hand import plan_by_hand
from planner.show.words.words import bare_day, short_day
from planner.terms.records import CLOSED, TASK_KINDS, Answer, Need, Phase, Plan, Row, State, Task, Window
from planner.terms.traces import NoReading, NotHappened, NotTicked, NotTried

STATES = {"done": "done", "open": "now", "ahead": "", "on_hold": "on hold"}


def road(ask: Ask) -> Response:
    """Every phase with about when it is over."""
    seen = ask.look()
    with seen.lock:
        plan = plan_by_hand(seen.plan, writer_for(seen, ask.base))
    stops = sorted(((p, p.window) for p in plan.phases), key=lambda stop: (stop[0].state != "done", stop[0].role == "without_end", stop[1].likely or date.max))
    return ask.show("plan.html", active="plan", tank_name=plan.name, stops=[(p.id, p.title, STATES[p.state], _when(p, plan, window)) for p, window in stops],
                    quantities=[html(amount_words(q.name, q, plan.units)) for q in plan.quantities if q.name in ("net_volume", "target_sg", "total_weight")])


def _when(phase: Phase, plan: Plan, window: Window) -> str:
    if phase.state == "done":
        return f"done on {bare_day(phase.opened, plan.on)}" + (", on your word" if phase.on_word else "") if phase.opened is not None else "done"
    if phase.role == "without_end":
        return "without end"
    return f"done {about_words(window, plan.on)}"


def phase(ask: Ask) -> Response:
    """One phase: what it is for, its jobs with their steps, and what it still needs."""
    seen = ask.look()
    write_text = writer_for(seen, ask.base)
    with seen.lock:
        plan = plan_by_hand(seen.plan, write_text)
    found = plan.phase(ask.params["phase"])
    if found is None:
        return ask.say("No such phase", "The plan has no phase of this name.", 404, f"{ask.base}/plan")
    cautions = dict.fromkeys(c for t in plan.tasks if t.phase == found.id and t.state not in CLOSED for c in t.cautions)
    rules = seen.folder.rules
    jobs = [_job(task, len(later), plan) for task, later in next_of_each(t for t in plan.tasks if t.phase == found.id and t.state not in CLOSED)]
    return ask.show(
        "phase.html", active="plan", tank_name=plan.name, title=found.title, when=_when(found, plan, found.window), why=html(cause_words(found.reason, plan.units) if found.reason else ""), intro=html(found.intro),
        advice=[html(cause_words(a, plan.units)) for a in found.advice], needs=[(MET[n.met], html(write_text(need_words(n, ids=False)) + _seen(n, plan.on)), n.met != Answer.YES) for n in found.needs] if found.opened is None else [],
        cautions=[(rules.cautions[c].weight, write_text.html(rules.cautions[c].line or rules.cautions[c].title), write_text.html(rules.cautions[c].text, rules.cautions[c].defer)) for c in cautions if c in rules.cautions],
        jobs=jobs, done=[(t.title, bare_day(t.closed_on, plan.on) if t.closed_on else "") for t in plan.tasks if t.phase == found.id and t.state in CLOSED])


def _seen(need: Need, on: date) -> str:
    """What the journal shows for a need, in brackets; ticks by their day alone, since their title stands before."""
    told = []
    for one in need_seen(need):
        if isinstance(one, Row):
            told.append(f"{one.kind} {bare_day(one.day, on)}" if one.kind in TASK_KINDS else f"{one.what.replace('_', ' ')} {one.value} {one.unit}".strip() + f", {bare_day(one.day, on)}")
        elif not isinstance(one, NotTicked | NoReading | NotHappened | NotTried):
            told.append(seen_words(one))
    return f" ({'; '.join(dict.fromkeys(told))})" if told else ""


def _job(task: Task, later: int, plan: Plan) -> tuple[object, ...]:
    when = f"about {short_day(task.date, plan.on)}, once the tests before it are passed" if task.state == State.WAITING and task.date is not None else state_words(task, plan.on)
    return html(task.title), when, task.minutes, [html(amount_words(n, q, plan.units)) for n, q in task.amounts], [html(cause_words(s, plan.units)) for s in task.steps], [html(w) for w in task.watch], later


__all__ = ["phase", "road"]

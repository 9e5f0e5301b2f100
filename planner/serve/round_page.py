"""The round: the evening beside the tank, one stop a page, in the right order. Where it stands is in the address alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from urllib.parse import urlencode

from starlette.responses import Response

from planner.plan.evening import WalkStep, can_wait, closing_questions, evening_walk, left_for_later, off_ordered
from planner.plan.places import place_of
from planner.serve.asking import Ask
from planner.serve.did import told
from planner.serve.markup import writer_for
from planner.serve.test_page import asked_reading, thinned_in
from planner.serve.today_page import JobWriter
from planner.terms.records import CLOSED

MOST_HANDLED = 60


def round_stop(ask: Ask) -> Response:
    """The next stop that was not handled yet."""
    seen = ask.look()
    with seen.lock:
        day, rules = seen.day, seen.folder.rules
        write_text = writer_for(seen, ask.base)
        handled = [h for h in ask.query.get("handled", "").split(",") if h][:MOST_HANDLED]
        off = ask.query.get("off") == "1"
        was_off = off or ask.query.get("was_off") == "1"
        topped = any(j.standing == "done" and place_of(rules.tasks.get(j.task.key)) == "top_up" for j in day.jobs)
        steps = evening_walk(day, rules, off, topped, handled)
        step = steps[0] if steps else WalkStep("closing")
        jobs = JobWriter(seen, day, write_text)
        shown = jobs.shown(step.job) if step.job is not None else None
        thinned = {(name, j.task.where) for j in day.jobs if j.standing == "open" for name in thinned_in(j.task, seen)}
        reads = tuple(asked_reading(name, water, seen, (name, water) in thinned) for name, water in step.reads)
        urgent, ordinary = left_for_later(steps, rules)
        tomorrow = [t.title for t in seen.plan.tasks if t.date == day.plan.on + timedelta(days=1) and t.state not in CLOSED and not t.tentative]

        def to(more: Sequence[str], off: bool = off) -> str:
            return f"{ask.base}/round?" + urlencode({"handled": ",".join(dict.fromkeys([*handled, *more])), **({"off": "1"} if off else {"was_off": "1"} if was_off else {})})

        left = len([s for s in steps if s.kind in ("job", "test")])
        return ask.show("round.html", active="round", tank_name=seen.plan.name, step=step, job=shown, reads=reads, left=left, told=told(ask, seen, write_text), closing=[question for question, _ in closing_questions(day, rules, was_off)],
                        waiting=len(can_wait(day, rules)), off_ordered=off_ordered(day, rules), urgent=[j.task.title for j in urgent],
                        past=to([step.key]), power_off=to([], True), leave_hands=to([j.task.id for j in (*urgent, *ordinary)]), power_on=to([], False), tomorrow=tomorrow)


__all__ = ["round_stop"]

"""The round: the evening beside the tank, one stop a page, in the right order. Where it stands is in the address alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from urllib.parse import urlencode

from starlette.responses import Response

from planner.plan.evening import WalkStep, evening_walk
from planner.plan.places import place_of
from planner.serve.asking import Ask
from planner.serve.did import told
from planner.serve.markup import writer_for
from planner.serve.test_page import asked_reading, thinned_in
from planner.serve.today_page import JobWriter
from planner.terms.records import CLOSED

CLOSING = ("Is everything switched on again, and does every pump run?", "Are the lid and the net on?", "Are your hands washed?")
MOST_HANDLED = 60


def round_stop(ask: Ask) -> Response:
    """The next stop that was not handled yet."""
    seen = ask.look()
    with seen.lock:
        day, rules = seen.day, seen.folder.rules
        write_text = writer_for(seen, ask.base)
        handled = [h for h in ask.query.get("handled", "").split(",") if h][:MOST_HANDLED]
        off = ask.query.get("off") == "1"
        topped = any(j.standing == "done" and place_of(rules.tasks.get(j.task.key)) == "top_up" for j in day.jobs)
        steps = [s for s in evening_walk(day, rules, off, topped) if s.key not in handled]
        step = steps[0] if steps else WalkStep("closing")
        jobs = JobWriter(seen, day, write_text)
        shown = jobs.shown(step.job) if step.job is not None else None
        thinned = {(name, j.task.where) for j in day.jobs if j.standing == "open" for name in thinned_in(j.task, seen)}
        reads = tuple(asked_reading(name, water, seen, (name, water) in thinned) for name, water in step.reads)
        hands = [s.key for s in steps if s.job is not None and place_of(rules.tasks.get(s.job.task.key)) == "hands_in"]
        tomorrow = [t.title for t in seen.plan.tasks if t.date == day.plan.on + timedelta(days=1) and t.state not in CLOSED and not t.tentative]

        def to(more: Sequence[str], off: bool = off) -> str:
            return f"{ask.base}/round?" + urlencode({"handled": ",".join(dict.fromkeys([*handled, *more])), **({"off": "1"} if off else {})})

        left = len([s for s in steps if s.kind in ("job", "test")])
        return ask.show("round.html", active="round", tank_name=seen.plan.name, step=step, job=shown, reads=reads, left=left, told=told(ask, seen, write_text), closing=CLOSING,
                        past=to([step.key]), power_off=to(["power_off"], True), leave_hands=to([*hands, "power_off", "power_on"]), power_on=to(["power_on"], False), tomorrow=tomorrow)


__all__ = ["round_stop"]

"""The walk around the tank: the jobs of a day stop by stop, and what stands between them.

Power goes off before hands go in and comes on after, unless an alarm wants it off; the salinity waits until a top-up has mixed; three
questions end it. While an alarm may kill, only what helps is walked.
Pure: a terminal and a page may both walk by it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.plan.day_jobs import Day, Job
from planner.plan.places import alarm_place, in_order, place_of
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import NEVER_CAPPED, acts_of
from planner.terms.records import CLOSED

SETTLES_MINUTES = 30
"""So long a top-up needs to mix before the salinity is read (common practice, no source)."""
LAST_READ = ("salinity", "temperature")
CLOSING = (("Is everything switched on again, and does every pump run?", "Do that now; the tank has no heat and no flow without it."),
           ("Are the lid and the net on?", "Put them on; animals jump, and open water evaporates."), ("Are your hands washed?", "Wash them, and the arms too."))
"""What ends the evening, each question with what to do after a no."""
STILL_ON = ("Does every pump run?", "Look at its plug, with dry hands. Note a pump that stands still.")
"""The first of them where nothing was switched off."""
SWITCH_OFF = "the heater off at the wall now, the pumps 15 minutes later. Are they all off?"
SWITCHED_OFF = "is the tank without power? Wet floor: at the fuse box alone, hands dry. Is it off?"
"""Before hands go in, on a usual evening and where an alarm wants the power off. A heater cools under water before the flow stops (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class WalkStep:
    """One stop of the walk. `job` and `test` have their job; a test, and a job that tests besides, has its readings in the order to take them, each with its
    water, and `settle` minutes to wait before the salinity if the water was topped up in the same round. `feed`: the meal that
    belongs to a job done earlier."""

    kind: Literal["job", "test", "power_off", "power_on", "feed", "closing"]
    job: Job | None = None
    reads: tuple[tuple[str, str], ...] = ()
    settle: int = 0

    @property
    def key(self) -> str:
        return self.job.task.id if self.job is not None else self.kind


def evening_walk(day: Day, rules: Rulebook, power_is_off: bool = False, topped_up: bool = False, handled: Collection[str] = ()) -> tuple[WalkStep, ...]:
    """What is left of the evening, stop by stop, without the stops `handled` (their keys). `power_is_off`: it was switched off earlier
    in this round; `topped_up`: so was the water topped up."""
    waiting = {j.task.id for j in can_wait(day, rules)}
    jobs = {j.task.id: j for j in day.jobs if j.standing == "open" and j.task.id not in waiting}
    stays_off = off_ordered(day, rules)
    steps: list[WalkStep] = []
    asked: set[tuple[str, str]] = set()
    for job in endings_last([jobs[t.id] for t in in_order((j.task for j in jobs.values()), rules)], day, rules):
        place = place_of(rules.tasks.get(job.task.key))
        if job.task.id not in handled and power_is_off != (place == "hands_in") and not (power_is_off and stays_off):
            steps.append(WalkStep("power_on" if power_is_off else "power_off"))
            power_is_off = not power_is_off
        if job.task.reads:
            reads = [(name, job.task.where) for name in sorted(job.task.reads, key=lambda r: LAST_READ.index(r) if r in LAST_READ else -1)]
            own_sample = (rule := rules.tasks.get(job.task.key)) is not None and rule.own_sample
            steps.append(WalkStep("test" if job.task.by_readings else "job", job, tuple(r for r in reads if own_sample or r not in asked), SETTLES_MINUTES if topped_up and "salinity" in job.task.reads else 0))
            asked.update(reads)
        else:
            topped_up = topped_up or place == "top_up"
            steps.append(WalkStep("job", job))
    last = [WalkStep("power_on")] if power_is_off and not stays_off else []
    return tuple(s for s in (*steps, *last, *([WalkStep("feed")] if _feeds_beside(day, rules) else []), WalkStep("closing")) if s.key not in handled)


def endangered(day: Day, rules: Rulebook) -> bool:
    """Is a remedy of an alarm open that may kill, or ticked today while what raised the alarm still stands; or a test that is to tell what
    its large change left, while the poison still shows?"""
    changes = {a.alert for a in rules.alerts if any(t.again is not None for t in a.tasks)}
    shown = {t.phase for t in day.plan.tasks if t.state not in CLOSED and (trace := day.plan.traces.get(t.id)) is not None and trace.gap is None}
    return any(is_rescue(j, rules) or (j.standing == "done" and j.task.phase in shown and _may_help(j, rules)) or (j.standing == "open" and j.task.phase in changes and (trace := day.plan.traces.get(j.task.id)) is not None and trace.gap is None) for j in day.jobs)


def is_rescue(job: Job, rules: Rulebook) -> bool:
    """An open remedy of an alarm that may kill."""
    return job.standing == "open" and _may_help(job, rules)


def _may_help(job: Job, rules: Rulebook) -> bool:
    return job.task.role != "test" and any(a.alert == job.task.phase and a.place in NEVER_CAPPED for a in rules.alerts)


def can_wait(day: Day, rules: Rulebook) -> list[Job]:
    """Ordinary jobs and those of nutrients beside an alarm that may kill: on the day of its remedy it leaves room for nothing but what ends a hold, for
    the vet whom a fish in quarantine needs, and for the top-up that was left yesterday: the salt rises day by day."""
    if not endangered(day, rules):
        return []
    alerts, slow = {a.alert for a in rules.alerts if a.place != "nutrients"}, {f"{a.alert}/{t.id}" for a in rules.alerts if a.place == "nutrients" for t in a.tasks}
    ways = {key for hold in day.plan.holds for key in hold.instead if key not in slow}
    dry = {j.task.id for j in day.jobs if j.task.due is not None and j.task.due < day.plan.on and (rule := rules.tasks.get(j.task.key)) is not None and rule.known_as == "top_up"}
    return [j for j in day.jobs if j.standing == "open" and j.task.phase not in alerts and (j.task.role != "remedy" or j.task.where != "quarantine") and not {j.task.id, j.task.key} & ways and j.task.id not in dry]


def endings_last(jobs: Sequence[Job], day: Day, rules: Rulebook) -> list[Job]:
    """What is done hours after the rest stands behind it; and beside an alarm that may kill also what its hold asks for comes before
    the job that tells it is over."""
    alerts, danger = {a.alert: a for a in rules.alerts}, endangered(day, rules)
    return sorted(jobs, key=lambda j: (danger and alarm_place(j.task, alerts.get(j.task.phase))[0] == 2, comes_later(j)))


def comes_later(job: Job) -> bool:
    """Is it done so many hours after what stands before it, and no part of this walk?"""
    return job.task.later


def off_ordered(day: Day, rules: Rulebook) -> bool:
    """Does an alarm want the power off, or every hand out? Then nobody is asked whether all is switched on again."""
    named = {alert for line in rules.apart if line.hands_out or "switches_on" in line.yields for alert in line.while_alerts}
    return any(t.phase in named and t.state not in CLOSED for t in day.plan.tasks)


def left_for_later(steps: Sequence[WalkStep], rules: Rulebook) -> tuple[list[Job], list[Job]]:
    """What needs hands in the water and is left where the power stays on: what an alarm asks for, which has to come today, and the rest."""
    jobs = [s.job for s in steps if s.job is not None and place_of(rules.tasks.get(s.job.task.key)) == "hands_in"]
    alerts = {a.alert for a in rules.alerts}
    return [j for j in jobs if j.task.phase in alerts or j.task.role == "remedy"], [j for j in jobs if not (j.task.phase in alerts or j.task.role == "remedy")]


def closing_questions(day: Day, rules: Rulebook, was_off: bool = True) -> tuple[tuple[str, str], ...]:
    """What ends the evening: of power and lid nothing before there is water, which `already` described phases have passed. `was_off`: the power
    was switched off in this round."""
    mixing, filled = day.plan.phase_as("makes_water"), day.plan.phase_as("fills_tank")
    dry, bare = (phase is not None and phase.started is None and phase.opened is None for phase in (mixing, filled))
    power = () if dry or off_ordered(day, rules) else CLOSING[:1] if was_off else (STILL_ON,)
    return (*power, *(() if bare else CLOSING[1:2]), *CLOSING[2:])


def _feeds_beside(day: Day, rules: Rulebook) -> bool:
    """Is feeding today's part of a job that has its place earlier in the evening? Nothing is fed on a day that forbids it."""
    return any("feeds" in acts_of(rule) and place_of(rule) != "feed" and j.task.role != "remedy" and j.standing in ("open", "done") and not any(y.way in ("step_left_out", "left_out") and not y.instead for y in j.task.yielded)
               for j in day.jobs if (rule := rules.tasks.get(j.task.key)) is not None)


def left_out_of_all(jobs: Sequence[Job], rules: Rulebook) -> list[tuple[Job, str]]:
    """Jobs that `done all` leaves to be ticked by name, each with what it is: a test, a dose, animals, held, the end of an alarm."""
    found = []
    for job in jobs:
        task, rule = job.task, rules.tasks.get(job.task.key)
        if job.standing == "held":
            found.append((job, "held"))
        elif job.standing == "open" and ended_by_tick(rules, task.key):
            found.append((job, "ends an alarm"))
        elif job.standing == "open" and task.by_readings:
            found.append((job, "test"))
        elif job.standing == "open" and (task.animals or (rule is not None and (rule.role == "animals" or "adds_animals" in acts_of(rule)))):
            found.append((job, "animals"))
        elif job.standing == "open" and place_of(rule) == "dose":
            found.append((job, "dose"))
    return found


__all__ = ["CLOSING", "SETTLES_MINUTES", "SWITCHED_OFF", "SWITCH_OFF", "WalkStep", "can_wait", "closing_questions", "comes_later", "endangered", "endings_last", "evening_walk", "is_rescue", "left_for_later", "left_out_of_all", "off_ordered"]

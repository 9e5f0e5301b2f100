"""The walk around the tank: the jobs of a day stop by stop, and what stands between them.

Power goes off before hands go in and comes on after; the salinity waits until a top-up has mixed; three questions end it.
Pure: a terminal and a page may both walk by it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from planner.plan.day_jobs import Day, Job
from planner.plan.places import in_order, place_of
from planner.rulebook.endings import ended_by_tick
from planner.rulebook.shapes import Rulebook
from planner.rulebook.what_jobs_do import acts_of

SETTLES_MINUTES = 30
"""So long a top-up needs to mix before the salinity is read (common practice, no source)."""
LAST_READ = ("salinity", "temperature")


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


def evening_walk(day: Day, rules: Rulebook, power_is_off: bool = False, topped_up: bool = False) -> tuple[WalkStep, ...]:
    """What is left of the evening, stop by stop. `power_is_off`: it was switched off earlier in this round; `topped_up`: so
    was the water topped up."""
    jobs = {j.task.id: j for j in day.jobs if j.standing == "open"}
    ordered = [jobs[t.id] for t in in_order((j.task for j in jobs.values()), rules)]
    hands = [n for n, j in enumerate(ordered) if place_of(rules.tasks.get(j.task.key)) == "hands_in"]
    steps: list[WalkStep] = [WalkStep("power_on")] if power_is_off and not hands else []
    asked: set[tuple[str, str]] = set()
    for n, job in enumerate(ordered):
        if hands and n == hands[0] and not power_is_off:
            steps.append(WalkStep("power_off"))
        if job.task.reads:
            reads = [(name, job.task.where) for name in sorted(job.task.reads, key=lambda r: LAST_READ.index(r) if r in LAST_READ else -1)]
            steps.append(WalkStep("test" if job.task.by_readings else "job", job, tuple(r for r in reads if r not in asked), SETTLES_MINUTES if topped_up and "salinity" in job.task.reads else 0))
            asked.update(reads)
        else:
            topped_up = topped_up or place_of(rules.tasks.get(job.task.key)) == "top_up"
            steps.append(WalkStep("job", job))
        if hands and n == hands[-1]:
            steps.append(WalkStep("power_on"))
    return (*steps, *([WalkStep("feed")] if _feeds_beside(day, rules) else []), WalkStep("closing"))


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


__all__ = ["SETTLES_MINUTES", "WalkStep", "evening_walk", "left_out_of_all"]

"""Tests of the days after animals came: one card for all of the same animals, a box for each day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.show.json.record_objects import Json
from planner.terms.records import Plan

AFTER = {1: "One day after", 2: "Two days after", 7: "One week after"}
"""Days after animals came, as a line of their tests begins."""


@dataclass(frozen=True, slots=True)
class After:
    """A test so many days after a job (`of`, for the animals of a `stage`) that the paper calls `title`."""

    of: str
    stage: str
    title: str
    days: int


def after_of(rule: TaskRule | None, stage: str, plan: Plan, rules: Rulebook, said_of: Callable[[str], str]) -> After | None:
    if rule is None or rule.role != "test" or rule.every or rule.wait is None:
        return None
    of = rule.anchor.task if rule.anchor is not None else rule.when.done.task if rule.when is not None and rule.when.done is not None else None
    if of not in rules.tasks or rule.wait not in rules.numbers or rules.hours(rule.wait) not in [24 * days for days in AFTER]:
        return None
    title = next((t.title for t in plan.tasks if t.key == of and t.stage == stage), None) or said_of(rules.tasks[of].title)
    return After(of, stage, title, rules.days(rule.wait))


def tests_together(cards: Sequence[Json], after: Sequence[After | None]) -> list[Json]:
    """The tests of one day, two days and a week after the same animals on one card, a box for each: what all of them do stands once."""
    found: list[Json] = []
    last: After | None = None
    for shown, this in zip(cards, after, strict=True):
        if this is not None and last is not None and not shown["again"] and (this.of, this.stage) == (last.of, last.stage):
            found[-1] = _joined(found[-1], shown, last, this)
        else:
            found.append(shown)
        last = None if shown["again"] else this
    return found


def _joined(one: Json, other: Json, before: After, this: After) -> Json:
    """Two cards of `tests_together`, or such a pair and one more."""
    if not one["times"]:
        shared = [step for step in one["steps"] if step in other["steps"]] or one["steps"][:1]
        one = one | {"title": f"Tests after “{this.title}”", "day": "", "state": "", "steps": shared, "then": [], "times": [_time(before, one, shared)], "stages": [one["then"]], "stands_for": [(one["title"], one["day"])]}
    stages = [*one["stages"], other["then"]]
    thens = [(of[0][0], ", ".join(day for _, day in of)) for of in zip(*stages, strict=False)]
    weighed = {w: list(dict.fromkeys([*names, *dict(other["cautions"]).get(w, ())])) for w, names in one["cautions"]}
    return one | {"times": [*one["times"], _time(this, other, one["steps"])], "watch": list(dict.fromkeys([*one["watch"], *other["watch"]])), "stages": stages, "then": thens, "stands_for": [*one["stands_for"], (other["title"], other["day"])],
                  "guards": [*one["guards"], *other["guards"]], "cautions": list((weighed | {w: names for w, names in other["cautions"] if w not in weighed}).items())}


def _time(after: After, shown: Json, shared: Sequence[str]) -> str:
    return " ".join([f"{AFTER[after.days]}{', ' + shown['day'] if shown['day'] else ''}.", *(step for step in shown["steps"] if step not in shared)])


__all__ = ["After", "after_of", "tests_together"]

"""A task that was ticked."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.figures import quantity
from planner.judge.kinds.kind import Days, Diary, JudgedKind, is_excluded
from planner.judge.possible import Possible, since
from planner.judge.scene import NO, YES, Scene, done_rows, first_tick, last_instant
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.shapes import Rulebook
from planner.rulebook.task_rule import TaskRule
from planner.terms.records import Row, Trace
from planner.terms.traces import Asked, NothingSince, NotTicked, Repetitions


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneAsked(Asked):
    """A task by its key, with those that count as it; without a title for a task that no rule has."""

    task: str
    also: tuple[str, ...] = ()


def done_asked(key: str, rules: Rulebook) -> DoneAsked:
    rule = rules.tasks.get(key)
    return DoneAsked(title=rule.title, task=key, also=rule.also_done_by) if rule else DoneAsked(task=key)


def answer(node: DoneNode, scene: Scene) -> Trace:
    what = done_asked(node.task, scene.rules)
    rows = list(done_rows(node.task, scene))
    rule = scene.rules.tasks.get(node.task)
    if rule is None or not rule.protects:
        rows += scene.facts.rows("skipped", node.task)
    if node.or_read and rule is not None:
        rows += _read_in_full(rule, scene)
    if node.since:
        begin = last_instant(node.since, scene)
        if begin is None:
            return Trace(what, NO, gap=NothingSince(node.since))
        # By day: two ticks of one sitting may be written in either order.
        rows = [r for r in rows if r.day >= begin[0]]
    instant = last_instant(node.after, scene) if node.after else None
    if node.after:
        # Where no water was changed yet, every batch is after the last change; a task that was never done has no after.
        rows = [r for r in rows if (":" in node.after if instant is None else (r.day, r.latest) > instant)]
    if node.within:
        fresh = [r for r in rows if scene.facts.now - r.earliest <= scene.rules.hours(node.within) * 3600]
        if rows and not fresh:  # what is missing counts from the last time
            return Trace(what, NO, (NotTicked(),), (max(rows, key=lambda r: (r.day, r.latest)),), gap=NotTicked())
        rows = fresh
    if not rows:
        return Trace(what, NO, (NotTicked(),), gap=NotTicked())
    often = quantity(node.times, scene.facts, scene.rules) if node.times else None
    if often is not None and len(rows) < round(often.value):
        return Trace(what, NO, tuple(rows), tuple(rows[-1:]), gap=Repetitions(len(rows), round(often.value)))
    last = max(rows, key=lambda r: (r.day, r.latest))
    too_soon = node.apart is not None and instant is not None and last.latest - instant[1] < scene.rules.hours(node.apart) * 3600
    return Trace(what, NO if too_soon else YES, (last,), (last,))


def _read_in_full(rule: TaskRule, scene: Scene) -> list[Row]:
    """The newest reading of each thing that a test reads, of which the oldest tells since when all of them are there."""
    newest = [next((r for r in reversed(scene.facts.rows("reading", name)) if r.where == rule.where), None) for name in rule.reads]
    known = [row for row in newest if row is not None]
    return [min(known, key=lambda r: (r.day, r.latest))] if known and len(known) == len(newest) else []


def may_hold(node: DoneNode, scene: Scene) -> Possible:
    return since(first_tick(node.task, scene))


def days_needed(node: DoneNode, trace: Trace, diary: Diary) -> Days:  # noqa: ARG001
    found = diary.of_task(node.task)
    return [*found, diary.plus(diary.of_moment(node.after), diary.rules.days(node.apart))] if found and node.after and node.apart else found


def is_no_way(node: DoneNode, trace: Trace, diary: Diary) -> bool:
    """A task that only a condition brings up is no way to count on before it is there."""
    return is_excluded(node, trace, diary) or not diary.is_called(node.task)


def fresh_h(node: DoneNode, rules: Rulebook) -> float | None:
    return rules.hours(node.within) if node.within else None


def for_good(node: DoneNode) -> bool:
    return not (node.since or node.after or node.within)


KIND = JudgedKind(answer, may_hold, days_needed, is_no_way, fresh_h, for_good)

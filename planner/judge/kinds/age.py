"""How long ago something happened."""

from __future__ import annotations

from datetime import datetime

from planner.frozen import dataclass
from planner.judge.challenge import first_ammonia
from planner.judge.facts import Facts, Instant, instant_of
from planner.judge.kinds.done import DoneAsked, done_asked
from planner.judge.kinds.kind import Days, Diary, JudgedKind
from planner.judge.possible import EVER, NOWHERE, Possible, since
from planner.judge.scene import NO, UNKNOWN, YES, Scene, done_rows, first_instant, first_tick, last_instant
from planner.rulebook.kinds.age import AgeNode
from planner.rulebook.kinds.node import FIRST_AMMONIA
from planner.terms.records import Row, Trace
from planner.terms.traces import Asked, NotHappened, NoTime, Opened


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeAsked(Asked):
    """Hours since a task, the first ammonia, a fact `kind:what`, or a gate (`title` is then the gate's)."""

    hours: float
    of: str
    task: DoneAsked | None = None


def _asked(node: AgeNode, scene: Scene) -> AgeAsked:
    hours = scene.rules.hours(node.at_least)
    if "/" in node.of:
        task = done_asked(node.of, scene.rules)
        return AgeAsked(hours=hours, of=node.of, title=task.title, task=task)
    return AgeAsked(hours=hours, of=node.of, title="" if ":" in node.of else scene.rules.phase(node.of).gate.title)


def answer(node: AgeNode, scene: Scene) -> Trace:
    what, limit = _asked(node, scene), scene.rules.hours(node.at_least)
    row: Row | None = None
    if node.of == FIRST_AMMONIA:
        row = first_ammonia(scene.facts, scene.rules)
        instant = instant_of(row) if row is not None else None
    elif "/" in node.of or ":" in node.of:
        instant = last_instant(node.of, scene)
        row = next(reversed(done_rows(node.of, scene)), None) if "/" in node.of else None
    else:
        instant = scene.opened.get(node.of)
    if instant is None:
        return Trace(what, NO, (NotHappened(),))
    earliest = row.earliest if row is not None else instant[1]
    told = row if row is not None else Opened(instant[0])
    rows = (row,) if row is not None else ()
    if scene.facts.now - instant[1] >= limit * 3600:
        return Trace(what, YES, (told,), rows)
    if row is not None and row.at is None and scene.facts.now - earliest >= limit * 3600:
        return Trace(what, UNKNOWN, (told, NoTime()), rows, gap=NoTime())
    return Trace(what, NO, (told,), rows)


def may_hold(node: AgeNode, scene: Scene) -> Possible:
    if node.of == FIRST_AMMONIA:
        return EVER
    if ":" in node.of:
        kind, what = node.of.split(":", 1)
        return since(first_instant(scene.facts, kind, what))
    if "/" in node.of:
        return since(first_tick(node.of, scene))
    return since(_after(scene.opened[node.of], scene.rules.hours(node.at_least), scene.facts)) if node.of in scene.opened else NOWHERE


def _after(start: Instant, hours: float, facts: Facts) -> Instant:
    """The instant so many hours on, with its day in the tank's zone; a midnight ends its day."""
    moment = start[1] + hours * 3600
    return (datetime.fromtimestamp(moment - 1.0, facts.zone).date(), moment)


def days_needed(node: AgeNode, trace: Trace, diary: Diary) -> Days:  # noqa: ARG001
    return [diary.plus(diary.of_moment(node.of), diary.rules.days(node.at_least))]


KIND = JudgedKind(answer, may_hold, days_needed)

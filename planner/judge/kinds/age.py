"""How long ago something happened: in days of the calendar where the rule says days, by the hour where it says hours. Whoever tests on
the evening of the seventh day has waited seven days, also a few minutes before the hour. So a wait in days may be shorter by nearly
one day, from a late evening to an early morning: a wait that this could spoil, as that of the leak test, is written in hours."""

from __future__ import annotations

from datetime import datetime, timedelta

from planner.frozen import dataclass
from planner.judge.challenge import first_ammonia
from planner.judge.facts import Instant, end_of_day, instant_of
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
    days = scene.rules.calendar_days(node.at_least)
    # A bare date counts as the midnight that ends it, which is no part of the next day yet. No days at all ask only that it has happened.
    old = scene.facts.now > _morning(instant, days, scene) if days else scene.facts.now - instant[1] >= limit * 3600
    if old:
        return Trace(what, YES, (told,), rows)
    if days is None and row is not None and row.at is None and scene.facts.now - earliest >= limit * 3600:
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
    return since(_after(scene.opened[node.of], node.at_least, scene)) if node.of in scene.opened else NOWHERE


def _morning(start: Instant, days: int, scene: Scene) -> float:
    """The midnight that begins the day so many days on. A row from a zone behind the tank's may bear the day before; that shortens no wait."""
    day = max(start[0], datetime.fromtimestamp(start[1] - 1.0, scene.facts.zone).date())
    return end_of_day(day + timedelta(days=days - 1), scene.facts.zone)


def _after(start: Instant, at_least: str, scene: Scene) -> Instant:
    """The instant from which it is so long ago, with its day in the tank's zone; a midnight ends its day."""
    days = scene.rules.calendar_days(at_least)
    if days is not None:
        return max(start, (start[0] + timedelta(days=days), _morning(start, days, scene)))
    moment = start[1] + scene.rules.hours(at_least) * 3600
    return (datetime.fromtimestamp(moment - 1.0, scene.facts.zone).date(), moment)


def days_needed(node: AgeNode, trace: Trace, diary: Diary) -> Days:  # noqa: ARG001
    return [diary.plus(diary.of_moment(node.of), diary.rules.days(node.at_least))]


KIND = JudgedKind(answer, may_hold, days_needed)

"""What conditions are judged against, three-valued logic, and when something last happened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Literal

from planner.frozen import dataclass
from planner.judge.facts import Facts, Instant, end_of_day, instant_of
from planner.rulebook.shapes import Rulebook
from planner.terms.records import Answer, Row
from planner.terms.traces import Unread

YES, NO, UNKNOWN = Answer.YES, Answer.NO, Answer.UNKNOWN
NEVER: Instant = (date.max, float("inf"))
ALWAYS: Instant = (date.min, float("-inf"))


@dataclass(frozen=True, slots=True)
class Scene:
    """What a condition is judged against: the facts at an instant, the rules, and when gates opened so far. `ageless`: a
    reading speaks until a later one or a large water change. `doubtful`: a reading that is taken too soon speaks too, and
    of those that disagree the highest or the lowest: enough to raise an alarm, never to end one. `damaged`: a row that cannot be
    read counts as what it may have been, an event or a full dose: enough to hold and to warn, never as proof. `named`: only
    where the row still names it."""

    facts: Facts
    rules: Rulebook
    opened: Mapping[str, Instant]
    ageless: bool = False
    doubtful: Literal["", "highest", "lowest"] = ""
    damaged: Literal["", "named", "any"] = ""


def in_damage(kind: str, what: str | None, where: str | None, scene: Scene, since: Instant | None = None, within_h: float | None = None) -> tuple[Answer, Unread] | None:
    """What a row that cannot be read may have said, where no other row says it: unknown, or yes where damage is to count. None:
    there is no such row, or what it may have said is over."""
    if not scene.facts.journal.unreadable:
        return None
    line = scene.facts.damaged(kind, what, where)
    if line is None or (line.day is not None and ((since is not None and line.day < since[0]) or (
            within_h is not None and scene.facts.now - end_of_day(line.day, scene.facts.zone) > within_h * 3600))):
        return None
    named = line.kind == kind and line.what == what and what != "failed"
    counts = named if scene.damaged == "named" else line.kind == kind and scene.damaged == "any"
    return YES if counts else UNKNOWN, Unread(scene.facts.journal.file, line.line)


def both(answers: Sequence[Answer]) -> Answer:
    """Kleene's and."""
    if NO in answers:
        return NO
    return UNKNOWN if UNKNOWN in answers else YES


def either(answers: Sequence[Answer]) -> Answer:
    """Kleene's or."""
    if YES in answers:
        return YES
    return UNKNOWN if UNKNOWN in answers else NO


def negation(answer: Answer) -> Answer:
    return {YES: NO, NO: YES, UNKNOWN: UNKNOWN}[answer]


def done_rows(key: str, scene: Scene) -> Sequence[Row]:
    """The ticks of a task, oldest first, with those that count as its own; of the newest attempt alone, where a fault voids
    what was ticked before it."""
    rows = scene.facts.rows("done", key)
    rule = scene.rules.tasks.get(key)
    if rule is None or not (rule.also_done_by or rule.void_after):
        return rows
    more = [r for other in rule.also_done_by for base, _, n in (other.partition("#"),) for r in scene.facts.rows("done", base) if not n or r.what in (base, other)]
    if rule.void_after and (voided := scene.facts.last("done", rule.void_after)) is not None:
        rows = [r for r in rows if r.earliest >= voided.latest]
        # What repeats it comes after the fault, also where both were ticked on one bare date.
        more = [r for r in more if r.day >= voided.day]
    return sorted((*rows, *more), key=lambda r: (r.day, r.sort_key)) if more else rows


def last_instant(spec: str, scene: Scene) -> Instant | None:
    """When a task (`phase/task`), a fact (`dosed:ammonia`) or a gate (`cycle`) last happened."""
    if ":" in spec:
        kind, what = spec.split(":", 1)
        row = next((r for r in reversed(scene.facts.rows(kind, what)) if r.where == "display"), None)
    elif "/" in spec:
        row = next(reversed(done_rows(spec, scene)), None) or _noted_arrival(spec, scene)
    else:
        return scene.opened.get(spec)
    return instant_of(row) if row is not None else None


def _noted_arrival(spec: str, scene: Scene) -> Row | None:
    """Of an entry into quarantine that nobody ticked: the last animal that was noted there, from which its time counts."""
    rule = scene.rules.tasks.get(spec.partition("#")[0])
    if rule is None or rule.where != "quarantine" or rule.writes is None or rule.writes.kind != "added":
        return None
    return next((r for r in reversed(scene.facts.rows("added")) if r.where == "quarantine"), None)


def not_over(rows: Sequence[Row], ended_by: str | None, looks: str | None, scene: Scene) -> Sequence[Row]:
    """What of these rows, oldest first, a task has not ended: by its tick, or by ticks on so many days (`looks`, a number)."""
    if not ended_by or not rows:
        return rows
    if looks:
        # What shows late cannot have been looked for in the hour of the event: looks count from the day after it.
        calm = {r.day for r in done_rows(ended_by, scene) if r.day > rows[-1].day}
        return () if len(calm) >= scene.rules.number(looks) else rows
    ended = last_instant(ended_by, scene)
    # At one exact instant the repair ended it; on one bare date nobody can tell, and the hold stays.
    return [r for r in rows if ended is None or r.latest > ended[1] or (r.latest == ended[1] and r.at is None)]


def first_instant(facts: Facts, kind: str, what: str) -> Instant:
    """When a row of this kind was first written; NEVER if it was not."""
    rows = facts.rows(kind, what)
    return instant_of(rows[0]) if rows else NEVER


def first_tick(key: str, scene: Scene) -> Instant:
    """When a task was first ticked or skipped, or one that counts as it."""
    rule = scene.rules.tasks.get(key)
    also = rule.also_done_by if rule is not None else ()
    return min(first_instant(scene.facts, kind, k.partition("#")[0]) for kind in ("done", "skipped") for k in (key, *also))


__all__ = ["ALWAYS", "NEVER", "NO", "UNKNOWN", "YES", "Scene", "both", "done_rows", "either", "first_instant", "first_tick", "in_damage", "last_instant", "negation", "not_over"]

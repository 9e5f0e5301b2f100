"""Conditions in three-valued logic, each answer with its trace.

One function a node kind. A missing, stale, unreadable or disagreeing reading is unknown; unknown never becomes yes,
also not under `not`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from planner.files.tank import tank_value
from planner.judge import evidence
from planner.judge.evidence import LeveledReading
from planner.judge.facts import Facts, Instant, animals_in, change_fraction
from planner.rulebook.nodes import AgeNode, AnimalNode, ChallengeNode, Condition, DoneNode, EventNode, FactNode, KitNode, ReadingNode, TankNode
from planner.rulebook.shapes import Rulebook
from planner.terms.readings import IONS, NITROGEN, READINGS, format_amount, nitrogen_factor, unit_factor
from planner.terms.records import Answer, Row, Trace

YES, NO, UNKNOWN = Answer.YES, Answer.NO, Answer.UNKNOWN
FIRST_AMMONIA = "first:ammonia"
CONTEXT = "context"
"""Marks what the keeper cannot do anything about: what kind of tank it is, and whether animals are in."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What a condition is judged against: the facts at an instant, the rules, and when gates opened so far. `ageless`: a
    reading speaks until a later one or a large water change. `doubtful`: a reading that is taken too soon speaks too, and
    of those that disagree the highest or the lowest: enough to raise an alarm, never to end one."""

    facts: Facts
    rules: Rulebook
    opened: Mapping[str, Instant]
    ageless: bool = False
    doubtful: Literal["", "highest", "lowest"] = ""


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


def judge_condition(condition: Condition, scene: Scene) -> Trace:
    """The answer to a condition with every part's answer behind it."""
    if condition.all is not None:
        parts = tuple(judge_condition(c, scene) for c in condition.all)
        return _joined("all of", both([p.answer for p in parts]), parts, condition.say)
    if condition.any is not None:
        parts = tuple(judge_condition(c, scene) for c in condition.any)
        return _joined("one of", either([p.answer for p in parts]), parts, condition.say)
    if condition.not_ is not None:
        inner = judge_condition(condition.not_, scene)
        return Trace(condition.say or f"not: {inner.text}", negation(inner.answer), inner.evidence, inner.rows, (inner,), inner.fact)
    kind = next(k for k in LEAVES if getattr(condition, k) is not None)
    trace = LEAVES[kind](getattr(condition, kind), scene)
    return Trace(condition.say, trace.answer, trace.evidence, trace.rows, trace.parts, trace.fact) if condition.say else trace


def _joined(text: str, answer: Answer, parts: tuple[Trace, ...], say: str | None) -> Trace:
    rows = tuple(row for part in parts for row in part.rows)
    # What the tank file settles by itself is no evidence, and a whole that it settles is context too.
    told = tuple(e for part in parts if part.fact != CONTEXT for e in part.evidence)
    settling = YES if text == "one of" else NO
    settled = [p for p in parts if p.fact == CONTEXT]
    if any(p.answer == settling for p in settled) or (settled and len(settled) == len(parts) and answer != UNKNOWN):
        return Trace(say or text, answer, told, rows, parts, CONTEXT)
    return Trace(say or text, answer, told, rows, parts, next((p.fact for p in parts if p.fact not in ("", CONTEXT) and p.answer != YES), ""))


def judge_reading(node: ReadingNode, scene: Scene) -> Trace:
    facts, rules = scene.facts, scene.rules
    text = reading_text(node, scene)
    hidden = facts.unreadable(node.name, node.where)
    if hidden is not None:
        return Trace(text, UNKNOWN, (f"{facts.journal.file} line {hidden.line} cannot be read",), fact="mend")
    since = last_instant(node.since, scene) if node.since else None
    if node.since and since is None:
        return Trace(text, UNKNOWN, (f"nothing yet since {node.since}",), fact="none")
    soon = evidence.too_soon(node.name, node.where, facts, rules, since) if not scene.doubtful else None
    if soon is not None:
        return Trace(text, UNKNOWN, (evidence.tell(soon[0]), soon[1]), (soon[0],), fact="soon")
    groups = evidence.reading_groups(node.name, node.where, facts, rules, since, unsettled=bool(scene.doubtful))
    newest = next(groups, None)
    if newest is None:
        return Trace(text, UNKNOWN, ("no reading yet",), fact="none")
    told: tuple[str, ...] = (evidence.tell(newest.worst),)
    if newest.disagree and scene.doubtful:
        newest = evidence.outermost(newest, highest=scene.doubtful == "highest")
    limit_h = float("inf") if scene.ageless else rules.hours(node.fresh) if node.fresh else evidence.freshness_h(node.name, rules)
    stale = None if node.any_age else evidence.stale_because(newest, facts, rules, limit_h)
    if stale:
        return Trace(text, UNKNOWN, (*told, stale), newest.rows, fact="stale")
    if newest.disagree:
        return Trace(text, UNKNOWN, (*told, "readings of that time disagree by more than one kit step: test a third time"), newest.rows, fact="disagree")
    answer = _within(node, newest, scene)
    if answer != YES or node.times == 1:
        return Trace(text, answer, told, newest.rows, fact="" if answer == YES else "outside")
    kept = [newest]
    for group in groups:
        if group.disagree or _within(node, group, scene) != YES:
            break
        if evidence.apart(group, kept[-1], rules.hours(node.apart) if node.apart else rules.hours("spacing")):
            kept.append(group)
            if len(kept) == node.times:
                break
    told = tuple(evidence.tell(g.worst) for g in reversed(kept))
    rows = tuple(row for g in reversed(kept) for row in g.rows)
    if len(kept) == node.times:
        return Trace(text, YES, told, rows)
    return Trace(text, UNKNOWN, (*told, f"{len(kept)} of {node.times} so far"), rows, fact=f"repeat:{node.times - len(kept)}")


def _within(node: ReadingNode, group: LeveledReading, scene: Scene) -> Answer:
    """Every limit named, against an interval: yes only if the whole interval lies inside."""
    if node.free:
        group = evidence.as_free(group, node.where, scene.facts, scene.rules)
    low, high = group.low, group.high
    answers = []
    if node.clear:
        answers.append(evidence.clear_answer(node.name, group, scene.facts.tank, scene.rules))
    for bound, inside, outside in (
        (node.at_least, ge(low), lt(high)), (node.at_most, le(high), gt(low)), (node.above, gt(low), le(high)), (node.below, lt(high), ge(low)),
    ):
        if bound is not None:
            factor = 1.0 if node.free else unit_factor(node.name, scene.rules.numbers[bound].unit)
            x = round(scene.rules.number(bound) * factor, 9)
            answers.append(YES if inside(x) else NO if outside(x) else UNKNOWN)
    return both(answers) if answers else YES


def ge(value: float) -> Callable[[float], bool]:
    return lambda x: value >= x - 1e-9


def le(value: float) -> Callable[[float], bool]:
    return lambda x: value <= x + 1e-9


def gt(value: float) -> Callable[[float], bool]:
    return lambda x: value > x + 1e-9


def lt(value: float) -> Callable[[float], bool]:
    return lambda x: value < x - 1e-9


def reading_text(node: ReadingNode, scene: Scene) -> str:
    """The condition as a sentence with its limits in the buyer's units."""
    rules, units = scene.rules, scene.facts.tank.units
    title = "free ammonia (NH3)" if node.free else READINGS[node.name].title

    def shown(name: str) -> str:
        number = rules.numbers[name]
        if node.free:
            return f"{number.value:g} mg/L as NH3"
        value = number.value * unit_factor(node.name, number.unit)
        kit = scene.facts.tank.test_kits.get(node.name)
        if node.name in NITROGEN:
            ion = IONS[node.name] if kit is None or kit.basis in (None, "ion") else kit.basis
            if kit is None or kit.basis is None:  # nobody said how the kit counts, so both are told
                return f"{format_amount(value, READINGS[node.name].unit, units)} ({value * nitrogen_factor(node.name, 'ion'):.3g} as {ion})"
            if kit.basis != "N":
                return f"{value * nitrogen_factor(node.name, kit.basis):.3g} mg/L as {ion}"
        return format_amount(value, READINGS[node.name].unit, units).removeprefix("pH ")

    parts = []
    if node.clear:
        parts.append("clear (at the kit's zero)")
    if node.at_least and node.at_most:
        parts.append(f"{shown(node.at_least)} to {shown(node.at_most)}")
    elif node.at_least:
        parts.append(f"at least {shown(node.at_least)}")
    elif node.at_most:
        parts.append(f"at most {shown(node.at_most)}")
    if node.above:
        parts.append(f"above {shown(node.above)}")
    if node.below:
        parts.append(f"below {shown(node.below)}")
    if not parts:
        parts.append("tested")
    if node.times > 1:
        parts.append(f"on {node.times} different days")
    where = "" if node.where == "display" else f" in the {node.where} water"
    return f"{title}{where} {', '.join(parts)}"


def judge_done(node: DoneNode, scene: Scene) -> Trace:
    text = f"done: {task_title(node.task, scene.rules)}"
    rows = list(done_rows(node.task, scene))
    rule = evidence.task_rule(node.task, scene.rules)
    if rule is None or not rule.protects:
        rows += scene.facts.rows("skipped", node.task)
    if node.since:
        since = last_instant(node.since, scene)
        if since is None:
            return Trace(text, NO, fact="none")
        # By day: two ticks of one sitting may be written in either order.
        rows = [r for r in rows if r.day >= since[0]]
    if node.after:
        instant = last_instant(node.after, scene)
        rows = [r for r in rows if instant is not None and (r.day, r.latest) > instant]
    if node.within:
        rows = [r for r in rows if scene.facts.now - r.earliest <= scene.rules.hours(node.within) * 3600]
    if not rows:
        return Trace(text, NO, ("not ticked yet",), fact="none")
    last = max(rows, key=lambda r: (r.day, r.latest))
    return Trace(text, YES, (evidence.tell(last),), (last,))


def done_rows(key: str, scene: Scene) -> Sequence[Row]:
    """The ticks of a task, oldest first, with those of the occurrence that counts as one of it."""
    rows = scene.facts.rows("done", key)
    rule = evidence.task_rule(key, scene.rules)
    if rule is None or rule.also_done_by is None:
        return rows
    base = rule.also_done_by.partition("#")[0]
    more = [r for r in scene.facts.rows("done", base) if r.what in (base, rule.also_done_by)]
    return sorted((*rows, *more), key=lambda r: (r.day, r.sort_key)) if more else rows


def judge_event(node: EventNode, scene: Scene) -> Trace:
    text = f"event in the journal: {node.what.replace('_', ' ')}"
    rows = [r for r in scene.facts.rows("event", node.what) if node.where is None or r.where == node.where]
    if node.task:
        text = f"check failed: {task_title(node.task, scene.rules)}"
        rows = [r for r in rows if node.task in {word.partition("#")[0] for word in r.note.split()}]
    if node.since:
        since = last_instant(node.since, scene)
        rows = [r for r in rows if since is None or r.latest > since[1]]
    if node.within:
        rows = [r for r in rows if scene.facts.now - r.earliest <= scene.rules.hours(node.within) * 3600]
    if node.ended_by and rows:
        ended = last_instant(node.ended_by, scene)
        # At one exact instant the repair ended it; on one bare date nobody can tell, and the hold stays.
        rows = [r for r in rows if ended is None or r.latest > ended[1] or (r.latest == ended[1] and r.at is None)]
    if not rows:
        return Trace(text, NO)
    return Trace(text, YES, (evidence.tell(rows[-1]),), (rows[-1],))


def judge_fact(node: FactNode, scene: Scene) -> Trace:
    facts, rules = scene.facts, scene.rules
    rows = [r for r in facts.rows(node.kind, node.what or "*") if r.where == node.where]
    text = f"{node.kind.replace('_', ' ')} {(node.what or '').replace('_', ' ')}".strip()
    if node.since:
        since = last_instant(node.since, scene)
        rows = [r for r in rows if since is not None and r.latest > since[1]]
    if node.within:
        limit = rules.hours(node.within)
        text += f" within {evidence.tell_hours(limit)}"
        sure = [r for r in rows if facts.now - r.earliest <= limit * 3600]
        maybe = [r for r in rows if facts.now - r.latest <= limit * 3600]
        if not sure and maybe:
            return Trace(text, UNKNOWN, (evidence.tell(maybe[-1]), "write the time of day"), (maybe[-1],), fact="time")
        rows = sure
    if node.total_at_least:
        wanted = rules.number(node.total_at_least)
        total = sum(change_fraction(r, facts.net_volume_l) * 100 if node.kind == "changed_water" else (r.low or 0) for r in rows)
        return Trace(f"{text}: {total:.3g} of {wanted:.3g}", YES if total >= wanted else NO, tuple(map(evidence.tell, rows[-3:])), tuple(rows[-3:]))
    if not rows:
        return Trace(text, NO)
    return Trace(text, YES, (evidence.tell(rows[-1]),), (rows[-1],))


def judge_challenge(node: ChallengeNode, scene: Scene) -> Trace:
    result = evidence.challenge(node, scene.facts, scene.rules)
    hours = evidence.tell_hours(scene.rules.hours(node.hours))
    dose = evidence.challenge_mg_n_l(node, scene.facts, scene.rules)
    text = f"ammonia dosed to {dose:g} mg/L as N is gone, and nitrite too, within {hours}, on {node.times} days"
    if result.passed >= node.times:
        return Trace(text, YES, result.told, result.rows)
    fact = "time" if result.needs_time else f"repeat:{node.times - result.passed}"
    told = result.told or ("not tried yet",)
    return Trace(text, UNKNOWN if result.needs_time or not result.tried else NO, told, result.rows, fact=fact)


def judge_animal(node: AnimalNode, scene: Scene) -> Trace:
    here = animals_in(scene.facts, node.where)
    text = f"an animal is in the {node.where} water"
    if node.what is not None:
        here = {what: n for what, n in here.items() if what == node.what}
    told = tuple(f"{n} {what}" for what, n in here.items())
    rows = tuple(r for r in (scene.facts.last("added"), scene.facts.last("moved")) if r is not None) if here else ()
    return Trace(text, YES if here else NO, told, rows, fact=CONTEXT)


def judge_tank(node: TankNode, scene: Scene) -> Trace:
    value = tank_value(scene.facts.tank, node.key)
    value = None if value in ((), {}, "") else value
    if node.described:
        return Trace(f"the tank file describes {node.key}", NO if value is None else YES, () if value is None else (_shown(value),), fact=CONTEXT)
    text = f"tank file: {node.key}" + (f" is {' or '.join(node.equals)}" if node.equals else "")
    if value is None:
        return Trace(text, UNKNOWN, ("not described",), fact=CONTEXT)
    answers = []
    if node.equals:
        shown = {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)
        sized = isinstance(value, int | float) and not isinstance(value, bool)  # a size given where `yes` would do means yes
        answers.append(YES if shown in node.equals or (sized and "yes" in node.equals) else NO)
    for name, holds in ((node.at_least, ge), (node.at_most, le)):
        if name is not None:
            answers.append(YES if isinstance(value, int | float) and holds(float(value))(scene.rules.number(name)) else NO)
    return Trace(text, both(answers), (_shown(value),), fact=CONTEXT)


def _shown(value: object) -> str:
    """A value of the tank file as evidence: lists are counted, not spelled out."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{len(value)} entries" if isinstance(value, tuple | dict) and len(value) > 1 else "1 entry" if isinstance(value, tuple | dict) else str(value)


def judge_age(node: AgeNode, scene: Scene) -> Trace:
    limit = scene.rules.hours(node.at_least)
    text = f"at least {evidence.tell_hours(limit)} since {_subject(node.of, scene.rules)}"
    row: Row | None = None
    if node.of == FIRST_AMMONIA:
        row = evidence.first_ammonia(scene.facts, scene.rules)
        instant = (row.day, row.latest) if row is not None else None
    elif "/" in node.of or ":" in node.of:
        instant = last_instant(node.of, scene)
        row = next(reversed(done_rows(node.of, scene)), None) if "/" in node.of else None
    else:
        instant = scene.opened.get(node.of)
    if instant is None:
        return Trace(text, NO, ("has not happened yet",))
    earliest = row.earliest if row is not None else instant[1]
    told = (evidence.tell(row),) if row is not None else (f"opened {instant[0].isoformat()}",)
    if scene.facts.now - instant[1] >= limit * 3600:
        return Trace(text, YES, told, (row,) if row else ())
    if row is not None and row.at is None and scene.facts.now - earliest >= limit * 3600:
        return Trace(text, UNKNOWN, (*told, "write the time of day"), (row,), fact="time")
    return Trace(text, NO, told, (row,) if row else ())


def judge_kit(node: KitNode, scene: Scene) -> Trace:
    text = f"the {READINGS[node.name].title} kit is {'' if node.expired else 'not '}past the month on its box"
    kit = scene.facts.tank.test_kits.get(node.name)
    if kit is None or kit.expires is None:
        return Trace(text, UNKNOWN, ("not described",), fact=CONTEXT)
    return Trace(text, YES if (kit.expires < scene.facts.cut[0]) == node.expired else NO, (f"expires {kit.expires.isoformat()}",), fact=CONTEXT)


def last_instant(spec: str, scene: Scene) -> Instant | None:
    """When a task (`phase/task`), a fact (`dosed:ammonia`) or a gate (`cycle`) last happened."""
    if ":" in spec:
        kind, what = spec.split(":", 1)
        row = next((r for r in reversed(scene.facts.rows(kind, what)) if r.where == "display"), None)
    elif "/" in spec:
        row = next(reversed(done_rows(spec, scene)), None)
    else:
        return scene.opened.get(spec)
    return (row.day, row.latest) if row is not None else None


def _subject(of: str, rules: Rulebook) -> str:
    if "/" in of:
        return task_title(of, rules)
    if of == FIRST_AMMONIA:
        return "the first ammonia"
    if ":" in of:
        return of.replace(":", " ").replace("_", " ")
    return f"the gate '{rules.phase(of).gate.title}' opened"


def task_title(key: str, rules: Rulebook) -> str:
    rule = evidence.task_rule(key, rules)
    return f"{rule.title} ({key}{f' or {rule.also_done_by}' if rule.also_done_by else ''})" if rule else key


LEAVES: dict[str, Callable[..., Trace]] = {
    "reading": judge_reading, "done": judge_done, "event": judge_event, "fact": judge_fact, "challenge": judge_challenge,
    "animal": judge_animal, "tank": judge_tank, "age": judge_age, "kit": judge_kit,
}


def subjects(condition: Condition, rules: Rulebook) -> frozenset[tuple[str, str]]:
    """The journal subjects (kind, what) that can change the answer: the instants worth replaying."""
    found: set[tuple[str, str]] = set()
    for part in (*(condition.all or ()), *(condition.any or ()), *((condition.not_,) if condition.not_ else ())):
        found |= subjects(part, rules)
    for spec in (
        getattr(condition.reading, "since", None), getattr(condition.done, "since", None), getattr(condition.done, "after", None), getattr(condition.event, "since", None),
        getattr(condition.event, "ended_by", None), getattr(condition.fact, "since", None), getattr(condition.age, "of", None),
    ):
        if spec == FIRST_AMMONIA:
            found |= {("dosed", "ammonia"), ("reading", "ammonia"), ("event", "fed"), *(("done", key) for key in rules.tasks_as("rock_in"))}
        elif spec and ":" in spec:
            found.add((spec.split(":")[0], spec.split(":")[1]))
        elif spec and "/" in spec:
            found |= {("done", key) for key in _keys_of(spec, rules)}
    if condition.reading:
        found.add(("reading", condition.reading.name))
    if condition.done:
        found |= {(kind, key) for key in _keys_of(condition.done.task, rules) for kind in ("done", "skipped")}
    if condition.event:
        found.add(("event", condition.event.what))
    if condition.fact:
        found.add((condition.fact.kind, condition.fact.what or "*"))
    if condition.challenge:
        found |= {("reading", "ammonia"), ("reading", "nitrite"), ("dosed", "ammonia")}
    if condition.animal:
        found |= {("added", "*"), ("moved", "*"), ("lost", "*")}
    return frozenset(found)


def _keys_of(key: str, rules: Rulebook) -> tuple[str, ...]:
    rule = evidence.task_rule(key, rules)
    return (key,) if rule is None or rule.also_done_by is None else (key, rule.also_done_by.partition("#")[0])


def newest_day(trace: Trace) -> date | None:
    """The day of the newest journal row behind a trace."""
    return max((row.day for row in trace.rows), default=None)
